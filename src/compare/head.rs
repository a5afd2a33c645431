//! Heading, patients, criteria, limits, exceptions and libraries.

use super::change::{Area, Change, Kind, PartingCase, Step, Verdict};
use super::pairs::{Pair, pairs};
use super::say::{self, list, text};
use super::tending::alike_texts;
use super::walk::{Slot, Thing, Walk};
use super::weigh::{Tighter, bare, exact, number};
use crate::diag::{Witness, WitnessMoment};
use crate::eval::{self, What, wording};
use crate::model::Protocol;
use crate::quantity::Exact;
use serde_json::Value;

impl Walk<'_, '_> {
    pub fn head(&mut self, old: &Value, new: &Value) {
        let null = Value::Null;
        let (a, b) = (
            old.get("head").unwrap_or(&null),
            new.get("head").unwrap_or(&null),
        );
        if text(old, "name") != text(new, "name") {
            self.changes.push(
                Change::new(Area::Names, Kind::Renamed, "protocol")
                    .between(
                        Some(format!("`{}`", text(old, "name"))),
                        Some(format!("`{}`", text(new, "name"))),
                    )
                    .verdict(Verdict::Different)
                    .wording()
                    .step(Step::Minor),
            );
        }
        for member in ["title", "unit"] {
            self.words(
                Area::Head,
                "heading",
                member,
                text(a, member),
                text(b, member),
            );
        }
        let head = Thing {
            area: Area::Head,
            about: "heading",
            step: Step::Minor,
            old: a,
            new: b,
        };
        if text(a, "review") != text(b, "review") {
            self.changes.push(
                Change::new(Area::Head, Kind::Changed, "heading")
                    .of("review date")
                    .between(
                        Some(text(a, "review").to_owned()),
                        Some(text(b, "review").to_owned()),
                    )
                    .wording(),
            );
        }
        for slot in [
            Slot::new("guidelines", "guideline", "", |one| {
                format!("guideline {}", say::plain(one))
            }),
            Slot::new("shifts", "shifts", "", |one| {
                format!("shifts {}", say::plain(one))
            }),
            Slot::new("workload", "workload", "", |one| {
                format!("workload {} entries per hour", say::plain(one))
            }),
            Slot::new("both_scales", "scales", "", |_| "show °C and °F".to_owned()),
            Slot::new("timezone", "time zone", "", say::plain),
        ] {
            self.unordered_slot(head, &slot);
        }
        let head = Thing {
            step: Step::Major,
            ..head
        };
        for slot in [
            Slot::new("purpose", "purpose", "", say::plain),
            Slot::new("after", "after", "", say::plain),
            Slot::new("method", "method", "", say::plain),
            Slot::new("feedback", "feedback", "", say::plain),
        ] {
            self.unordered_slot(head, &slot);
        }
        let patients = Thing {
            area: Area::Patients,
            about: "patients",
            step: Step::Major,
            old: a,
            new: b,
        };
        self.slot(
            patients,
            &Slot::new("start_within", "start", "start", |one| {
                format!(
                    "start within {} of {}",
                    say::measured(one.get("within")),
                    text(one, "of")
                )
            }),
        );
        let (pa, pb) = (
            a.get("patients").unwrap_or(&null),
            b.get("patients").unwrap_or(&null),
        );
        let who = Thing {
            old: pa,
            new: pb,
            ..patients
        };
        for slot in [
            Slot::new("group", "group", "", say::plain),
            Slot::new("weight", "weight", "range", say::range),
            Slot::new("birth_weight", "birth weight", "range", say::range),
            Slot::new("age", "age", "range", say::range),
            Slot::new("gestation", "gestation", "range", say::range),
        ] {
            self.slot(who, &slot);
        }
        self.on_arrival(who);
        self.rest(Area::Head, "heading", a, b);
    }

