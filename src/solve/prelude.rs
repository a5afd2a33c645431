//! Orders that were given before the moment in question: a pause, a target that was
//! moved or kept (M22, M23).
//!
//! Gives, for a question whose answer can hang on them, each rule with such an order
//! and the moments at which it may have fired; and says, as a formula, that it did
//! and that nothing has ended its order since.

use super::Solver;
use super::ask::{Before, Question};
use super::formula::Formula;
use super::frame::Frame;
use super::scene::Scene;
use crate::eval::Aimed;
use crate::model::*;
use crate::quantity::Exact;

#[derive(Debug, Clone, Copy)]
pub enum Effect<'a> {
    /// Until that ends it; the target stands still.
    Paused(&'a Until),
    Kept(&'a Until),
    Target(Exact),
}

/// How many moments are tried for the order that comes first.
const MOST_MOMENTS: usize = 12;

pub(super) fn before<'s>(
    solver: &'s Solver<'_>,
    frame: &Frame,
    question: &Question<'_>,
) -> Vec<Before<'s>> {
    let tests: Vec<&Test> = question.conds().flat_map(Cond::tests).collect();
    let asks_pause = tests
        .iter()
        .any(|test| matches!(test.kind, TestKind::PausedLonger { .. }));
    let asks_target = tests.iter().any(|test| {
        matches!(
            test.kind,
            TestKind::OffTarget { .. } | TestKind::NearTarget { .. }
        )
    });
    if !asks_pause && !asks_target {
        return Vec::new();
    }
    let protocol = solver.protocol;
    let moves = matches!(protocol[frame.phase].aim, Aim::Reach { rate: Some(_), .. });
    let mut found = Vec::new();
    for (id, rule) in protocol.rules() {
        if !rule.during.is_empty() && !rule.during.iter().any(|during| during.value == frame.phase)
        {
            continue;
        }
        for action in &rule.then {
            let moments = frame.moments.iter().take(MOST_MOMENTS);
            for at in moments {
                let aimed = frame.aimed_at(*at);
                let effect = match &action.order {
                    Order::Pause(until) if asks_pause || moves => Effect::Paused(until),
                    Order::KeepTarget(until) if asks_target && moves => Effect::Kept(until),
                    order if asks_target && !moves => match moved(order, aimed) {
                        Some(value) => Effect::Target(value),
                        None => continue,
                    },
                    _ => continue,
                };
                found.push(Before {
                    rule: id,
                    at: *at,
                    effect,
                });
            }
        }
    }
    found
}

/// Where an order puts a target that stands at a value.
pub fn moved(order: &Order, aimed: Aimed) -> Option<Exact> {
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
    solver: &Solver<'_>,
    scene: &mut Scene<'s>,
    frame: &'s Frame,
    before: Before<'_>,
    at: Exact,
) -> Formula {
    let protocol = solver.protocol;
    let rule = &protocol[before.rule];
    let mut all = vec![scene.cond(&rule.when, frame.stretch(&rule.during), before.at)];
    for (_, other) in protocol.rules() {
        let overrides = other.overrides.iter().any(|over| over.value == before.rule);
        let within = other.during.is_empty()
            || other
                .during
                .iter()
                .any(|during| during.value == frame.phase);
        if overrides && within {
            all.push(
                scene
                    .cond(&other.when, frame.stretch(&other.during), before.at)
                    .negated(),
            );
        }
    }
    let until = match before.effect {
        Effect::Paused(until) => {
            scene.paused_since = Some(before.at);
            scene.target_after = Some((before.at, frame.aimed_at(before.at)));
            Some(until)
        }
        Effect::Kept(until) => {
            scene.target_after = Some((before.at, frame.aimed_at(before.at)));
            Some(until)
        }
        Effect::Target(value) => {
            scene.target_after = Some((before.at, Aimed::Value(value)));
            None
        }
    };
    match until {
        None | Some(Until::Mark(_)) => {}
        Some(Until::For(length)) => {
            if before.at + length.value <= at {
                return Formula::FALSE;
            }
        }
        Some(Until::When(cond)) => {
            for moment in &frame.moments {
                if *moment > before.at && *moment <= at {
                    all.push(scene.cond(cond, before.at, *moment).negated());
                }
            }
        }
    }
    Formula::all(all)
}
