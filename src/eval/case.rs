//! What is known of a case before its first record.

use crate::model::{MarkId, PhaseId};
use crate::plan::Clock;
use crate::quantity::Exact;
use std::collections::BTreeMap;

/// What is known of a case before its first record.
#[derive(Debug, Clone, Default)]
pub struct Case {
    /// kg
    pub weight: Option<Exact>,
    /// Marks before the start, in minutes from it (so negative), or later ones
    /// that are known beforehand.
    pub marks: Vec<(MarkId, Exact)>,
    /// The rate that was chosen, °C/h, where a phase names two.
    pub rates: BTreeMap<PhaseId, Exact>,
    /// When it began by the clock; only the times of `shifts` need it.
    pub clock: Option<Clock>,
}

impl From<&crate::plan::Case> for Case {
    fn from(case: &crate::plan::Case) -> Self {
        Case {
            weight: case.weight.as_ref().map(|weight| weight.value),
            marks: case.marks.iter().map(|(mark, at)| (*mark, *at)).collect(),
            rates: case
                .rates
                .iter()
                .map(|(phase, rate)| (*phase, rate.value))
                .collect(),
            clock: case.clock.clone(),
        }
    }
}
