//! Questions about one phase: is there a regular record and a moment of it at which
//! all of this holds?
//!
//! Moments are tried from the first on, so the record that answers is the shortest.
//! A question is answered "never" only when no moment is left: past the longest
//! window of the question every moment repeats an earlier one, but for a target that
//! moves, where every moment of the course is tried.
//!
//! `R not recorded` may hold at any moment: R is then silent for that long. An order
//! that pauses control or moves the target may have been given before: the question
//! is then asked once more for each rule that gives one, that rule firing first.

use super::formula::Formula;
use super::frame::Frame;
use super::scene::{Scene, Values};
use super::search::{self, Verdict};
use super::{Solver, prelude};
use crate::eval::Entry;
use crate::model::*;
use crate::quantity::Exact;
use std::collections::{BTreeMap, BTreeSet};

/// One thing that is to hold at the moment.
#[derive(Debug, Clone, Copy)]
pub enum Goal<'a> {
    Cond {
        cond: &'a Cond,
        /// The phases of its stretch; `None` where it begins with the phase.
        during: Option<&'a [At<PhaseId>]>,
        holds: bool,
    },
    /// The reading is known and compares so.
    Value {
        reading: ReadingId,
        cmp: Cmp,
        value: Exact,
    },
    /// The reading is known and does not compare so, or is not known.
    NotValue {
        reading: ReadingId,
        cmp: Cmp,
        value: Exact,
    },
}

impl<'a> Goal<'a> {
    /// The condition of a rule.
    pub fn rule(rule: &'a Rule, holds: bool) -> Self {
        Goal::Cond {
            cond: &rule.when,
            during: Some(&rule.during),
            holds,
        }
    }
}

#[derive(Debug, Clone)]
pub struct Question<'a> {
    pub phase: PhaseId,
    pub goals: Vec<Goal<'a>>,
    /// One of these at least, each list as a whole.
    pub either: Vec<Vec<Goal<'a>>>,
    pub values: Values,
    /// No moment sooner than so long after the phase begins.
    pub not_before: Exact,
    /// Only the moments once every window is full.
    pub settled_only: bool,
}

impl<'a> Question<'a> {
    pub fn new(phase: PhaseId, goals: Vec<Goal<'a>>) -> Self {
        Question {
            phase,
            goals,
            either: Vec::new(),
            values: Values::Free,
            not_before: Exact::ZERO,
            settled_only: false,
        }
    }

    pub fn with(mut self, values: Values) -> Self {
        self.values = values;
        self
    }

    pub(super) fn conds(&self) -> impl Iterator<Item = &'a Cond> + '_ {
        self.goals
            .iter()
            .chain(self.either.iter().flatten())
            .filter_map(|goal| match goal {
                Goal::Cond { cond, .. } => Some(*cond),
                Goal::Value { .. } | Goal::NotValue { .. } => None,
            })
    }

    fn tests(&self) -> Vec<&'a Test> {
        self.conds().flat_map(Cond::tests).collect()
    }
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Answer {
    Found(Box<Found>),
    Never,
    /// No regular record leads into the phase.
    NoRecord,
    TooComplex,
}

impl Answer {
    pub fn found(self) -> Option<Found> {
        match self {
            Answer::Found(found) => Some(*found),
            Answer::Never | Answer::NoRecord | Answer::TooComplex => None,
        }
    }

    pub fn is_never(&self) -> bool {
        *self == Answer::Never
    }
}

/// A regular record and the moment at which it shows what was asked for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Found {
    pub phase: PhaseId,
    pub at: Exact,
    /// Known before the start.
    pub marks: Vec<(MarkId, Exact)>,
    /// All of it, in order of time.
    pub entries: Vec<Entry>,
    /// What matters of it: time, reading, value.
    pub shown: Vec<(Exact, ReadingId, Exact)>,
    /// Nothing was recorded of these since then.
    pub silent: Vec<(ReadingId, Exact)>,
    /// The rule that has moved the target or paused control before.
    pub first: Option<RuleId>,
}

/// An order given before, by a rule that fires at `at`.
#[derive(Debug, Clone, Copy)]
pub(super) struct Before<'a> {
    pub rule: RuleId,
    pub at: Exact,
    pub effect: prelude::Effect<'a>,
}

