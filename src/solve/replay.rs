//! A record that the solver has found, run through the evaluator.
//!
//! INVARIANT: nothing is shown to anybody as a witness before the evaluator, with
//! all rules of the protocol in force, has come to the same.

use super::Solver;
use super::question::Found;
use crate::eval::{Case, EndWhy, Entry, Event, RuleStanding, Run, Truth, What};
use crate::model::{MarkId, PhaseId, Protocol, RuleId};
use crate::quantity::Exact;
use std::cell::RefCell;
use std::collections::BTreeMap;
use std::rc::Rc;

/// The run up to the moment, and what was said on the way.
pub struct Replay<'p> {
    pub run: Run<'p>,
    pub events: Vec<Event<'p>>,
}

pub fn replay<'p>(protocol: &'p Protocol, found: &Found) -> Replay<'p> {
    gone_on(begun(protocol, found), &found.entries, found.at)
}

/// What running a record takes, for the [`super::Budget`].
pub fn steps(protocol: &Protocol, found: &Found) -> u64 {
    (found.entries.len() * protocol.looks.len().max(1)) as u64
}

pub(super) fn begun<'p>(protocol: &'p Protocol, found: &Found) -> Run<'p> {
    let case = Case {
        marks: found.marks.clone(),
        ..Case::default()
    };
    Run::new(protocol, &case)
}

/// The run as far as where a phase begins. Nearly all records of a phase go the same
/// way up to there, and it is most of many a record.
pub(super) struct LeadIn<'p> {
    marks: Vec<(MarkId, Exact)>,
    entries: Vec<Entry>,
    run: Run<'p>,
}

/// By phase.
pub(super) type LeadIns<'p> = RefCell<BTreeMap<PhaseId, LeadIn<'p>>>;

/// The record that was replayed last, and what the evaluator made of it.
pub(super) struct Last<'p> {
    at: Exact,
    marks: Vec<(MarkId, Exact)>,
    entries: Vec<Entry>,
    replay: Rc<Replay<'p>>,
}

impl Last<'_> {
    fn is_of(&self, found: &Found) -> bool {
        self.at == found.at && self.marks == found.marks && self.entries == found.entries
    }
}

/// The run up to the phase, from what is kept where that is of the same records.
pub(super) fn led_in<'p>(
    kept: &LeadIns<'p>,
    found: &Found,
    ahead: &[Entry],
    begun: impl FnOnce() -> Run<'p>,
) -> Run<'p> {
    let mut kept = kept.borrow_mut();
    let known = kept
        .get(&found.phase)
        .filter(|lead| lead.marks == found.marks && lead.entries == ahead);
    if let Some(lead) = known {
        return lead.run.clone();
    }
    let mut run = begun();
    for entry in ahead {
        run.enter(*entry);
    }
    let lead = LeadIn {
        marks: found.marks.clone(),
        entries: ahead.to_vec(),
        run: run.clone(),
    };
    kept.insert(found.phase, lead);
    run
}

/// The run with the rest of its entries, up to the moment.
pub(super) fn gone_on<'p>(mut run: Run<'p>, rest: &[Entry], at: Exact) -> Replay<'p> {
    for entry in rest {
        run.enter(*entry);
    }
    run.advance(at);
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
    /// The same as [`replay`], with what was run before kept, and without what is said of boxes
    /// and targets.
    pub fn replay(&self, found: &Found) -> Rc<Replay<'p>> {
        // A patient on plan answers many a question.
        if let Some(replay) = self.replayed_last(found) {
            return replay;
        }
        let replay = Rc::new(self.replay_anew(found));
        *self.last_replay.borrow_mut() = Some(Last {
            at: found.at,
            marks: found.marks.clone(),
            entries: found.entries.clone(),
            replay: Rc::clone(&replay),
        });
        replay
    }

    /// The record that was replayed last, if this is it.
    pub(super) fn replayed_last(&self, found: &Found) -> Option<Rc<Replay<'p>>> {
        let last = self.last_replay.borrow();
        let last = last.as_ref().filter(|last| last.is_of(found))?;
        Some(Rc::clone(&last.replay))
    }

    fn replay_anew(&self, found: &Found) -> Replay<'p> {
        let begun = || {
            let mut run = begun(self.protocol, found);
            run.say_only_what_is_decided();
            run
        };
        let Some((ahead, rest)) = self.parted(found) else {
            return gone_on(begun(), &found.entries, found.at);
        };
        let run = led_in(&self.lead_ins, found, ahead, begun);
        gone_on(run, rest, found.at)
    }

    /// What is recorded ahead of the phase, and in it.
    pub(super) fn parted<'f>(&self, found: &'f Found) -> Option<(&'f [Entry], &'f [Entry])> {
        let begins = self.frame(found.phase).map(|frame| frame.begins)?;
        if begins > found.at {
            return None;
        }
        let ahead = found.entries.partition_point(|entry| entry.at < begins);
        Some(found.entries.split_at(ahead))
    }

    /// Runs a record through the evaluator and asks whether it shows what it should.
    /// One that does not is kept, and tests fail on it.
    pub fn reproduces(&self, found: &Found, shows: impl FnOnce(&Replay<'p>) -> bool) -> bool {
        let replay = self.replay(found);
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
        let replay = self.replay(found);
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
