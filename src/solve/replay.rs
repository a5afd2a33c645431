//! A record that the solver has found, run through the evaluator.
//!
//! INVARIANT: nothing is shown to anybody as a witness before the evaluator, with
//! all rules of the protocol in force, has come to the same.

use super::Solver;
use super::question::Found;
use crate::eval::{Case, EndWhy, Event, RuleStanding, Run, Truth, What};
use crate::model::{Protocol, RuleId};

/// The run up to the moment, and what was said on the way.
pub struct Replay<'p> {
    pub run: Run<'p>,
    pub events: Vec<Event<'p>>,
}

pub fn replay<'p>(protocol: &'p Protocol, found: &Found) -> Replay<'p> {
    let case = Case {
        marks: found.marks.clone(),
        ..Case::default()
    };
    let mut run = Run::new(protocol, &case);
    for entry in &found.entries {
        run.enter(*entry);
    }
    run.advance(found.at);
    let events = run.take_events();
    Replay { run, events }
}

impl Replay<'_> {
    /// Whether the condition of the rule holds at the moment, in its phases. A rule
    /// that fires then may have begun another phase by now.
    pub fn holds(&self, rule: RuleId, found: &Found) -> bool {
        let fires = self.events.iter().any(|event| {
            event.at == found.at
                && match &event.what {
                    What::RuleFires { rule: fires, .. } => *fires == rule,
                    What::RuleSilenced { rule: silenced, .. } => *silenced == rule,
                    _ => false,
                }
        });
        fires
            || match self.run.rule(rule, found.at) {
                RuleStanding::InPhase { truth, .. } => truth == Truth::Holds,
                RuleStanding::NotInPhase => false,
            }
    }

    /// Whether the phase runs at the moment, or only an order of that moment ends it.
    pub fn is_in_phase(&self, found: &Found) -> bool {
        self.run.phase() == Some(found.phase)
            || self.events.iter().any(|event| {
                event.at == found.at
                    && matches!(
                        event.what,
                        What::PhaseEnds {
                            phase,
                            why: EndWhy::Order,
                        } if phase == found.phase
                    )
            })
    }
}

impl<'p> Solver<'p> {
    /// Runs a record through the evaluator and asks whether it shows what it should.
    /// One that does not is kept, and tests fail on it.
    pub fn reproduces(&self, found: &Found, shows: impl FnOnce(&Replay<'p>) -> bool) -> bool {
        let replay = replay(self.protocol, found);
        self.replayed.set(self.replayed.get() + 1);
        let right = replay.is_in_phase(found) && shows(&replay);
        if !right {
            self.not_reproduced.borrow_mut().push(found.clone());
        }
        right
    }

    /// Whether all these rules have conditions that hold at the moment of a record on
    /// plan. Where not, another rule has given orders on the way, which is a finding
    /// of its own; anything else is kept, and tests fail on it.
    pub fn shows_rules(&self, found: &Found, rules: &[RuleId]) -> bool {
        let replay = replay(self.protocol, found);
        self.replayed.set(self.replayed.get() + 1);
        let right =
            replay.is_in_phase(found) && rules.iter().all(|rule| replay.holds(*rule, found));
        let others = replay.events.iter().any(|event| {
            matches!(event.what, What::RuleFires { rule, .. } if !rules.contains(&rule))
                && event.at < found.at
        });
        if !right && !others {
            self.not_reproduced.borrow_mut().push(found.clone());
        }
        right
    }
}
