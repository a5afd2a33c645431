//! Scenarios: records that the protocol is tried on, and what is expected.

use super::order::Order;
use super::*;
use crate::quantity::{Exact, Level, Weight};

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Scenario {
    pub title: Text,
    pub given: Vec<Given>,
    pub lines: Vec<ScenarioLine>,
    pub expects: Vec<Expect>,
    pub span: Span,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Given {
    Weight(Weight),
    Start(jiff::civil::DateTime, Span),
    /// Minutes from `start`, negative before it.
    Mark {
        mark: At<MarkId>,
        at: Exact,
    },
}

/// Times are minutes from `start`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ScenarioLine {
    pub times: Vec<Exact>,
    pub entries: Vec<Entry>,
    pub span: Span,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Entry {
    Record {
        reading: At<ReadingId>,
        value: EntryValue,
    },
    Mark(At<MarkId>),
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub enum EntryValue {
    Level(Level),
    /// Index of the word in the choice.
    Word(usize, Span),
}

impl EntryValue {
    /// In the reading's unit; a choice by the index of its word.
    pub fn value(&self) -> Exact {
        match self {
            EntryValue::Level(level) => level.value,
            EntryValue::Word(index, _) => Exact::int(i64::try_from(*index).unwrap_or(i64::MAX)),
        }
    }
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Expect {
    /// `expect no …`
    pub absent: bool,
    pub what: Expected,
    /// Minutes from `start`; `None` is at any time.
    pub at: Option<Exact>,
    pub span: Span,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Expected {
    Rule(At<RuleId>),
    /// An order is expected without its UNTIL (M36).
    Order(Box<Order>),
    Phase(At<PhaseId>),
    Target(Level),
}