    fn on_arrival(&mut self, who: Thing<'_>) {
        let (olds, news) = (list(who.old, "on_arrival"), list(who.new, "on_arrival"));
        let key = |one: &Value| text(one, "reading").to_owned();
        let said = |one: &Value| format!("{} {} on arrival", text(one, "reading"), say::range(one));
        for pair in pairs(olds, news, key, |_, _| 0) {
            let (old, new) = match pair {
                Pair::Both(o, n) => (olds.get(o), news.get(n)),
                Pair::Old(o) => (olds.get(o), None),
                Pair::New(n) => (None, news.get(n)),
            };
            if old.map(bare) == new.map(bare) {
                continue;
            }
            let (kind, verdict) = match (old, new) {
                (None, _) => (Kind::Added, Verdict::Stricter),
                (_, None) => (Kind::Removed, Verdict::Looser),
                (Some(a), Some(b)) => {
                    let side = |member: &str, tighter| match (a.get(member), b.get(member)) {
                        (Some(a), Some(b)) => number(a, b, tighter),
                        _ => Verdict::Different,
                    };
                    (
                        Kind::Changed,
                        side("low", Tighter::High).and(side("high", Tighter::Low)),
                    )
                }
            };
            self.changes.push(
                Change::new(who.area, kind, who.about)
                    .of("on arrival")
                    .between(old.map(said), new.map(said))
                    .verdict(verdict)
                    .consequence(match verdict {
                        Verdict::Stricter => "fewer patients are taken in",
                        Verdict::Looser => "more patients are taken in",
                        _ => "other patients are taken in",
                    })
                    .step(who.step),
            );
        }
    }

    /// A member whose list has no order.
    fn unordered_slot(&mut self, thing: Thing<'_>, slot: &Slot) {
        let sorted = |value: Option<&Value>| match value {
            Some(Value::Array(items)) => {
                let mut items: Vec<String> = items.iter().map(ToString::to_string).collect();
                items.sort();
                items
            }
            Some(other) => vec![other.to_string()],
            None => Vec::new(),
        };
        if sorted(thing.old.get(slot.member)) != sorted(thing.new.get(slot.member)) {
            self.slot(thing, slot);
        }
    }

    pub fn criteria(&mut self, old: &Value, new: &Value) {
        let (olds, news) = (list(old, "criteria"), list(new, "criteria"));
        let key = |one: &Value| format!("{} {}", text(one, "kind"), text(one, "text"));
        let found = pairs(olds, news, key, |a, b| {
            if text(a, "kind") == text(b, "kind") {
                alike_texts(text(a, "text"), text(b, "text"))
            } else {
                0
            }
        });
        let said =
            |one: &Value| format!("{} {}", text(one, "kind"), say::quoted(text(one, "text")));
        let step = |one: &Value| {
            if text(one, "kind") == "caution" {
                Step::Minor
            } else {
                Step::Major
            }
        };
        for pair in found {
            match pair {
                Pair::Old(o) => {
                    let Some(one) = olds.get(o) else { continue };
                    self.changes.push(
                        Change::new(Area::Patients, Kind::Removed, text(one, "kind"))
                            .between(Some(said(one)), None)
                            .verdict(if text(one, "kind") == "include" {
                                Verdict::Different
                            } else {
                                Verdict::Looser
                            })
                            .step(step(one)),
                    );
                }
                Pair::New(n) => {
                    let Some(one) = news.get(n) else { continue };
                    self.changes.push(
                        Change::new(Area::Patients, Kind::Added, text(one, "kind"))
                            .between(None, Some(said(one)))
                            .verdict(if text(one, "kind") == "include" {
                                Verdict::Different
                            } else {
                                Verdict::Stricter
                            })
                            .step(step(one)),
                    );
                }
                Pair::Both(o, n) => {
                    let (Some(a), Some(b)) = (olds.get(o), news.get(n)) else {
                        continue;
                    };
                    let kind = text(b, "kind");
                    let texts = (text(a, "text"), text(b, "text"));
                    self.instruction(Area::Patients, (kind, "text"), texts, step(b));
                    if a.get("covers") != b.get("covers") {
                        self.changes.push(
                            Change::new(Area::Patients, Kind::Changed, kind)
                                .of("what it covers")
                                .between(Some(say::covers(a)), Some(say::covers(b)))
                                .step(Step::Minor),
                        );
                    }
                    let about = format!("{kind} {}", say::quoted(text(b, "text")));
                    self.rest(Area::Patients, &about, a, b);
                }
            }
        }
    }

