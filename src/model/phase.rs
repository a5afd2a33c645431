//! Phases: what is aimed at, how it ends, how fast it may go.

use super::condition::Cond;
use super::parts::MarkRef;
use super::words::Means;
use super::*;
use crate::quantity::{Change, Duration, Level, Rate};

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Phase {
    pub name: Named,
    pub title: Text,
    pub aim: Aim,
    pub aim_span: Span,
    pub aim_reason: Reason,
    /// [`End::Reached`] where the aim is to reach something.
    pub end: End,
    pub end_span: Span,
    pub end_reason: Reason,
    pub by: Vec<At<Means>>,
    /// The cap: `never faster than`.
    pub never_faster: Option<Rate>,
    pub never_faster_reason: Reason,
    pub at_least: Option<Rate>,
    pub due: Option<Due>,
    pub steps: Option<CourseSteps>,
    pub span: Span,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Way {
    Cool,
    Warm,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Aim {
    /// `cool` or `warm`: with a rate, the target runs a course (M21).
    Reach {
        way: Way,
        reading: At<ReadingId>,
        from: Option<Level>,
        to: Level,
        within: Option<Change>,
        rate: Option<RateRange>,
    },
    Hold {
        reading: At<ReadingId>,
        at: Level,
        within: Change,
    },
    /// At least one of the two ends is there.
    Keep {
        reading: At<ReadingId>,
        low: Option<Level>,
        high: Option<Level>,
    },
}

impl Aim {
    pub fn reading(&self) -> ReadingId {
        match self {
            Aim::Reach { reading, .. } | Aim::Hold { reading, .. } | Aim::Keep { reading, .. } => {
                reading.value
            }
        }
    }
}

/// One planned rate, or a pair of which the first written need not be the slower.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RateRange {
    pub first: Rate,
    pub second: Option<Rate>,
}

impl RateRange {
    pub fn slower(&self) -> &Rate {
        match &self.second {
            Some(second) if second.value < self.first.value => second,
            _ => &self.first,
        }
    }

    pub fn faster(&self) -> &Rate {
        match &self.second {
            Some(second) if second.value > self.first.value => second,
            _ => &self.first,
        }
    }
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub enum End {
    /// `cool` and `warm` end by arriving (M18).
    Reached,
    Lasts(Duration),
    /// `ends D after MARK`.
    After {
        after: Duration,
        mark: At<MarkRef>,
    },
    /// `ends at MARK` or `ends when COND`, with the length that the plan takes.
    Awaited {
        trigger: EndTrigger,
        plan: Planned,
        at_least: Option<Duration>,
        at_most: Option<Duration>,
    },
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub enum EndTrigger {
    Mark(At<MarkRef>),
    When(Cond),
}

/// `plan for D [to D]`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Planned {
    pub first: Duration,
    pub last: Option<Duration>,
}

/// `due within D [of MARK]`; without a mark, of the phase's start.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Due {
    pub within: Duration,
    pub of: Option<At<MarkRef>>,
    pub reason: Reason,
    pub span: Span,
}

/// `target moves every D in steps of X`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CourseSteps {
    pub every: Duration,
    pub step: Change,
    pub span: Span,
}
