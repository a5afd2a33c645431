//! Every member of the meaning, older beside newer, and each difference told once.
//!
//! The walk goes over the JSON of the meaning, from which the fingerprint is made:
//! so nothing that the fingerprint sees can be missed. What a member is called, how
//! it is said and which way it is stricter is told here and in `say` and `weigh`.

use super::acts::Sides;
use super::change::{Area, Change, Kind, Step, Verdict};
use super::pairs::{Pair, pairs, texts_alike};
use super::say::{self, list, text};
use super::weigh::{Texts, bare, is_reason, texts, weigh};
use serde_json::Value;

pub(super) struct Walk<'s, 'p> {
    pub sides: &'s Sides<'p>,
    pub changes: Vec<Change>,
}

/// One member that stands once in its thing.
pub(super) struct Slot {
    pub member: &'static str,
    /// What a report calls it.
    pub what: &'static str,
    /// For the direction of its bounds.
    pub context: &'static str,
    pub say: fn(&Value) -> String,
}

impl Slot {
    pub const fn new(
        member: &'static str,
        what: &'static str,
        context: &'static str,
        say: fn(&Value) -> String,
    ) -> Self {
        Slot {
            member,
            what,
            context,
            say,
        }
    }
}

/// A thing of which a member is looked at.
#[derive(Clone, Copy)]
pub(super) struct Thing<'a> {
    pub area: Area,
    pub about: &'a str,
    pub step: Step,
    pub old: &'a Value,
    pub new: &'a Value,
}

impl Walk<'_, '_> {
    pub fn slot(&mut self, thing: Thing<'_>, slot: &Slot) {
        let (old, new) = (thing.old.get(slot.member), thing.new.get(slot.member));
        if old.map(bare) == new.map(bare) {
            return;
        }
        let verdict = weigh(thing.area, slot.member, slot.context, old, new);
        let kind = match (old, new) {
            (None, _) => Kind::Added,
            (_, None) => Kind::Removed,
            _ => Kind::Changed,
        };
        self.changes.push(
            Change::new(thing.area, kind, thing.about)
                .of(slot.what)
                .between(old.map(slot.say), new.map(slot.say))
                .verdict(verdict)
                .step(thing.step),
        );
    }

    /// A title, a citation: words that instruct nobody.
    pub fn words(&mut self, area: Area, about: &str, what: &str, old: &str, new: &str) {
        if old == new {
            return;
        }
        let digits = |text: &str| -> String {
            text.chars()
                .filter(|c| c.is_ascii_digit() || matches!(c, '.' | '/'))
                .collect()
        };
        let verdict = if digits(old) == digits(new) {
            Verdict::SameMeaning
        } else {
            Verdict::Different
        };
        self.changes.push(
            Change::new(area, Kind::Changed, about)
                .of(what)
                .between(Some(say::quoted(old)), Some(say::quoted(new)))
                .verdict(verdict)
                .wording(),
        );
    }

    /// Words that somebody acts by: only a slip of spelling is mere wording.
    pub fn instruction(
        &mut self,
        area: Area,
        (about, what): (&str, &str),
        (old, new): (&str, &str),
        step: Step,
    ) {
        let change = Change::new(area, Kind::Changed, about)
            .of(what)
            .between(Some(say::quoted(old)), Some(say::quoted(new)));
        match texts(old, new) {
            Texts::Same => {}
            Texts::Spelling => self.changes.push(
                change
                    .verdict(Verdict::SameMeaning)
                    .consequence("spelling or punctuation; no other word and no number")
                    .wording(),
            ),
            Texts::Words => self.changes.push(
                change
                    .verdict(Verdict::Different)
                    .consequence("the words that somebody acts by: read both")
                    .step(step),
            ),
        }
    }

