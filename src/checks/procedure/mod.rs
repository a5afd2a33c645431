//! Procedure: the safety steps that a route calls for, in their place.

mod missing_step;
mod route;
mod step_out_of_order;

use super::Check;

pub(super) const CHECKS: &[&Check] = &[&missing_step::CHECK, &step_out_of_order::CHECK];
