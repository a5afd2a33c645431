//! What orders can bring about in a phase, whoever gives them: where the target can stand, whether
//! control can have been paused, and whether the patient can have come into the phase another way.
//! For a proof that all of it together changes nothing.

use super::Solver;
use super::frame::Frame;
use super::grid::Grids;
use super::question::{Goal, Question};
use super::scene::{Any, AnyTarget, Bent, LeadIn, Values};
use crate::eval::Aimed;
use crate::model::*;
use crate::quantity::Exact;
use std::collections::BTreeSet;

/// What orders can make of the target and of control in that phase, whoever gives
/// them, where the answer to the question can hang on it. `None`: nothing.
pub(super) fn any(solver: &Solver<'_>, frame: &Frame, question: &Question<'_>) -> Option<Any> {
    // Who is on plan gives no reason for an order.
    if matches!(question.values, Values::OnPlan(_) | Values::HeldAlone(_)) {
        return None;
    }
    let asks_pause = question
        .tests()
        .iter()
        .any(|test| matches!(test.kind, TestKind::PausedLonger { .. }));
    let can = solver.can_order(frame);
    let pause = asks_pause && can.pause;
    let target = can
        .target
        .filter(|_| hangs_on_target(solver.protocol, frame, question));
    let lead_in = leads_in_otherwise(solver, frame, question);
    (pause || target.is_some() || lead_in.is_some()).then_some(Any {
        target,
        pause,
        lead_in,
    })
}

/// Whether the answer can be another one when the phases ahead took another way: not a set time
/// ends one of them, or an order begins this one; and what was recorded by then plays a part.
fn leads_in_otherwise(
    solver: &Solver<'_>,
    frame: &Frame,
    question: &Question<'_>,
) -> Option<LeadIn> {
    if question.values != Values::Free {
        return None;
    }
    let protocol = solver.protocol;
    let ahead = frame.runs.iter().map(|(phase, _)| *phase);
    let ends = ahead
        .filter(|phase| *phase != frame.phase)
        .map(|phase| &protocol[phase].end);
    let opens = |end: &End| match end {
        End::Lasts(_) => None,
        End::Reached => Some(LeadIn::Values),
        End::Awaited { trigger, .. } => Some(match trigger {
            EndTrigger::When(_) => LeadIn::Values,
            EndTrigger::Mark(_) => LeadIn::Length,
        }),
        End::After { .. } => Some(LeadIn::Length),
    };
    let opened: Vec<LeadIn> = ends
        .filter_map(opens)
        .chain(frame.begun_by_order.then_some(LeadIn::Values))
        .collect();
    let kind = match opened.first()? {
        LeadIn::Length
            if !opened.contains(&LeadIn::Values) && holds_later_too(solver, frame, question) =>
        {
            LeadIn::Length
        }
        _ => LeadIn::Values,
    };
    let before = frame
        .course
        .as_ref()
        .is_some_and(|course| course.since <= frame.begins && question.hangs_on_target());
    let plays_a_part = before
        || question
            .goals
            .iter()
            .chain(question.either.iter().flatten())
            .any(|goal| match goal {
                Goal::Cond { during, .. } => {
                    during.is_some_and(|during| frame.reaches_ahead(during))
                }
                Goal::Value { .. } | Goal::NotValue { .. } => true,
            });
    plays_a_part.then_some(kind)
}

/// Whether what holds over the end of the phases ahead, however long they took, holds as well later
/// in this one, if it lasts so long: looks fall as often here as there, and nothing asked about
/// hangs on the target or on the clock.
fn holds_later_too(solver: &Solver<'_>, frame: &Frame, question: &Question<'_>) -> bool {
    let intervals = &solver.intervals;
    let as_often = |reading: ReadingId| {
        let here = intervals.at(reading, frame.phase);
        let mut ahead = frame.runs.iter().map(|(phase, _)| *phase);
        here.is_some()
            && ahead.all(|phase| {
                let there = intervals.at(reading, phase);
                there.is_none() || there == here
            })
    };
    let mut goals = question
        .goals
        .iter()
        .chain(question.either.iter().flatten());
    question.before.is_none()
        && !question.hangs_on_target()
        && goals.all(|goal| matches!(goal, Goal::Cond { .. }))
        && question
            .tests()
            .iter()
            .all(|test| !test.kind.is_by_clock() && test.kind.readings().into_iter().all(as_often))
}

/// Whether the answer can be another one when the target has been moved or held up: a phase that
/// its course ends then lasts longer, and shows what would have ended it.
pub(super) fn hangs_on_target(protocol: &Protocol, frame: &Frame, question: &Question<'_>) -> bool {
    let phase = &protocol[frame.phase];
    let moves = matches!(phase.aim, Aim::Reach { rate: Some(_), .. });
    question.hangs_on_target() || (moves && matches!(phase.end, End::Reached))
}