    /// Reasons, and numbers that are only written otherwise.
    pub fn rest(&mut self, area: Area, about: &str, old: &Value, new: &Value) {
        let (old_why, new_why) = (reasons(old), reasons(new));
        if old_why != new_why {
            let only = |these: &[String], those: &[String]| {
                // The same reason may stand twice.
                let mut left = those.to_vec();
                let lone: Vec<&str> = these
                    .iter()
                    .filter(|one| match left.iter().position(|other| other == *one) {
                        Some(at) => {
                            left.remove(at);
                            false
                        }
                        None => true,
                    })
                    .map(String::as_str)
                    .collect();
                (!lone.is_empty()).then(|| lone.join("; "))
            };
            let (from, to) = (only(&old_why, &new_why), only(&new_why, &old_why));
            let digits = |text: &Option<String>| -> String {
                text.iter()
                    .flat_map(|text| text.chars())
                    .filter(char::is_ascii_digit)
                    .collect()
            };
            let verdict = if digits(&from) == digits(&to) {
                Verdict::SameMeaning
            } else {
                Verdict::Different
            };
            let kind = match (&from, &to) {
                (None, Some(_)) => Kind::Added,
                (Some(_), None) => Kind::Removed,
                _ => Kind::Changed,
            };
            self.changes.push(
                Change::new(area, kind, about)
                    .of("reason")
                    .between(from, to)
                    .verdict(verdict)
                    .wording(),
            );
        }
        let (mut from, mut to) = (Vec::new(), Vec::new());
        spellings(old, new, &mut from, &mut to);
        if !from.is_empty() {
            self.changes.push(
                Change::new(area, Kind::Changed, about)
                    .of("writing of a number")
                    .between(Some(from.join("; ")), Some(to.join("; ")))
                    .verdict(Verdict::SameMeaning)
                    .consequence("the same value, printed as it is now written")
                    .wording(),
            );
        }
    }

    /// A list without names and without an order: each is there or is not.
    pub fn set(
        &mut self,
        thing: Thing<'_>,
        (member, what): (&str, &str),
        say: fn(&Value) -> String,
        verdicts: (Verdict, Verdict),
    ) {
        let (old, new) = (list(thing.old, member), list(thing.new, member));
        let key = |one: &Value| bare(one).to_string();
        for pair in pairs(old, new, key, |_, _| 0) {
            let (kind, one, verdict) = match pair {
                Pair::Both(..) => continue,
                Pair::Old(o) => (Kind::Removed, old.get(o), verdicts.1),
                Pair::New(n) => (Kind::Added, new.get(n), verdicts.0),
            };
            let said = one.map(say);
            let change = Change::new(thing.area, kind, thing.about)
                .of(what)
                .verdict(verdict)
                .step(thing.step);
            self.changes.push(match kind {
                Kind::Removed => change.between(said, None),
                _ => change.between(None, said),
            });
        }
    }

    /// Orders, one after the other.
    pub fn orders(&mut self, thing: Thing<'_>, old: &[Value], new: &[Value]) {
        let likeness = |a: &Value, b: &Value| {
            let text_of = |line: &Value| {
                line.get("order")
                    .map(|order| text(order, "text").to_owned())
                    .unwrap_or_default()
            };
            let (a, b) = (text_of(a), text_of(b));
            if a.is_empty() || b.is_empty() {
                0
            } else if texts(&a, &b) == Texts::Spelling {
                100
            } else {
                texts_alike(&a, &b).max(if texts_alike(&a, &b) >= 40 { 60 } else { 0 })
            }
        };
        let found = pairs(old, new, order_key, likeness);
        for pair in &found {
            match *pair {
                Pair::Old(o) => self.changes.push(
                    Change::new(thing.area, Kind::Removed, thing.about)
                        .of("order")
                        .between(old.get(o).map(say::line), None)
                        .verdict(Verdict::Looser.and(order_alone(old.get(o))))
                        .step(thing.step),
                ),
                Pair::New(n) => self.changes.push(
                    Change::new(thing.area, Kind::Added, thing.about)
                        .of("order")
                        .between(None, new.get(n).map(say::line))
                        .verdict(Verdict::Stricter.and(order_alone(new.get(n))))
                        .step(thing.step),
                ),
                Pair::Both(o, n) => {
                    let (Some(old), Some(new)) = (old.get(o), new.get(n)) else {
                        continue;
                    };
                    self.order(thing, old, new);
                }
            }
        }
        self.order_of(thing, "orders", &found, new, say::line);
    }

