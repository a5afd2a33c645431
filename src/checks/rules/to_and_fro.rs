//! The record on which an order comes and goes though the patient has hardly changed.

use super::super::Context;
use super::super::words::name;
use super::{not_overridden, witness};
use crate::diag::Witness;
use crate::eval::{What, wording};
use crate::model::*;
use crate::quantity::Exact;
use crate::solve::{Found, Goal, Question};

/// What begins, and what undoes it.
pub(super) struct Turn {
    pub rule: RuleId,
    pub phase: PhaseId,
    pub reading: ReadingId,
    /// The rule holds on that side of `at`; none where it is no value of the reading.
    pub side: Side,
    pub at: Option<Exact>,
    pub error: Exact,
    pub says: String,
    pub then: String,
}

/// The rule fires, and at the next look a value no farther away than the error of the
/// reading undoes it. None where no such record is found.
pub(super) fn to_and_fro(
    context: &Context,
    turn: &Turn,
    comes: &dyn Fn(&What) -> bool,
) -> Option<Witness> {
    let step = context.protocol[turn.reading].shown_to.as_ref()?.value;
    if step <= Exact::ZERO {
        return None;
    }
    let (first, value) = fires(context, turn, step)?;
    let mut away = Exact::ZERO;
    while away <= turn.error {
        let other = match turn.side {
            Side::Below => value + away,
            Side::Above => value - away,
        };
        let (next, replay) = context.solver.next(&first, turn.reading, other)?;
        let came = replay
            .events
            .iter()
            .any(|event| event.at == next.at && comes(&event.what));
        if came {
            let outcome = vec![
                format!(
                    "at {} {} says: {}",
                    wording::time(first.at),
                    name(&context.protocol[turn.rule].name),
                    turn.says
                ),
                format!(
                    "at {} {}; {} may not have changed at all",
                    wording::time(next.at),
                    turn.then,
                    name(&context.protocol[turn.reading].name)
                ),
            ];
            return Some(witness(context, &next, outcome));
        }
        away = away + step;
    }
    None
}

/// The rule fires, the reading as near to where it begins as can be.
fn fires(context: &Context, turn: &Turn, step: Exact) -> Option<(Found, Exact)> {
    let (cmp, inward) = match turn.side {
        Side::Below => (Cmp::AtOrAbove, -step),
        Side::Above => (Cmp::AtOrBelow, step),
    };
    let nearest: Vec<Option<Exact>> = match turn.at {
        Some(at) => vec![Some(at), Some(at + inward)],
        None => vec![None],
    };
    nearest.into_iter().find_map(|value| {
        let rule = &context.protocol[turn.rule];
        let mut goals = vec![Goal::rule(rule, true)];
        goals.extend(not_overridden(context.protocol, turn.rule, turn.phase));
        goals.extend(value.map(|value| Goal::Value {
            reading: turn.reading,
            cmp,
            value,
        }));
        let found = context.solver.example(&Question::new(turn.phase, goals))?;
        let value = found.last(turn.reading)?;
        Some((found, value))
    })
}
