//! Each phase placed in time: how early and how late it can begin and end
//! (M17 to M25, M31).
//!
//! Takes a protocol and a case, which may be empty. Gives the first pass through
//! the phases as written; what `begin` would do is not planned. Times are exact
//! minutes from `start`. All times grow with the same few unknowns (marks before
//! the start, lengths of phases), so adding and comparing windows end by end
//! loses nothing: each bound is one that a patient can meet.
//!
//! ```text
//! cool   0:00                2:15 to 4:00      37.5 °C at most, 2.0 °C/h at most
//! hold   2:15 to 4:00        26:15 to 28:00    lasts 24 h
//! ```
//!
//! What may go wrong: a number does not fit ([`PlanError::TooLarge`]), or the
//! case says that a phase was over when it cannot have been ([`PlanError::Case`]).

use super::case::{Case, CaseError};
use super::course::Course;
use super::reach::{arrival, values_at_end};
use super::window::{ValueWindow, Window};
use crate::diag::Diagnostic;
use crate::model::{Aim, End, EndTrigger, MarkId, MarkRef, PhaseId, Protocol, ReadingId};
use crate::quantity::Exact;
use std::collections::BTreeMap;

/// The protocol placed in time.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Plan {
    /// In the order written.
    pub phases: Vec<PhasePlan>,
    /// The marks that have a place: entered by the case, bound by `start
    /// within`, or the planned end of a phase that waits for them.
    pub marks: BTreeMap<MarkId, Window>,
}

/// One phase placed in time.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PhasePlan {
    pub phase: PhaseId,
    pub start: Window,
    pub end: Window,
    /// Where the phase's reading can be when it begins and ends.
    pub start_values: ValueWindow,
    pub end_values: ValueWindow,
    /// The course at the slower rate, or at the rate of the case; none where the
    /// phase has none or nobody can know where it begins.
    pub course: Option<Course>,
    /// `ends D after MARK`: that moment, which can lie before the phase begins.
    pub fixed_end: Option<Window>,
    pub empty: Empty,
    /// Why its end cannot be placed, where it cannot.
    pub unplaced: Option<Unplaced>,
    /// The case says when it was over.
    pub over: bool,
    /// The earliest that the plan would allow, where it was over before that.
    pub sooner_than: Option<Exact>,
}

/// Whether a phase ends before it can begin (M19).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Empty {
    No,
    /// In some cases that the protocol allows.
    Possibly,
    Always,
}

/// Why the end of a phase cannot be placed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unplaced {
    /// It hangs on a mark that is not in the plan.
    NoMark(MarkRef),
    /// Nobody says where this reading is when the phase begins.
    NoArrival(ReadingId),
    /// Neither `due within` nor `at least` bounds it.
    NoLongest,
    /// Its rate is 0.
    NeverArrives,
}

/// Why there is no plan.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum PlanError {
    /// A number of the protocol or the case is too large to calculate with.
    TooLarge(Box<Diagnostic>),
    Case(CaseError),
}

impl std::fmt::Display for PlanError {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            PlanError::TooLarge(finding) => out.write_str(&finding.title),
            PlanError::Case(error) => error.fmt(out),
        }
    }
}

impl std::error::Error for PlanError {}

impl Plan {
    /// Places the protocol in time for a case.
    pub fn of(protocol: &Protocol, case: &Case) -> Result<Plan, PlanError> {
        Plan::walk(protocol, case, None)
    }

    /// `if_open` is a length to count on where the protocol gives none.
    pub(super) fn walk(
        protocol: &Protocol,
        case: &Case,
        if_open: Option<Exact>,
    ) -> Result<Plan, PlanError> {
        let mut plan = Plan {
            phases: Vec::new(),
            marks: marks_before(protocol, case),
        };
        let mut values: BTreeMap<ReadingId, ValueWindow> = arrival_values(protocol, case);
        let mut begins = Window::exactly(Exact::ZERO);
        for (id, phase) in protocol.phases() {
            let mut placed = plan.place(protocol, case, id, begins, &values)?;
            if let (None, Some(length), Some(start)) =
                (placed.end.planned, if_open, placed.start.planned)
            {
                let least = placed.end.earliest - placed.start.earliest;
                placed.end.planned = Some(start + length.max(least));
            }
            values.insert(phase.aim.reading(), placed.end_values);
            if let Some((mark, at)) = awaited_mark(&phase.end, &placed) {
                plan.marks.entry(mark).or_insert(at);
            }
            begins = placed.end;
            plan.phases.push(placed);
        }
        plan.nothing_later_than_what_is_over();
        plan.refuse_overflow(protocol)?;
        Ok(plan)
    }

    pub fn phase(&self, id: PhaseId) -> Option<&PhasePlan> {
        self.phases.iter().find(|placed| placed.phase == id)
    }

