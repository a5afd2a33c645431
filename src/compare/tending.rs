//! Ladders, medications, readings and checklists.

use super::change::{Change, Kind, Verdict};
use super::pairs::{Pair, pairs, texts_alike};
use super::say::{self, list, text};
use super::walk::{Slot, Thing, Walk};
use super::weigh::{bare, weigh};
use serde_json::Value;

impl Walk<'_, '_> {
    pub fn ladder(&mut self, thing: Thing<'_>) {
        self.slot(thing, &Slot::new("reading", "reading", "", say::plain));
        self.slot(
            thing,
            &Slot::new("goal", "goal", "", |one| match text(one, "kind") {
                "is" => format!("until is {}", text(one, "word")),
                _ => format!(
                    "until {} {}",
                    text(one, "is").replace('-', " "),
                    say::measured(one.get("level"))
                ),
            }),
        );
        for (member, word) in [("rungs", "rung"), ("steps", "step")] {
            let (olds, news) = (list(thing.old, member), list(thing.new, member));
            let found = pairs(
                olds,
                news,
                |one| text(one, "title").to_owned(),
                |a, b| {
                    let alike = texts_alike(&say::rung(a), &say::rung(b));
                    if a.get("band").is_some() && a.get("band").map(bare) == b.get("band").map(bare)
                    {
                        alike.max(60)
                    } else {
                        alike
                    }
                },
            );
            for pair in &found {
                match *pair {
                    Pair::Old(o) => self.changes.push(
                        Change::new(thing.area, Kind::Removed, thing.about)
                            .of(word)
                            .between(olds.get(o).map(say::rung), None)
                            .consequence(place(member, olds, o, Kind::Removed))
                            .step(thing.step),
                    ),
                    Pair::New(n) => self.changes.push(
                        Change::new(thing.area, Kind::Added, thing.about)
                            .of(word)
                            .between(None, news.get(n).map(say::rung))
                            .consequence(place(member, news, n, Kind::Added))
                            .step(thing.step),
                    ),
                    Pair::Both(o, n) => {
                        let (Some(old), Some(new)) = (olds.get(o), news.get(n)) else {
                            continue;
                        };
                        let about = format!(
                            "{}, {word} {}",
                            thing.about,
                            say::quoted(text(new, "title"))
                        );
                        let inner = Thing {
                            about: &about,
                            old,
                            new,
                            ..thing
                        };
                        self.words(
                            thing.area,
                            &about,
                            "title",
                            text(old, "title"),
                            text(new, "title"),
                        );
                        self.slot(
                            inner,
                            &Slot::new("band", "values", "", |one| match text(one, "kind") {
                                "values" => say::range(one),
                                _ => format!(
                                    "{} {}",
                                    text(one, "is").replace('-', " "),
                                    say::measured(one.get("level"))
                                ),
                            }),
                        );
                        self.orders(inner, list(old, "orders"), list(new, "orders"));
                        self.slot(
                            inner,
                            &Slot::new("recheck", "recheck", "", |one| {
                                format!("recheck in {}", say::measured(Some(one)))
                            }),
                        );
                    }
                }
            }
            if member == "steps" {
                self.order_of(thing, "steps", &found, news, |one| {
                    say::quoted(text(one, "title"))
                });
            }
        }
    }

    pub fn medication(&mut self, thing: Thing<'_>) {
        let first = self.changes.len();
        self.medication_members(thing);
        // What it makes of one dose is told once, beside the first number that is part of it.
        let worked = super::worked::worked(self.sides.old, self.sides.new, text(thing.new, "name"));
        if let Some(change) = self.changes.iter_mut().skip(first).find(|change| {
            matches!(
                change.what.as_str(),
                "dose" | "infusion" | "concentration" | "rounding"
            )
        }) {
            change.consequence = worked;
        }
    }

    fn medication_members(&mut self, thing: Thing<'_>) {
        for slot in [
            Slot::new("class", "class", "", |one| {
                format!("class {}", say::plain(one))
            }),
            Slot::new("infusion", "infusion", "infusion", say::infusion),
            Slot::new("concentration", "concentration", "", |one| {
                format!("concentration {}", say::measured(Some(one)))
            }),
            Slot::new("rounded_to", "rounding", "", |one| {
                format!("rounded to {}", say::measured(Some(one)))
            }),
            Slot::new("ceiling", "ceiling", "ceiling", say::ceiling),
        ] {
            self.slot(thing, &slot);
        }
        let band = |line: &Value| {
            let mut tests: Vec<String> = list(line, "when_weight")
                .iter()
                .map(|one| bare(one).to_string())
                .collect();
            tests.sort();
            tests.join(" ")
        };
        let (olds, news) = (list(thing.old, "doses"), list(thing.new, "doses"));
        let likeness = |a: &Value, b: &Value| texts_alike(&say::dose_line(a), &say::dose_line(b));
        for pair in pairs(olds, news, band, likeness) {
            let (old, new) = match pair {
                Pair::Both(o, n) => (olds.get(o), news.get(n)),
                Pair::Old(o) => (olds.get(o), None),
                Pair::New(n) => (None, news.get(n)),
            };
            if old.map(bare) == new.map(bare) {
                continue;
            }
            let kind = match (old, new) {
                (None, _) => Kind::Added,
                (_, None) => Kind::Removed,
                _ => Kind::Changed,
            };
            self.changes.push(
                Change::new(thing.area, kind, thing.about)
                    .of("dose")
                    .between(old.map(say::dose_line), new.map(say::dose_line))
                    .verdict(weigh(thing.area, "doses", "dose", old, new))
                    .step(thing.step),
            );
        }
        self.set(
            thing,
            ("only_with", "only with"),
            |one| format!("only with {}", say::plain(one)),
            (Verdict::Different, Verdict::Different),
        );
        self.texts(
            thing,
            ("avoid", "when to avoid it"),
            (Verdict::Stricter, Verdict::Looser),
        );
    }

