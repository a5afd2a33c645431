//! Runs the evaluator through the phases ahead and on in the wanted one, entering what
//! is asked for: the times of a [`Frame`], and the values that keep the phases where
//! they are.
//!
//! `None` where the wanted phase is not reached.

use super::frame::{Builder, Frame, Sample};
use crate::eval::{self, Aimed, Entry, What};
use crate::model::*;
use crate::plan::Course;
use crate::quantity::Exact;
use std::collections::BTreeMap;

/// A run is never longer than this many moments.
const MOST_MOMENTS: usize = 30_000;

pub(super) struct Drive<'a> {
    pub with: &'a Builder<'a>,
    pub stripped: &'a Protocol,
    pub wanted: PhaseId,
    /// The last value of each reading and when it was made.
    pub last: BTreeMap<ReadingId, (Exact, i64)>,
    /// When the course of the wanted phase arrives.
    pub arrival: Option<Exact>,
    pub frame: Frame,
}

impl<'a> Drive<'a> {
    pub fn go(&mut self, mut run: eval::Run<'a>, for_long: Exact) -> Option<()> {
        for _ in 0..MOST_MOMENTS {
            let now = match run.next_moment() {
                Some(next) => self.mark_ahead(&run, next),
                None => self.mark_ahead(&run, Exact::OVERFLOW),
            };
            if now.is_overflow() {
                // Nothing more happens by itself.
                return (!self.frame.begins.is_overflow()).then_some(());
            }
            let before = run.phase();
            if before == Some(self.wanted) && now > self.frame.begins + for_long {
                return Some(());
            }
            run = self.moment(&run, now)?;
            let after = run.phase();
            if before == Some(self.wanted) && after != before {
                self.frame.ends = Some(now);
                return Some(());
            }
            if after == Some(self.wanted) {
                if before != after {
                    if self.frame.begins.is_overflow() {
                        self.frame.begins = now;
                    }
                    self.frame.due = self.due(now);
                }
                self.frame.moments.push(now);
            } else if after.is_none() || run.has_ended() || after > Some(self.wanted) {
                return None;
            }
            self.frame.aimed.insert(now, run.aimed(now));
        }
        None
    }

    /// The next moment, unless a mark that a phase waits for is made before.
    fn mark_ahead(&mut self, run: &eval::Run<'a>, next: Exact) -> Exact {
        let Some(phase) = run.phase() else {
            return next;
        };
        if phase == self.wanted {
            return next;
        }
        let since = self.frame.runs.last().map_or(Exact::ZERO, |(_, at)| *at);
        let (mark, after) = match &self.stripped[phase].end {
            End::After { mark, .. } => (mark.value, Exact::ONE),
            End::Awaited {
                trigger: EndTrigger::Mark(mark),
                at_least,
                ..
            } => (
                mark.value,
                at_least
                    .as_ref()
                    .map_or(Exact::int(60), |least| least.value),
            ),
            End::Awaited { .. } | End::Lasts(_) | End::Reached => return next,
        };
        let MarkRef::Named(mark) = mark else {
            return next;
        };
        let made = self.frame.marks.iter().any(|(known, _)| *known == mark);
        if made || since + after > next {
            return next;
        }
        self.frame.marks.push((mark, since + after));
        since + after
    }

