//! Whether two orders or conditions say the same, wherever they are written (M3).

use crate::model::{Action, Cond, Order, Test, TestKind, Until};
use crate::quantity::Quantity;

/// How closely two orders are compared.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Closeness {
    /// To the letter of their meaning.
    Whole,
    /// Without what ends them (M36), and without `otherwise`.
    WithoutUntil,
}

/// Whether two orders are equal. Two of `give`, `raise` or `lower` are equal by
/// their medication: whatever stands in for them, it is one dose.
pub fn same_order(a: &Order, b: &Order, closeness: Closeness) -> bool {
    let until = |a: &Until, b: &Until| closeness == Closeness::WithoutUntil || same_until(a, b);
    match (a, b) {
        (
            Order::Ask {
                way: way_a,
                readings: readings_a,
                after: after_a,
            },
            Order::Ask {
                way: way_b,
                readings: readings_b,
                after: after_b,
            },
        ) => {
            way_a == way_b
                && readings_a
                    .iter()
                    .map(|r| r.value)
                    .eq(readings_b.iter().map(|r| r.value))
                && same_optional(after_a.as_ref(), after_b.as_ref())
        }
        (Order::FollowLadder(a), Order::FollowLadder(b)) => a.value == b.value,
        (Order::FollowChecklist(a), Order::FollowChecklist(b)) => a.value == b.value,
        (
            Order::Call {
                role: role_a,
                within: within_a,
            },
            Order::Call {
                role: role_b,
                within: within_b,
            },
        ) => role_a.value == role_b.value && same_optional(within_a.as_ref(), within_b.as_ref()),
        (Order::Do { text: a, .. }, Order::Do { text: b, .. }) => a.markdown == b.markdown,
        (Order::Continue, Order::Continue) | (Order::Stop, Order::Stop) => true,
        (Order::Begin(a), Order::Begin(b)) => a.value == b.value,
        (Order::SetTarget(a), Order::SetTarget(b)) => same(a, b),
        (
            Order::RaiseTarget {
                by: by_a,
                at_most: bound_a,
            },
            Order::RaiseTarget {
                by: by_b,
                at_most: bound_b,
            },
        )
        | (
            Order::LowerTarget {
                by: by_a,
                at_least: bound_a,
            },
            Order::LowerTarget {
                by: by_b,
                at_least: bound_b,
            },
        ) => same(by_a, by_b) && same(bound_a, bound_b),
        (Order::KeepTarget(a), Order::KeepTarget(b)) | (Order::Pause(a), Order::Pause(b)) => {
            until(a, b)
        }
        (Order::SetRate(a), Order::SetRate(b)) => same(a, b),
        (Order::Give { medication: a, .. }, Order::Give { medication: b, .. })
        | (Order::RaiseRate { medication: a, .. }, Order::RaiseRate { medication: b, .. })
        | (Order::LowerRate { medication: a, .. }, Order::LowerRate { medication: b, .. })
        | (Order::StopMedication(a), Order::StopMedication(b)) => a.value == b.value,
        (
            Order::Withhold {
                medication: a,
                until: until_a,
            },
            Order::Withhold {
                medication: b,
                until: until_b,
            },
        ) => a.value == b.value && until(until_a, until_b),
        // Listed, so that a new order is compared and not forgotten here.
        (
            Order::Ask { .. }
            | Order::FollowLadder(_)
            | Order::FollowChecklist(_)
            | Order::Call { .. }
            | Order::Do { .. }
            | Order::Continue
            | Order::Begin(_)
            | Order::SetTarget(_)
            | Order::RaiseTarget { .. }
            | Order::LowerTarget { .. }
            | Order::KeepTarget(_)
            | Order::SetRate(_)
            | Order::Pause(_)
            | Order::Stop
            | Order::Give { .. }
            | Order::RaiseRate { .. }
            | Order::LowerRate { .. }
            | Order::Withhold { .. }
            | Order::StopMedication(_),
            _,
        ) => false,
    }
}

/// The order in place of one that could not be done.
pub fn otherwise(order: &Order) -> Option<&Action> {
    match order {
        Order::Give { otherwise, .. }
        | Order::RaiseRate { otherwise, .. }
        | Order::LowerRate { otherwise, .. } => otherwise.as_deref(),
        Order::Ask { .. }
        | Order::FollowLadder(_)
        | Order::FollowChecklist(_)
        | Order::Call { .. }
        | Order::Do { .. }
        | Order::Continue
        | Order::Begin(_)
        | Order::SetTarget(_)
        | Order::RaiseTarget { .. }
        | Order::LowerTarget { .. }
        | Order::KeepTarget(_)
        | Order::SetRate(_)
        | Order::Pause(_)
        | Order::Stop
        | Order::Withhold { .. }
        | Order::StopMedication(_) => None,
    }
}

