//! Head, people, marks, readings, looks, rules, ladders, checklists, limits.

use super::condition::Cond;
use super::order::{Action, AskWay};
use super::words::{
    Analyte, Event, Guideline, Means, Medium, Occasion, Population, Purpose, Scale, Sign, Site,
    Topic,
};
use super::*;
use crate::quantity::{Age, Change, Duration, Exact, Level, Share, Unit, Weight};

/// What stands once in every protocol.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Head {
    pub title: Text,
    pub unit: Text,
    pub version: At<Version>,
    pub review: At<jiff::civil::Date>,
    pub purpose: At<Purpose>,
    pub after: Option<At<Event>>,
    pub patients: Patients,
    pub method: Method,
    pub timezone: At<String>,
    pub guidelines: Vec<At<Guideline>>,
    pub start_within: Option<StartWithin>,
    pub shifts: Vec<At<jiff::civil::Time>>,
    /// Entries an hour that a nurse can make; 24 where the protocol is silent.
    pub workload: Option<At<u32>>,
    /// `show °C and °F`: each temperature is printed in both.
    pub both_scales: bool,
    pub approvals: Vec<Approval>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Version {
    pub major: u32,
    pub minor: u32,
    pub patch: u32,
}

impl std::fmt::Display for Version {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(out, "{}.{}.{}", self.major, self.minor, self.patch)
    }
}

/// Both ends are in the range.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Range<Q> {
    pub low: Q,
    pub high: Q,
    pub span: Span,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Patients {
    pub group: At<Population>,
    pub weight: Option<Range<Weight>>,
    pub birth_weight: Option<Range<Weight>>,
    pub age: Option<Range<Age>>,
    pub gestation: Option<Range<Age>>,
    pub on_arrival: Vec<(ReadingId, Range<Level>)>,
    pub reason: Reason,
    pub span: Span,
}

