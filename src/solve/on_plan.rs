//! The patient who is exactly on plan (M32): which of the rules speak of him?
//!
//! Gives, for a phase, the records that such a patient leaves: at the target; along
//! the straight line of a course; along the lines of the slowest and the fastest
//! rate that a `cool` or `warm` allows. Inside a range that is kept every value is
//! on plan, held all the time. Other readings are unknown.

use super::Solver;
use super::formula::Formula;
use super::frame::Frame;
use super::question::{Found, Goal, Question};
use super::record::found;
use super::scene::Values;
use crate::eval::Aimed;
use crate::model::*;
use crate::plan::{Case, Plan};
use crate::quantity::Exact;
use std::collections::BTreeSet;

/// A record on plan, good until that moment.
pub struct Line {
    frame: Frame,
    until: Option<Exact>,
}

/// The records on plan; none for a range, which is asked for as such.
pub fn lines(solver: &Solver<'_>, phase: PhaseId) -> Vec<Line> {
    let Some(frame) = solver.frame(phase) else {
        return Vec::new();
    };
    let stated = &solver.protocol[phase];
    match &stated.aim {
        Aim::Keep { .. } => Vec::new(),
        Aim::Hold { at, .. } => {
            vec![along(solver, frame, planned_end(stated, frame), |_| {
                at.value
            })]
        }
        Aim::Reach {
            rate: Some(rate),
            to,
            way,
            ..
        } => {
            let Aimed::Value(begin) = frame.aimed_at(frame.begins) else {
                return Vec::new();
            };
            let rate = rate.slower().value;
            vec![straight(solver, frame, (begin, to.value, *way), rate)]
        }
        Aim::Reach {
            to,
            way,
            from,
            within,
            ..
        } => {
            let within = within.as_ref().map_or(Exact::ZERO, |within| within.value);
            let starts = starts(solver, phase, from.as_ref().map(|from| from.value));
            let mut lines = Vec::new();
            for start in starts {
                let distance = match way {
                    Way::Cool => start - to.value,
                    Way::Warm => to.value - start,
                };
                if distance <= Exact::ZERO {
                    continue;
                }
                let by_due = stated
                    .due
                    .as_ref()
                    .filter(|due| due.of.is_none())
                    .map(|due| distance / due.within.value * Exact::int(60));
                let slow = stated.at_least.as_ref().map(|least| least.value).or(by_due);
                let fast = stated.never_faster.as_ref().map(|cap| cap.value);
                // A slowest rate above the cap is no plan; another check says so.
                let slow = slow.filter(|slow| fast.is_none_or(|fast| *slow <= fast));
                for rate in [slow, fast].into_iter().flatten() {
                    let mut line = straight(solver, frame, (start, to.value, *way), rate);
                    // Near enough to the end the phase is over.
                    line.until = (rate > Exact::ZERO).then(|| {
                        let left = (distance - within).max(Exact::ZERO);
                        frame.begins + left / rate * Exact::int(60)
                    });
                    lines.push(line);
                }
            }
            lines
        }
    }
}

/// The first record on plan on which the rule's condition holds.
pub fn fires(solver: &Solver<'_>, phase: PhaseId, lines: &[Line], rule: &Rule) -> Option<Found> {
    let stated = &solver.protocol[phase];
    let reading = stated.aim.reading();
    if !is_open_to(&rule.when, reading) {
        return None;
    }
    if let Aim::Keep { low, high, .. } = &stated.aim {
        let frame = solver.frame(phase)?;
        let (low, high) = match (low, high) {
            (Some(low), Some(high)) => (low.value, high.value),
            (Some(only), None) | (None, Some(only)) => (only.value, only.value),
            (None, None) => return None,
        };
        let goals = vec![
            Goal::rule(rule, true),
            Goal::Value {
                reading,
                cmp: Cmp::AtOrAbove,
                value: low,
            },
            Goal::Value {
                reading,
                cmp: Cmp::AtOrBelow,
                value: high,
            },
        ];
        let mut question = Question::new(phase, goals).with(Values::HeldAlone(reading));
        question.before = planned_end(stated, frame);
        return solver.ask(&question).found();
    }
    lines.iter().find_map(|line| on_line(solver, line, rule))
}

