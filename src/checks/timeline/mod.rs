//! Timeline: whether the phases fit together and end.

mod due_impossible;
mod due_unlikely;
mod ends_before_start;
mod no_end;
mod no_fever_guard;
mod no_rewarm;
mod no_rewarm_cap;
mod phase_gap;
mod plan_faster_than_cap;

use super::Check;
use crate::model::{Aim, Phase, PhaseId, Protocol, Way};
use crate::quantity::Exact;

pub(super) const CHECKS: &[&Check] = &[
    &phase_gap::CHECK,
    &ends_before_start::CHECK,
    &plan_faster_than_cap::CHECK,
    &due_impossible::CHECK,
    &due_unlikely::CHECK,
    &no_rewarm::CHECK,
    &no_rewarm_cap::CHECK,
    &no_fever_guard::CHECK,
    &no_end::CHECK,
];

/// Below this a target is hypothermia: the usual definition (NICE CG65).
const HYPOTHERMIA_BELOW: i64 = 36;

/// Whether the phase brings or keeps somebody below 36.0 °C.
fn is_cold(phase: &Phase) -> bool {
    match &phase.aim {
        Aim::Reach {
            way: Way::Cool, to, ..
        } => to.value < Exact::int(HYPOTHERMIA_BELOW),
        Aim::Reach { way: Way::Warm, .. } => false,
        Aim::Hold { at, .. } => at.value < Exact::int(HYPOTHERMIA_BELOW),
        Aim::Keep { low, high, .. } => match (low, high) {
            (_, Some(high)) => high.value < Exact::int(HYPOTHERMIA_BELOW),
            // `at or above 33.0 °C` is not a depth, but a floor.
            _ => false,
        },
    }
}

fn is_warming(phase: &Phase) -> bool {
    matches!(phase.aim, Aim::Reach { way: Way::Warm, .. })
}

/// The last phase that is cold on purpose.
fn last_cold(protocol: &Protocol) -> Option<PhaseId> {
    protocol
        .phases()
        .filter(|(_, phase)| is_cold(phase))
        .map(|(id, _)| id)
        .last()
}
