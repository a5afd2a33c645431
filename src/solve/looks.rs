//! At which looks a test is decided, and how far back they lie (M7 to M9).

use super::scene::{LeadIn, Scene};
use crate::model::*;
use crate::quantity::Exact;

impl Scene<'_> {
    /// Whether the windows of a test begin before the phase.
    pub(super) fn reaches_back(&self, test: &Test, at: Exact) -> bool {
        let window = self.windows(test);
        let window = match &test.kind {
            TestKind::NotRecorded { over, .. } => over.value,
            _ => window,
        };
        let slack = self.slack(&test.kind.readings(), at) * Exact::int(5);
        let back = window + slack;
        // Where only the length of what lay ahead is open, what can hold over its end can hold
        // later within the phase, if that lasts so long.
        let is_short = match self.held.another_way {
            Some(LeadIn::Length) => {
                let ends = self.frame.ends;
                ends.is_some_and(|ends| ends - self.frame.begins < back)
            }
            Some(LeadIn::Values) | None => true,
        };
        is_short && window > Exact::ZERO && at - back < self.frame.begins
    }

    fn windows(&self, test: &Test) -> Exact {
        let sustained = test
            .sustained
            .as_ref()
            .map_or(Exact::ZERO, |sustained| sustained.value);
        let over = match &test.kind {
            TestKind::Trend { over, .. } => over.value,
            _ => Exact::ZERO,
        };
        sustained + over
    }

    /// No look that counts for a test lies farther back than this: its windows, and
    /// the gaps between looks at either end of them.
    pub(super) fn looks_back(&self, test: &Test) -> Exact {
        self.windows(test) + self.intervals.longest_of_all() * Exact::int(4)
    }

    /// The looks of a test up to a moment: one of its readings is recorded and all
    /// are known (M7).
    pub(super) fn looks(
        &self,
        readings: &[ReadingId],
        since: Exact,
        (from, at): (Exact, Exact),
    ) -> Vec<Exact> {
        let mut looks: Vec<Exact> = Vec::new();
        for reading in readings {
            let samples = self.samples(*reading);
            let from = samples.partition_point(|sample| sample.at < from);
            let to = samples.partition_point(|sample| sample.at <= at);
            looks.extend(
                samples
                    .get(from..to)
                    .unwrap_or_default()
                    .iter()
                    .map(|sample| sample.at),
            );
        }
        if readings.len() > 1 {
            looks.sort_unstable();
            looks.dedup();
            looks.retain(|look| {
                readings
                    .iter()
                    .all(|reading| self.known(*reading, since, *look).is_some())
            });
        }
        looks
    }

    /// The first of the looks over which it must have held (M9): the latest that is
    /// old enough, with no unknown time since.
    pub(super) fn sustained_from(
        &self,
        readings: &[ReadingId],
        looks: &[Exact],
        over: Exact,
    ) -> Option<usize> {
        let last = *looks.last()?;
        let needed = over - self.slack(readings, last);
        let mut first = looks.len().checked_sub(1)?;
        while first > 0 {
            let (later, earlier) = (*looks.get(first)?, *looks.get(first - 1)?);
            if !readings
                .iter()
                .all(|reading| self.unbroken(*reading, earlier, later))
            {
                return None;
            }
            first -= 1;
            if last - earlier >= needed {
                return Some(first);
            }
        }
        None
    }

    fn unbroken(&self, reading: ReadingId, from: Exact, to: Exact) -> bool {
        let samples = self.samples(reading);
        let first = samples
            .partition_point(|sample| sample.at <= from)
            .saturating_sub(1);
        let last = samples.partition_point(|sample| sample.at <= to);
        samples
            .get(first..last)
            .unwrap_or_default()
            .windows(2)
            .all(|pair| match pair {
                [a, b] => a.known_until >= b.at,
                _ => true,
            })
    }

    /// A quarter of the interval in force, of several readings the shortest (M8).
    pub(super) fn slack(&self, readings: &[ReadingId], at: Exact) -> Exact {
        let phase = self.phase_at(at);
        readings
            .iter()
            .filter_map(|reading| self.intervals.at(*reading, phase))
            .min()
            .map_or(Exact::ZERO, |interval| interval * Exact::ratio(1, 4))
    }

    fn phase_at(&self, at: Exact) -> PhaseId {
        self.frame
            .runs
            .iter()
            .rev()
            .find(|(_, begins)| *begins <= at)
            .map_or(self.frame.phase, |(phase, _)| *phase)
    }
}
