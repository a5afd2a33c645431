//! When each phase begins and ends, as the blank form has it.
//!
//! It follows from the phases, so it is no part of the meaning; it stands in the
//! file for whoever shows it and does not want to plan.

use crate::model::Protocol;
use crate::plan::{Case, Plan, Window};
use crate::quantity::Exact;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// One phase placed in time, over all patients that the protocol allows.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct PhaseTimes {
    pub phase: String,
    pub begins: Times,
    pub ends: Times,
}

/// Exact minutes from the start.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Times {
    /// No sooner than this, whoever the patient is.
    #[schemars(regex(pattern = r"^-?[0-9]+(\.[0-9]+|/[1-9][0-9]*)?$"))]
    pub earliest: String,
    /// What the sheet counts on, on the slow side; absent where nothing bounds it.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(regex(pattern = r"^-?[0-9]+(\.[0-9]+|/[1-9][0-9]*)?$"))]
    pub planned: Option<String>,
    /// No later than this; absent where it is open.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schemars(regex(pattern = r"^-?[0-9]+(\.[0-9]+|/[1-9][0-9]*)?$"))]
    pub latest: Option<String>,
}

/// The timeline of the blank form; empty where there is no plan.
pub(super) fn timeline(protocol: &Protocol) -> Vec<PhaseTimes> {
    let Ok(plan) = Plan::of(protocol, &Case::default()) else {
        return Vec::new();
    };
    plan.phases
        .iter()
        .map(|placed| PhaseTimes {
            phase: protocol[placed.phase].name.name.clone(),
            begins: times(placed.start),
            ends: times(placed.end),
        })
        .collect()
}

fn times(window: Window) -> Times {
    let text = |at: Exact| at.to_string();
    Times {
        earliest: text(window.earliest),
        planned: window.planned.map(text),
        latest: window.latest.map(text),
    }
}
