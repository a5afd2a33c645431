//! What the scenarios of a protocol have reached, and what none of them has.

use crate::eval::{Event, What};
use crate::model::{Ladder, LadderForm, LadderId, PhaseId, Protocol, RuleId};
use serde::Serialize;
use std::collections::BTreeSet;

/// How much has been reached, and what has not, in the order of the protocol.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Coverage {
    pub phases: Unreached,
    pub rules: Unreached,
    /// Rungs and steps, as `ladder: title`.
    pub rungs: Unreached,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Unreached {
    pub all: usize,
    pub unreached: Vec<String>,
}

impl Unreached {
    pub fn reached(&self) -> usize {
        self.all.saturating_sub(self.unreached.len())
    }

    fn of<T>(all: impl Iterator<Item = (T, String)>, reached: &BTreeSet<T>) -> Unreached
    where
        T: Ord,
    {
        let mut count = 0;
        let mut unreached = Vec::new();
        for (id, name) in all {
            count += 1;
            if !reached.contains(&id) {
                unreached.push(name);
            }
        }
        Unreached {
            all: count,
            unreached,
        }
    }
}

/// What no scenario reaches, in the order of the protocol.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Missing {
    pub phases: Vec<PhaseId>,
    pub rules: Vec<RuleId>,
    /// Rungs and steps by their place.
    pub rungs: Vec<(LadderId, usize)>,
}

fn rungs(ladder: &Ladder) -> usize {
    match &ladder.form {
        LadderForm::Rungs(rungs) => rungs.len(),
        LadderForm::Steps { steps, .. } => steps.len(),
    }
}

#[derive(Debug, Clone, Default)]
pub(super) struct Reached {
    phases: BTreeSet<PhaseId>,
    rules: BTreeSet<RuleId>,
    rungs: BTreeSet<(LadderId, usize)>,
}

impl Reached {
    pub(super) fn add(&mut self, events: &[Event<'_>]) {
        for event in events {
            match &event.what {
                What::PhaseBegins { phase, .. } => {
                    self.phases.insert(*phase);
                }
                What::RuleFires { rule, .. } => {
                    self.rules.insert(*rule);
                }
                What::RungChosen { ladder, rung } => {
                    self.rungs.insert((*ladder, *rung));
                }
                What::StepDone { ladder, step } => {
                    self.rungs.insert((*ladder, *step));
                }
                _ => {}
            }
        }
    }

    pub(super) fn missing(&self, protocol: &Protocol) -> Missing {
        Missing {
            phases: protocol
                .phases()
                .map(|(id, _)| id)
                .filter(|id| !self.phases.contains(id))
                .collect(),
            rules: protocol
                .rules()
                .map(|(id, _)| id)
                .filter(|id| !self.rules.contains(id))
                .collect(),
            rungs: protocol
                .ladders()
                .flat_map(|(id, ladder)| (0..rungs(ladder)).map(move |index| (id, index)))
                .filter(|rung| !self.rungs.contains(rung))
                .collect(),
        }
    }

    pub(super) fn of(&self, protocol: &Protocol) -> Coverage {
        let rungs = protocol.ladders().flat_map(|(id, ladder)| {
            (0..rungs(ladder)).map(move |index| {
                let title = ladder.rung_title(index).unwrap_or("");
                ((id, index), format!("{}: {title}", ladder.name.name))
            })
        });
        Coverage {
            phases: Unreached::of(
                protocol
                    .phases()
                    .map(|(id, phase)| (id, phase.name.name.clone())),
                &self.phases,
            ),
            rules: Unreached::of(
                protocol
                    .rules()
                    .map(|(id, rule)| (id, rule.name.name.clone())),
                &self.rules,
            ),
            rungs: Unreached::of(rungs, &self.rungs),
        }
    }
}
