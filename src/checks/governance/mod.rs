//! Governance: exceptions, reviews and approvals, against a day that is given.

mod approval_stale;
pub(super) mod exception_expired;
pub(super) mod exception_unused;
mod review_overdue;
mod undecided;

use super::Check;

pub(super) const CHECKS: &[&Check] = &[
    &exception_expired::CHECK,
    &exception_unused::CHECK,
    &review_overdue::CHECK,
    &approval_stale::CHECK,
    &undecided::CHECK,
];
