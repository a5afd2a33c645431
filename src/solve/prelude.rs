//! Orders that were given before the moment in question: a pause, a target that was
//! moved or kept (M22, M23).
//!
//! Gives, for a question whose answer can hang on them, each rule with such an order
//! and the moments at which it may have fired; and says, as a formula, that it did
//! and that nothing has ended its order since.

use super::Solver;
use super::ask::Before;
use super::formula::Formula;
use super::frame::Frame;
use super::grid::Grids;
use super::question::{Goal, Question};
use super::scene::{Any, AnyTarget, Bent, HeldUp, LeadIn, Scene, Values};
use crate::eval::Aimed;
use crate::model::*;
use crate::plan::Course;
use crate::quantity::Exact;
use std::collections::BTreeSet;

#[derive(Debug, Clone, Copy)]
pub enum Effect<'a> {
    /// Until that ends it; the target stands still.
    Paused(&'a Until),
    Kept(&'a Until),
    /// One of these, over since then: the course goes on, later than planned.
    HeldUp(&'a Until, Exact),
    Target(Exact),
    /// The course is put there, or changes its rate.
    Anew(Course),
}

/// How many moments are tried for the order that comes first.
const MOST_MOMENTS: usize = 12;

/// How many ends of it: after 1, 2, 4, 8, … moments.
const MOST_ENDS: u32 = 8;

pub(super) fn before<'s>(
    solver: &'s Solver<'_>,
    frame: &'s Frame,
    question: &Question<'_>,
) -> Vec<Before<'s>> {
    let tests: Vec<&Test> = question.conds().flat_map(Cond::tests).collect();
    let asks_pause = tests
        .iter()
        .any(|test| matches!(test.kind, TestKind::PausedLonger { .. }));
    let asks_target = hangs_on_target(solver.protocol, frame, question);
    if !asks_pause && !asks_target {
        return Vec::new();
    }
    let protocol = solver.protocol;
    let moves = matches!(protocol[frame.phase].aim, Aim::Reach { rate: Some(_), .. });
    let mut found = Vec::new();
    let mut over_again = Vec::new();
    for (id, rule) in protocol.rules() {
        if !rule.during.is_empty() && !rule.during.iter().any(|during| during.value == frame.phase)
        {
            continue;
        }
        // Values that stay as they are make it fire as soon as its windows are full.
        let held = matches!(question.values, Values::Held | Values::HeldAlone(_));
        let most = if held && !solver.store.borrow().hangs_on_orders(&rule.when) {
            1
        } else {
            MOST_MOMENTS
        };
        // Before its windows are full it cannot have fired.
        let moments: Vec<Exact> = frame
            .moments
            .iter()
            .copied()
            .filter(|at| {
                let mut scene = solver.scene(frame, question.values);
                let since = frame.stretch(&rule.during);
                match solver.compiled(&scene, frame, &rule.when, since, *at) {
                    Some(compiled) => !compiled.formula.is_false(),
                    None => !scene.cond(&rule.when, since, *at).is_false(),
                }
            })
            .take(most)
            .collect();
        for action in &rule.then {
            for at in &moments {
                let aimed = frame.aimed_at(*at);
                let effect = match &action.order {
                    Order::Pause(until) if asks_pause || moves => Effect::Paused(until),
                    Order::KeepTarget(until) if asks_target && moves => Effect::Kept(until),
                    order if asks_target && !moves => match moved(order, aimed) {
                        Some(value) => Effect::Target(value),
                        None => continue,
                    },
                    order if asks_target => match anew(order, aimed, frame.stated) {
                        Some(course) => Effect::Anew(course),
                        None => continue,
                    },
                    _ => continue,
                };
                found.push(Before {
                    rule: id,
                    at: *at,
                    effect,
                });
                if let Effect::Paused(until) | Effect::Kept(until) = effect
                    && moves
                    && asks_target
                {
                    for over in over_at(frame, until, *at) {
                        over_again.push(Before {
                            rule: id,
                            at: *at,
                            effect: Effect::HeldUp(until, over),
                        });
                    }
                }
            }
        }
    }
    // What still stands is shown sooner, and is easier to believe.
    found.extend(over_again);
    found
}

/// The course after an order that puts it elsewhere or changes its rate.
fn anew(order: &Order, aimed: Aimed, course: Option<Course>) -> Option<Course> {
    let (course, Aimed::Value(now)) = (course?, aimed) else {
        return None;
    };
    if let Order::SetRate(rate) = order {
        return (rate.value != course.rate).then_some(Course {
            begin: now,
            rate: rate.value,
            ..course
        });
    }
    let begin = moved(order, aimed)?;
    let begin = match course.way {
        Way::Warm => begin.min(course.end),
        Way::Cool => begin.max(course.end),
    };
    Some(Course { begin, ..course })
}

/// Moments at which such an order may have ended.
fn over_at(frame: &Frame, until: &Until, since: Exact) -> Vec<Exact> {
    match until {
        Until::For(length) => vec![since + length.value],
        Until::Mark(_) => Vec::new(),
        Until::When(_) => {
            let behind = frame.moments.iter().copied().filter(|at| *at > since);
            let behind: Vec<Exact> = behind.collect();
            (0..MOST_ENDS)
                .filter_map(|power| behind.get((1_usize << power) - 1))
                .copied()
                .collect()
        }
    }
}

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
fn hangs_on_target(protocol: &Protocol, frame: &Frame, question: &Question<'_>) -> bool {
    let phase = &protocol[frame.phase];
    let moves = matches!(phase.aim, Aim::Reach { rate: Some(_), .. });
    question.hangs_on_target() || (moves && matches!(phase.end, End::Reached))
}

