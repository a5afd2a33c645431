//! Every scenario of a protocol, tried on the evaluator (M36).
//!
//! Takes protocols with their scenarios, gives for each scenario what was expected
//! and did not happen, with the rule that decided and the records that led there;
//! and what no scenario has reached. [`report`] turns that into text; the data
//! themselves serialise.
//!
//! ```text
//! ok    adult-arrest-33: Water stays cold while the patient is at target
//! FAIL  adult-arrest-33: Too cold (protocols/adult-arrest-33.protocol:301)
//!         expected      too-cold at 5:00
//!         happened      it does not fire at 5:00, nor at any time
//!         decided by    rule `too-cold`, in its phases and ready: `core below 32.5 °C` does not hold
//! ```
//!
//! What may go wrong: a protocol without any scenario has shown nothing, and that
//! is a failure; so is a record that cannot be (M4), or a given weight that no
//! dose stands for only where an expectation needs it.
//!
//! Choices where the definitions leave room:
//! - A scenario runs to its last record or expectation, whichever is later.
//! - `expect phase` and `expect target` are what stands once everything of that
//!   time is done, its orders too.
//! - An expectation of an order is met by an order that is given: one that a
//!   medication's limits, a contradiction or a missing target kept from being done
//!   does not meet it.

mod coverage;
mod decided;
mod expect;
mod report;
mod trial;

pub use coverage::{Coverage, Missing, Unreached};
pub use report::report;
pub use trial::{Failure, Place, Trial, try_scenario};

use crate::model::Protocol;
use crate::source::Sources;
use serde::Serialize;

/// All scenarios of one protocol.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Rehearsal {
    pub protocol: String,
    pub trials: Vec<Trial>,
    pub coverage: Coverage,
}

impl Rehearsal {
    /// Whether there was a scenario, and every expectation was met.
    pub fn passed(&self) -> bool {
        !self.trials.is_empty() && self.trials.iter().all(Trial::passed)
    }
}

/// Tries every scenario of a protocol.
pub fn rehearse(protocol: &Protocol, sources: &Sources) -> Rehearsal {
    let mut coverage = coverage::Reached::default();
    let trials = protocol
        .scenarios
        .iter()
        .map(|scenario| {
            let (trial, events) = try_scenario(protocol, scenario, sources);
            coverage.add(&events);
            trial
        })
        .collect();
    Rehearsal {
        protocol: protocol.name.name.clone(),
        trials,
        coverage: coverage.of(protocol),
    }
}

/// What no scenario of a protocol reaches.
pub fn missing(protocol: &Protocol) -> Missing {
    let mut coverage = coverage::Reached::default();
    for scenario in &protocol.scenarios {
        // Where its text stands matters to nobody here.
        let (_, events) = try_scenario(protocol, scenario, &Sources::default());
        coverage.add(&events);
    }
    coverage.missing(protocol)
}
