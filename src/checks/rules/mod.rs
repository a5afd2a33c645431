//! Rules: whether they contradict, miss something, or can never speak.
//!
//! The questions are put to [`crate::solve`]; every finding about behaviour carries
//! a record that has been run through the evaluator.

mod always_fires;
mod chatter;
mod contradiction;
mod fires_on_plan;
mod going_round;
mod idle_order;
mod ladder_dead_end;
mod ladder_gap;
mod ladder_overlap;
mod ladder_values;
mod never_fires;
mod no_answer;
mod not_proved;
mod outside_aims;
mod past_limit;
mod shadowed;
mod to_and_fro;
mod until_never;
mod unwatched;

use super::{Check, Context};
use crate::diag::Witness;
use crate::model::*;
use crate::solve::{Found, Goal};
use crate::source::Span;

pub(super) const CHECKS: &[&Check] = &[
    &contradiction::CHECK,
    &no_answer::CHECK,
    &never_fires::CHECK,
    &always_fires::CHECK,
    &shadowed::CHECK,
    &fires_on_plan::CHECK,
    &chatter::CHECK,
    &until_never::CHECK,
    &idle_order::CHECK,
    &past_limit::CHECK,
    &outside_aims::CHECK,
    &ladder_gap::CHECK,
    &ladder_overlap::CHECK,
    &ladder_dead_end::CHECK,
    &going_round::CHECK,
    LAST,
];

/// These take as long as all others together.
pub(super) const BESIDE: &[&Check] = &[
    &no_answer::CHECK,
    &always_fires::CHECK,
    &fires_on_plan::CHECK,
];

/// Tells what the others could not decide.
pub(super) const LAST: &Check = &not_proved::CHECK;

fn witness(context: &Context, found: &Found, outcome: Vec<String>) -> Witness {
    context.solver.witness(found, outcome)
}

/// The author's own words of an order, on one line.
fn order_text(context: &Context, action: &Action) -> String {
    one_line(context, action.span)
}

fn one_line(context: &Context, span: Span) -> String {
    let text = context.sources.text(span);
    let text: Vec<&str> = text.split_whitespace().collect();
    let text = text.join(" ");
    text.strip_prefix("then ").unwrap_or(&text).to_owned()
}

/// No rule that overrides this one has a condition that holds, in that phase.
fn not_overridden<'a>(protocol: &'a Protocol, rule: RuleId, phase: PhaseId) -> Vec<Goal<'a>> {
    overriders(protocol, rule, phase)
        .map(|(_, over)| Goal::rule(over, false))
        .collect()
}

fn overriders(
    protocol: &Protocol,
    rule: RuleId,
    phase: PhaseId,
) -> impl Iterator<Item = (RuleId, &Rule)> {
    protocol.rules().filter(move |(id, over)| {
        *id != rule
            && over.overrides.iter().any(|named| named.value == rule)
            && is_during(over, phase)
    })
}

fn is_during(rule: &Rule, phase: PhaseId) -> bool {
    rule.during.is_empty() || rule.during.iter().any(|during| during.value == phase)
}

/// Whether a reading that the condition needs has no times of its own in that phase:
/// it is asked for by an order only, and what it shows then nobody can tell.
fn is_asked_by_order_only(context: &Context, cond: &Cond, phase: PhaseId) -> bool {
    let Some(frame) = context.solver.frame(phase) else {
        return true;
    };
    cond.readings().iter().any(|reading| {
        super::facts::is_asked(context.protocol, *reading, phase)
            && !frame
                .samples_of(*reading)
                .iter()
                .any(|sample| sample.at >= frame.begins)
    })
}

/// Whether nobody is asked for something that the condition needs, in all of these
/// phases: `never-looked-at` says so.
fn is_never_asked(context: &Context, cond: &Cond, phases: &[PhaseId]) -> bool {
    cond.readings().iter().any(|reading| {
        phases
            .iter()
            .all(|phase| !super::facts::is_asked(context.protocol, *reading, *phase))
    })
}

/// Whether an order changes anything: `continue` does not.
fn does_something(action: &Action) -> bool {
    !matches!(action.order, Order::Continue)
}
