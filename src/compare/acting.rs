//! Phases and rules: what acts, until when, and on which records.

use super::acts::{Acts, Watched};
use super::change::{Change, Kind, Verdict};
use super::say::{self, list, text};
use super::walk::{Slot, Thing, Walk};
use super::weigh::{Tighter, bare, number, weigh};
use crate::model::{At, Cond, End, EndTrigger, PhaseId, Protocol, RuleId};
use crate::source::Span;
use serde_json::Value;

impl Walk<'_, '_> {
    pub fn phase(&mut self, thing: Thing<'_>) {
        for slot in [
            Slot::new("aim", "aim", "phase", say::aim),
            Slot::new("never_faster", "cap", "phase", |one| {
                format!("never faster than {}", say::measured(Some(one)))
            }),
            Slot::new("at_least", "slowest rate", "phase", |one| {
                format!("at least {}", say::measured(Some(one)))
            }),
            Slot::new("due", "due time", "due", say::due),
            Slot::new("moves", "moves of the target", "", say::moves),
            Slot::new("by", "means", "", |one| format!("by {}", say::plain(one))),
        ] {
            self.slot(thing, &slot);
        }
        self.phase_end(thing);
    }

    fn phase_end(&mut self, thing: Thing<'_>) {
        let (Some(old), Some(new)) = (thing.old.get("end"), thing.new.get("end")) else {
            return;
        };
        if bare(old) == bare(new) {
            return;
        }
        let keeps = [thing.old, thing.new]
            .iter()
            .all(|phase| phase.get("aim").map_or("", |aim| text(aim, "kind")) == "keep");
        let mut verdict = weigh(thing.area, "end", "", Some(old), Some(new));
        let mut consequence = String::new();
        // A range that is guarded for longer is guarded all the time that it was.
        let member = match (text(old, "kind"), text(new, "kind")) {
            ("lasts", "lasts") => "duration",
            ("after", "after") if text(old, "mark") == text(new, "mark") => "after",
            _ => "",
        };
        if let (true, Some(a), Some(b)) = (keeps, old.get(member), new.get(member)) {
            verdict = number(a, b, Tighter::High);
        }
        if let (Some(a), Some(b)) = (old.get("condition"), new.get("condition"))
            && bare(a) != bare(b)
            && let Some(acts) = self.ends(text(thing.new, "name"))
        {
            verdict = Verdict::Different;
            consequence = match (acts.undecided, acts.more, acts.fewer) {
                (false, true, false) => "it can end sooner, and never later",
                (false, false, true) => "it can end later, and never sooner",
                (false, false, false) => "it ends on the same records",
                (_, true, true) => "it can end sooner on some records and later on others",
                (true, ..) => "whether it ends sooner or later could not be decided",
            }
            .to_owned();
        }
        self.changes.push(
            Change::new(thing.area, Kind::Changed, thing.about)
                .of("end")
                .between(Some(say::end(old)), Some(say::end(new)))
                .verdict(verdict)
                .consequence(consequence)
                .step(thing.step),
        );
    }