/// What orders can bring about in a phase, whatever the question.
pub(super) fn by_orders(solver: &Solver<'_>, frame: &Frame) -> Any {
    let protocol = solver.protocol;
    let moves = matches!(protocol[frame.phase].aim, Aim::Reach { rate: Some(_), .. });
    let target = if moves {
        bent(protocol, &solver.grids, frame.phase).map(AnyTarget::Course)
    } else {
        reachable(solver, frame)
    };
    Any {
        target,
        pause: pauses_by(protocol, frame.phase),
        lead_in: None,
    }
}

/// Whether control can have been paused by the end of a phase.
fn pauses_by(protocol: &Protocol, until: PhaseId) -> bool {
    // A pause goes on into the next phase, whoever has ordered it.
    let pauses = |phase| orders(protocol, phase).any(|order| matches!(order, Order::Pause(_)));
    let goes_back = orders(protocol, None).any(|order| matches!(order, Order::Begin(_)));
    let earlier = protocol.phases().take_while(|(phase, _)| *phase <= until);
    if goes_back {
        pauses(None)
    } else {
        earlier.into_iter().any(|(phase, _)| pauses(Some(phase)))
    }
}

/// What orders can do to the course of a phase; `None`: nothing.
pub(super) fn bent(protocol: &Protocol, grids: &Grids, phase: PhaseId) -> Option<Bent> {
    let Aim::Reach {
        rate: Some(rate), ..
    } = &protocol[phase].aim
    else {
        return None;
    };
    let mut bent = Bent {
        set: None,
        faster: rate.faster().value > rate.slower().value,
        farther: is_begun_by_order(protocol, phase),
        whole: true,
    };
    let mut can = pauses_by(protocol, phase) || bent.faster || bent.farther;
    for order in orders(protocol, Some(phase)) {
        let (value, by) = match order {
            Order::KeepTarget(_) => (None, Exact::ZERO),
            Order::SetRate(other) => {
                bent.faster |= other.value > rate.slower().value;
                (None, Exact::ZERO)
            }
            Order::SetTarget(value) => (Some(value.value), Exact::ZERO),
            Order::RaiseTarget { by, at_most } => (Some(at_most.value), by.value),
            Order::LowerTarget { by, at_least } => (Some(at_least.value), by.value),
            _ => continue,
        };
        can = true;
        if let Some(value) = value {
            bent.whole &= grids.is_whole(value) && grids.is_whole(by);
            let (low, high) = bent.set.unwrap_or((value, value));
            bent.set = Some((low.min(value), high.max(value)));
        }
    }
    can.then_some(bent)
}

/// All targets that orders can bring about, by and by.
fn reachable(solver: &Solver<'_>, frame: &Frame) -> Option<AnyTarget> {
    /// More than a sheet could make anybody do.
    const MOST: usize = 400;
    let first = frame.aimed_at(frame.begins);
    let Aimed::Value(value) = first else {
        return None;
    };
    let mut known = BTreeSet::from([value]);
    let mut open = vec![first];
    while let Some(aimed) = open.pop() {
        for order in orders(solver.protocol, Some(frame.phase)) {
            if let Some(value) = moved(order, aimed)
                && known.insert(value)
            {
                open.push(Aimed::Value(value));
            }
        }
        if known.len() > MOST {
            return Some(AnyTarget::Free);
        }
    }
    if known.len() == 1 {
        return None;
    }
    let grids = &solver.grids;
    if known.iter().any(|value| !grids.is_whole(*value)) {
        return Some(AnyTarget::Free);
    }
    Some(AnyTarget::Between(
        grids.floor(*known.first()?),
        grids.floor(*known.last()?),
    ))
}

/// Whether an order can begin a phase, out of its turn or once more.
pub(super) fn is_begun_by_order(protocol: &Protocol, phase: PhaseId) -> bool {
    orders(protocol, None).any(|order| matches!(order, Order::Begin(begun) if begun.value == phase))
}

/// Every order of the protocol, of rules those that speak in that phase.
fn orders(protocol: &Protocol, phase: Option<PhaseId>) -> impl Iterator<Item = &Order> {
    let rules = protocol
        .rules()
        .filter(move |(_, rule)| {
            let speaks = |phase| rule.during.iter().any(|during| during.value == phase);
            phase.is_none_or(speaks) || rule.during.is_empty()
        })
        .flat_map(|(_, rule)| rule.then.iter().map(|action| &action.order));
    let ladders = protocol
        .ladders()
        .flat_map(|(_, ladder)| ladder.actions())
        .map(|(_, action)| &action.order);
    let looks = protocol.looks.iter().filter_map(|look| match &look.what {
        LookWhat::Order(action) => Some(&action.order),
        LookWhat::Ask { .. } | LookWhat::Do { .. } | LookWhat::Give(_) => None,
    });
    rules.chain(ladders).chain(looks)
}

/// Where an order puts a target that stands at a value.
pub(super) fn moved(order: &Order, aimed: Aimed) -> Option<Exact> {
    let Aimed::Value(now) = aimed else {
        return None;
    };
    let value = match order {
        Order::SetTarget(value) => value.value,
        Order::RaiseTarget { by, at_most } => now.max((now + by.value).min(at_most.value)),
        Order::LowerTarget { by, at_least } => now.min((now - by.value).max(at_least.value)),
        _ => return None,
    };
    (value != now).then_some(value)
}
