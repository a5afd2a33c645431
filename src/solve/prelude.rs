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
use super::possible::{hangs_on_target, moved};
use super::question::Question;
use super::scene::{HeldUp, Scene, Values};
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
        if !rule.then.iter().any(|action| action.order.steers()) {
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
