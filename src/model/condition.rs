//! Conditions: what a rule, an end or an `until` waits for.

use super::*;
use crate::quantity::{Change, Duration, Exact, Level};
use arrayvec::ArrayVec;

#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Cond {
    Test(Test),
    All(Vec<Cond>),
    Any(Vec<Cond>),
}

impl Cond {
    /// Every test in it, from left to right.
    pub fn tests(&self) -> Vec<&Test> {
        match self {
            Cond::Test(test) => vec![test],
            Cond::All(parts) | Cond::Any(parts) => parts.iter().flat_map(Cond::tests).collect(),
        }
    }

    /// Every reading whose record it needs, without repeats.
    pub fn readings(&self) -> Vec<ReadingId> {
        let mut found = Vec::new();
        for test in self.tests() {
            for reading in test.kind.readings() {
                if !found.contains(&reading) {
                    found.push(reading);
                }
            }
        }
        found
    }
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Test {
    pub kind: TestKind,
    /// `for D` (M9).
    pub sustained: Option<Duration>,
    pub span: Span,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Cmp {
    Below,
    Above,
    AtOrBelow,
    AtOrAbove,
}

impl Cmp {
    pub fn holds(self, value: Exact, limit: Exact) -> bool {
        match self {
            Cmp::Below => value < limit,
            Cmp::Above => value > limit,
            Cmp::AtOrBelow => value <= limit,
            Cmp::AtOrAbove => value >= limit,
        }
    }

    pub fn words(self) -> &'static str {
        match self {
            Cmp::Below => "below",
            Cmp::Above => "above",
            Cmp::AtOrBelow => "at or below",
            Cmp::AtOrAbove => "at or above",
        }
    }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Side {
    Above,
    Below,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum MoreLess {
    More,
    Less,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum TrendWay {
    Rises,
    Falls,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub enum TestKind {
    Compare {
        reading: ReadingId,
        cmp: Cmp,
        level: Level,
    },
    /// Below `low` or above `high`; the two values themselves are inside.
    Outside {
        reading: ReadingId,
        low: Level,
        high: Level,
    },
    /// A choice has this word (by its index).
    Is {
        reading: ReadingId,
        word: usize,
    },
    /// `READING (above | below) target by more than X`.
    OffTarget {
        reading: ReadingId,
        side: Side,
        by: Change,
    },
    NearTarget {
        reading: ReadingId,
        within: Change,
    },
    Differ {
        first: ReadingId,
        second: ReadingId,
        cmp: MoreLess,
        by: Change,
    },
    Trend {
        reading: ReadingId,
        way: TrendWay,
        cmp: MoreLess,
        by: Change,
        over: Duration,
    },
    NotRecorded {
        reading: ReadingId,
        over: Duration,
    },
    LastsLonger {
        phase: PhaseId,
        than: Duration,
    },
    Overdue {
        phase: PhaseId,
    },
    PausedLonger {
        than: Duration,
    },
}

impl TestKind {
    /// The readings that it needs; none for what is true by the clock, but for
    /// `not recorded`, which names its reading.
    pub fn readings(&self) -> ArrayVec<ReadingId, 2> {
        match self {
            TestKind::Compare { reading, .. }
            | TestKind::Outside { reading, .. }
            | TestKind::Is { reading, .. }
            | TestKind::OffTarget { reading, .. }
            | TestKind::NearTarget { reading, .. }
            | TestKind::Trend { reading, .. }
            | TestKind::NotRecorded { reading, .. } => std::iter::once(*reading).collect(),
            TestKind::Differ { first, second, .. } => ArrayVec::from([*first, *second]),
            TestKind::LastsLonger { .. }
            | TestKind::Overdue { .. }
            | TestKind::PausedLonger { .. } => ArrayVec::new(),
        }
    }

    /// True by the clock from the very moment (M12), without any record.
    pub fn is_by_clock(&self) -> bool {
        matches!(
            self,
            TestKind::NotRecorded { .. }
                | TestKind::LastsLonger { .. }
                | TestKind::Overdue { .. }
                | TestKind::PausedLonger { .. }
        )
    }
}
