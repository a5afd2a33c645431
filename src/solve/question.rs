//! What can be asked about a phase, and what is answered.

use super::scene::Values;
use crate::eval::Entry;
use crate::model::*;
use crate::quantity::Exact;

/// One thing that is to hold at the moment.
#[derive(Debug, Clone, Copy)]
pub enum Goal<'a> {
    Cond {
        cond: &'a Cond,
        /// The phases of its stretch; `None` where it begins with the phase.
        during: Option<&'a [At<PhaseId>]>,
        holds: bool,
    },
    /// The reading is known and compares so.
    Value {
        reading: ReadingId,
        cmp: Cmp,
        value: Exact,
    },
    /// The reading is known and does not compare so, or is not known.
    NotValue {
        reading: ReadingId,
        cmp: Cmp,
        value: Exact,
    },
}

impl<'a> Goal<'a> {
    /// The condition of a rule.
    pub fn rule(rule: &'a Rule, holds: bool) -> Self {
        Goal::Cond {
            cond: &rule.when,
            during: Some(&rule.during),
            holds,
        }
    }
}

#[derive(Debug, Clone)]
pub struct Question<'a> {
    pub phase: PhaseId,
    pub goals: Vec<Goal<'a>>,
    /// One of these at least, each list as a whole.
    pub either: Vec<Vec<Goal<'a>>>,
    pub values: Values,
    /// No moment sooner than so long after the phase begins.
    pub not_before: Exact,
    /// No moment as late as this, from the start.
    pub before: Option<Exact>,
    /// Only the moments once every window is full.
    pub settled_only: bool,
    /// The record itself is shown to nobody: rules that cannot change it are left out when it is
    /// run through the evaluator.
    pub unshown: bool,
    /// Only moments at which these two orders contradict each other (M33).
    pub opposed: Option<(&'a Order, &'a Order)>,
}

impl<'a> Question<'a> {
    pub fn new(phase: PhaseId, goals: Vec<Goal<'a>>) -> Self {
        Question {
            phase,
            goals,
            either: Vec::new(),
            values: Values::Free,
            not_before: Exact::ZERO,
            before: None,
            settled_only: false,
            unshown: false,
            opposed: None,
        }
    }

    pub fn with(mut self, values: Values) -> Self {
        self.values = values;
        self
    }

    /// Only whether there is one.
    pub fn unshown(mut self) -> Self {
        self.unshown = true;
        self
    }

    pub(super) fn conds(&self) -> impl Iterator<Item = &'a Cond> + '_ {
        self.goals
            .iter()
            .chain(self.either.iter().flatten())
            .filter_map(|goal| match goal {
                Goal::Cond { cond, .. } => Some(*cond),
                Goal::Value { .. } | Goal::NotValue { .. } => None,
            })
    }

    pub(super) fn tests(&self) -> Vec<&'a Test> {
        self.conds().flat_map(Cond::tests).collect()
    }

    /// Whether the answer can be another one when the target has been moved.
    pub(super) fn hangs_on_target(&self) -> bool {
        let moves = |order: &Order| crate::eval::contradiction::change(order).is_some();
        self.opposed.is_some_and(|(a, b)| moves(a) && moves(b))
            || self.tests().iter().any(|test| {
                matches!(
                    test.kind,
                    TestKind::OffTarget { .. } | TestKind::NearTarget { .. }
                )
            })
    }
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Answer {
    Found(Box<Found>),
    Never,
    /// No regular record leads into the phase.
    NoRecord,
    TooComplex,
    /// There is a record, but the evaluator does not come to the same on it: other
    /// orders stand in its way, and no record without them was found.
    NotShown(Box<Found>),
}

impl Answer {
    pub fn found(self) -> Option<Found> {
        match self {
            Answer::Found(found) => Some(*found),
            Answer::Never | Answer::NoRecord | Answer::TooComplex | Answer::NotShown(_) => None,
        }
    }

    pub fn is_never(&self) -> bool {
        *self == Answer::Never
    }
}

/// A regular record and the moment at which it shows what was asked for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Found {
    pub phase: PhaseId,
    pub at: Exact,
    /// Known before the start.
    pub marks: Vec<(MarkId, Exact)>,
    /// All of it, in order of time.
    pub entries: Vec<Entry>,
    /// What matters of it: time, reading, value.
    pub shown: Vec<(Exact, ReadingId, Exact)>,
    /// Nothing was recorded of these since then.
    pub silent: Vec<(ReadingId, Exact)>,
    /// The rule that has moved the target or paused control before, and when.
    pub first: Option<(RuleId, Exact)>,
}
