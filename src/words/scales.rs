//! Temperatures on both scales, where the protocol wants them so.
//!
//! What is written comes first; the other scale stands in brackets behind it, exactly, or with `…`
//! where its decimals never end. A difference and a rate are converted without the 32.

use super::{Words, shown};
use crate::quantity::{
    ChangeKind, Exact, LevelKind, Quantity, RateKind, difference_to_fahrenheit, to_fahrenheit,
};

/// Digits after the point: what is shown in tenths of one scale is exact in hundredths of the other.
const PLACES: u32 = 3;

/// Quantities that may be temperatures.
pub trait OnScale {
    /// Zero on one scale is zero on the other.
    const IS_DIFFERENCE: bool;
}

impl OnScale for LevelKind {
    const IS_DIFFERENCE: bool = false;
}

impl OnScale for ChangeKind {
    const IS_DIFFERENCE: bool = true;
}

impl OnScale for RateKind {
    const IS_DIFFERENCE: bool = true;
}

impl Words<'_> {
    /// `33.0 °C`, or `33.0 °C (91.4 °F)` where the protocol shows both.
    pub fn both<K: OnScale>(&self, quantity: &Quantity<K>) -> String {
        match self.beside(quantity.value, quantity.written.unit, K::IS_DIFFERENCE) {
            Some(other) => format!("{quantity} ({other})"),
            None => quantity.to_string(),
        }
    }

    /// A value in °C, °C/h or K said in the unit that does not stand there: `91.4 °F`. `None` where the
    /// protocol shows one scale, or the unit is none of a temperature.
    pub fn beside(&self, value: Exact, unit: &str, is_difference: bool) -> Option<String> {
        if !self.protocol.head.both_scales {
            return None;
        }
        let minutes = Exact::int(60);
        let (other, unit) = match unit {
            "°C" if is_difference => (difference_to_fahrenheit(value), "°F"),
            "°C" => (to_fahrenheit(value), "°F"),
            "°F" => (value, "°C"),
            "°C/h" => (difference_to_fahrenheit(value), "°F/h"),
            "°F/h" => (value, "°C/h"),
            "°C/min" => (difference_to_fahrenheit(value) / minutes, "°F/min"),
            "°F/min" => (value / minutes, "°C/min"),
            _ => return None,
        };
        let number = other.to_decimal(1).unwrap_or_else(|| shown(other, PLACES));
        Some(format!("{number}\u{a0}{unit}"))
    }
}
