//! Orders of one moment that contradict each other (M33).
//!
//! Choices where the definitions leave room:
//! - Two moves of the target contradict when they would bring it to two different
//!   values, whatever words they use; `keep target here` brings it to where it is.
//! - Two different `set rate` contradict.

use super::target::{Change, Target};
use crate::model::{MedicationId, Order};
use crate::quantity::Exact;

/// Whether neither of two orders can be given because of the other.
pub fn contradict(a: &Order, b: &Order, target: &Target<'_>, now: Exact) -> bool {
    let one_way = |a: &Order, b: &Order| match (a, b) {
        (Order::Begin(a), Order::Begin(b)) => a.value != b.value,
        (Order::SetRate(a), Order::SetRate(b)) => a.value != b.value,
        (Order::Begin(_), Order::Stop) => true,
        (move_of_target, Order::Pause(_) | Order::Stop) if change(move_of_target).is_some() => true,
        _ => matches!((lets_in(a), keeps_out(b)), (Some(a), Some(b)) if a == b),
    };
    let two_results = || match result(a, target, now) {
        Some(a) => result(b, target, now).is_some_and(|b| a != b),
        None => false,
    };
    let opposite = matches!(
        (a, b),
        (Order::RaiseTarget { .. }, Order::LowerTarget { .. })
            | (Order::LowerTarget { .. }, Order::RaiseTarget { .. })
    );
    opposite || one_way(a, b) || one_way(b, a) || two_results()
}

/// The move of the target that an order is.
pub fn change(order: &Order) -> Option<Change> {
    match order {
        Order::SetTarget(value) => Some(Change::Set(value.value)),
        Order::RaiseTarget { by, at_most } => Some(Change::Raise {
            by: by.value,
            at_most: at_most.value,
        }),
        Order::LowerTarget { by, at_least } => Some(Change::Lower {
            by: by.value,
            at_least: at_least.value,
        }),
        _ => None,
    }
}

/// Where an order would put the target.
fn result(order: &Order, target: &Target<'_>, now: Exact) -> Option<Exact> {
    match (order, change(order)) {
        (Order::KeepTarget(_), _) => target.value(now),
        (_, Some(change)) => target.moved(change, now).ok(),
        (_, None) => None,
    }
}

fn lets_in(order: &Order) -> Option<MedicationId> {
    match order {
        Order::Give { medication, .. } | Order::RaiseRate { medication, .. } => {
            Some(medication.value)
        }
        _ => None,
    }
}

fn keeps_out(order: &Order) -> Option<MedicationId> {
    match order {
        Order::LowerRate { medication, .. } | Order::Withhold { medication, .. } => {
            Some(medication.value)
        }
        Order::StopMedication(medication) => Some(medication.value),
        _ => None,
    }
}
