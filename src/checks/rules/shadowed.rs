//! A rule that adds nothing: whenever it holds, another orders at least as much.

use super::super::facts::during;
use super::super::words::name;
use super::super::{Check, Context, Family, Run};
use super::{
    is_asked_by_order_only, is_during, is_never_asked, not_overridden, one_line, overriders,
    witness,
};
use crate::diag::{Diagnostic, Level};
use crate::eval::same::{Closeness, same_order};
use crate::model::*;
use crate::solve::{Answer, Found, Goal, Question};
use std::borrow::Cow;

pub const CHECK: Check = Check {
    name: "shadowed",
    family: Family::Rules,
    level: Level::Warning,
    since: "0.1.0",
    summary: "whenever the rule holds, another orders at least as much at least as soon",
    catches: "A rule that is silenced whenever it holds, by rules that override it; and one that holds only while \
              another holds that orders the same or more, as soon or sooner, and again as often.",
    why: "The rule looks like a safeguard and never adds one; who changes the other later does not know that it \
          leaned on this one.",
    fires: "\
rule high-fever {
  when core above 38.5 °C during guard
  then call doctor within 30 min
  again after 2 h
}
",
    passes: "\
rule high-fever {
  when core above 38.5 °C during guard
  then call doctor within 15 min
  again after 2 h
}
",
    source: "structural",
    run: Run::Over(run),
};

fn run(context: &Context) -> Vec<Diagnostic> {
    let protocol = context.protocol;
    let mut findings = Vec::new();
    for (id, rule) in protocol.rules() {
        let phases = during(protocol, &rule.during);
        if is_never_asked(context, &rule.when, &phases)
            || phases
                .iter()
                .any(|phase| is_asked_by_order_only(context, &rule.when, *phase))
            || !can_hold(context, rule, &phases)
        {
            continue;
        }
        if is_always_silenced(context, id, rule, &phases) {
            findings.push(silenced(context, id, rule, &phases));
            continue;
        }
        let by = protocol.rules().find(|(other, over)| {
            *other != id
                && orders_as_much(over, rule)
                && (!orders_as_much(rule, over)
                    || *other < id
                    || !covers(context, id, rule, (*other, over)))
                && covers(context, *other, over, (id, rule))
        });
        if let Some((_, by)) = by {
            let mut finding = CHECK
                .found(
                    rule.when_span,
                    format!(
                        "{} adds nothing: whenever it holds, {} orders as much",
                        name(&rule.name),
                        name(&by.name)
                    ),
                )
                .here(one_line(context, rule.when_span))
                .also(by.when_span, one_line(context, by.when_span));
            if let Some(found) = record(context, id, rule, &phases) {
                let both = format!(
                    "{} holds, and {} orders as much",
                    name(&rule.name),
                    name(&by.name)
                );
                finding = finding.witness(witness(context, &found, vec![both]));
            }
            findings.push(
                finding
                    .why("it looks like a safeguard and never adds one")
                    .help("let it order more or sooner, or take it out")
                    .about(&rule.name.name),
            );
        }
    }
    findings
}

/// A record on which the rule holds and is not silenced.
fn record(context: &Context, id: RuleId, rule: &Rule, phases: &[PhaseId]) -> Option<Found> {
    phases.iter().find_map(|phase| {
        let mut goals = vec![Goal::rule(rule, true)];
        goals.extend(not_overridden(context.protocol, id, *phase));
        context.solver.ask(&Question::new(*phase, goals)).found()
    })
}

fn can_hold(context: &Context, rule: &Rule, phases: &[PhaseId]) -> bool {
    phases.iter().any(|phase| {
        matches!(
            context
                .solver
                .ask(&Question::new(*phase, vec![Goal::rule(rule, true)]).unshown()),
            Answer::Found(_)
        )
    })
}

