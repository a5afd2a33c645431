//! Whether a changed number or word makes a statement stricter or looser.
//!
//! Takes two members of the meaning as JSON and the place where they stand. Bounds
//! have a direction; whatever has none is different as soon as it changes. Nothing
//! that differs in a value is ever of the same meaning.

use super::change::{Area, Verdict};
use super::say::{is_measured, text};
use crate::quantity::Exact;
use serde_json::Value;

/// Which way a bound is stricter.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Tighter {
    Low,
    High,
    /// A number of which more is neither.
    Neither,
}

/// The exact value of a number of the rule file.
pub(super) fn exact(value: &Value) -> Option<Exact> {
    let text = match value {
        Value::Object(_) => value.get("value")?.as_str()?.to_owned(),
        Value::Number(number) => number.to_string(),
        Value::String(text) => text.clone(),
        _ => return None,
    };
    Exact::parse(&text)
}

/// The same without what is only written about it: reasons, and the spelling of
/// numbers.
pub(super) fn bare(value: &Value) -> Value {
    match value {
        Value::Object(members) => Value::Object(
            members
                .iter()
                .filter(|(name, _)| !is_reason(name))
                .filter(|(name, _)| !(is_measured(members) && name.as_str() == "written"))
                .map(|(name, member)| (name.clone(), bare(member)))
                .collect(),
        ),
        Value::Array(items) => Value::Array(items.iter().map(bare).collect()),
        other => other.clone(),
    }
}

pub(super) fn is_reason(member: &str) -> bool {
    member == "why" || member.ends_with("_why")
}

pub(super) fn number(old: &Value, new: &Value, tighter: Tighter) -> Verdict {
    match (exact(old), exact(new)) {
        (Some(a), Some(b)) if a == b => Verdict::SameMeaning,
        (Some(a), Some(b)) => match (tighter, b < a) {
            (Tighter::Neither, _) => Verdict::Different,
            (Tighter::Low, true) | (Tighter::High, false) => Verdict::Stricter,
            (Tighter::Low, false) | (Tighter::High, true) => Verdict::Looser,
        },
        _ => Verdict::Different,
    }
}

/// Two members that stand at the same place. `None` is absent.
pub(super) fn weigh(
    area: Area,
    member: &str,
    context: &str,
    old: Option<&Value>,
    new: Option<&Value>,
) -> Verdict {
    let tighter = tighter(area, member, context);
    match (old, new) {
        (None, None) => Verdict::SameMeaning,
        (Some(old), Some(new)) if bare(old) == bare(new) => Verdict::SameMeaning,
        (Some(old @ Value::Object(a)), Some(new @ Value::Object(b))) => {
            if is_measured(a) && is_measured(b) {
                if a.get("ucum") != b.get("ucum") {
                    return Verdict::Different;
                }
                return number(old, new, tighter);
            }
            if a.get("kind") != b.get("kind") {
                return Verdict::Different;
            }
            let context = match text(old, "kind") {
                "" => context,
                kind => kind,
            };
            let mut verdict = Verdict::SameMeaning;
            let mut names: Vec<&String> = a.keys().chain(b.keys()).collect();
            names.sort();
            names.dedup();
            for name in names.into_iter().filter(|name| !is_reason(name)) {
                verdict = verdict.and(weigh(area, name, context, a.get(name), b.get(name)));
            }
            verdict
        }
        (Some(Value::Array(a)), Some(Value::Array(b))) if a.len() == b.len() => a
            .iter()
            .zip(b)
            .map(|(a, b)| weigh(area, member, context, Some(a), Some(b)))
            .fold(Verdict::SameMeaning, Verdict::and),
        (Some(old), Some(new)) => {
            if tighter == Tighter::Neither {
                Verdict::Different
            } else {
                number(old, new, tighter)
            }
        }
        // A bound that was not there; an order to be done now has the time 0.
        (None, Some(_)) => match (tighter, is_delay(member, context)) {
            (Tighter::Neither, _) => Verdict::Different,
            (_, true) => Verdict::Looser,
            (_, false) => Verdict::Stricter,
        },
        (Some(_), None) => match (tighter, is_delay(member, context)) {
            (Tighter::Neither, _) => Verdict::Different,
            (_, true) => Verdict::Stricter,
            (_, false) => Verdict::Looser,
        },
    }
}

/// `call … within D`, `record … in D`: without it, now.
fn is_delay(member: &str, context: &str) -> bool {
    matches!((context, member), ("call", "within") | ("ask", "after"))
}

