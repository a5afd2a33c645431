//! Medication: doses that are too much, incomplete, or given to the wrong weight.

mod band_gap;
mod band_overlap;
mod bands;
mod dose_incomplete;
pub(crate) mod given;
mod over_ceiling;
mod rate_not_settable;
mod score_under_block;
mod unsedated_block;

use super::Check;

pub(super) const CHECKS: &[&Check] = &[
    &over_ceiling::CHECK,
    &dose_incomplete::CHECK,
    &rate_not_settable::CHECK,
    &band_gap::CHECK,
    &band_overlap::CHECK,
    &unsedated_block::CHECK,
    &score_under_block::CHECK,
];
