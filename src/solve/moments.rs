//! Which moments of a phase can differ for a question, and which readings may be
//! silent at them.

use super::Solver;
use super::frame::Frame;
use super::intervals::longest_followed;
use super::question::{Goal, Question};
use super::scene::{Any, AnyTarget};
use crate::model::*;
use crate::quantity::Exact;
use std::collections::{BTreeMap, BTreeSet};

impl Solver<'_> {
    /// The moments that can differ for this question, from the first on; and whether no
    /// later one can differ from all of them.
    pub(super) fn moments(
        &self,
        frame: &Frame,
        question: &Question<'_>,
        tests: &[&Test],
        silences: &[(ReadingId, Vec<Exact>)],
    ) -> (Vec<Exact>, bool) {
        let readings: BTreeSet<ReadingId> = tests
            .iter()
            .flat_map(|test| test.kind.readings())
            .chain(question.goals.iter().filter_map(|goal| match goal {
                Goal::Value { reading, .. } | Goal::NotValue { reading, .. } => Some(*reading),
                Goal::Cond { .. } => None,
            }))
            .collect();
        let window = self.window(tests, frame.phase);
        let moves = tests.iter().any(|test| {
            matches!(
                test.kind,
                TestKind::OffTarget { .. } | TestKind::NearTarget { .. }
            )
        }) && self.target_moves(frame.phase);
        let settled = self.settled(frame, tests);
        // Windows must have been full when a reading fell silent.
        let silent = silences
            .iter()
            .flat_map(|(_, times)| times.iter().copied())
            .filter(|_| question.settled_only)
            .max()
            .unwrap_or(Exact::ZERO);
        let repeats = self
            .intervals
            .repeats(frame.phase, readings.iter().copied());
        let twice = self.intervals.longest(frame.phase) * Exact::int(2);
        let behind = repeats.unwrap_or(longest_followed()).max(twice);
        let course = match &frame.stated {
            _ if !moves => Exact::ZERO,
            // Behind its arrival, however late, the target stands still.
            Some(course) => course.arrives_after().unwrap_or(Exact::OVERFLOW),
            // Where it begins, and how long it takes, hangs on a record.
            None => Exact::OVERFLOW,
        };
        let last = frame.begins + course + window + silent + behind;
        let over = [frame.ends, question.before].into_iter().flatten().min();
        let are_all = moves || repeats.is_some() || over.is_some_and(|over| over <= last);
        let mut moments: Vec<Exact> = Vec::new();
        if readings.is_empty() {
            moments.extend(frame.moments.iter().copied());
        }
        for reading in &readings {
            moments.extend(frame.samples_of(*reading).iter().map(|sample| sample.at));
            if let Some((_, times)) = silences.iter().find(|(of, _)| of == reading) {
                for sample in frame.samples_of(*reading) {
                    moments.extend(times.iter().map(|over| sample.at + *over));
                }
                moments.extend(times.iter().map(|over| frame.begins + *over));
            }
        }
        for test in tests {
            match &test.kind {
                TestKind::LastsLonger { than, .. } => {
                    moments.push(frame.begins + than.value);
                }
                TestKind::Overdue { .. } => moments.extend(frame.due),
                TestKind::PausedLonger { than } => {
                    for moment in frame.moments.iter().take(8) {
                        moments.push(*moment + than.value);
                    }
                }
                _ => {}
            }
        }
        // A phase in which nothing of this is recorded still has a beginning.
        moments.push(frame.begins);
        let first = frame.begins + question.not_before;
        let first = if question.settled_only {
            first.max(settled)
        } else {
            first
        };
        moments.retain(|at| *at >= first && *at <= last && over.is_none_or(|over| *at < over));
        moments.sort_unstable();
        moments.dedup();
        (moments, are_all)
    }

    /// The longest time that any of these tests looks back, in that phase.
    pub(super) fn window(&self, tests: &[&Test], phase: PhaseId) -> Exact {
        let slack = self.intervals.longest(phase);
        self.looks_back(tests, |_| slack)
    }

    /// The moment from which windows are full and everything of this has been recorded in the
    /// phase. By the intervals of the tests' own readings: what is asked for every 6 h and plays
    /// no part must not outlast a phase of 2 h.
    pub(super) fn settled(&self, frame: &Frame, tests: &[&Test]) -> Exact {
        let windows = self.looks_back(tests, |test| {
            test.kind
                .readings()
                .into_iter()
                .filter_map(|reading| self.intervals.at(reading, frame.phase))
                .max()
                .unwrap_or_else(|| self.intervals.longest(frame.phase))
        });
        let recorded = tests
            .iter()
            .flat_map(|test| test.kind.readings())
            .filter_map(|reading| {
                let mut samples = frame.samples_of(reading).iter();
                samples.find(|sample| sample.at >= frame.begins)
            })
            .map(|first| first.at)
            .max()
            .unwrap_or(frame.begins);
        recorded.max(frame.begins + windows)
    }

    fn looks_back(&self, tests: &[&Test], slack: impl Fn(&Test) -> Exact) -> Exact {
        tests
            .iter()
            .map(|test| {
                let slack = slack(test);
                let own = match &test.kind {
                    TestKind::Trend { over, .. } | TestKind::NotRecorded { over, .. } => {
                        over.value + slack
                    }
                    TestKind::LastsLonger { than, .. } => than.value,
                    TestKind::PausedLonger { than } => than.value + slack,
                    TestKind::Overdue { phase } => self.protocol[*phase]
                        .due
                        .as_ref()
                        .map_or(Exact::ZERO, |due| due.within.value),
                    TestKind::Compare { .. }
                    | TestKind::Outside { .. }
                    | TestKind::Is { .. }
                    | TestKind::OffTarget { .. }
                    | TestKind::NearTarget { .. }
                    | TestKind::Differ { .. } => Exact::ZERO,
                };
                own + test
                    .sustained
                    .as_ref()
                    .map_or(Exact::ZERO, |sustained| sustained.value + slack)
            })
            .max()
            .unwrap_or(Exact::ZERO)
    }

    pub(super) fn target_moves(&self, phase: PhaseId) -> bool {
        matches!(&self.protocol[phase].aim, Aim::Reach { rate: Some(_), .. })
    }
}

