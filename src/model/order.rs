//! Orders: what the nurse is told to do.

use super::condition::Cond;
use super::parts::MarkRef;
use super::words::Topic;
use super::*;
use crate::quantity::{Change, Duration, Level, Rate};

/// One line of orders with its reason.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Action {
    pub order: Order,
    pub reason: Reason,
    pub span: Span,
}

impl Action {
    /// It and all that stand behind its `otherwise`.
    pub fn with_otherwise(&self) -> Vec<&Action> {
        let mut found = vec![self];
        let mut next = Some(self);
        while let Some(action) = next {
            next = match &action.order {
                Order::Give { otherwise, .. }
                | Order::RaiseRate { otherwise, .. }
                | Order::LowerRate { otherwise, .. } => otherwise.as_deref(),
                _ => None,
            };
            found.extend(next);
        }
        found
    }
}

/// The trade's three verbs for getting a value.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum AskWay {
    Record,
    Score,
    Test,
}

impl AskWay {
    pub fn word(self) -> &'static str {
        match self {
            AskWay::Record => "record",
            AskWay::Score => "score",
            AskWay::Test => "test",
        }
    }
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Order {
    /// `after` is `None` for `now`.
    Ask {
        way: AskWay,
        readings: Vec<At<ReadingId>>,
        after: Option<Duration>,
    },
    FollowLadder(At<LadderId>),
    FollowChecklist(At<ChecklistId>),
    /// `within` is `None` for `now`.
    Call {
        role: At<RoleId>,
        within: Option<Duration>,
    },
    Do {
        text: Text,
        covers: Vec<At<Topic>>,
    },
    Continue,
    Begin(At<PhaseId>),
    SetTarget(Level),
    RaiseTarget {
        by: Change,
        at_most: Level,
    },
    LowerTarget {
        by: Change,
        at_least: Level,
    },
    KeepTarget(Until),
    SetRate(Rate),
    Pause(Until),
    Stop,
    Give {
        medication: At<MedicationId>,
        otherwise: Option<Box<Action>>,
    },
    RaiseRate {
        medication: At<MedicationId>,
        otherwise: Option<Box<Action>>,
    },
    LowerRate {
        medication: At<MedicationId>,
        otherwise: Option<Box<Action>>,
    },
    Withhold {
        medication: At<MedicationId>,
        until: Until,
    },
    StopMedication(At<MedicationId>),
}

impl Order {
    /// Whether it can put the target elsewhere than the phase does, or keep it there.
    pub fn is_of_target(&self) -> bool {
        matches!(
            self,
            Order::SetTarget(_)
                | Order::RaiseTarget { .. }
                | Order::LowerTarget { .. }
                | Order::KeepTarget(_)
        )
    }

    /// Whether it changes the target, its course, control or the phase.
    pub fn steers(&self) -> bool {
        self.is_of_target()
            || matches!(
                self,
                Order::SetRate(_) | Order::Pause(_) | Order::Stop | Order::Begin(_)
            )
    }
}

/// What ends an order (M15).
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Until {
    When(Cond),
    Mark(At<MarkRef>),
    For(Duration),
}