impl Patients {
    /// The weight that doses go by: the weight, or else the birth weight.
    pub fn dosing_weight(&self) -> Option<&Range<Weight>> {
        self.weight.as_ref().or(self.birth_weight.as_ref())
    }
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Method {
    pub means: Vec<At<Means>>,
    pub feedback: Option<At<ReadingId>>,
    pub span: Span,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StartWithin {
    pub within: Duration,
    pub of: MarkId,
    pub reason: Reason,
    pub span: Span,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Approval {
    pub by: Text,
    pub on: At<jiff::civil::Date>,
    pub fingerprint: Text,
    pub reason: Reason,
    pub span: Span,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Used {
    pub path: String,
    /// The library's own name.
    pub name: String,
    pub title: Option<Text>,
    pub version: Option<At<Version>>,
    pub review: Option<At<jiff::civil::Date>>,
    /// The `use` statement.
    pub span: Span,
}

/// A named value. Where it is used its quantity stands too, with that place's type.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Let {
    pub name: Named,
    /// As written after `=`.
    pub written: String,
    pub reason: Reason,
    pub span: Span,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Cite {
    pub name: Named,
    pub text: Text,
    pub span: Span,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Role {
    pub name: Named,
    pub title: Text,
    pub no_reply: Option<(Duration, RoleId)>,
    pub span: Span,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mark {
    pub name: Named,
    pub title: Text,
    pub span: Span,
}

/// A moment that the protocol can point at.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum MarkRef {
    /// 0:00.
    Start,
    PhaseStart(PhaseId),
    PhaseEnd(PhaseId),
    Named(MarkId),
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum CriterionKind {
    Include,
    Exclude,
    Caution,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Criterion {
    pub kind: CriterionKind,
    pub text: Text,
    pub covers: Vec<At<Topic>>,
    pub reason: Reason,
    pub span: Span,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Reading {
    pub name: Named,
    pub title: Text,
    pub kind: ReadingKind,
    pub continuous: bool,
    /// The display step (M4).
    pub shown_to: Option<Change>,
    pub accurate_to: Option<Change>,
    pub reads: Option<Range<Level>>,
    pub good_for: Option<Duration>,
    pub reason: Reason,
    pub span: Span,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub enum ReadingKind {
    Body(At<Site>),
    Medium(At<Medium>),
    Score {
        of: Option<At<Scale>>,
        low: i64,
        high: i64,
    },
    Amount {
        of: Option<At<Analyte>>,
        /// `None` for a pH and other bare numbers.
        unit: Option<&'static Unit>,
    },
    Choice {
        of: Option<At<Sign>>,
        words: Vec<Named>,
    },
}

impl ReadingKind {
    pub fn is_temperature(&self) -> bool {
        matches!(self, ReadingKind::Body(_) | ReadingKind::Medium(_))
    }

    pub fn is_body(&self) -> bool {
        matches!(self, ReadingKind::Body(_))
    }
}

impl Reading {
    /// The values that a record may have (M4): lowest, highest and step, in the
    /// reading's unit. A choice counts its words from 0. `None` where the author
    /// has not said enough.
    pub fn grid(&self) -> Option<Grid> {
        let step = self.step()?;
        let (low, high) = self.bounds()?;
        // Whole steps counted from zero, as a display shows them.
        Some(Grid {
            low: low.round_up_to(step),
            high: high.round_down_to(step),
            step,
        })
    }

    /// From one value that a record may have to the next.
    pub fn step(&self) -> Option<Exact> {
        let step = match &self.kind {
            ReadingKind::Score { .. } | ReadingKind::Choice { .. } => Exact::ONE,
            ReadingKind::Body(_) | ReadingKind::Medium(_) | ReadingKind::Amount { .. } => {
                self.shown_to.as_ref()?.value
            }
        };
        (step > Exact::ZERO).then_some(step)
    }

    /// What it reads, as written or as usual for its kind.
    fn bounds(&self) -> Option<(Exact, Exact)> {
        if let Some(range) = &self.reads {
            return Some((range.low.value, range.high.value));
        }
        let (low, high) = match &self.kind {
            ReadingKind::Body(_) => (20, 45),
            ReadingKind::Medium(_) => (0, 100),
            ReadingKind::Score { low, high, .. } => (*low, *high),
            ReadingKind::Choice { words, .. } => {
                (0, i64::try_from(words.len()).ok()?.checked_sub(1)?)
            }
            ReadingKind::Amount { .. } => return None,
        };
        Some((Exact::int(low), Exact::int(high)))
    }
}

/// The values that a reading can take: `low`, `low + step` … `high`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Grid {
    pub low: Exact,
    pub high: Exact,
    pub step: Exact,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Limit {
    pub reading: ReadingId,
    pub side: Side,
    pub level: Level,
    pub reason: Reason,
    pub span: Span,
}

/// Something that is asked for or done at set times.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Look {
    pub when: LookWhen,
    pub what: LookWhat,
    pub reason: Reason,
    pub span: Span,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub enum LookWhen {
    /// Empty `during` is the whole case.
    Every {
        interval: Duration,
        during: Vec<At<PhaseId>>,
    },
    /// `at MARK`, `at D after MARK`.
    At {
        after: Option<Duration>,
        mark: At<MarkRef>,
    },
    /// `at D before PHASE.start`.
    Before {
        before: Duration,
        phase: At<PhaseId>,
    },
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub enum LookWhat {
    Ask {
        way: AskWay,
        readings: Vec<At<ReadingId>>,
        then_follow: Option<At<LadderId>>,
    },
    Do {
        text: Text,
        covers: Vec<At<Topic>>,
    },
    Give(At<MedicationId>),
    /// Only with `at`.
    Order(Action),
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rule {
    pub name: Named,
    pub when: Cond,
    /// Empty is the whole case.
    pub during: Vec<At<PhaseId>>,
    pub then: Vec<Action>,
    pub ready_again: Option<Cond>,
    pub again_after: Option<Duration>,
    pub overrides: Vec<At<RuleId>>,
    pub reason: Reason,
    pub span: Span,
    /// The `when` statement.
    pub when_span: Span,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Ladder {
    pub name: Named,
    pub title: Text,
    pub reading: At<ReadingId>,
    pub form: LadderForm,
    pub span: Span,
}

impl Ladder {
    /// What its rungs or steps order, each with the place of that one.
    pub fn actions(&self) -> impl Iterator<Item = (usize, &Action)> {
        let each: Vec<&[Action]> = match &self.form {
            LadderForm::Rungs(rungs) => rungs.iter().map(|rung| &rung.actions[..]).collect(),
            LadderForm::Steps { steps, .. } => steps.iter().map(|step| &step.actions[..]).collect(),
        };
        each.into_iter()
            .enumerate()
            .flat_map(|(at, actions)| actions.iter().map(move |action| (at, action)))
    }
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub enum LadderForm {
    /// The rung is chosen by the value.
    Rungs(Vec<Rung>),
    /// Step after step until the goal is met.
    Steps { goal: Goal, steps: Vec<LadderStep> },
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rung {
    pub band: RungBand,
    pub title: Text,
    pub actions: Vec<Action>,
    pub recheck: Option<Duration>,
    pub reason: Reason,
    pub span: Span,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub enum RungBand {
    Values { low: Level, high: Level },
    Compare { cmp: Cmp, level: Level },
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Goal {
    Compare {
        cmp: Cmp,
        level: Level,
    },
    /// Index of the word in the choice.
    Is(At<usize>),
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LadderStep {
    pub title: Text,
    pub actions: Vec<Action>,
    pub recheck: Option<Duration>,
    pub reason: Reason,
    pub span: Span,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Checklist {
    pub name: Named,
    pub title: Text,
    pub at: At<Occasion>,
    pub steps: Vec<CheckStep>,
    pub span: Span,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CheckStep {
    pub text: Text,
    /// A field to write in: what it is called, and its unit (empty for none).
    pub record: Option<(Named, String)>,
    pub two_people: bool,
    pub covers: Vec<At<Topic>>,
    pub reason: Reason,
    pub span: Span,
}

/// A finding that the committee has seen and lets stand.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Accept {
    pub finding: Named,
    pub on: Option<Named>,
    pub because: Text,
    pub by: Text,
    pub until: At<jiff::civil::Date>,
    pub span: Span,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Measure {
    pub name: Named,
    pub title: Text,
    pub what: MeasureWhat,
    pub during: Vec<At<PhaseId>>,
    pub goal: Option<MeasureGoal>,
    pub span: Span,
}

/// What a measure is meant to come to in each case.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MeasureGoal {
    pub bound: Bound,
    pub value: GoalValue,
    pub span: Span,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Bound {
    AtMost,
    AtLeast,
}

impl Bound {
    pub fn word(self) -> &'static str {
        match self {
            Bound::AtMost => "at most",
            Bound::AtLeast => "at least",
        }
    }

    /// The bound itself is allowed.
    pub fn allows(self, value: Exact, bound: Exact) -> bool {
        match self {
            Bound::AtMost => value <= bound,
            Bound::AtLeast => value >= bound,
        }
    }
}

/// A value of the kind that the measure has.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum GoalValue {
    Share(Share),
    Length(Duration),
    /// Differences of this reading, times hours.
    Area(ReadingId, Change),
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub enum MeasureWhat {
    /// Share of time for which the condition holds.
    Share(Cond),
    /// Length of that time.
    Length(Cond),
    Area {
        reading: ReadingId,
        side: Side,
        level: Level,
    },
}
