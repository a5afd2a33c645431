//! Questions that answer themselves: what is to hold says that what is not to hold does.
//!
//! `core above target by more than 0.3 °C for 2 h` holds only where the same `for 1 h` does, and
//! the same by more than 0.2 °C. No record need be looked for; on a course, where the target is
//! another one at every look, that saves most of the proof.
//!
//! It holds of the conditions themselves, whatever is recorded and whatever orders have done.

use super::question::{Goal, Question};
use crate::model::*;
use crate::quantity::Exact;

/// The phases of a stretch; `None` where it begins with the phase that is asked about.
type During<'a> = Option<&'a [At<PhaseId>]>;

/// Whether one of the conditions that are not to hold follows from those that are.
pub(super) fn refutes_itself(question: &Question<'_>) -> bool {
    let mut given = Vec::new();
    for goal in &question.goals {
        if let Goal::Cond {
            cond,
            during,
            holds: true,
        } = goal
        {
            add(&mut given, cond, *during);
        }
    }
    !given.is_empty()
        && question.goals.iter().any(|goal| match goal {
            Goal::Cond {
                cond,
                during,
                holds: false,
            } => follows(&given, cond, *during),
            Goal::Cond { .. } | Goal::Value { .. } | Goal::NotValue { .. } => false,
        })
}

/// The tests that hold wherever the condition does.
fn add<'a>(given: &mut Vec<(&'a Test, During<'a>)>, cond: &'a Cond, during: During<'a>) {
    match cond {
        Cond::Test(test) => given.push((test, during)),
        Cond::All(parts) => parts.iter().for_each(|part| add(given, part, during)),
        Cond::Any(_) => {}
    }
}

fn follows(given: &[(&Test, During<'_>)], cond: &Cond, during: During<'_>) -> bool {
    match cond {
        Cond::Test(test) => given.iter().any(|(known, since)| {
            begins_no_later(during, *since)
                && lasts(known) >= lasts(test)
                && (known.sustained.is_some() || test.sustained.is_none())
                && says_as_much(&known.kind, &test.kind)
        }),
        Cond::All(parts) => parts.iter().all(|part| follows(given, part, during)),
        Cond::Any(parts) => parts.iter().any(|part| follows(given, part, during)),
    }
}

fn lasts(test: &Test) -> Exact {
    let sustained = test.sustained.as_ref();
    sustained.map_or(Exact::ZERO, |sustained| sustained.value)
}

/// Whether the stretch of some phases (M8) begins no later than that of others, where all of them
/// take in the phase that runs.
fn begins_no_later(during: During<'_>, other: During<'_>) -> bool {
    let (Some(during), Some(other)) = (during, other) else {
        return other.is_none();
    };
    let takes_in = |phase: &At<PhaseId>| during.iter().any(|within| within.value == phase.value);
    during.is_empty() || (!other.is_empty() && other.iter().all(takes_in))
}

/// Whether the first holds at no look at which the second does not. Of one reading only: which
/// looks there are at several hangs on when the stretch began.
fn says_as_much(known: &TestKind, other: &TestKind) -> bool {
    use TestKind::{Compare, Is, NearTarget, OffTarget, Outside};
    match (known, other) {
        (
            Compare {
                reading,
                cmp,
                level,
            },
            Compare {
                reading: of,
                cmp: loose,
                level: bound,
            },
        ) => {
            let (value, bound) = (level.value, bound.value);
            let strictly = matches!(cmp, Cmp::Above | Cmp::Below);
            reading == of
                && match loose {
                    Cmp::Above => is_above(*cmp) && (value > bound || (value == bound && strictly)),
                    Cmp::AtOrAbove => is_above(*cmp) && value >= bound,
                    Cmp::Below => {
                        !is_above(*cmp) && (value < bound || (value == bound && strictly))
                    }
                    Cmp::AtOrBelow => !is_above(*cmp) && value <= bound,
                }
        }
        (
            Outside { reading, low, high },
            Outside {
                reading: of,
                low: least,
                high: most,
            },
        ) => reading == of && low.value <= least.value && high.value >= most.value,
        (
            Is { reading, word },
            Is {
                reading: of,
                word: same,
            },
        ) => (reading, word) == (of, same),
        (
            OffTarget { reading, side, by },
            OffTarget {
                reading: of,
                side: same,
                by: less,
            },
        ) => reading == of && side == same && by.value >= less.value,
        (
            NearTarget { reading, within },
            NearTarget {
                reading: of,
                within: wider,
            },
        ) => reading == of && within.value <= wider.value,
        _ => false,
    }
}

fn is_above(cmp: Cmp) -> bool {
    matches!(cmp, Cmp::Above | Cmp::AtOrAbove)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::source::{FileId, Span};

    #[test]
    fn a_stretch_of_more_phases_begins_no_later() {
        let phases = |which: &[u32]| {
            let at = |phase: &u32| At::new(PhaseId(*phase), Span::new(FileId(0), 0, 0));
            which.iter().map(at).collect::<Vec<_>>()
        };
        let (both, one, all) = (phases(&[0, 1]), phases(&[1]), phases(&[]));
        let no_later = |during: During<'_>, other| begins_no_later(during, other);
        assert!(no_later(Some(&both), Some(&one)) && no_later(Some(&one), Some(&one)));
        assert!(no_later(Some(&all), Some(&both)) && no_later(Some(&all), Some(&all)));
        assert!(!no_later(Some(&one), Some(&both)) && !no_later(Some(&both), Some(&all)));
        // One that begins with the phase that runs begins last.
        assert!(no_later(Some(&one), None) && no_later(None, None));
        assert!(!no_later(None, Some(&one)) && !no_later(None, Some(&all)));
    }
}
