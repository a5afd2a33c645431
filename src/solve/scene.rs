//! Conditions over a frame, as formulas over the values recorded in it (M6 to M12).
//!
//! One variable stands for one reading at one time; variables are made as they are
//! needed. A condition at a moment becomes a [`Formula`] that holds exactly where
//! the evaluator, given those records, finds that the condition holds. Where a
//! reading is unknown no comparison on it holds, whatever its value: that is decided
//! by the times alone.
//!
//! ```text
//! core above 33.5 for 1 h, hourly, at 2:00   ->  core@2:00 > 33.5 and core@1:00 > 33.5
//! core rises more than 0.5 in 1 h            ->  core@2:00 - core@1:00 > 0.5 or …
//! ```

use super::compiled::{Compiled, known_or_added};
use super::formula::{Domain, Domains, Formula, Var};
use super::frame::{Frame, Sample};
use super::grid::Grids;
use super::intervals::Intervals;
use crate::eval::Aimed;
use crate::model::*;
use crate::plan::Course;
use crate::quantity::Exact;
use std::collections::BTreeMap;

/// What the values of a question may be.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Values {
    /// Any, each at each time.
    Free,
    /// Any, but each reading the same all the time.
    Held,
    /// That reading as planned, all others unknown.
    OnPlan(ReadingId),
    /// That reading any, but the same all the time; all others unknown.
    HeldAlone(ReadingId),
}

/// Targets and pauses that orders can bring about, without asking which orders.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Any {
    pub target: Option<AnyTarget>,
    /// Control can have been paused for any time.
    pub pause: bool,
    /// What was recorded until the phase began can be another thing than the shortest way into
    /// it asks for.
    pub lead_in: Option<LeadIn>,
}

/// What another way into a phase can change.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum LeadIn {
    /// A mark ends a phase ahead, and what can hold over its end can hold later in this one too.
    Length,
    /// A value ends one, or an order begins this one, or what is asked about hangs on how often
    /// was looked, on the target or on the clock: what was recorded by then.
    Values,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum AnyTarget {
    /// From the lowest to the highest, in whole units.
    Between(i64, i64),
    /// A course that orders have held up or bent.
    Course(Bent),
    /// Between units as well: a comparison with it decides nothing.
    Free,
}

/// What orders can do to a course, but for holding it up.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Bent {
    /// The lowest and the highest value that one can set it to.
    pub set: Option<(Exact, Exact)>,
    /// One can make it run faster.
    pub faster: bool,
    /// One begins the phase: then the course begins where the patient is, if that is farther.
    pub farther: bool,
    /// All that they name stands on whole units.
    pub whole: bool,
}

/// How far the records of a frame are held to the plan.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Hash)]
pub struct Held {
    /// The course may have been held up: [`Sample::wide`].
    pub wide: bool,
    /// The way into the phase may have been another one: [`Sample::display`].
    pub another_way: Option<LeadIn>,
}

/// How a course was held up.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct HeldUp {
    /// It stands still from then on.
    pub since: Exact,
    /// It goes on from where it stands; `None` where it has not yet.
    pub until: Option<Exact>,
}

pub struct Scene<'s> {
    pub protocol: &'s Protocol,
    pub frame: &'s Frame,
    pub grids: &'s Grids,
    pub intervals: &'s Intervals,
    pub values: Values,
    /// Nothing is recorded of that reading after that moment.
    pub silent_after: BTreeMap<ReadingId, Exact>,
    /// What an order has done before: control paused since then.
    pub paused_since: Option<Exact>,
    /// What an order has made of the target, for looks later than that.
    pub target_after: Option<(Exact, Aimed)>,
    pub held_up: Option<HeldUp>,
    /// An order has put it elsewhere, or changed its rate: from then on it is this one.
    pub anew: Option<(Exact, Course)>,
    pub held: Held,
    /// For a proof: whatever orders make of the target and of control.
    pub any: Option<Any>,
    /// The moments at which it was asked how long control has been paused.
    pub(super) pauses: Vec<Exact>,
    /// For a proof: what holds of the stand-ins, whatever the question.
    pub(super) beside: Vec<Formula>,
    /// By look: the target there, rounded down and up to whole units.
    pub(super) targets: BTreeMap<Exact, (Var, Var)>,
    pub domains: Domains,
    pub(super) vars: BTreeMap<(ReadingId, usize), Var>,
}

impl<'s> Scene<'s> {
    pub fn new(
        (protocol, grids, intervals): (&'s Protocol, &'s Grids, &'s Intervals),
        frame: &'s Frame,
        values: Values,
    ) -> Self {
        Scene {
            protocol,
            frame,
            grids,
            intervals,
            values,
            silent_after: BTreeMap::new(),
            paused_since: None,
            target_after: None,
            held_up: None,
            anew: None,
            held: Held::default(),
            any: None,
            pauses: Vec::new(),
            beside: Vec::new(),
            targets: BTreeMap::new(),
            domains: Domains::default(),
            vars: BTreeMap::new(),
        }
    }

    /// The variables made so far, with reading and place among its samples.
    pub fn vars(&self) -> impl Iterator<Item = (ReadingId, usize, Var)> + '_ {
        self.vars
            .iter()
            .map(|((reading, at), var)| (*reading, *at, *var))
    }

