//! From a duration to boxes on the sheet (M5, M8, M9).

use crate::model::{PhaseId, Protocol, ReadingId};
use crate::plan::interval_in_force;
use crate::quantity::Exact;

/// How many boxes in a row a `for D` means, and in which phases.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Run {
    pub boxes: i64,
    /// Minutes from box to box.
    pub interval: Exact,
    pub phases: Vec<PhaseId>,
}

/// The boxes in a row that a condition on these readings must hold in, phase by phase; phases in
/// which nobody is asked for one of them are left out.
pub fn row_of_boxes(
    protocol: &Protocol,
    readings: &[ReadingId],
    minutes: Exact,
    phases: &[PhaseId],
) -> Vec<Run> {
    let mut runs: Vec<Run> = Vec::new();
    for &phase in phases {
        let Some(interval) = interval(protocol, readings, phase) else {
            continue;
        };
        let Some(boxes) = boxes_in_a_row(minutes, interval) else {
            continue;
        };
        match runs
            .iter_mut()
            .find(|run| run.boxes == boxes && run.interval == interval)
        {
            Some(run) => run.phases.push(phase),
            None => runs.push(Run {
                boxes,
                interval,
                phases: vec![phase],
            }),
        }
    }
    runs
}

/// The interval at which a test on these readings is decided: the shorter of two (M8).
pub(super) fn interval(
    protocol: &Protocol,
    readings: &[ReadingId],
    phase: PhaseId,
) -> Option<Exact> {
    let all: Vec<Exact> = readings
        .iter()
        .map(|&reading| interval_in_force(protocol, reading, phase))
        .collect::<Option<_>>()?;
    all.into_iter()
        .min()
        .filter(|interval| *interval > Exact::ZERO)
}

/// M9: back to a look at least D less the slack ago, two looks or more.
fn boxes_in_a_row(minutes: Exact, interval: Exact) -> Option<i64> {
    let slack = interval / Exact::int(4);
    let back = ((minutes - slack) / interval).ceil().to_i64_floor()?;
    Some(back.max(1) + 1)
}

/// M10, `more than`: how many boxes back a look is no older than D and the slack.
pub(super) fn boxes_back(minutes: Exact, interval: Exact) -> Option<i64> {
    let slack = interval / Exact::int(4);
    ((minutes + slack) / interval)
        .floor()
        .to_i64_floor()
        .filter(|boxes| *boxes >= 1)
}

/// M10, `less than`: the box that is D old, give or take the slack.
pub(super) fn box_of_then(minutes: Exact, interval: Exact) -> Option<i64> {
    let slack = interval / Exact::int(4);
    let boxes = ((minutes + slack) / interval).floor();
    let off = (boxes * interval - minutes).abs();
    boxes
        .to_i64_floor()
        .filter(|boxes| *boxes >= 1 && off <= slack)
}