/// Whether the condition can hold while only that reading is known: nothing that needs another one
/// can, and nothing is missed that plays no part.
fn is_open_to(cond: &Cond, reading: ReadingId) -> bool {
    match cond {
        Cond::Test(test) => match &test.kind {
            TestKind::NotRecorded { .. } => false,
            kind => kind.readings().iter().all(|needed| *needed == reading),
        },
        Cond::All(parts) => parts.iter().all(|part| is_open_to(part, reading)),
        Cond::Any(parts) => parts.iter().any(|part| is_open_to(part, reading)),
    }
}

fn on_line(solver: &Solver<'_>, line: &Line, rule: &Rule) -> Option<Found> {
    let frame = &line.frame;
    let reading = solver.protocol[frame.phase].aim.reading();
    let mut moments: BTreeSet<Exact> = frame
        .samples_of(reading)
        .iter()
        .map(|sample| sample.at)
        .collect();
    for test in rule.when.tests() {
        match &test.kind {
            TestKind::LastsLonger { than, .. } => {
                moments.insert(frame.begins + than.value);
            }
            TestKind::Overdue { .. } => moments.extend(frame.due),
            _ => {}
        }
    }
    for at in moments {
        // Who is overdue is not on plan.
        let ends = line.until.into_iter().chain(frame.ends).chain(frame.due);
        let over = ends.min().is_some_and(|end| at >= end);
        if at < frame.begins || over {
            continue;
        }
        let mut scene = solver.scene(frame, Values::OnPlan(reading));
        let formula: Formula = scene.cond(&rule.when, frame.stretch(&rule.during), at);
        let plan = scene.domains.plan();
        if formula.holds(&plan) {
            return Some(found(&scene, frame, at, &plan));
        }
    }
    None
}

/// Where the reading can be when the phase begins.
fn starts(solver: &Solver<'_>, phase: PhaseId, from: Option<Exact>) -> Vec<Exact> {
    if let Some(from) = from {
        return vec![from];
    }
    let Ok(plan) = Plan::of(solver.protocol, &Case::default()) else {
        return Vec::new();
    };
    let values = plan.phase(phase).map(|placed| placed.start_values);
    let mut starts: Vec<Exact> = values
        .into_iter()
        .flat_map(|values| [values.low, values.high])
        .flatten()
        .collect();
    starts.dedup();
    starts
}

fn straight(
    solver: &Solver<'_>,
    frame: &Frame,
    (begin, end, way): (Exact, Exact, Way),
    rate: Exact,
) -> Line {
    let distance = (end - begin).abs();
    let arrives = (rate > Exact::ZERO).then(|| frame.begins + distance / rate * Exact::int(60));
    along(solver, frame, arrives, |after| {
        let gone = (rate * after / Exact::int(60)).min(distance);
        match way {
            Way::Warm => begin + gone,
            Way::Cool => begin - gone,
        }
    })
}

/// The frame with values along a line, by minutes since the phase began.
fn along(
    solver: &Solver<'_>,
    frame: &Frame,
    until: Option<Exact>,
    value: impl Fn(Exact) -> Exact,
) -> Line {
    let mut frame = frame.clone();
    let reading = solver.protocol[frame.phase].aim.reading();
    if let Some(samples) = frame.samples.get_mut(reading.index()) {
        for sample in samples {
            if sample.at >= frame.begins && sample.low < sample.high {
                sample.plan = solver
                    .grids
                    .nearest(reading, value(sample.at - frame.begins))
                    .clamp(sample.low, sample.high);
            }
        }
    }
    Line { frame, until }
}

/// When a phase that waits for something is over as planned.
fn planned_end(phase: &Phase, frame: &Frame) -> Option<Exact> {
    match &phase.end {
        End::Awaited { plan, .. } => {
            let length = plan.last.as_ref().unwrap_or(&plan.first);
            Some(frame.begins + length.value)
        }
        End::Lasts(_) | End::After { .. } | End::Reached => frame.ends,
    }
}