    fn order(&mut self, thing: Thing<'_>, old: &Value, new: &Value) {
        let (Some(a), Some(b)) = (old.get("order"), new.get("order")) else {
            return;
        };
        if bare(a) == bare(b) {
            return;
        }
        if text(a, "kind") == "do" && text(b, "kind") == "do" {
            let texts = (text(a, "text"), text(b, "text"));
            let step = if thing.step == Step::Major {
                Step::Minor
            } else {
                thing.step
            };
            self.instruction(thing.area, (thing.about, "instruction"), texts, step);
            if a.get("covers") != b.get("covers") {
                self.changes.push(
                    Change::new(thing.area, Kind::Changed, thing.about)
                        .of("what an instruction covers")
                        .between(Some(say::order(a)), Some(say::order(b)))
                        .step(step),
                );
            }
            return;
        }
        self.changes.push(
            Change::new(thing.area, Kind::Changed, thing.about)
                .of("order")
                .between(Some(say::line(old)), Some(say::line(new)))
                .verdict(weigh(thing.area, "order", "", Some(a), Some(b)))
                .step(thing.step),
        );
    }

    /// Tells when what is in both versions stands in another order.
    pub fn order_of(
        &mut self,
        thing: Thing<'_>,
        what: &str,
        pairs: &[Pair],
        new: &[Value],
        say: fn(&Value) -> String,
    ) {
        let both: Vec<(usize, usize)> = pairs
            .iter()
            .filter_map(|pair| match pair {
                Pair::Both(o, n) => Some((*o, *n)),
                _ => None,
            })
            .collect();
        if both.is_sorted_by_key(|(o, _)| *o) {
            return;
        }
        let short = |at: usize| new.get(at).map(say).unwrap_or_default();
        let now: Vec<String> = both.iter().map(|(_, n)| short(*n)).collect();
        let mut before = both.clone();
        before.sort_unstable();
        let before: Vec<String> = before.iter().map(|(_, n)| short(*n)).collect();
        self.changes.push(
            Change::new(thing.area, Kind::Reordered, thing.about)
                .of(format!("order of {what}"))
                .between(Some(before.join(" → ")), Some(now.join(" → ")))
                .consequence("they are done in the order written")
                .step(thing.step),
        );
    }
}

/// What an order is about, its times and amounts apart.
fn order_key(line: &Value) -> String {
    let Some(order) = line.get("order") else {
        return String::new();
    };
    let mut key = text(order, "kind").to_owned();
    for member in ["role", "ladder", "checklist", "medication", "phase", "text"] {
        if order.get(member).is_some() {
            key.push(' ');
            key.push_str(text(order, member));
        }
    }
    for reading in list(order, "readings") {
        key.push(' ');
        key.push_str(reading.as_str().unwrap_or(""));
    }
    key
}

/// Whether more of such an order is plainly more care; a dose or a target is not.
fn order_alone(line: Option<&Value>) -> Verdict {
    let kind = line
        .and_then(|line| line.get("order"))
        .map_or("", |order| text(order, "kind"));
    match kind {
        "ask" | "call" | "do" | "follow-checklist" | "pause" => Verdict::SameMeaning,
        _ => Verdict::Different,
    }
}

/// Whether a rule only asks for more care.
pub(super) fn only_care(rule: &Value) -> bool {
    list(rule, "overrides").is_empty()
        && list(rule, "then")
            .iter()
            .all(|line| order_alone(Some(line)) == Verdict::SameMeaning)
}

/// Every reason in it, in order.
fn reasons(value: &Value) -> Vec<String> {
    let mut found = Vec::new();
    collect(value, &mut found);
    found
}

fn collect(value: &Value, into: &mut Vec<String>) {
    match value {
        Value::Object(members) => {
            for (name, member) in members {
                if is_reason(name) {
                    into.push(say::why(member));
                } else {
                    collect(member, into);
                }
            }
        }
        Value::Array(items) => items.iter().for_each(|item| collect(item, into)),
        _ => {}
    }
}

/// Numbers at the same place, of the same value, written otherwise.
fn spellings(old: &Value, new: &Value, from: &mut Vec<String>, to: &mut Vec<String>) {
    match (old, new) {
        (Value::Object(a), Value::Object(b)) => {
            if say::is_measured(a) && say::is_measured(b) {
                if bare(old) == bare(new) && a.get("written") != b.get("written") {
                    from.push(say::measured(Some(old)));
                    to.push(say::measured(Some(new)));
                }
                return;
            }
            for (name, member) in a {
                if let Some(other) = b.get(name) {
                    spellings(member, other, from, to);
                }
            }
        }
        (Value::Array(a), Value::Array(b)) if a.len() == b.len() => {
            for (one, other) in a.iter().zip(b) {
                spellings(one, other, from, to);
            }
        }
        _ => {}
    }
}
