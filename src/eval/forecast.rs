//! Where the plan of a moment puts the beginning of a phase (M19, M31).
//!
//! Takes what runs and what is known; gives the time that a sheet made at that
//! moment would print, which is the slow side of the plan: timed ends as they are,
//! `plan for` at its longest, a reach by its course, or else the sooner of its due
//! time and `at least`. Where neither stands, a reach counts at its cap, so that
//! what comes before the next phase is rather asked too early than never.

use super::condition::View;
use super::phases::{Phases, Running};
use super::target::Target;
use crate::model::{Aim, End, MarkRef, Phase, PhaseId};
use crate::plan::Course;
use crate::quantity::Exact;

impl Phases<'_> {
    /// When a phase that has yet to begin is expected to; `None` where it lies
    /// behind, or hangs on a mark that has no time yet.
    pub fn expected_start(
        &self,
        wanted: PhaseId,
        target: &Target<'_>,
        view: &View<'_>,
    ) -> Option<Exact> {
        let running = self.running.as_ref().filter(|_| !self.is_stopped())?;
        if wanted <= running.phase {
            return None;
        }
        let mut phase = running.phase;
        let mut ends = self.expected_end(running, target, view)?.max(view.now);
        // Beginnings and ends on the way count for the marks of those behind.
        let mut planned = Vec::new();
        loop {
            planned.push((MarkRef::PhaseEnd(phase), ends));
            phase = self.next_after(phase)?;
            if phase == wanted {
                return Some(ends);
            }
            planned.push((MarkRef::PhaseStart(phase), ends));
            let mark = |mark: MarkRef| {
                planned
                    .iter()
                    .rev()
                    .find(|(made, _)| *made == mark)
                    .map(|(_, at)| *at)
                    .or_else(|| self.mark_time(mark))
            };
            let stated = &self.protocol[phase];
            ends = match &stated.end {
                End::Lasts(duration) => ends + duration.value,
                End::After { after, mark: of } => ends.max(mark(of.value)? + after.value),
                End::Awaited { .. } => ends + awaited_length(stated),
                End::Reached => {
                    let due = match stated.due.as_ref().map(|due| (due, due.of.as_ref())) {
                        Some((due, Some(of))) => mark(of.value).map(|at| at + due.within.value),
                        Some((due, None)) => Some(ends + due.within.value),
                        None => None,
                    };
                    self.reach_of(phase, ends, due)
                }
            };
        }
    }

    fn expected_end(
        &self,
        running: &Running<'_>,
        target: &Target<'_>,
        view: &View<'_>,
    ) -> Option<Exact> {
        let phase = &self.protocol[running.phase];
        match &phase.end {
            End::Lasts(_) | End::After { .. } => self.timed_end(running),
            End::Awaited { .. } => Some(running.since + awaited_length(phase)),
            End::Reached => Some(match target.arrives_at(view.now) {
                Some(arrival) => arrival,
                None => {
                    let known = view.board.standing(phase.aim.reading(), view.now);
                    let distance = match (known, target.end_value()) {
                        (Some(record), Some(end)) => Some((record.value - end).abs()),
                        _ => None,
                    };
                    reached(phase, view.now, distance, self.due(running))
                }
            }),
        }
    }

    /// The end of a reach that begins at `begins`, from its `from` or from what the
    /// phase before it aims at.
    fn reach_of(&self, id: PhaseId, begins: Exact, due: Option<Exact>) -> Exact {
        let phase = &self.protocol[id];
        let Aim::Reach { from, to, rate, .. } = &phase.aim else {
            return begins;
        };
        let before =
            id.0.checked_sub(1)
                .and_then(|index| match &self.protocol[PhaseId(index)].aim {
                    Aim::Hold { at, .. } => Some(at.value),
                    Aim::Reach { to, .. } => Some(to.value),
                    Aim::Keep { .. } => None,
                });
        let from = from.as_ref().map(|from| from.value).or(before);
        let course = rate
            .as_ref()
            .zip(from)
            .and_then(|(rate, from)| Course::of(phase, from, rate.slower().value))
            .and_then(|course| course.arrives_after());
        match course {
            Some(length) => begins + length,
            None => {
                let distance = from.map(|from| (to.value - from).abs());
                reached(phase, begins, distance, due)
            }
        }
    }
}

/// When a reach without a rate is over at the latest, as the plan has it: never
/// sooner than its cap lets it.
fn reached(phase: &Phase, from: Exact, distance: Option<Exact>, due: Option<Exact>) -> Exact {
    let at = |rate: &Option<crate::quantity::Rate>| {
        let rate = rate.as_ref().filter(|rate| rate.value > Exact::ZERO)?;
        Some(from + distance? / rate.value * Exact::int(60))
    };
    let soonest = at(&phase.never_faster).unwrap_or(from);
    let latest = [at(&phase.at_least), due].into_iter().flatten().min();
    latest.map_or(soonest, |latest| latest.max(soonest))
}

/// `plan for` at its longest, within `at least` and `at most`.
fn awaited_length(phase: &Phase) -> Exact {
    let End::Awaited {
        plan,
        at_least,
        at_most,
        ..
    } = &phase.end
    else {
        return Exact::ZERO;
    };
    let planned = plan
        .last
        .as_ref()
        .map_or(plan.first.value, |last| last.value.max(plan.first.value));
    let bounded = at_least
        .as_ref()
        .map_or(planned, |least| planned.max(least.value));
    at_most
        .as_ref()
        .map_or(bounded, |most| bounded.min(most.value))
}