    /// When a mark is; `None` where nothing places it.
    pub fn mark(&self, mark: MarkRef) -> Option<Window> {
        match mark {
            MarkRef::Start => Some(Window::exactly(Exact::ZERO)),
            MarkRef::PhaseStart(id) => self.phase(id).map(|placed| placed.start),
            MarkRef::PhaseEnd(id) => self.phase(id).map(|placed| placed.end),
            MarkRef::Named(id) => self.marks.get(&id).copied(),
        }
    }

    /// When the case ends.
    pub fn end(&self) -> Window {
        self.phases
            .last()
            .map_or(Window::exactly(Exact::ZERO), |last| last.end)
    }

    /// The target so many minutes after a phase began; `None` where it keeps a
    /// range, or follows a course of which nobody knows where it begins.
    pub fn target_in(&self, protocol: &Protocol, id: PhaseId, minutes: Exact) -> Option<Exact> {
        match &protocol[id].aim {
            Aim::Hold { at, .. } => Some(at.value),
            Aim::Keep { .. } => None,
            Aim::Reach { rate: None, to, .. } => Some(to.value),
            Aim::Reach { rate: Some(_), .. } => self
                .phase(id)?
                .course
                .as_ref()
                .map(|course| course.target_at(minutes)),
        }
    }

    /// The target so many minutes after the start, when all goes as printed.
    pub fn target_at(&self, protocol: &Protocol, minutes: Exact) -> Option<Exact> {
        let runs = self.phases.iter().find(|placed| {
            placed.start.planned.is_some_and(|start| start <= minutes)
                && placed.end.planned.is_none_or(|end| minutes < end)
        })?;
        self.target_in(protocol, runs.phase, minutes - runs.start.planned?)
    }

    fn place(
        &self,
        protocol: &Protocol,
        case: &Case,
        id: PhaseId,
        start: Window,
        values: &BTreeMap<ReadingId, ValueWindow>,
    ) -> Result<PhasePlan, PlanError> {
        let phase = &protocol[id];
        let start_values = values
            .get(&phase.aim.reading())
            .copied()
            .unwrap_or(ValueWindow::UNKNOWN);
        let mut placed = PhasePlan {
            phase: id,
            start,
            end: start,
            start_values,
            end_values: values_at_end(&phase.aim, start_values),
            course: None,
            fixed_end: None,
            empty: Empty::No,
            unplaced: None,
            over: false,
            sooner_than: None,
        };
        // A phase may count from its own beginning.
        let mark_at = |mark: MarkRef| match mark {
            MarkRef::PhaseStart(own) if own == id => Some(start),
            other => self.mark(other),
        };
        match &phase.end {
            End::Reached => {
                let due_of_mark = phase.due.as_ref().and_then(|due| {
                    let mark = mark_at(due.of.as_ref()?.value)?;
                    Some(mark.plus(due.within.value))
                });
                let arrival = arrival((id, phase), start, start_values, due_of_mark, case);
                placed.end = arrival.end;
                placed.course = arrival.course;
                placed.unplaced = arrival.unplaced;
            }
            End::Lasts(length) => placed.end = start.plus(length.value),
            End::After { after, mark } => match mark_at(mark.value) {
                Some(at) => placed.end_at(at.plus(after.value)),
                None => placed.end_nowhere(mark.value),
            },
            End::Awaited {
                trigger,
                plan,
                at_least,
                at_most,
            } => {
                let known = match trigger {
                    EndTrigger::Mark(mark) => mark_at(mark.value),
                    EndTrigger::When(_) => None,
                };
                match known {
                    Some(at) => placed.end_at(at),
                    None => placed.end = start.plus_window(planned_length(plan)),
                }
                if let Some(least) = at_least {
                    placed.end = placed.end.later(start.plus(least.value));
                    placed.empty = Empty::No;
                }
                if let Some(most) = at_most {
                    placed.end = placed.end.sooner(start.plus(most.value));
                }
            }
        }
        placed.end_values = match placed.empty {
            Empty::No => placed.end_values,
            Empty::Possibly => placed.end_values.join(start_values),
            Empty::Always => start_values,
        };
        if let Some(over) = case.reached.get(&id) {
            self.pin(protocol, &mut placed, *over)?;
        }
        Ok(placed)
    }

