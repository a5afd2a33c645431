//! Which phase runs, since when, and what ends it (M17 to M19, M24, M25).
//!
//! Takes marks, the reading and target of the moment, and `begin` and `stop`;
//! gives the phase that runs and the marks that it makes (`PHASE.start`,
//! `PHASE.end`). Decides only; the order within a moment is the machine's.

use super::board::Board;
use super::condition::{PhaseClock, View, Watch};
use super::target::Target;
use crate::model::{Aim, End, EndTrigger, MarkRef, PhaseId, Protocol, Way};
use crate::quantity::Exact;

/// Why a phase has ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum EndWhy {
    /// Its reading is at its end, and so is its course (M18).
    Arrived,
    /// Its time is over.
    Time,
    /// The mark that it waited for.
    Mark,
    /// The condition that it waited for.
    Condition,
    /// `at most` is over.
    AtMost,
    /// An order began another phase (M25).
    Order,
}

#[derive(Debug, Clone)]
pub struct Phases<'p> {
    pub(super) protocol: &'p Protocol,
    pub(super) running: Option<Running<'p>>,
    starts: Vec<Option<Exact>>,
    ends: Vec<Option<Exact>>,
    marks: Vec<Option<Exact>>,
    stopped: bool,
    ended: bool,
}

#[derive(Debug, Clone)]
pub(super) struct Running<'p> {
    pub(super) phase: PhaseId,
    pub(super) since: Exact,
    entered_by_order: bool,
    /// `ends when COND`.
    awaits: Option<Watch<'p>>,
}

impl<'p> Phases<'p> {
    pub fn new(protocol: &'p Protocol) -> Self {
        let phases = protocol.phases().count();
        Phases {
            protocol,
            running: None,
            starts: vec![None; phases],
            ends: vec![None; phases],
            marks: protocol.marks().map(|_| None).collect(),
            stopped: false,
            ended: false,
        }
    }

    pub fn running(&self) -> Option<PhaseId> {
        self.running.as_ref().map(|running| running.phase)
    }

    pub fn clock(&self) -> Option<PhaseClock> {
        let running = self.running.as_ref()?;
        Some(PhaseClock {
            phase: running.phase,
            since: running.since,
            due: self.due(running),
        })
    }

    pub fn has_ended(&self) -> bool {
        self.ended
    }

    pub fn is_stopped(&self) -> bool {
        self.stopped
    }

    pub fn mark(&mut self, mark: crate::model::MarkId, at: Exact) {
        if let Some(slot) = self.marks.get_mut(mark.index()) {
            *slot = Some(at);
        }
    }

    /// The latest time of a mark, where it has been made.
    pub fn mark_time(&self, mark: MarkRef) -> Option<Exact> {
        match mark {
            MarkRef::Start => Some(Exact::ZERO),
            MarkRef::PhaseStart(phase) => *self.starts.get(phase.index())?,
            MarkRef::PhaseEnd(phase) => *self.ends.get(phase.index())?,
            MarkRef::Named(mark) => *self.marks.get(mark.index())?,
        }
    }

    /// `stop temperature control`: no phase ends or begins by itself any more.
    pub fn stop(&mut self) {
        self.stopped = true;
    }

    /// Begins a phase; the caller has ended the one before.
    pub fn begin(&mut self, phase: PhaseId, now: Exact, by_order: bool) {
        let awaits = match &self.protocol[phase].end {
            End::Awaited {
                trigger: EndTrigger::When(cond),
                ..
            } => Some(Watch::new(cond, now)),
            End::Awaited { .. } | End::Reached | End::Lasts(_) | End::After { .. } => None,
        };
        self.stopped = false;
        if let Some(slot) = self.starts.get_mut(phase.index()) {
            *slot = Some(now);
        }
        self.running = Some(Running {
            phase,
            since: now,
            entered_by_order: by_order,
            awaits,
        });
    }

    /// Ends the running phase and says which it was.
    pub fn end(&mut self, now: Exact) -> Option<PhaseId> {
        let running = self.running.take()?;
        if let Some(slot) = self.ends.get_mut(running.phase.index()) {
            *slot = Some(now);
        }
        Some(running.phase)
    }

    /// The phase after that one in the written order; after the last the case ends.
    pub fn next_after(&self, phase: PhaseId) -> Option<PhaseId> {
        let next = PhaseId(phase.0.saturating_add(1));
        (next.index() < self.starts.len()).then_some(next)
    }

    pub fn end_case(&mut self) {
        self.ended = true;
    }