    /// The conditions with which the phase ends in both versions.
    fn ends(&self, name: &str) -> Option<Acts> {
        let cond = |protocol: &'_ Protocol| -> Option<(Cond, PhaseId)> {
            let (id, phase) = protocol
                .phases()
                .find(|(_, phase)| phase.name.name == name)?;
            match &phase.end {
                End::Awaited {
                    trigger: EndTrigger::When(cond),
                    ..
                } => Some((cond.clone(), id)),
                _ => None,
            }
        };
        let (old, old_id) = cond(self.sides.old)?;
        let (new, new_id) = cond(self.sides.new)?;
        let here = |id| vec![At::new(id, Span::default())];
        let (old_during, new_during) = (here(old_id), here(new_id));
        Some(self.sides.conditions(
            Watched {
                cond: &old,
                during: &old_during,
            },
            Watched {
                cond: &new,
                during: &new_during,
            },
            None,
        ))
    }

    pub fn rule(&mut self, thing: Thing<'_>) {
        let name = text(thing.new, "name");
        let said = |rule: &Value| {
            let when = rule.get("when").map(say::condition).unwrap_or_default();
            format!("when {when}{}", say::during(rule))
        };
        let differs =
            |member: &str| thing.old.get(member).map(sorted) != thing.new.get(member).map(sorted);
        if differs("when") || differs("during") {
            let mut change = Change::new(thing.area, Kind::Changed, thing.about)
                .of("condition")
                .between(Some(said(thing.old)), Some(said(thing.new)))
                .step(thing.step);
            if let (Some(old), Some(new)) = (
                rule_named(self.sides.old, name),
                rule_named(self.sides.new, name),
            ) {
                let acts = self.sides.rules(old, new);
                change.verdict = acts.verdict();
                change.consequence = acts.words().to_owned();
                if acts.not_shown {
                    change.consequence.push_str(
                        "; on the records tried, other rules make both versions do the same",
                    );
                }
                if acts.untold && acts.case.is_none() {
                    change.consequence.push_str(
                        "; no record is shown, because too much is recorded on it to find out \
                         what matters",
                    );
                }
                change.case = acts.case;
                // A number that changed is told as a change, whatever can be recorded.
                if change.verdict == Verdict::SameMeaning {
                    if numbers(thing.old.get("when")) == numbers(thing.new.get("when")) {
                        change = change.wording();
                    } else {
                        change.verdict = Verdict::Different;
                    }
                }
            }
            self.changes.push(change);
        }
        let first = self.changes.len();
        self.orders(thing, list(thing.old, "then"), list(thing.new, "then"));
        self.ordering(first, name);
        self.ready_again(thing, name);
        let first = self.changes.len();
        self.slot(
            thing,
            &Slot::new("again_after", "not again within", "", |one| {
                format!("again after {}", say::measured(Some(one)))
            }),
        );
        if let Some(change) = self.changes.get_mut(first)
            && let (Some(old), Some(new)) = (
                rule_named(self.sides.old, name),
                rule_named(self.sides.new, name),
            )
        {
            change.case = self.sides.again(old, new);
        }
        let first = self.changes.len();
        self.set(
            thing,
            ("overrides", "overridden rule"),
            |one| format!("overrides {}", say::plain(one)),
            (Verdict::Different, Verdict::Different),
        );
        for change in self.changes.iter_mut().skip(first) {
            let said = change.to.as_ref().or(change.from.as_ref());
            if let Some(silenced) = said.and_then(|said| said.strip_prefix("overrides ")) {
                change.case = self.sides.silencing(name, silenced);
            }
        }
    }

    /// One record for all that is ordered otherwise; where the condition differs too, its own
    /// record shows the orders.
    fn ordering(&mut self, first: usize, name: &str) {
        let told = self
            .changes
            .iter()
            .any(|change| change.case.is_some() && change.about == format!("rule `{name}`"));
        if let Some(change) = self.changes.get_mut(first)
            && !told
            && !change.wording
            && change.kind != Kind::Reordered
            && let (Some(old), Some(new)) = (
                rule_named(self.sides.old, name),
                rule_named(self.sides.new, name),
            )
        {
            change.case = self.sides.ordering(old, new);
        }
    }

    fn ready_again(&mut self, thing: Thing<'_>, name: &str) {
        let (old, new) = (thing.old.get("ready_again"), thing.new.get("ready_again"));
        if old.map(bare) == new.map(bare) {
            return;
        }
        let (kind, meant) = match (old, new) {
            (None, _) => (
                Kind::Added,
                "it rests until this holds, and not only until its condition no longer does",
            ),
            (_, None) => (
                Kind::Removed,
                "it rests only until its condition no longer holds",
            ),
            _ => (Kind::Changed, ""),
        };
        let mut change = Change::new(thing.area, kind, thing.about)
            .of("ready again")
            .consequence(meant)
            .between(
                old.map(|one| format!("ready again when {}", say::condition(one))),
                new.map(|one| format!("ready again when {}", say::condition(one))),
            )
            .step(thing.step);
        if let (Some(old), Some(new)) = (
            rule_named(self.sides.old, name),
            rule_named(self.sides.new, name),
        ) {
            let (old, new) = (&self.sides.old[old], &self.sides.new[new]);
            if let (Some(a), Some(b)) = (&old.ready_again, &new.ready_again) {
                let acts = self.sides.conditions(
                    Watched {
                        cond: a,
                        during: &old.during,
                    },
                    Watched {
                        cond: b,
                        during: &new.during,
                    },
                    None,
                );
                change.verdict = match acts.verdict() {
                    Verdict::SameMeaning => Verdict::Different,
                    verdict => verdict,
                };
                change.consequence = match acts.verdict() {
                    Verdict::Stricter => "it is ready to speak again sooner, and never later",
                    Verdict::Looser => "it is ready to speak again later, and never sooner",
                    _ if acts.undecided => {
                        "whether it is ready to speak again sooner or later could not be decided"
                    }
                    _ => "",
                }
                .to_owned();
            }
        }
        self.changes.push(change);
    }
}

/// Unordered lists of names as sets.
fn sorted(value: &Value) -> Value {
    match bare(value) {
        Value::Array(mut items) => {
            items.sort_by_key(ToString::to_string);
            Value::Array(items)
        }
        other => other,
    }
}

/// Every number in it, whatever the order.
fn numbers(value: Option<&Value>) -> Vec<String> {
    fn collect(value: &Value, into: &mut Vec<String>) {
        match value {
            Value::Object(members) if say::is_measured(members) => into.push(value.to_string()),
            Value::Object(members) => members.values().for_each(|one| collect(one, into)),
            Value::Array(items) => items.iter().for_each(|one| collect(one, into)),
            _ => {}
        }
    }
    let mut found = Vec::new();
    if let Some(value) = value {
        collect(value, &mut found);
    }
    found.sort();
    found
}

pub(super) fn rule_named(protocol: &Protocol, name: &str) -> Option<RuleId> {
    protocol
        .rules()
        .find(|(_, rule)| rule.name.name == name)
        .map(|(id, _)| id)
}