pub fn same_until(a: &Until, b: &Until) -> bool {
    match (a, b) {
        (Until::When(a), Until::When(b)) => same_cond(a, b),
        (Until::Mark(a), Until::Mark(b)) => a.value == b.value,
        (Until::For(a), Until::For(b)) => same(a, b),
        (Until::When(_) | Until::Mark(_) | Until::For(_), _) => false,
    }
}

pub fn same_cond(a: &Cond, b: &Cond) -> bool {
    match (a, b) {
        (Cond::Test(a), Cond::Test(b)) => same_test(a, b),
        (Cond::All(a), Cond::All(b)) | (Cond::Any(a), Cond::Any(b)) => {
            a.len() == b.len() && a.iter().zip(b).all(|(a, b)| same_cond(a, b))
        }
        (Cond::Test(_) | Cond::All(_) | Cond::Any(_), _) => false,
    }
}

fn same_test(a: &Test, b: &Test) -> bool {
    same_optional(a.sustained.as_ref(), b.sustained.as_ref())
        && a.kind.readings() == b.kind.readings()
        && same_kind(&a.kind, &b.kind)
}

/// Whether two tests on the same readings ask the same of them.
fn same_kind(a: &TestKind, b: &TestKind) -> bool {
    use TestKind as K;
    match (a, b) {
        (
            K::Compare {
                cmp: cmp_a,
                level: level_a,
                ..
            },
            K::Compare {
                cmp: cmp_b,
                level: level_b,
                ..
            },
        ) => cmp_a == cmp_b && same(level_a, level_b),
        (
            K::Outside {
                low: low_a,
                high: high_a,
                ..
            },
            K::Outside {
                low: low_b,
                high: high_b,
                ..
            },
        ) => same(low_a, low_b) && same(high_a, high_b),
        (K::Is { word: a, .. }, K::Is { word: b, .. }) => a == b,
        (
            K::OffTarget {
                side: side_a,
                by: by_a,
                ..
            },
            K::OffTarget {
                side: side_b,
                by: by_b,
                ..
            },
        ) => side_a == side_b && same(by_a, by_b),
        (K::NearTarget { within: a, .. }, K::NearTarget { within: b, .. }) => same(a, b),
        (
            K::Differ {
                cmp: cmp_a,
                by: by_a,
                ..
            },
            K::Differ {
                cmp: cmp_b,
                by: by_b,
                ..
            },
        ) => cmp_a == cmp_b && same(by_a, by_b),
        (
            K::Trend {
                way: way_a,
                cmp: cmp_a,
                by: by_a,
                over: over_a,
                ..
            },
            K::Trend {
                way: way_b,
                cmp: cmp_b,
                by: by_b,
                over: over_b,
                ..
            },
        ) => way_a == way_b && cmp_a == cmp_b && same(by_a, by_b) && same(over_a, over_b),
        (K::NotRecorded { over: a, .. }, K::NotRecorded { over: b, .. })
        | (K::PausedLonger { than: a }, K::PausedLonger { than: b }) => same(a, b),
        (
            K::LastsLonger {
                phase: phase_a,
                than: than_a,
            },
            K::LastsLonger {
                phase: phase_b,
                than: than_b,
            },
        ) => phase_a == phase_b && same(than_a, than_b),
        (K::Overdue { phase: a }, K::Overdue { phase: b }) => a == b,
        (
            K::Compare { .. }
            | K::Outside { .. }
            | K::Is { .. }
            | K::OffTarget { .. }
            | K::NearTarget { .. }
            | K::Differ { .. }
            | K::Trend { .. }
            | K::NotRecorded { .. }
            | K::LastsLonger { .. }
            | K::Overdue { .. }
            | K::PausedLonger { .. },
            _,
        ) => false,
    }
}

fn same<K>(a: &Quantity<K>, b: &Quantity<K>) -> bool {
    a.value == b.value
}

fn same_optional<K>(a: Option<&Quantity<K>>, b: Option<&Quantity<K>>) -> bool {
    match (a, b) {
        (Some(a), Some(b)) => same(a, b),
        (None, None) => true,
        (Some(_), None) | (None, Some(_)) => false,
    }
}