impl Solver<'_> {
    pub fn ask(&self, question: &Question<'_>) -> Answer {
        let Some(frame) = self.frame(question.phase) else {
            return Answer::NoRecord;
        };
        let plain = self.ask_with(frame, question, None);
        if !matches!(plain, Answer::Never) {
            return plain;
        }
        let mut too_complex = false;
        for before in prelude::before(self, frame, question) {
            match self.ask_with(frame, question, Some(before)) {
                Answer::Never | Answer::NoRecord => {}
                Answer::TooComplex => too_complex = true,
                found @ Answer::Found(_) => return found,
            }
        }
        if too_complex {
            Answer::TooComplex
        } else {
            Answer::Never
        }
    }

    fn ask_with(
        &self,
        frame: &Frame,
        question: &Question<'_>,
        before: Option<Before<'_>>,
    ) -> Answer {
        let tests = question.tests();
        let silences = silences(&tests);
        let mut too_complex = false;
        for at in self.moments(frame, question, &tests, &silences) {
            if before.as_ref().is_some_and(|before| at <= before.at) {
                continue;
            }
            for silent in combinations(&silences, at) {
                let mut scene = self.scene(frame, question.values);
                scene.silent_after = silent;
                let formula = self.formula(&mut scene, frame, question, at, before);
                if formula.is_false() {
                    continue;
                }
                match search::decide(&scene.domains, &formula) {
                    Verdict::Impossible => {}
                    Verdict::TooComplex => too_complex = true,
                    Verdict::Possible(values) => {
                        let mut found = found(&scene, frame, at, &values);
                        found.first = before.map(|before| before.rule);
                        return Answer::Found(Box::new(found));
                    }
                }
            }
        }
        if too_complex {
            Answer::TooComplex
        } else {
            Answer::Never
        }
    }

    pub(super) fn scene<'s>(&'s self, frame: &'s Frame, values: Values) -> Scene<'s> {
        Scene::new((self.protocol, &self.grids, &self.intervals), frame, values)
    }

    fn formula<'s>(
        &'s self,
        scene: &mut Scene<'s>,
        frame: &'s Frame,
        question: &Question<'_>,
        at: Exact,
        before: Option<Before<'_>>,
    ) -> Formula {
        let mut all = Vec::new();
        if let Some(before) = before {
            let first = prelude::holds(self, scene, frame, before, at);
            if first.is_false() {
                return first;
            }
            all.push(first);
        }
        for goal in &question.goals {
            let formula = one(scene, frame, *goal, at);
            if formula.is_false() {
                return formula;
            }
            all.push(formula);
        }
        if !question.either.is_empty() {
            let mut any = Vec::new();
            for goals in &question.either {
                let parts: Vec<Formula> = goals
                    .iter()
                    .map(|goal| one(scene, frame, *goal, at))
                    .collect();
                any.push(Formula::all(parts));
            }
            let any = Formula::any(any);
            if any.is_false() {
                return any;
            }
            all.push(any);
        }
        all.push(self.still_running(scene, frame, at));
        Formula::all(all)
    }

    /// `ends when` has not held yet (M19).
    fn still_running(&self, scene: &mut Scene<'_>, frame: &Frame, at: Exact) -> Formula {
        let End::Awaited {
            trigger: EndTrigger::When(cond),
            at_least,
            ..
        } = &self.protocol[frame.phase].end
        else {
            return Formula::TRUE;
        };
        if matches!(scene.values, Values::OnPlan(_) | Values::HeldAlone(_)) {
            return Formula::TRUE;
        }
        let from = frame.begins + at_least.as_ref().map_or(Exact::ZERO, |least| least.value);
        let mut all = Vec::new();
        for moment in &frame.moments {
            if *moment >= from && *moment <= at {
                all.push(scene.cond(cond, frame.begins, *moment).negated());
            }
        }
        Formula::all(all)
    }

    /// The moments that can differ for this question, from the first on.
    fn moments(
        &self,
        frame: &Frame,
        question: &Question<'_>,
        tests: &[&Test],
        silences: &[(ReadingId, Vec<Exact>)],
    ) -> Vec<Exact> {
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
        let settled = frame.begins + window;
        let last = settled + self.intervals.longest(frame.phase) * Exact::int(2);
        let mut moments: BTreeSet<Exact> = BTreeSet::new();
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
                    moments.insert(frame.begins + than.value);
                }
                TestKind::Overdue { .. } => moments.extend(frame.due),
                TestKind::PausedLonger { than } => {
                    for moment in frame.moments.iter().take(8) {
                        moments.insert(*moment + than.value);
                    }
                }
                _ => {}
            }
        }
        // A phase in which nothing of this is recorded still has a beginning.
        moments.insert(frame.begins);
        let first = frame.begins + question.not_before;
        moments
            .into_iter()
            .filter(|at| *at >= first && (moves || *at <= last))
            .filter(|at| !question.settled_only || *at >= settled)
            .filter(|at| frame.ends.is_none_or(|ends| *at < ends))
            .collect()
    }

    /// The longest time that any of these tests looks back, in that phase.
    pub(super) fn window(&self, tests: &[&Test], phase: PhaseId) -> Exact {
        let slack = self.intervals.longest(phase);
        tests
            .iter()
            .map(|test| {
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

    fn target_moves(&self, phase: PhaseId) -> bool {
        matches!(&self.protocol[phase].aim, Aim::Reach { rate: Some(_), .. })
    }
}

pub(super) fn one(scene: &mut Scene<'_>, frame: &Frame, goal: Goal<'_>, at: Exact) -> Formula {
    match goal {
        Goal::Cond {
            cond,
            during,
            holds,
        } => {
            let since = match during {
                Some(during) => frame.stretch(during),
                None => frame.begins,
            };
            let formula = scene.cond(cond, since, at);
            if holds { formula } else { formula.negated() }
        }
        Goal::Value {
            reading,
            cmp,
            value,
        } => match scene.known(reading, Exact::ZERO, at) {
            Some(index) => {
                let var = scene.var(reading, index);
                scene.compare(var, cmp, value)
            }
            None => Formula::FALSE,
        },
        Goal::NotValue {
            reading,
            cmp,
            value,
        } => match scene.known(reading, Exact::ZERO, at) {
            Some(index) => {
                let var = scene.var(reading, index);
                scene.compare(var, cmp, value).negated()
            }
            None => Formula::TRUE,
        },
    }
}

/// Which readings a question may find not recorded, and for how long.
fn silences(tests: &[&Test]) -> Vec<(ReadingId, Vec<Exact>)> {
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

/// Every choice of readings that are silent, none first.
fn combinations(
    silences: &[(ReadingId, Vec<Exact>)],
    at: Exact,
) -> Vec<BTreeMap<ReadingId, Exact>> {
    // More readings missing at once than this is a unit without a nurse.
    const MOST: usize = 6;
    let mut all = vec![BTreeMap::new()];
    for (reading, times) in silences.iter().take(MOST) {
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
    all
}

pub(super) fn found(scene: &Scene<'_>, frame: &Frame, at: Exact, values: &[i64]) -> Found {
    let mut chosen: BTreeMap<(ReadingId, usize), i64> = BTreeMap::new();
    for (reading, index, var) in scene.vars() {
        if let Some(value) = values.get(var.index()) {
            chosen.insert((reading, index), *value);
        }
    }
    let mut entries = Vec::new();
    let mut shown = Vec::new();
    for (reading, _) in scene.protocol.readings() {
        for (index, sample) in scene.samples(reading).iter().enumerate() {
            if sample.at > at {
                break;
            }
            let value = match chosen.get(&(reading, scene.key(reading, index))) {
                Some(value) => {
                    shown.push((sample.at, reading, scene.grids.value(*value)));
                    *value
                }
                None => sample.plan,
            };
            entries.push(Entry::record(sample.at, reading, scene.grids.value(value)));
        }
    }
    let mut marks = Vec::new();
    for (mark, made) in &frame.marks {
        if *made > Exact::ZERO {
            entries.push(Entry::mark(*made, *mark));
        } else {
            marks.push((*mark, *made));
        }
    }
    entries.sort_by_key(|entry| entry.at);
    shown.sort();
    Found {
        phase: frame.phase,
        at,
        marks,
        entries,
        shown,
        silent: scene
            .silent_after
            .iter()
            .map(|(reading, after)| (*reading, *after))
            .collect(),
        first: None,
    }
}
