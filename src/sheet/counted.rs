//! Times that count from a moment which nobody knows when the sheet is printed: when the target
//! was reached, or what a phase waits for has come. The nurse writes that time in and counts on,
//! with the sums done for her; or prints the sheet again.

use super::Sheet;
use crate::document::{Block, Field, Rich};
use crate::model::{Aim, Cond, Due, End, MarkRef, Order, PhaseId, Rule, TestKind};
use crate::plan::{Empty, PhasePlan, Round, report};
use crate::quantity::Exact;

/// Room for a day and a time, in millimetres.
const ROOM: u16 = 16;

impl Sheet<'_> {
    /// For each phase whose end nobody knows yet: what follows from that end.
    pub(super) fn counted_from_ends(&self) -> Vec<Block> {
        let mut blocks = Vec::new();
        for (index, placed) in self.plan.phases.iter().enumerate() {
            let waits = matches!(
                self.protocol[placed.phase].end,
                End::Reached | End::Awaited { .. }
            );
            if !waits || placed.over || placed.empty == Empty::Always {
                continue;
            }
            let follows = self.that_follow(index);
            if follows.is_empty() {
                continue;
            }
            let name = number(placed.phase);
            let mut fields = vec![Field::open(name.then(" over"), "", ROOM)];
            fields.extend(follows.into_iter().map(|(what, after, round)| {
                let later = report::hours_and_minutes(after, round);
                Field::open(what.then(format!(" +\u{a0}{later}\u{a0}h")), "", ROOM)
            }));
            blocks.push(Block::Fields(fields));
        }
        blocks
    }

    /// What can be counted from the end of a phase, up to the next end that is as unknown. What is
    /// due is never told later than it is, what ends never sooner.
    fn that_follow(&self, index: usize) -> Vec<(Rich, Exact, Round)> {
        let mut after = Exact::ZERO;
        let mut out = Vec::new();
        let from = self.plan.phases.get(index).map(|placed| placed.phase);
        for placed in self.plan.phases.iter().skip(index + 1) {
            let phase = &self.protocol[placed.phase];
            let name = number(placed.phase);
            if let Some(Due { within, of, .. }) = &phase.due {
                let counts_from = match of.as_ref().map(|of| of.value) {
                    None => Some(after),
                    Some(mark) if mark == MarkRef::PhaseStart(placed.phase) => Some(after),
                    Some(mark) if Some(mark) == from.map(MarkRef::PhaseEnd) => Some(Exact::ZERO),
                    Some(_) => None,
                };
                if let Some(begins) = counts_from {
                    let what = name.clone().then(" due");
                    out.push((what, begins + within.value, Round::Down));
                }
            }
            match &phase.end {
                End::Lasts(length) => {
                    after = after + length.value;
                    out.push((name.then(" ends"), after, Round::Up));
                }
                End::After {
                    after: length,
                    mark,
                } if Some(mark.value) == from.map(MarkRef::PhaseEnd) => {
                    after = length.value;
                    out.push((name.then(" ends"), after, Round::Up));
                }
                End::Reached => {
                    if let Some(length) = arrives_after(placed, &phase.aim) {
                        out.push((name.then(" planned"), after + length, Round::Up));
                    }
                    break;
                }
                End::After { .. } | End::Awaited { .. } => break,
            }
        }
        out
    }

    /// By when a phase is due, where the case says so for certain.
    pub(super) fn due_time(&self, id: PhaseId) -> Option<Exact> {
        let placed = self.plan.phase(id)?;
        let due = self.protocol[id].due.as_ref()?;
        if placed.over || placed.empty == Empty::Always || !self.times.has_clock() {
            return None;
        }
        let from = match due.of.as_ref().map(|of| of.value) {
            None => self.begin_of(id),
            Some(MarkRef::Start) => Some(Exact::ZERO),
            Some(MarkRef::Named(mark)) => self.case.marks.get(&mark).copied(),
            Some(MarkRef::PhaseStart(other)) => self.begin_of(other),
            Some(MarkRef::PhaseEnd(other)) => {
                let other = self.plan.phase(other)?;
                other.end.exact().filter(|_| other.over)
            }
        };
        Some(from? + due.within.value)
    }

    fn begin_of(&self, id: PhaseId) -> Option<Exact> {
        let begins = self.plan.phase(id)?.start.exact();
        begins.filter(|_| self.begins_for_sure(id))
    }

    /// When a rule that goes by the clock comes true, and by when its call is then to be made:
    /// `from Tue 24 Nov 18:30 on; call by 18:45`.
    pub(super) fn rule_time(&self, rule: &Rule) -> Option<String> {
        if !self.times.has_clock() {
            return None;
        }
        let Cond::Test(test) = &rule.when else {
            return None;
        };
        let at = match &test.kind {
            TestKind::Overdue { phase } => self.due_time(*phase)?,
            TestKind::LastsLonger { phase, than } => {
                let over = self.plan.phase(*phase)?.over;
                self.begin_of(*phase).filter(|_| !over)? + than.value
            }
            TestKind::Compare { .. }
            | TestKind::Outside { .. }
            | TestKind::Is { .. }
            | TestKind::OffTarget { .. }
            | TestKind::NearTarget { .. }
            | TestKind::Differ { .. }
            | TestKind::Trend { .. }
            | TestKind::NotRecorded { .. }
            | TestKind::PausedLonger { .. } => return None,
        };
        let calls = rule.then.iter().filter_map(|action| match &action.order {
            Order::Call { within, .. } => Some(within.as_ref().map_or(Exact::ZERO, |w| w.value)),
            _ => None,
        });
        let from = self.times.moment(at, Round::Down);
        Some(match calls.min() {
            Some(within) => {
                let by = self.times.moment(at + within, Round::Down);
                format!("**{from}**, call by **{by}**")
            }
            None => format!("**{from}**"),
        })
    }
}

/// How long a course takes that the plan knows; of a way without a course nobody knows.
fn arrives_after(placed: &PhasePlan, aim: &Aim) -> Option<Exact> {
    match aim {
        Aim::Reach { rate: Some(_), .. } => placed.course.as_ref()?.arrives_after(),
        Aim::Reach { .. } | Aim::Hold { .. } | Aim::Keep { .. } => None,
    }
}

/// As it stands in the table of the phases above.
fn number(id: PhaseId) -> Rich {
    Rich::bold(format!("{}", id.index() + 1))
}