    pub fn limits(&mut self, old: &Value, new: &Value) {
        let (olds, news) = (list(old, "limits"), list(new, "limits"));
        let key = |one: &Value| format!("{} never {}", text(one, "reading"), text(one, "never"));
        let said = |one: &Value| {
            format!(
                "limit {} never {} {}",
                text(one, "reading"),
                text(one, "never"),
                say::measured(one.get("level"))
            )
        };
        for pair in pairs(olds, news, key, |_, _| 0) {
            let (old, new) = match pair {
                Pair::Both(o, n) => (olds.get(o), news.get(n)),
                Pair::Old(o) => (olds.get(o), None),
                Pair::New(n) => (None, news.get(n)),
            };
            let Some(one) = new.or(old) else { continue };
            let about = format!("limit `{}`", key(one));
            if let (Some(a), Some(b)) = (old, new) {
                self.rest(Area::Limits, &about, a, b);
            }
            if old.map(bare) == new.map(bare) {
                continue;
            }
            let tighter = if text(one, "never") == "below" {
                Tighter::High
            } else {
                Tighter::Low
            };
            let (kind, verdict) = match (old, new) {
                (None, _) => (Kind::Added, Verdict::Stricter),
                (_, None) => (Kind::Removed, Verdict::Looser),
                (Some(a), Some(b)) => (
                    Kind::Changed,
                    match (a.get("level"), b.get("level")) {
                        (Some(a), Some(b)) => number(a, b, tighter),
                        _ => Verdict::Different,
                    },
                ),
            };
            let mut change = Change::new(Area::Limits, kind, &about)
                .between(old.map(said), new.map(said))
                .verdict(verdict);
            let level = |one: Option<&Value>| one.and_then(|one| exact(one.get("level")?));
            change.case = self.past_a_limit(text(one, "reading"), level(old), level(new));
            self.changes.push(change);
        }
    }

    /// A first record that passes the limit of one version only.
    fn past_a_limit(
        &self,
        reading: &str,
        old: Option<Exact>,
        new: Option<Exact>,
    ) -> Option<PartingCase> {
        let (_, about) = self
            .sides
            .new
            .readings()
            .find(|(_, one)| one.name.name == reading)?;
        let grid = about.grid()?;
        // The values beside either level are the only ones at which anything turns.
        let mut values: Vec<Exact> = [old, new]
            .into_iter()
            .flatten()
            .flat_map(|level| {
                let at = level.round_down_to(grid.step);
                [at - grid.step, at, at + grid.step]
            })
            .filter(|value| *value >= grid.low && *value <= grid.high)
            .collect();
        values.sort();
        values.dedup();
        values.into_iter().find_map(|value| {
            let before = passes(self.sides.old, reading, value)?;
            let after = passes(self.sides.new, reading, value)?;
            let said = |passed: bool| {
                vec![
                    if passed {
                        "the limit is passed"
                    } else {
                        "within the limit"
                    }
                    .to_owned(),
                ]
            };
            (before != after).then(|| PartingCase {
                record: Witness {
                    moments: vec![WitnessMoment {
                        time: "0:00".to_owned(),
                        phase: self
                            .sides
                            .new
                            .phases()
                            .next()
                            .map_or_else(String::new, |(_, phase)| phase.name.name.clone()),
                        records: vec![(reading.to_owned(), shown(self.sides.new, reading, value))],
                    }],
                    outcome: Vec::new(),
                },
                old: said(before),
                new: said(after),
            })
        })
    }