fn is_always_silenced(context: &Context, id: RuleId, rule: &Rule, phases: &[PhaseId]) -> bool {
    let protocol = context.protocol;
    phases
        .iter()
        .all(|phase| overriders(protocol, id, *phase).next().is_some())
        && phases.iter().all(|phase| {
            let mut goals = vec![Goal::rule(rule, true)];
            goals.extend(not_overridden(protocol, id, *phase));
            context
                .solver
                .ask(&Question::new(*phase, goals).unshown())
                .is_never()
        })
}

fn silenced(context: &Context, id: RuleId, rule: &Rule, phases: &[PhaseId]) -> Diagnostic {
    let mut finding = CHECK
        .found(
            rule.when_span,
            format!(
                "{} is silenced whenever it holds, by a rule that overrides it",
                name(&rule.name)
            ),
        )
        .here(one_line(context, rule.when_span));
    let mut said: Vec<RuleId> = Vec::new();
    for phase in phases {
        for (by, over) in overriders(context.protocol, id, *phase) {
            if !said.contains(&by) {
                said.push(by);
                finding = finding.also(over.when_span, one_line(context, over.when_span));
            }
        }
    }
    finding
        .why("the committee believes that it fires, and it never does")
        .help("take it out of the `overrides` of the other, or change one of the conditions")
        .about(&rule.name.name)
}

/// Whether `by` holds, and is not silenced, whenever `rule` holds and is not.
fn covers(context: &Context, by_id: RuleId, by: &Rule, (id, rule): (RuleId, &Rule)) -> bool {
    let protocol = context.protocol;
    // A condition on something else can fail whatever this one says.
    let Some(within) = on_readings(&by.when, &rule.when.readings()) else {
        return false;
    };
    during(protocol, &rule.during).iter().all(|phase| {
        if !is_during(by, *phase) {
            return false;
        }
        let mut goals = vec![Goal::rule(rule, true)];
        goals.extend(not_overridden(protocol, id, *phase));
        let mut question = Question::new(*phase, goals);
        question.either = vec![vec![Goal::Cond {
            cond: within.as_ref(),
            during: Some(&by.during),
            holds: false,
        }]];
        question.either.extend(
            overriders(protocol, by_id, *phase).map(|(_, over)| vec![Goal::rule(over, true)]),
        );
        context.solver.ask(&question).is_never()
    })
}

/// What of a condition is about these readings alone and is enough for it: of an `or`
/// the parts that are, of anything else all or nothing.
fn on_readings<'a>(cond: &'a Cond, readings: &[ReadingId]) -> Option<Cow<'a, Cond>> {
    let is_on = |cond: &Cond| {
        cond.readings()
            .iter()
            .all(|reading| readings.contains(reading))
    };
    match cond {
        cond if is_on(cond) => Some(Cow::Borrowed(cond)),
        Cond::Any(parts) => {
            let parts: Vec<Cond> = parts.iter().filter(|part| is_on(part)).cloned().collect();
            (!parts.is_empty()).then_some(Cow::Owned(Cond::Any(parts)))
        }
        Cond::Test(_) | Cond::All(_) => None,
    }
}

/// Whether `more` orders everything that `less` does, as soon, and again as often.
fn orders_as_much(more: &Rule, less: &Rule) -> bool {
    !less.then.is_empty()
        && less.then.iter().all(|order| {
            more.then
                .iter()
                .any(|other| is_as_much(&other.order, &order.order))
        })
        && match (&more.again_after, &less.again_after) {
            (_, None) => less.ready_again.is_none() || more.ready_again.is_none(),
            (Some(more), Some(less)) => more.value <= less.value,
            (None, Some(_)) => false,
        }
}

fn is_as_much(more: &Order, less: &Order) -> bool {
    match (more, less) {
        (
            Order::Call {
                role: more,
                within: sooner,
            },
            Order::Call { role: less, within },
        ) => {
            let minutes = |within: &Option<crate::quantity::Duration>| {
                within
                    .as_ref()
                    .map_or(crate::quantity::Exact::ZERO, |within| within.value)
            };
            more.value == less.value && minutes(sooner) <= minutes(within)
        }
        _ => matches!(less, Order::Continue) || same_order(more, less, Closeness::Whole),
    }
}
