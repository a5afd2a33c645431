//! Looking: whether what a rule needs is looked at, often enough, at a fit place.

mod heavy_hour;
mod look_steers;
mod never_looked_at;
mod probe_beside_exchanger;
mod rate_below_resolution;
pub(super) mod second_site_missing;
mod seen_too_late;
mod two_intervals;

use super::Check;

pub(super) const CHECKS: &[&Check] = &[
    &never_looked_at::CHECK,
    &seen_too_late::CHECK,
    &rate_below_resolution::CHECK,
    &two_intervals::CHECK,
    &probe_beside_exchanger::CHECK,
    &second_site_missing::CHECK,
    &heavy_hour::CHECK,
    &look_steers::CHECK,
];