    pub fn exceptions(&mut self, old: &Value, new: &Value) {
        let (olds, news) = (list(old, "accepts"), list(new, "accepts"));
        let key = |one: &Value| format!("{} on {}", text(one, "finding"), text(one, "on"));
        let said = |one: &Value| {
            let on = match text(one, "on") {
                "" => String::new(),
                on => format!(" on {on}"),
            };
            format!(
                "accept {}{on} because {} by {} until {}",
                text(one, "finding"),
                say::quoted(text(one, "because")),
                say::quoted(text(one, "by")),
                text(one, "until")
            )
        };
        for pair in pairs(olds, news, key, |_, _| 0) {
            let (kind, old, new, verdict) = match pair {
                Pair::Both(o, n) => (Kind::Changed, olds.get(o), news.get(n), Verdict::Different),
                Pair::Old(o) => (Kind::Removed, olds.get(o), None, Verdict::Stricter),
                Pair::New(n) => (Kind::Added, None, news.get(n), Verdict::Looser),
            };
            if old == new {
                continue;
            }
            let Some(one) = new.or(old) else { continue };
            self.changes.push(
                Change::new(
                    Area::Exceptions,
                    kind,
                    format!("exception `{}`", text(one, "finding")),
                )
                .between(old.map(said), new.map(said))
                .verdict(verdict)
                .consequence(match kind {
                    Kind::Added => "this finding is no longer reported",
                    Kind::Removed => "this finding is reported again",
                    _ => "",
                })
                .step(Step::Minor),
            );
        }
    }

    pub fn libraries(&mut self, old: &Value, new: &Value) {
        let (olds, news) = (list(old, "libraries"), list(new, "libraries"));
        // Of one that changed only what differs.
        let said = |one: &Value, other: Option<&Value>| {
            let mut said = Vec::new();
            for member in ["version", "review", "title"] {
                if one.get(member).is_some()
                    && other.and_then(|it| it.get(member)) != one.get(member)
                {
                    said.push(match member {
                        "title" => say::quoted(text(one, member)),
                        _ => format!("{member} {}", text(one, member)),
                    });
                }
            }
            said.join(", ")
        };
        for pair in pairs(olds, news, |one| text(one, "name").to_owned(), |_, _| 0) {
            let (kind, old, new) = match pair {
                Pair::Both(o, n) => (Kind::Changed, olds.get(o), news.get(n)),
                Pair::Old(o) => (Kind::Removed, olds.get(o), None),
                Pair::New(n) => (Kind::Added, None, news.get(n)),
            };
            if old == new {
                continue;
            }
            let Some(one) = new.or(old) else { continue };
            self.changes.push(
                Change::new(
                    Area::Names,
                    kind,
                    format!("library `{}`", text(one, "name")),
                )
                .between(old.map(|one| said(one, new)), new.map(|one| said(one, old)))
                .consequence("what it declares is told above, where it differs")
                .wording(),
            );
        }
    }
}

/// Whether a first record of that value passes a limit of the protocol.
fn passes(protocol: &Protocol, reading: &str, value: Exact) -> Option<bool> {
    let (id, _) = protocol
        .readings()
        .find(|(_, one)| one.name.name == reading)?;
    let events = eval::run(
        protocol,
        &eval::Case::default(),
        [eval::Entry::record(Exact::ZERO, id, value)],
        Exact::ZERO,
    );
    Some(events.iter().any(|event| {
        matches!(event.what, What::LimitPassed { limit, .. }
            if protocol.limits.get(limit).is_some_and(|limit| limit.reading == id))
    }))
}

fn shown(protocol: &Protocol, reading: &str, value: Exact) -> String {
    protocol
        .readings()
        .find(|(_, one)| one.name.name == reading)
        .map_or_else(String::new, |(id, _)| wording::value(protocol, id, value))
}
