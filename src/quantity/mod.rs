//! Exact numbers and the closed table of units.
//!
//! Nothing clinical is ever a floating-point number here. A [`Quantity`] keeps
//! both its exact value in the kind's own base unit and the words in which it
//! was written, since what was written is what is printed.

mod exact;
mod unit;

pub use exact::Exact;
pub use unit::{
    Base, Dimension, UNITS, Unit, difference_to_fahrenheit, to_celsius, to_fahrenheit, unit_named,
};

use crate::source::Span;
use std::marker::PhantomData;

/// A number with its unit as written, its exact value, and its place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Quantity<K> {
    /// In the base unit of the kind.
    pub value: Exact,
    pub written: Written,
    pub span: Span,
    kind: PhantomData<K>,
}

/// A number and unit as the author wrote them.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Written {
    /// `33.0`, `1/3`
    pub number: String,
    /// The unit's printed name, `°C`; empty for a score or a pH.
    pub unit: &'static str,
}

impl<K> Quantity<K> {
    pub fn new(value: Exact, written: Written, span: Span) -> Self {
        Quantity {
            value,
            written,
            span,
            kind: PhantomData,
        }
    }

    /// The same value read as another kind; the caller has checked that it may.
    pub fn cast<L>(self) -> Quantity<L> {
        Quantity::new(self.value, self.written, self.span)
    }
}

impl<K> std::fmt::Display for Quantity<K> {
    /// As written, with a no-break space between number and unit.
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        if self.written.unit.is_empty() {
            write!(out, "{}", self.written.number)
        } else {
            write!(out, "{}\u{a0}{}", self.written.number, self.written.unit)
        }
    }
}

macro_rules! kinds {
    ($($(#[$doc:meta])* $marker:ident => $alias:ident;)*) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        pub enum $marker {}
        $(#[$doc])*
        pub type $alias = Quantity<$marker>;
    )*};
}

kinds! {
    /// A value of a reading, in the reading's own unit; °C for a temperature.
    LevelKind => Level;
    /// A difference of two values of a reading, in the reading's unit; K for a temperature.
    ChangeKind => Change;
    /// Speed of change of a temperature, °C/h.
    RateKind => Rate;
    /// A stretch of time, in minutes.
    DurationKind => Duration;
    /// Body weight, in kg.
    WeightKind => Weight;
    /// Age or gestation, in days (a month is 365.25/12 days, a year 365.25).
    AgeKind => Age;
    /// A part of a whole, in percent.
    ShareKind => Share;
}
