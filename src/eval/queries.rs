//! What a run answers between two moments, without changing anything.

use super::machine::Run;
use super::measures::{Measured, Measures};
use super::rules::Standing as RuleStanding;
use super::target::Aimed;
use crate::model::{PhaseId, ReadingId, RuleId};
use crate::quantity::Exact;

impl<'p> Run<'p> {
    /// The next moment at which time alone changes something, as things stand.
    pub fn next_moment(&self) -> Option<Exact> {
        self.next_wake
    }

    /// The phase that runs once the last moment is over.
    pub fn phase(&self) -> Option<PhaseId> {
        self.phases.running()
    }

    pub fn has_ended(&self) -> bool {
        self.phases.has_ended()
    }

    /// The readings that the looks which run ask for by then, in the order of the looks. A phase
    /// that begins by then may ask for more.
    pub fn asked_at(&self, at: Exact) -> Vec<ReadingId> {
        let mut asked = Vec::new();
        for (reading, _) in self.looks.asked_at(at) {
            if !asked.contains(&reading) {
                asked.push(reading);
            }
        }
        asked
    }

    /// The target once everything of that time is done; `now` must not lie before
    /// the last moment.
    pub fn aimed(&self, now: Exact) -> Aimed {
        self.target.aimed(now)
    }

    /// When a reading was last recorded, and until when that stands (M6).
    pub fn last_record(&self, reading: ReadingId) -> Option<(Exact, Exact)> {
        self.board
            .last(reading)
            .map(|record| (record.at, record.good_until))
    }

    pub fn is_paused(&self) -> bool {
        self.pauses.since.is_some()
    }

    /// How a rule stands once everything of that time is done.
    pub fn rule(&self, rule: RuleId, now: Exact) -> RuleStanding<'p> {
        self.rules.standing(rule, &self.view(now))
    }

    /// What each measure of the protocol has come to by then (M35).
    pub fn measures(&self, now: Exact) -> Vec<Measured> {
        let mut measures = self.measures.clone();
        self.measure(&mut measures, now);
        measures.sums()
    }

    pub(super) fn measure(&self, measures: &mut Measures<'p>, now: Exact) {
        if let Some(past) = self.past.filter(|past| *past < now) {
            measures.pass(past, now, |at| self.view(at));
        }
    }
}
