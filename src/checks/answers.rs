//! Whether anything would answer a value of a reading.
//!
//! Takes a protocol, a reading, a value and phases; says whether a rule, a ladder
//! or a `limit` speaks there. A rough view, on one reading at a time and without
//! time: what can hold together is decided elsewhere.

use super::facts::{during, ladder_phases};
use crate::model::*;
use crate::quantity::Exact;

/// Whether an order changes anything: `continue` does not.
pub fn does_something(action: &Action) -> bool {
    !matches!(action.order, Order::Continue)
}

/// Whether a rule, a ladder or a `limit` answers this value of the reading in one
/// of those phases. Tests of other readings are taken to hold, so that a line
/// that needs them as well still counts; trends and the clock do not count.
pub fn answers(protocol: &Protocol, reading: ReadingId, value: Exact, phases: &[PhaseId]) -> bool {
    let by_rule = protocol.rules().any(|(_, rule)| {
        let shared: Vec<PhaseId> = during(protocol, &rule.during)
            .into_iter()
            .filter(|phase| phases.contains(phase))
            .collect();
        rule.then.iter().any(does_something)
            && shared
                .iter()
                .any(|phase| holds(protocol, &rule.when, reading, value, *phase) == Some(true))
    });
    let by_limit = protocol.limits.iter().any(|limit| {
        limit.reading == reading
            && match limit.side {
                Side::Below => value < limit.level.value,
                Side::Above => value > limit.level.value,
            }
    });
    by_rule
        || by_limit
        || protocol.ladders().any(|(id, ladder)| {
            ladder.reading.value == reading
                && ladder_answers(ladder, value)
                && ladder_phases(protocol, id)
                    .iter()
                    .any(|phase| phases.contains(phase))
        })
}

/// `None` where the condition says nothing about the reading.
fn holds(
    protocol: &Protocol,
    cond: &Cond,
    reading: ReadingId,
    value: Exact,
    phase: PhaseId,
) -> Option<bool> {
    match cond {
        Cond::Test(test) => test_holds(protocol, test, reading, value, phase),
        Cond::All(parts) => {
            let said: Vec<bool> = parts
                .iter()
                .filter_map(|part| holds(protocol, part, reading, value, phase))
                .collect();
            (!said.is_empty()).then(|| said.iter().all(|holds| *holds))
        }
        Cond::Any(parts) => {
            let said: Vec<bool> = parts
                .iter()
                .filter_map(|part| holds(protocol, part, reading, value, phase))
                .collect();
            (!said.is_empty()).then(|| said.iter().any(|holds| *holds))
        }
    }
}

fn test_holds(
    protocol: &Protocol,
    test: &Test,
    reading: ReadingId,
    value: Exact,
    phase: PhaseId,
) -> Option<bool> {
    match &test.kind {
        TestKind::Compare {
            reading: of,
            cmp,
            level,
        } if *of == reading => Some(cmp.holds(value, level.value)),
        TestKind::Outside {
            reading: of,
            low,
            high,
        } if *of == reading => Some(value < low.value || value > high.value),
        TestKind::OffTarget {
            reading: of,
            side,
            by,
        } if *of == reading => {
            let (low, high) = target(&protocol[phase].aim, reading)?;
            match side {
                Side::Below => low.map(|low| value < low - by.value),
                Side::Above => high.map(|high| value > high + by.value),
            }
        }
        _ => None,
    }
}

/// The target of a phase as it stands at its beginning, as a range: below which,
/// above which `target` counts (M11).
pub fn target(aim: &Aim, reading: ReadingId) -> Option<(Option<Exact>, Option<Exact>)> {
    if aim.reading() != reading {
        return None;
    }
    match aim {
        Aim::Hold { at, .. } => Some((Some(at.value), Some(at.value))),
        Aim::Keep { low, high, .. } => Some((
            low.as_ref().map(|low| low.value),
            high.as_ref().map(|high| high.value),
        )),
        // A target that moves is no line.
        Aim::Reach { .. } => None,
    }
}

fn ladder_answers(ladder: &Ladder, value: Exact) -> bool {
    match &ladder.form {
        LadderForm::Rungs(rungs) => rungs.iter().any(|rung| {
            let has = match &rung.band {
                RungBand::Values { low, high } => low.value <= value && value <= high.value,
                RungBand::Compare { cmp, level } => cmp.holds(value, level.value),
            };
            has && rung.actions.iter().any(does_something)
        }),
        LadderForm::Steps { goal, steps } => {
            let met = match goal {
                Goal::Compare { cmp, level } => cmp.holds(value, level.value),
                Goal::Is(word) => {
                    i64::try_from(word.value).is_ok_and(|word| value == Exact::int(word))
                }
            };
            !met && steps
                .iter()
                .any(|step| step.actions.iter().any(does_something))
        }
    }
}

/// The first value from `from` on, step by step, that anything answers.
pub fn first_answered(
    protocol: &Protocol,
    reading: ReadingId,
    from: Exact,
    side: Side,
    phases: &[PhaseId],
) -> Option<Exact> {
    let grid = protocol[reading].grid()?;
    let mut value = match side {
        Side::Below => from.round_down_to(grid.step).min(grid.high),
        Side::Above => from.round_up_to(grid.step).max(grid.low),
    };
    // A display has some hundreds of steps; more would not be a bedside reading.
    for _ in 0..20_000 {
        if value < grid.low || value > grid.high {
            return None;
        }
        if answers(protocol, reading, value, phases) {
            return Some(value);
        }
        value = match side {
            Side::Below => value - grid.step,
            Side::Above => value + grid.step,
        };
    }
    None
}