    /// Enters what is asked for at a moment, and gives the run after it.
    fn moment(&mut self, run: &eval::Run<'a>, now: Exact) -> Option<eval::Run<'a>> {
        let before = run.phase();
        // Mostly it asks for what the looks that run ask for, and nothing else happens.
        let mut records = self
            .values(run, before, &run.asked_at(now), now, before)
            .unwrap_or_default();
        let mut foreseen = !records.is_empty();
        loop {
            let mut trial = run.clone();
            for (mark, at) in &self.frame.marks {
                if *at == now && *at > Exact::ZERO {
                    trial.enter(Entry::mark(now, *mark));
                }
            }
            for (reading, units) in &records {
                trial.enter(Entry::record(now, *reading, self.with.grids.value(*units)));
            }
            trial.advance(now);
            let events = trial.take_events();
            let mut asked: Vec<ReadingId> = Vec::new();
            for event in &events {
                if let What::EntryDue(due) = &event.what
                    && due.due == now
                    && !asked.contains(&due.reading)
                {
                    asked.push(due.reading);
                }
            }
            if foreseen {
                foreseen = false;
                let known = records.iter().map(|(reading, _)| reading);
                let as_foreseen = known.eq(&asked)
                    && trial.phase() == before
                    && trial.aimed(now) == run.aimed(now)
                    && !events.iter().any(|event| {
                        matches!(
                            event.what,
                            What::PhaseBegins { .. } | What::PhaseEnds { .. }
                        )
                    });
                if !as_foreseen {
                    records.clear();
                    continue;
                }
            }
            asked.retain(|reading| !records.iter().any(|(known, _)| known == reading));
            let phase = trial.phase().or(before);
            if asked.is_empty() {
                let mut left: Vec<PhaseId> = Vec::new();
                for event in &events {
                    match &event.what {
                        What::PhaseBegins { phase, .. } if *phase <= self.wanted => {
                            self.frame.runs.push((*phase, event.at));
                        }
                        What::PhaseEnds { phase, .. } => left.push(*phase),
                        _ => {}
                    }
                }
                if trial.phase() == Some(self.wanted) && before != trial.phase() {
                    self.arrival = self.arrival_of(&trial, now);
                }
                for (reading, units) in records {
                    self.add_sample(reading, units, now, &left, trial.phase());
                }
                return Some(trial);
            }
            records.extend(self.values(&trial, phase, &asked, now, before)?);
        }
    }

    /// What is recorded of each reading that is asked for.
    fn values(
        &self,
        run: &eval::Run<'a>,
        phase: Option<PhaseId>,
        asked: &[ReadingId],
        now: Exact,
        before: Option<PhaseId>,
    ) -> Option<Vec<(ReadingId, i64)>> {
        let value = |reading: &ReadingId| {
            let domain = self.with.grids.domain(*reading)?;
            let value = phase
                .map_or(domain.low, |phase| {
                    self.value(run, phase, *reading, now, before)
                })
                .clamp(domain.low, domain.high);
            Some((*reading, value))
        };
        asked.iter().map(value).collect()
    }

    fn add_sample(
        &mut self,
        reading: ReadingId,
        plan: i64,
        now: Exact,
        left: &[PhaseId],
        after: Option<PhaseId>,
    ) {
        self.last.insert(reading, (now, plan));
        let Some(domain) = self.with.grids.domain(reading) else {
            return;
        };
        let all = (domain.low, domain.high);
        // What would end the wanted phase is not recorded in it.
        let not_there = (after == Some(self.wanted))
            .then(|| self.not_arrived(reading, now))
            .flatten();
        let narrowed = |(low, high): (i64, i64)| match not_there {
            Some((least, most)) => (low.max(least), high.min(most)),
            None => (low, high),
        };
        // Where a course can be held up, that comes later.
        let display = match self.arrival {
            None => narrowed(all),
            Some(_) => all,
        };
        let ends_by = |phase: PhaseId| phase != self.wanted && self.is_ended_by(phase, reading);
        let reached: Vec<(i64, i64)> = left
            .iter()
            .filter_map(|phase| self.reached(*phase, reading))
            .collect();
        let fixed = after.into_iter().chain(left.iter().copied()).any(ends_by);
        let (wide, (low, high)) = if reached.is_empty() && fixed {
            // What a phase ahead ends by stays as it is.
            ((plan, plan), (plan, plan))
        } else {
            // Whatever has ended those ahead, and does not end the wanted phase too.
            let within = |(low, high): (i64, i64), by: &(i64, i64)| (low.max(by.0), high.min(by.1));
            let wide = reached.iter().fold(all, within);
            (wide, narrowed(wide))
        };
        if let Some(samples) = self.frame.samples.get_mut(reading.index()) {
            samples.push(Sample {
                at: now,
                known_until: now,
                low,
                high,
                wide,
                display,
                plan: plan.clamp(low, high.max(low)),
            });
        }
    }

    fn is_ended_by(&self, phase: PhaseId, reading: ReadingId) -> bool {
        let phase = &self.with.protocol[phase];
        match &phase.end {
            End::Reached => phase.aim.reading() == reading,
            End::Awaited {
                trigger: EndTrigger::When(cond),
                ..
            } => cond.readings().contains(&reading),
            End::Awaited { .. } | End::Lasts(_) | End::After { .. } => false,
        }
    }

    /// The values by which a phase ahead without a rate has been reached.
    fn reached(&self, phase: PhaseId, reading: ReadingId) -> Option<(i64, i64)> {
        let phase = &self.with.protocol[phase];
        let Aim::Reach {
            way,
            reading: of,
            to,
            within,
            rate: None,
            ..
        } = &phase.aim
        else {
            return None;
        };
        if of.value != reading || !matches!(phase.end, End::Reached) {
            return None;
        }
        let within = within.as_ref().map_or(Exact::ZERO, |within| within.value);
        let (grids, far) = (self.with.grids, i64::MAX / 4);
        Some(match way {
            Way::Warm => (grids.ceil(to.value - within), far),
            Way::Cool => (-far, grids.floor(to.value + within)),
        })
    }

    /// The values at which the wanted phase has not reached its end, where reaching
    /// it would end the phase.
    pub(super) fn not_arrived(&self, reading: ReadingId, now: Exact) -> Option<(i64, i64)> {
        let phase = &self.with.protocol[self.wanted];
        let Aim::Reach {
            way,
            reading: of,
            to,
            within,
            ..
        } = &phase.aim
        else {
            return None;
        };
        if of.value != reading || !matches!(phase.end, End::Reached) {
            return None;
        }
        // Where the course begins at a record the scene knows when it arrives.
        if matches!(
            phase.aim,
            Aim::Reach {
                from: None,
                rate: Some(_),
                ..
            }
        ) {
            return None;
        }
        if let Some(arrival) = self.arrival {
            let interval = self
                .with
                .intervals
                .at(reading, self.wanted)
                .unwrap_or(Exact::ZERO);
            // One that the next record replaces by then cannot end it.
            if now + interval <= arrival {
                return None;
            }
        }
        let within = within.as_ref().map_or(Exact::ZERO, |within| within.value);
        let (grids, far) = (self.with.grids, i64::MAX / 4);
        Some(match way {
            Way::Warm => (-far, grids.ceil(to.value - within) - 1),
            Way::Cool => (grids.floor(to.value + within) + 1, far),
        })
    }

    fn arrival_of(&self, run: &eval::Run<'a>, now: Exact) -> Option<Exact> {
        let phase = &self.with.protocol[self.wanted];
        let Aim::Reach {
            rate: Some(rate), ..
        } = &phase.aim
        else {
            return None;
        };
        let Aimed::Value(begin) = run.aimed(now) else {
            return Some(Exact::OVERFLOW);
        };
        let course = Course::of(phase, begin, rate.slower().value)?;
        Some(
            course
                .arrives_after()
                .map_or(Exact::OVERFLOW, |after| now + after),
        )
    }

    fn due(&self, begins: Exact) -> Option<Exact> {
        let due = self.with.protocol[self.wanted].due.as_ref()?;
        let from = match due.of.as_ref().map(|of| of.value) {
            None => begins,
            Some(MarkRef::Start) => Exact::ZERO,
            Some(MarkRef::Named(mark)) => self
                .frame
                .marks
                .iter()
                .find(|(known, _)| *known == mark)
                .map(|(_, at)| *at)?,
            Some(MarkRef::PhaseStart(phase)) => self
                .frame
                .runs
                .iter()
                .find(|(run, _)| *run == phase)
                .map(|(_, at)| *at)?,
            Some(MarkRef::PhaseEnd(phase)) => {
                let at = self.frame.runs.iter().position(|(run, _)| *run == phase)?;
                self.frame.runs.get(at + 1).map(|(_, at)| *at)?
            }
        };
        Some(from + due.within.value)
    }
}
