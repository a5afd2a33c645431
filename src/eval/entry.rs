//! What is written down at the bedside, and which of it cannot be (M4).

use crate::model::{MarkId, Reading, ReadingId};
use crate::quantity::{Exact, difference_to_fahrenheit, to_fahrenheit};

/// One thing written down. Times are minutes from `start`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Entry {
    pub at: Exact,
    pub what: EntryWhat,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum EntryWhat {
    /// In the reading's own unit (°C for a temperature); a choice by the index of
    /// its word.
    Record {
        reading: ReadingId,
        value: Exact,
    },
    Mark(MarkId),
}

impl Entry {
    pub fn record(at: Exact, reading: ReadingId, value: Exact) -> Self {
        Entry {
            at,
            what: EntryWhat::Record { reading, value },
        }
    }

    pub fn mark(at: Exact, mark: MarkId) -> Self {
        Entry {
            at,
            what: EntryWhat::Mark(mark),
        }
    }
}

/// An entry that counts for nothing, and why.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Refusal {
    pub entry: Entry,
    pub why: RefusedFor,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum RefusedFor {
    /// No such reading or mark in the protocol.
    Unknown,
    /// Outside what the instrument reads, or the score has.
    OutOfRange,
    /// Between two steps of the display.
    OffStep,
    /// Earlier than an entry before it.
    OutOfOrder,
    /// A record from before the start.
    BeforeStart,
    /// After the end of the case.
    AfterEnd,
    /// More than [`LONGEST_CASE_DAYS`] after the start.
    TooLate,
}

/// A case is never longer: a mistyped date must not run for ever.
pub const LONGEST_CASE_DAYS: i64 = 366;

/// Why a reading cannot have this value; `None` where it can. Where the author has
/// not said what it can have, it can have anything.
pub fn refused_value(reading: &Reading, value: Exact) -> Option<RefusedFor> {
    let step = reading.step()?;
    let (low, high) = match &reading.reads {
        Some(range) => (range.low.value, range.high.value),
        None => reading.grid().map(|grid| (grid.low, grid.high))?,
    };
    if value < low || value > high {
        return Some(RefusedFor::OutOfRange);
    }
    // Whole steps are counted from zero of the unit that the display shows.
    let fahrenheit = reading.kind.is_temperature()
        && reading
            .shown_to
            .as_ref()
            .is_some_and(|step| step.written.unit.starts_with("°F"));
    let shown = if fahrenheit {
        to_fahrenheit(value)
    } else {
        value
    };
    let step = if fahrenheit {
        difference_to_fahrenheit(step)
    } else {
        step
    };
    (!(shown / step).is_integer()).then_some(RefusedFor::OffStep)
}
