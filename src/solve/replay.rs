//! A record that the solver has found, run through the evaluator.
//!
//! INVARIANT: nothing is shown to anybody as a witness before the evaluator, with
//! all rules of the protocol in force, has come to the same.

use super::Solver;
use super::ask::Found;
use crate::eval::{Case, Event, RuleStanding, Run, Truth};
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
    /// Whether the condition of the rule holds at the moment, in its phases.
    pub fn holds(&self, rule: RuleId, found: &Found) -> bool {
        match self.run.rule(rule, found.at) {
            RuleStanding::InPhase { truth, .. } => truth == Truth::Holds,
            RuleStanding::NotInPhase => false,
        }
    }

    pub fn is_in_phase(&self, found: &Found) -> bool {
        self.run.phase() == Some(found.phase)
    }
}

impl<'p> Solver<'p> {
    /// Runs a record through the evaluator and asks whether it shows what it should.
    /// One that does not is kept, and shown to nobody.
    pub fn reproduces(&self, found: &Found, shows: impl FnOnce(&Replay<'p>) -> bool) -> bool {
        let replay = replay(self.protocol, found);
        let right = replay.is_in_phase(found) && shows(&replay);
        self.replayed.set(self.replayed.get() + 1);
        if !right {
            self.not_reproduced.borrow_mut().push(found.clone());
        }
        right
    }

    /// Whether all these rules have conditions that hold at the moment.
    pub fn shows_rules(&self, found: &Found, rules: &[RuleId]) -> bool {
        self.reproduces(found, |replay| {
            rules.iter().all(|rule| replay.holds(*rule, found))
        })
    }
}
