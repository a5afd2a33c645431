//! Times and starts of phases, as the checks ask for them.
//!
//! The plan is `plan`'s; here it is only asked in the words of a check. Where the
//! end of a phase and the beginning of the next hang on the same mark, a single
//! plan over all patients would pair an early mark with a late one: the two
//! extreme cases are looked at one by one instead.

use super::Context;
use crate::model::*;
use crate::plan::{Case, Course, Plan};
use crate::quantity::{Exact, Level};

/// The range on arrival that the heading states.
pub fn arrival(protocol: &Protocol, reading: ReadingId) -> Option<&Range<Level>> {
    protocol
        .head
        .patients
        .on_arrival
        .iter()
        .find(|(of, _)| *of == reading)
        .map(|(_, range)| range)
}

/// Plans with the mark of `start within` as early and as late as it can lie; one
/// plan where there is no such mark.
pub fn extremes(protocol: &Protocol) -> Vec<Plan> {
    let cases: Vec<Case> = match &protocol.head.start_within {
        None => vec![Case::default()],
        Some(start) => [-start.within.value, Exact::ZERO]
            .into_iter()
            .map(|at| {
                let mut case = Case::default();
                case.marks.insert(start.of, at);
                case
            })
            .collect(),
    };
    cases
        .iter()
        .filter_map(|case| Plan::of(protocol, case).ok())
        .collect()
}

/// The farthest from its end that a `cool` or `warm` can begin.
pub fn farthest_start(context: &Context, id: PhaseId) -> Option<Exact> {
    let Aim::Reach { way, from, .. } = &context.protocol[id].aim else {
        return None;
    };
    if let Some(from) = from {
        return Some(from.value);
    }
    let values = context.plan.as_ref()?.phase(id)?.start_values;
    match way {
        Way::Cool => values.high,
        Way::Warm => values.low,
    }
}

/// How long a course from there at that rate takes, in minutes.
pub fn course_length(phase: &Phase, begin: Exact, rate: Exact) -> Option<Exact> {
    Course::of(phase, begin, rate)?.arrives_after()
}

/// How long a phase takes at the least and at the most, in minutes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Length {
    pub shortest: Exact,
    /// `None` is open.
    pub longest: Option<Exact>,
}

pub fn length(context: &Context, id: PhaseId) -> Option<Length> {
    let phase = &context.protocol[id];
    if let End::Lasts(length) = &phase.end {
        return Some(Length {
            shortest: length.value,
            longest: Some(length.value),
        });
    }
    let mut found: Option<Length> = None;
    for plan in extremes(context.protocol) {
        let placed = plan.phase(id)?;
        let (start, end) = (placed.start, placed.end);
        let this = match &phase.end {
            // The end stands still: a late beginning makes it short.
            End::After { .. } => Length {
                shortest: start
                    .latest
                    .map_or(Exact::ZERO, |start| end.earliest.max(start) - start),
                longest: end.latest.map(|end| end - start.earliest),
            },
            // Otherwise its length hangs on no other phase's.
            _ => Length {
                shortest: end.earliest - start.earliest,
                longest: end.latest.zip(start.latest).map(|(end, start)| end - start),
            },
        };
        found = Some(match found {
            None => this,
            Some(other) => Length {
                shortest: this.shortest.min(other.shortest),
                longest: this.longest.zip(other.longest).map(|(a, b)| a.max(b)),
            },
        });
    }
    found
}