    /// Shows the records of this moment to `ends when`.
    pub fn observe(&mut self, view: &View<'_>) {
        if let Some(awaits) = self.running.as_mut().and_then(|r| r.awaits.as_mut()) {
            awaits.observe(view);
        }
    }

    /// Whether the running phase ends now by itself, and why.
    pub fn ends_now(&self, target: &Target<'_>, view: &View<'_>) -> Option<EndWhy> {
        let running = self.running.as_ref().filter(|_| !self.stopped)?;
        let by_time = |at: Option<Exact>, why| at.filter(|at| *at <= view.now).map(|_| why);
        match &self.protocol[running.phase].end {
            End::Reached => self
                .arrived(running, target, view.board, view.now)
                .then_some(EndWhy::Arrived),
            End::Lasts(_) | End::After { .. } => by_time(self.timed_end(running), EndWhy::Time),
            End::Awaited {
                trigger,
                at_least,
                at_most,
                ..
            } => {
                let long_enough = at_least
                    .as_ref()
                    .is_none_or(|least| view.now >= running.since + least.value);
                let too_long = at_most
                    .as_ref()
                    .is_some_and(|most| view.now >= running.since + most.value);
                let triggered = match trigger {
                    EndTrigger::Mark(_) => by_time(self.awaited_mark(running), EndWhy::Mark),
                    EndTrigger::When(_) => running
                        .awaits
                        .as_ref()
                        .filter(|awaits| awaits.truth(view).holds())
                        .map(|_| EndWhy::Condition),
                };
                triggered
                    .filter(|_| long_enough)
                    .or(too_long.then_some(EndWhy::AtMost))
            }
        }
    }

    fn arrived(
        &self,
        running: &Running<'_>,
        target: &Target<'_>,
        board: &Board,
        now: Exact,
    ) -> bool {
        let Aim::Reach {
            way,
            reading,
            within,
            ..
        } = &self.protocol[running.phase].aim
        else {
            return false;
        };
        let (Some(record), Some(end)) = (board.standing(reading.value, now), target.end_value())
        else {
            return false;
        };
        let within = within.as_ref().map_or(Exact::ZERO, |within| within.value);
        let there = match way {
            Way::Warm => record.value >= end - within,
            Way::Cool => record.value <= end + within,
        };
        there && target.has_arrived(now)
    }

    /// The end that time alone brings, as far as its mark is known.
    pub(super) fn timed_end(&self, running: &Running<'_>) -> Option<Exact> {
        match &self.protocol[running.phase].end {
            End::Lasts(duration) => Some(running.since + duration.value),
            End::After { after, mark } => Some(self.mark_time(mark.value)? + after.value),
            End::Reached | End::Awaited { .. } => None,
        }
    }

    /// The time of the mark that the running phase ends at; entered by an order,
    /// only a mark made since then counts.
    fn awaited_mark(&self, running: &Running<'_>) -> Option<Exact> {
        let End::Awaited {
            trigger: EndTrigger::Mark(mark),
            ..
        } = &self.protocol[running.phase].end
        else {
            return None;
        };
        self.mark_time(mark.value)
            .filter(|at| !running.entered_by_order || *at > running.since)
    }

    /// When the running phase should have arrived (M24).
    pub(super) fn due(&self, running: &Running<'_>) -> Option<Exact> {
        let due = self.protocol[running.phase].due.as_ref()?;
        let from = match &due.of {
            Some(mark) if !running.entered_by_order => self.mark_time(mark.value)?,
            Some(_) | None => running.since,
        };
        Some(from + due.within.value)
    }

    /// The next moment at which time alone ends the phase, bounds it or makes it
    /// overdue.
    pub fn wakes(&self, view: &View<'_>) -> Option<Exact> {
        let running = self.running.as_ref()?;
        let [ends, least, most, awaits] = if self.stopped {
            [None; 4]
        } else {
            let bounds = match &self.protocol[running.phase].end {
                End::Awaited {
                    at_least, at_most, ..
                } => [at_least, at_most].map(Option::as_ref),
                End::Lasts(_) | End::After { .. } | End::Reached => [None, None],
            };
            let [least, most] = bounds.map(|bound| bound.map(|by| running.since + by.value));
            let awaits = running.awaits.as_ref();
            let awaits = awaits.and_then(|awaits| awaits.wakes(view));
            [self.timed_end(running), least, most, awaits]
        };
        [self.due(running), ends, least, most, awaits]
            .into_iter()
            .flatten()
            .filter(|at| *at > view.now)
            .min()
    }
}