/// Which readings a question may find not recorded, and for how long.
pub(super) fn silences(tests: &[&Test]) -> Vec<(ReadingId, Vec<Exact>)> {
    let mut found: BTreeMap<ReadingId, BTreeSet<Exact>> = BTreeMap::new();
    for test in tests {
        if let TestKind::NotRecorded { reading, over } = &test.kind {
            found.entry(*reading).or_default().insert(over.value);
        }
    }
    found
        .into_iter()
        .map(|(reading, times)| (reading, times.into_iter().collect()))
        .collect()
}

/// Of one question. What goes beyond is answered "too complex", not left out.
const MOST_SILENT: usize = 6;

/// Every choice of readings that are silent, none first; and whether that is all:
/// more than [`MOST_SILENT`] are not tried together.
pub(super) fn combinations(
    silences: &[(ReadingId, Vec<Exact>)],
    at: Exact,
) -> (Vec<BTreeMap<ReadingId, Exact>>, bool) {
    let mut all = vec![BTreeMap::new()];
    for (reading, times) in silences.iter().take(MOST_SILENT) {
        let mut more = Vec::new();
        for known in &all {
            for over in times {
                let mut with = known.clone();
                with.insert(*reading, at - *over);
                more.push(with);
            }
        }
        all.extend(more);
    }
    (all, silences.len() <= MOST_SILENT)
}

/// From which moment on a question need be asked that has been asked without any order; `None`: at
/// none.
pub(super) fn first_that_differs(
    frame: &Frame,
    question: &Question<'_>,
    any: Option<Any>,
) -> Option<Exact> {
    let Some(Any {
        target: Some(AnyTarget::Course(_)),
        pause: false,
        lead_in: None,
    }) = any
    else {
        return Some(Exact::ZERO);
    };
    let Some(course) = &frame.stated else {
        return Some(Exact::ZERO);
    };
    // Who asks nothing of the target hears of a course only where it ends the phase.
    let first = if question.hangs_on_target() {
        Exact::ZERO
    } else {
        frame.widens()?
    };
    // A course that was held up can stand at every place later too. What can hold before the
    // planned arrival can behind it, as long as nothing asks how late it is or what was before,
    // and no window waits to be full.
    let tests = question.tests();
    let by_clock = tests.iter().any(|test| test.kind.is_by_clock());
    let waits =
        |test: &&Test| test.sustained.is_some() || matches!(test.kind, TestKind::Trend { .. });
    let waits = !question.settled_only && tests.iter().any(waits);
    let ahead = question
        .goals
        .iter()
        .chain(question.either.iter().flatten());
    let reaches_ahead = ahead.into_iter().any(|goal| match goal {
        Goal::Cond { during, .. } => during.is_some_and(|during| frame.reaches_ahead(during)),
        Goal::Value { .. } | Goal::NotValue { .. } => false,
    });
    let is_bounded = frame.ends.is_some() || question.before.is_some();
    match course.arrives_after() {
        Some(after) if !by_clock && !waits && !reaches_ahead && !is_bounded => {
            Some(first.max(frame.begins + after))
        }
        _ => Some(first),
    }
}
