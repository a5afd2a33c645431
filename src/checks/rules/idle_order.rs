//! An order that can do nothing where it is given (M20, M22, M27).

use super::super::facts::{self, Origin};
use super::super::words::{self, name};
use super::super::{Check, Context, Family, Run};
use super::one_line;
use crate::diag::{Diagnostic, Level};
use crate::model::*;
use crate::quantity::Exact;

pub const CHECK: Check = Check {
    name: "idle-order",
    family: Family::Rules,
    level: Level::Error,
    since: "0.1.0",
    summary: "an order that can do nothing where it is given",
    catches: "An order on the target in a phase that keeps a range; a target equal to the one in force, or a move past \
              a bound that the target is at already; `keep target here` or `set rate` where no course runs; `begin` \
              of the phase itself; raise or lower of a medicine without steps, and stop of one that is not infused.",
    why: "Somebody believes that the sheet has changed something, and it has not.",
    fires: "\
rule warm-now {
  when core above 37.7 °C during guard
  then set target 37.0 °C
  then call doctor within 15 min
  again after 2 h
}
",
    passes: "\
rule warm-now {
  when core above 37.7 °C during guard
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
    for order in facts::orders(protocol) {
        let idle: Vec<(PhaseId, &str)> = order
            .phases
            .iter()
            .filter_map(|phase| Some((*phase, does_nothing(protocol, order.action, *phase)?)))
            .collect();
        let Some((phase, why)) = idle.first().copied() else {
            continue;
        };
        // A `begin` that is idle in one of several phases is of use in the others.
        if matches!(order.action.order, Order::Begin(_)) && idle.len() < order.phases.len() {
            continue;
        }
        let phases: Vec<PhaseId> = idle.iter().map(|(phase, _)| *phase).collect();
        let mut finding = CHECK
            .found(
                order.action.span,
                format!(
                    "`{}` does nothing in {}",
                    one_line(context, order.action.span),
                    words::phases(protocol, &phases)
                ),
            )
            .here(why)
            .also(protocol[phase].aim_span, "what the phase aims at")
            .why("somebody believes that the sheet has changed something, and it has not")
            .help("write an order that acts there, or leave those phases out of `during`");
        if let (Origin::Rule(_) | Origin::Ladder(..), Some(named)) = (order.origin, order.name) {
            finding.title = format!("{}: {}", name(named), finding.title);
            finding = finding.about(&named.name);
        }
        findings.push(finding);
    }
    findings
}

/// Why an order does nothing in that phase; `None` where it does something.
fn does_nothing(protocol: &Protocol, action: &Action, phase: PhaseId) -> Option<&'static str> {
    let aim = &protocol[phase].aim;
    let keeps = matches!(aim, Aim::Keep { .. });
    let runs_course = matches!(aim, Aim::Reach { rate: Some(_), .. });
    let moved = || moves_in(protocol, phase, action);
    match &action.order {
        Order::SetTarget(_) | Order::RaiseTarget { .. } | Order::LowerTarget { .. } if keeps => {
            Some("the phase keeps a range and has no target")
        }
        Order::KeepTarget(_) | Order::SetRate(_) if keeps => {
            Some("the phase keeps a range and has no target")
        }
        Order::KeepTarget(_) if !runs_course => Some("no course runs that could be stopped"),
        Order::SetRate(_) if !runs_course => Some("no course runs that could be faster or slower"),
        Order::SetTarget(to) => {
            (standing(aim) == Some(to.value) && !moved()).then_some("this is the target already")
        }
        Order::RaiseTarget { at_most, .. } => standing(aim)
            .is_some_and(|target| target >= at_most.value && !moved())
            .then_some("the target is at or above this bound already"),
        Order::LowerTarget { at_least, .. } => standing(aim)
            .is_some_and(|target| target <= at_least.value && !moved())
            .then_some("the target is at or below this bound already"),
        Order::Begin(to) => (to.value == phase).then_some("this phase runs already"),
        Order::RaiseRate { medication, .. } | Order::LowerRate { medication, .. } => {
            let has_steps = protocol[medication.value]
                .infusion
                .as_ref()
                .is_some_and(|infusion| infusion.step.is_some());
            (!has_steps).then_some("this medicine has no rates to go through")
        }
        Order::StopMedication(medication) => {
            protocol[medication.value].infusion.is_none().then_some(
                "this medicine does not run, so it cannot be stopped; `withhold` keeps it back",
            )
        }
        Order::Ask { .. }
        | Order::FollowLadder(_)
        | Order::FollowChecklist(_)
        | Order::Call { .. }
        | Order::Do { .. }
        | Order::Continue
        | Order::KeepTarget(_)
        | Order::SetRate(_)
        | Order::Pause(_)
        | Order::Stop
        | Order::Give { .. }
        | Order::Withhold { .. } => None,
    }
}

/// The target that stands still in a phase, as long as no order moves it.
fn standing(aim: &Aim) -> Option<Exact> {
    match aim {
        Aim::Hold { at, .. } => Some(at.value),
        Aim::Reach { to, rate: None, .. } => Some(to.value),
        Aim::Reach { rate: Some(_), .. } | Aim::Keep { .. } => None,
    }
}

/// Whether another order can have moved the target there before.
fn moves_in(protocol: &Protocol, phase: PhaseId, but: &Action) -> bool {
    facts::orders(protocol).iter().any(|order| {
        !std::ptr::eq(order.action, but)
            && order.phases.contains(&phase)
            && matches!(
                order.action.order,
                Order::SetTarget(_) | Order::RaiseTarget { .. } | Order::LowerTarget { .. }
            )
    })
}
