//! Whether two orders contradict (M33), in the phase and at the moment of a record.
//!
//! The table itself stands in [`crate::eval::contradiction`], which refuses such
//! orders at the bedside; here it is asked with the target that the phase has then.

use super::frame::Frame;
use crate::eval::Aimed;
use crate::eval::contradiction::contradict;
use crate::eval::target::Target;
use crate::model::{Order, Protocol};
use crate::quantity::Exact;

/// Whether the two can contradict at all, whatever the target is then: a first
/// sieve for pairs of rules.
pub fn can_oppose(a: &Order, b: &Order) -> bool {
    let nothing = Target::new();
    contradict(a, b, &nothing, Exact::ZERO) || (a.is_of_target() && b.is_of_target())
}

/// Whether they contradict at that moment, with the target where the phase has it
/// then, or where orders have `put` it.
pub(super) fn oppose(
    protocol: &Protocol,
    frame: &Frame,
    (a, b): (&Order, &Order),
    at: Exact,
    put: Option<Exact>,
) -> bool {
    let value = put.or(match frame.aimed_at(at) {
        Aimed::Value(value) => Some(value),
        Aimed::Nothing | Aimed::Range { .. } => None,
    });
    let mut target = Target::new();
    target.begin(&protocol[frame.phase], at, false, value, None);
    if let Some(value) = value {
        target.put(value, at);
    }
    contradict(a, b, &target, at)
}