    /// The records of a reading that are made.
    pub fn samples(&self, reading: ReadingId) -> &'s [Sample] {
        let unknown = match self.values {
            Values::Free | Values::Held => false,
            Values::OnPlan(only) | Values::HeldAlone(only) => reading != only,
        };
        let samples = self.frame.samples_of(reading);
        let made = match self.silent_after.get(&reading) {
            _ if unknown => 0,
            Some(after) => samples.partition_point(|sample| sample.at <= *after),
            None => samples.len(),
        };
        samples.get(..made).unwrap_or_default()
    }

    /// The place of the record that is known at a moment of a stretch.
    pub fn known(&self, reading: ReadingId, since: Exact, at: Exact) -> Option<usize> {
        let samples = self.samples(reading);
        let index = samples
            .partition_point(|sample| sample.at <= at)
            .checked_sub(1)?;
        samples
            .get(index)
            .filter(|sample| sample.at >= since && sample.known_until >= at)
            .map(|_| index)
    }

    pub fn var(&mut self, reading: ReadingId, index: usize) -> Var {
        let key = self.key(reading, index);
        if let Some(var) = self.vars.get(&(reading, key)) {
            return *var;
        }
        let domain = self.domain(reading, index);
        let var = self.domains.add(domain);
        self.vars.insert((reading, key), var);
        var
    }

    /// A condition that was turned into a formula before, over this scene's variables.
    pub fn import(&mut self, compiled: &Compiled) -> Formula {
        compiled.over(|record, domain| {
            known_or_added(&mut self.vars, &mut self.domains, record, domain)
        })
    }

    /// Held values share one variable; what stands fixed ahead of them does not.
    pub fn key(&self, reading: ReadingId, index: usize) -> usize {
        match self.values {
            Values::Held | Values::HeldAlone(_) if self.is_held(reading, index) => 0,
            Values::Held | Values::HeldAlone(_) => index + 1,
            Values::Free | Values::OnPlan(_) => index,
        }
    }

    fn is_held(&self, reading: ReadingId, index: usize) -> bool {
        self.samples(reading)
            .get(index)
            .is_some_and(|sample| self.is_own(reading, sample))
    }

    /// Whether the phase itself decides what this record may show. The one that ended
    /// the phase before (M17) must be where that one ends: 33.0 °C after cooling,
    /// however warm the patient gets from then on.
    fn is_own(&self, reading: ReadingId, sample: &Sample) -> bool {
        let (low, high) = self.within(sample);
        if sample.at < self.frame.begins || low >= high {
            return false;
        }
        let leads_in = sample.at == self.frame.begins
            && self.frame.runs.len() > 1
            && self
                .grids
                .domain(reading)
                .is_some_and(|grid| low > grid.low || high < grid.high);
        !leads_in
            || self
                .samples(reading)
                .last()
                .is_none_or(|last| last.at == sample.at)
    }

    fn within(&self, sample: &Sample) -> (i64, i64) {
        if self.held.another_way == Some(LeadIn::Values) && sample.at <= self.frame.begins {
            sample.display
        } else if self.held.wide {
            sample.wide
        } else {
            (sample.low, sample.high)
        }
    }

    pub(super) fn domain(&self, reading: ReadingId, index: usize) -> Domain {
        let grid = self.grids.domain(reading).unwrap_or(Domain {
            low: 1,
            high: 0,
            step: 1,
            plan: 0,
        });
        let samples = self.samples(reading);
        let Some(sample) = samples.get(index) else {
            return grid;
        };
        let (low, high) = self.within(sample);
        match self.values {
            Values::Free => Domain {
                low,
                high,
                step: grid.step,
                plan: sample.plan,
            },
            Values::Held | Values::HeldAlone(_) if self.is_held(reading, index) => {
                // Only what the phase itself asks of its own records.
                let own = || {
                    let own = samples.iter().filter(|sample| self.is_own(reading, sample));
                    own.fold((grid.low, grid.high), |(low, high), sample| {
                        let (least, most) = self.within(sample);
                        (low.max(least), high.min(most))
                    })
                };
                let whole = self.held.another_way.is_none()
                    && samples.len() == self.frame.samples_of(reading).len();
                let (low, high) = match self.frame.held.get(reading.index()) {
                    Some([by_plan, _]) if whole && !self.held.wide => *by_plan.get_or_init(own),
                    Some([_, wide]) if whole => *wide.get_or_init(own),
                    _ => own(),
                };
                Domain {
                    low,
                    high,
                    step: grid.step,
                    plan: samples.last().map_or(grid.plan, |sample| sample.plan),
                }
            }
            Values::OnPlan(_) | Values::Held | Values::HeldAlone(_) => Domain {
                low: sample.plan,
                high: sample.plan,
                step: grid.step,
                plan: sample.plan,
            },
        }
    }

    /// When the stretch of a goal's condition began.
    pub fn since(&self, during: Option<&[At<PhaseId>]>) -> Exact {
        let Some(during) = during else {
            return self.frame.begins;
        };
        let since = self.frame.stretch(during);
        if self.held.another_way.is_some() && self.frame.reaches_ahead(during) {
            // Another way into the phase takes some time at least.
            return since.min(self.frame.begins - Exact::ONE);
        }
        since
    }

    /// The condition at a moment, in a stretch that began at `since`.
    pub fn cond(&mut self, cond: &Cond, since: Exact, at: Exact) -> Formula {
        match cond {
            Cond::Test(test) => self.test(test, since, at),
            Cond::All(parts) => {
                let mut all = Vec::with_capacity(parts.len());
                for part in parts {
                    let formula = self.cond(part, since, at);
                    if formula.is_false() {
                        return formula;
                    }
                    all.push(formula);
                }
                Formula::all(all)
            }
            Cond::Any(parts) => {
                let mut any = Vec::with_capacity(parts.len());
                for part in parts {
                    let formula = self.cond(part, since, at);
                    if formula.is_true() {
                        return formula;
                    }
                    any.push(formula);
                }
                Formula::any(any)
            }
        }
    }

    pub fn test(&mut self, test: &Test, since: Exact, at: Exact) -> Formula {
        if let (TestKind::PausedLonger { than }, Some(Any { pause: true, .. })) =
            (&test.kind, self.any)
        {
            return self.any_pause(than.value, at);
        }
        if self.held.another_way.is_some()
            && since < self.frame.begins
            && self.reaches_back(test, at)
        {
            return self.open_but_for_last(test, since, at);
        }
        if test.kind.is_by_clock() {
            return Formula::of(self.clock(&test.kind, since, at));
        }
        let readings = test.kind.readings();
        if readings
            .iter()
            .any(|reading| self.known(*reading, since, at).is_none())
        {
            return Formula::FALSE;
        }
        let from = since.max(at - self.looks_back(test));
        let looks = self.looks(&readings, since, (from, at));
        let Some(last) = looks.last().copied() else {
            return Formula::FALSE;
        };
        let Some(sustained) = &test.sustained else {
            return self.at_look(&test.kind, &looks, since, last);
        };
        let Some(first) = self.sustained_from(&readings, &looks, sustained.value) else {
            return Formula::FALSE;
        };
        let mut all = Vec::new();
        for (index, look) in looks.iter().enumerate().skip(first) {
            let upto = looks.get(..=index).unwrap_or_default();
            let formula = self.at_look(&test.kind, upto, since, *look);
            if formula.is_false() {
                return formula;
            }
            all.push(formula);
        }
        Formula::all(all)
    }

    /// A test whose windows begin before the phase, where it is not known what was recorded when:
    /// what has to hold for a time holds at the last look too, and that may lie within the phase.
    fn open_but_for_last(&mut self, test: &Test, since: Exact, at: Exact) -> Formula {
        let open = self.open();
        let is_trend = matches!(test.kind, TestKind::Trend { .. });
        if test.sustained.is_none() || is_trend || test.kind.is_by_clock() {
            return open;
        }
        let readings = test.kind.readings();
        let looks = match readings.as_slice() {
            [_] => self.looks(&readings, since, (self.frame.begins, at)),
            // One of them may be known from before.
            _ => return open,
        };
        match looks.last().copied() {
            Some(last) => Formula::all([open, self.at_look(&test.kind, &looks, since, last)]),
            None => open,
        }
    }

    fn clock(&self, kind: &TestKind, since: Exact, at: Exact) -> bool {
        match kind {
            TestKind::NotRecorded { reading, over } => {
                let samples = self.samples(*reading);
                let last = samples
                    .partition_point(|sample| sample.at <= at)
                    .checked_sub(1)
                    .and_then(|index| samples.get(index))
                    .map_or(since, |sample| sample.at.max(since));
                // A reading that plays no part is not missing either.
                !matches!(self.values, Values::OnPlan(_) | Values::HeldAlone(_))
                    && last + over.value <= at
            }
            TestKind::LastsLonger { phase, than } => {
                *phase == self.frame.phase && self.frame.begins + than.value <= at
            }
            TestKind::Overdue { phase } => {
                *phase == self.frame.phase && self.frame.due.is_some_and(|due| due <= at)
            }
            TestKind::PausedLonger { than } => self
                .paused_since
                .is_some_and(|paused| paused + than.value <= at),
            TestKind::Compare { .. }
            | TestKind::Outside { .. }
            | TestKind::Is { .. }
            | TestKind::OffTarget { .. }
            | TestKind::NearTarget { .. }
            | TestKind::Differ { .. }
            | TestKind::Trend { .. } => false,
        }
    }
}
