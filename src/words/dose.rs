//! Amounts of medicine in the unit that the author wrote.

use crate::quantity::{Exact, unit_named};

/// A number as people write it: no more digits than it needs. Where it has no short decimal it
/// is rounded down to `places`, and the words say so.
pub fn shown(value: Exact, places: u32) -> String {
    for digits in 0..=places {
        if let Some(text) = value.to_decimal(digits) {
            return text;
        }
    }
    let step = Exact::int(1) / Exact::int(10i64.saturating_pow(places));
    let down = value.round_down_to(step);
    match down.to_decimal(places) {
        Some(text) => format!("{text}…"),
        None => "(too large)".to_string(),
    }
}

/// Base units said in a unit, `per kg` and `per h` aside: 0.04 mg in `mcg` is `40 mcg`.
pub fn amount_in(value: Exact, unit: &str) -> String {
    match unit_named(unit) {
        Some(known) => format!("{}\u{a0}{}", shown(value / known.factor(), 4), known.name),
        None => format!("{}\u{a0}{unit}", shown(value, 4)),
    }
}