fn tighter(area: Area, member: &str, context: &str) -> Tighter {
    use Tighter::{High, Low, Neither};
    match (area, context, member) {
        (_, "call", "within") | (_, "ask", "after") => Low,
        (_, "raise-target", "at_most") => Low,
        (_, "lower-target", "at_least") => High,
        (Area::Phases, _, "never_faster") => Low,
        (Area::Phases, "phase", "at_least") => High,
        (Area::Phases, "due", "within") => Low,
        (Area::Phases, "hold" | "reach", "within") => Low,
        (Area::Phases, "keep", "low") => High,
        (Area::Phases, "keep", "high") => Low,
        // All the time that was guarded before still is.
        (Area::Phases, "lasts-keep" | "after-keep", "duration" | "after") => High,
        (Area::Phases, "when" | "at-mark", "at_most") => Low,
        (Area::Phases, "when" | "at-mark", "at_least") => High,
        (Area::Measures, "at-most", "value") => Low,
        // As a whole: one that is added asks for more than none.
        (Area::Measures, "at-least", "value") | (Area::Measures, _, "goal") => High,
        (Area::Rules, _, "again_after") => Low,
        (Area::Ladders, _, "recheck") => Low,
        (Area::Medications, "ceiling", "dose") => Low,
        (Area::Medications, "ceiling", "per") => High,
        (Area::Medications, "dose", "at_most") => Low,
        (Area::Medications, "dose", "not_again_within") => High,
        (Area::Medications, "infusion", "top" | "for_at_most") => Low,
        (Area::Readings, _, "good_for" | "accurate_to") => Low,
        (Area::Patients, "start", "within") => Low,
        (Area::Patients, "range", "low") => High,
        (Area::Patients, "range", "high") => Low,
        (Area::People, "no-reply", "within") => Low,
        _ => Neither,
    }
}

/// How two texts differ.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Texts {
    Same,
    /// In spaces, capitals, punctuation or one slip in the spelling of a word: no
    /// number and no other word.
    Spelling,
    Words,
}

pub(super) fn texts(old: &str, new: &str) -> Texts {
    if old == new {
        return Texts::Same;
    }
    let words = |text: &str| -> Vec<String> {
        text.split_whitespace()
            .map(|word| {
                word.chars()
                    .filter(|c| {
                        c.is_alphanumeric() || matches!(c, '.' | ',' | '/' | '%' | '°' | '-')
                    })
                    .collect::<String>()
                    .to_lowercase()
            })
            // Punctuation at the end of a word is no part of it; inside, it may be a number's.
            .map(|word| word.trim_matches([',', '.', '-']).to_owned())
            .filter(|word| !word.is_empty())
            .collect()
    };
    let (old, new) = (words(old), words(new));
    let alike =
        old.len() == new.len() && old.iter().zip(&new).all(|(a, b)| a == b || is_slip(a, b));
    if alike { Texts::Spelling } else { Texts::Words }
}

/// Two letters that changed places, or a letter that is doubled in one of the two.
/// Anything freer would take `increase` for `decrease`.
fn is_slip(a: &str, b: &str) -> bool {
    let (a, b): (Vec<char>, Vec<char>) = (a.chars().collect(), b.chars().collect());
    if a.len() < 3 || b.len() < 3 || a.iter().chain(&b).any(|c| !c.is_alphabetic()) {
        return false;
    }
    let same_until = a.iter().zip(&b).take_while(|(x, y)| x == y).count();
    let rest = |word: &[char], from: usize| word.get(from..).unwrap_or_default().to_vec();
    if a.len() == b.len() {
        return a.get(same_until) == b.get(same_until + 1)
            && a.get(same_until + 1) == b.get(same_until)
            && rest(&a, same_until + 2) == rest(&b, same_until + 2);
    }
    let (short, long) = if a.len() < b.len() { (a, b) } else { (b, a) };
    long.len() == short.len() + 1
        && same_until > 0
        && long.get(same_until) == long.get(same_until - 1)
        && rest(&long, same_until + 1) == rest(&short, same_until)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slip_is_no_other_word() {
        for (old, new) in [
            ("Look at teh lips", "Look at the lips"),
            ("warm air", "Warm air."),
            ("it has occured", "it has occurred"),
        ] {
            assert_eq!(texts(old, new), Texts::Spelling, "{old} / {new}");
        }
        for (old, new) in [
            ("increase the flow", "decrease the flow"),
            ("give 1.5 mL", "give 15 mL"),
            ("do not warm", "do warm"),
            ("hypothermia", "hyperthermia"),
            ("now", "not"),
            ("0.5", "5"),
            ("on 11", "on 1"),
        ] {
            assert_eq!(texts(old, new), Texts::Words, "{old} / {new}");
            assert_eq!(texts(new, old), Texts::Words, "{new} / {old}");
        }
    }
}