    pub fn reading(&mut self, thing: Thing<'_>) {
        for slot in [
            Slot::new("what", "kind", "", say::reading_kind),
            Slot::new("continuous", "continuous", "", say::plain),
            Slot::new("shown_to", "display step", "", |one| {
                format!("shown to {}", say::measured(Some(one)))
            }),
            Slot::new("accurate_to", "accuracy", "", |one| {
                format!("accurate to {}", say::measured(Some(one)))
            }),
            Slot::new("reads", "range read", "", say::range),
            Slot::new("good_for", "good for", "", |one| {
                format!("good for {}", say::measured(Some(one)))
            }),
        ] {
            self.slot(thing, &slot);
        }
    }

    pub fn checklist(&mut self, thing: Thing<'_>) {
        self.slot(
            thing,
            &Slot::new("at", "when", "", |one| format!("at {}", say::plain(one))),
        );
        let (olds, news) = (list(thing.old, "steps"), list(thing.new, "steps"));
        let found = pairs(
            olds,
            news,
            |one| text(one, "text").to_owned(),
            |a, b| alike_texts(text(a, "text"), text(b, "text")),
        );
        for pair in &found {
            match *pair {
                Pair::Old(o) => self.changes.push(
                    Change::new(thing.area, Kind::Removed, thing.about)
                        .of("step")
                        .between(olds.get(o).map(say::check_step), None)
                        .verdict(Verdict::Looser)
                        .step(thing.step),
                ),
                Pair::New(n) => self.changes.push(
                    Change::new(thing.area, Kind::Added, thing.about)
                        .of("step")
                        .between(None, news.get(n).map(say::check_step))
                        .verdict(Verdict::Stricter)
                        .step(thing.step),
                ),
                Pair::Both(o, n) => {
                    let (Some(old), Some(new)) = (olds.get(o), news.get(n)) else {
                        continue;
                    };
                    let texts = (text(old, "text"), text(new, "text"));
                    self.instruction(thing.area, (thing.about, "step"), texts, thing.step);
                    let rest = |step: &Value| {
                        let mut step = bare(step);
                        if let Value::Object(members) = &mut step {
                            members.remove("text");
                        }
                        step
                    };
                    if rest(old) != rest(new) {
                        self.changes.push(
                            Change::new(thing.area, Kind::Changed, thing.about)
                                .of("step")
                                .between(Some(say::check_step(old)), Some(say::check_step(new)))
                                .step(thing.step),
                        );
                    }
                }
            }
        }
        self.order_of(thing, "steps", &found, news, |one| {
            say::quoted(text(one, "text"))
        });
    }

    /// A list of texts, each with its reason.
    pub fn texts(
        &mut self,
        thing: Thing<'_>,
        (member, what): (&str, &str),
        verdicts: (Verdict, Verdict),
    ) {
        let (olds, news) = (list(thing.old, member), list(thing.new, member));
        let found = pairs(
            olds,
            news,
            |one| text(one, "text").to_owned(),
            |a, b| alike_texts(text(a, "text"), text(b, "text")),
        );
        for pair in found {
            match pair {
                Pair::Old(o) => self.changes.push(
                    Change::new(thing.area, Kind::Removed, thing.about)
                        .of(what)
                        .between(olds.get(o).map(|one| say::quoted(text(one, "text"))), None)
                        .verdict(verdicts.1)
                        .step(thing.step),
                ),
                Pair::New(n) => self.changes.push(
                    Change::new(thing.area, Kind::Added, thing.about)
                        .of(what)
                        .between(None, news.get(n).map(|one| say::quoted(text(one, "text"))))
                        .verdict(verdicts.0)
                        .step(thing.step),
                ),
                Pair::Both(o, n) => {
                    if let (Some(a), Some(b)) = (olds.get(o), news.get(n)) {
                        let texts = (text(a, "text"), text(b, "text"));
                        self.instruction(thing.area, (thing.about, what), texts, thing.step);
                        if a.get("covers") != b.get("covers") {
                            self.changes.push(
                                Change::new(thing.area, Kind::Changed, thing.about)
                                    .of("what it covers")
                                    .between(Some(say::covers(a)), Some(say::covers(b)))
                                    .step(thing.step),
                            );
                        }
                    }
                }
            }
        }
    }
}

/// Where a step of a ladder stands among the others, and what it does to those after it.
fn place(member: &str, steps: &[Value], at: usize, kind: Kind) -> String {
    if member != "steps" {
        return String::new();
    }
    let title = |at: usize| steps.get(at).map(|step| say::quoted(text(step, "title")));
    let before = at.checked_sub(1).and_then(title);
    let mut said = match (kind, before) {
        (Kind::Removed, Some(before)) => {
            format!("it was step {} of {}, after {before}", at + 1, steps.len())
        }
        (Kind::Removed, None) => format!("it was the first of {} steps", steps.len()),
        (_, Some(before)) => format!("step {} of {}, after {before}", at + 1, steps.len()),
        (_, None) => format!("the first of {} steps", steps.len()),
    };
    if at + 1 < steps.len()
        && let Some(recheck) = steps.get(at).and_then(|step| step.get("recheck"))
    {
        said.push_str(&format!(
            "; each later step comes {} {}",
            say::measured(Some(recheck)),
            if kind == Kind::Removed {
                "sooner"
            } else {
                "later"
            }
        ));
    }
    said
}

/// Spelling first, then shared words.
pub(super) fn alike_texts(old: &str, new: &str) -> usize {
    match super::weigh::texts(old, new) {
        super::weigh::Texts::Words => texts_alike(old, new),
        _ => 100,
    }
}