    /// The case says when the phase was over.
    fn pin(
        &self,
        protocol: &Protocol,
        placed: &mut PhasePlan,
        over: Exact,
    ) -> Result<(), PlanError> {
        let phase = &protocol[placed.phase];
        let name = &phase.name.name;
        if matches!(phase.end, End::Lasts(_) | End::After { .. }) {
            return Err(PlanError::Case(
                CaseError::new(format!("`{name}` ends by the clock, not by being reached"))
                    .why("its end follows from the protocol and from when it began")
                    .help(
                        "enter when the phase before it was over, or the mark that it counts from",
                    ),
            ));
        }
        if over < placed.start.earliest {
            return Err(PlanError::Case(
                CaseError::new(format!("`{name}` cannot be over before it begins"))
                    .why(format!(
                        "it begins {} h after the start at the earliest, and is entered as over after {} h",
                        placed.start.earliest / Exact::int(60),
                        over / Exact::int(60)
                    ))
                    .help("check the time; write the date too where it lies on a later day"),
            ));
        }
        placed.sooner_than = Some(placed.end.earliest).filter(|earliest| over < *earliest);
        placed.end = Window::exactly(over);
        placed.unplaced = None;
        placed.over = true;
        Ok(())
    }

    /// No phase can have ended later than one after it that is over.
    fn nothing_later_than_what_is_over(&mut self) {
        let mut over: Option<Exact> = None;
        for placed in self.phases.iter_mut().rev() {
            if let Some(over) = over {
                placed.end = placed.end.no_later_than(over);
            }
            if let Some(end) = placed.end.exact().filter(|_| placed.over) {
                over = Some(end);
            }
            if let Some(over) = over {
                placed.start = placed.start.no_later_than(over);
            }
        }
    }

    fn refuse_overflow(&self, protocol: &Protocol) -> Result<(), PlanError> {
        for placed in &self.phases {
            let values = [placed.start_values, placed.end_values];
            let too_large = placed.start.overflows()
                || placed.end.overflows()
                || placed.fixed_end.is_some_and(|end| end.overflows())
                || values
                    .iter()
                    .flat_map(|window| [window.low, window.high])
                    .flatten()
                    .any(Exact::is_overflow);
            if too_large {
                let phase = &protocol[placed.phase];
                let finding = Diagnostic::error(
                    "number-too-large",
                    phase.span,
                    format!(
                        "the times of `{}` cannot be calculated exactly",
                        phase.name.name
                    ),
                )
                .why("a time that is only nearly right must not be printed")
                .help("write its durations and rates with fewer digits")
                .source("structural");
                return Err(PlanError::TooLarge(Box::new(finding)));
            }
        }
        Ok(())
    }
}

impl PhasePlan {
    /// Ends at that moment, or as it begins where that is past (M19).
    fn end_at(&mut self, at: Window) {
        self.fixed_end = Some(at);
        self.end = self.start.later(at);
        self.empty = if at
            .latest
            .is_some_and(|latest| latest <= self.start.earliest)
        {
            Empty::Always
        } else if self.start.latest.is_none_or(|start| at.earliest < start) {
            Empty::Possibly
        } else {
            Empty::No
        };
    }

    /// Ends some time after a mark that nothing places.
    fn end_nowhere(&mut self, mark: MarkRef) {
        self.end = Window::open_from(self.start.earliest);
        self.empty = Empty::Possibly;
        self.unplaced = Some(Unplaced::NoMark(mark));
    }
}

/// Where the mark lies that a phase waits for: whatever bounds the phase, the
/// mark itself can come later.
fn awaited_mark(end: &End, placed: &PhasePlan) -> Option<(MarkId, Window)> {
    let End::Awaited {
        trigger: EndTrigger::Mark(mark),
        plan,
        ..
    } = end
    else {
        return None;
    };
    let MarkRef::Named(mark) = mark.value else {
        return None;
    };
    let at = if placed.over {
        placed.end
    } else {
        placed.start.plus_window(planned_length(plan))
    };
    Some((mark, at))
}

/// Marks that have their place before any phase has.
fn marks_before(protocol: &Protocol, case: &Case) -> BTreeMap<MarkId, Window> {
    let mut marks = BTreeMap::new();
    if let Some(start) = &protocol.head.start_within {
        // The plan counts on the longest: a mark just at the start.
        marks.insert(start.of, Window::between(-start.within.value, Exact::ZERO));
    }
    for (mark, at) in &case.marks {
        marks.insert(*mark, Window::exactly(*at));
    }
    marks
}

/// Where readings are on arrival: what the case says, or else what the protocol allows.
fn arrival_values(protocol: &Protocol, case: &Case) -> BTreeMap<ReadingId, ValueWindow> {
    let allowed = protocol
        .head
        .patients
        .on_arrival
        .iter()
        .map(|(id, range)| (*id, ValueWindow::between(range.low.value, range.high.value)));
    let known = case
        .arrival
        .iter()
        .map(|(id, value)| (*id, ValueWindow::exactly(value.value)));
    allowed.chain(known).collect()
}

/// `plan for D [to D]`; later than that it is open.
fn planned_length(plan: &crate::model::Planned) -> Window {
    let first = plan.first.value;
    let last = plan.last.as_ref().map_or(first, |last| last.value);
    Window {
        earliest: first.min(last),
        planned: Some(first.max(last)),
        latest: None,
    }
}