/// What orders can bring about in a phase, whatever the question.
pub(super) fn possible(solver: &Solver<'_>, frame: &Frame) -> Any {
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
        .flat_map(|(_, ladder)| super::said::actions(ladder))
        .map(|(_, action)| &action.order);
    let looks = protocol.looks.iter().filter_map(|look| match &look.what {
        LookWhat::Order(action) => Some(&action.order),
        LookWhat::Ask { .. } | LookWhat::Do { .. } | LookWhat::Give(_) => None,
    });
    rules.chain(ladders).chain(looks)
}

/// Where an order puts a target that stands at a value.
fn moved(order: &Order, aimed: Aimed) -> Option<Exact> {
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

/// That the rule fired then, and that its order still stands; tells the scene what
/// the order did.
pub(super) fn holds<'s>(
    solver: &'s Solver<'_>,
    scene: &mut Scene<'s>,
    frame: &'s Frame,
    before: Before<'_>,
    at: Exact,
) -> Formula {
    if matches!(before.effect, Effect::HeldUp(_, over) if over >= at) {
        return Formula::FALSE;
    }
    if let Effect::Paused(Until::For(length)) | Effect::Kept(Until::For(length)) = before.effect
        && before.at + length.value <= at
    {
        return Formula::FALSE;
    }
    let protocol = solver.protocol;
    let rule = &protocol[before.rule];
    let since = frame.stretch(&rule.during);
    let first = solver.cond(scene, frame, &rule.when, since, before.at);
    if first.is_false() {
        return first;
    }
    let mut all = vec![first];
    for (_, other) in protocol.rules() {
        let overrides = other.overrides.iter().any(|over| over.value == before.rule);
        let within = other.during.is_empty()
            || other
                .during
                .iter()
                .any(|during| during.value == frame.phase);
        if overrides && within {
            all.push(
                solver
                    .cond(
                        scene,
                        frame,
                        &other.when,
                        frame.stretch(&other.during),
                        before.at,
                    )
                    .negated(),
            );
        }
    }
    let until = match before.effect {
        Effect::Paused(until) => {
            scene.paused_since = Some(before.at);
            stand_still(scene, frame, before.at, None);
            Some(until)
        }
        Effect::Kept(until) => {
            stand_still(scene, frame, before.at, None);
            Some(until)
        }
        Effect::HeldUp(until, over) => {
            stand_still(scene, frame, before.at, Some(over));
            Some(until)
        }
        Effect::Target(value) => {
            scene.target_after = Some((before.at, Aimed::Value(value)));
            None
        }
        Effect::Anew(course) => {
            scene.anew = Some((before.at, course));
            scene.held.wide = true;
            None
        }
    };
    match until {
        None | Some(Until::Mark(_) | Until::For(_)) => {}
        Some(Until::When(cond)) => {
            let over = match before.effect {
                Effect::HeldUp(_, over) => Some(over),
                _ => None,
            };
            for moment in ends_at(frame, cond, before.at, over.unwrap_or(at)) {
                if over == Some(moment) {
                    continue;
                }
                let ended = solver.cond(scene, frame, cond, before.at, moment);
                if ended.is_true() {
                    return Formula::FALSE;
                }
                let goes_on = ended.negated();
                if all.last() != Some(&goes_on) {
                    all.push(goes_on);
                }
            }
            if let Some(over) = over {
                all.push(solver.cond(scene, frame, cond, before.at, over));
            }
        }
    }
    Formula::all(all)
}

fn stand_still(scene: &mut Scene<'_>, frame: &Frame, since: Exact, until: Option<Exact>) {
    scene.held_up = Some(HeldUp { since, until });
    scene.held.wide = true;
    if until.is_none() {
        scene.target_after = Some((since, frame.aimed_at(since)));
    }
}

/// The moments at which the condition that ends an order can begin to hold: the first
/// one, each at which one of its readings is recorded, and all where time plays a part.
fn ends_at(frame: &Frame, cond: &Cond, from: Exact, to: Exact) -> Vec<Exact> {
    let tests = cond.tests();
    let by_time = tests.iter().any(|test| {
        test.kind.is_by_clock()
            || matches!(
                test.kind,
                TestKind::OffTarget { .. } | TestKind::NearTarget { .. }
            )
    });
    let moments = frame.moments.iter().copied();
    let mut within = moments.filter(|at| *at > from && *at <= to);
    if by_time {
        return within.collect();
    }
    let mut found: BTreeSet<Exact> = within.next().into_iter().collect();
    for reading in tests.iter().flat_map(|test| test.kind.readings()) {
        let samples = frame.samples_of(reading);
        let first = samples.partition_point(|sample| sample.at <= from);
        let last = samples.partition_point(|sample| sample.at <= to);
        found.extend(
            samples
                .get(first..last)
                .unwrap_or_default()
                .iter()
                .map(|sample| sample.at),
        );
    }
    found.into_iter().collect()
}
