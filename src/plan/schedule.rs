//! Everything that is due at a set time, in the order of time (M5, M8, M19).
//!
//! Takes a protocol and a case; gives the boxes to fill, tasks, doses and shift
//! checks of the first pass, each with its minute from `start` and the phase that
//! runs then. Phases are laid out at the times that a sheet prints, the slow side
//! of the plan; a phase whose end the plan cannot place is laid out for
//! [`ASSUMED_MINUTES`] and marked. What rules and ladders order is not in it.
//!
//! Nothing is lost silently: an `at` whose moment nobody knows yet, or which lies
//! before the start or after the end, is in [`Schedule::unplaced`]. What may go
//! wrong: intervals so short that the list would be longer than [`MOST_DUE`].

use super::case::Case;
use super::timeline::{Plan, PlanError};
use super::window::Window;
use crate::diag::Diagnostic;
use crate::model::words::Occasion;
use crate::model::{
    AskWay, Checklist, ChecklistId, LadderId, Look, LookWhat, LookWhen, MarkRef, MedicationId,
    Order, PhaseId, Protocol, ReadingId,
};
use crate::quantity::Exact;
use crate::source::Span;

/// How long a phase is laid out for where nothing says how long it can take.
pub const ASSUMED_MINUTES: i64 = 24 * 60;

/// No sheet is this long; a protocol that asks for more has a wrong interval.
pub const MOST_DUE: usize = 100_000;

/// Without `shifts` a check for each shift is due this often (M5).
const SHIFT_MINUTES: i64 = 12 * 60;

/// All that is due at set times.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Schedule {
    /// By time; at one time in the order of the protocol.
    pub due: Vec<Due>,
    /// The phases as they were laid out.
    pub layout: Vec<Laid>,
    /// `at` looks without a time in the case.
    pub unplaced: Vec<Unscheduled>,
    /// Shift checks that hang on the clock, in a case without one.
    pub by_shift_clock: Vec<ChecklistId>,
}

/// One thing that is due.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Due {
    /// Minutes from `start`.
    pub at: Exact,
    pub phase: PhaseId,
    pub what: DueWhat,
}

/// A `look` is its place among `Protocol::looks`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum DueWhat {
    /// A box to fill: one for each reading and time, whoever asks.
    Ask {
        reading: ReadingId,
        way: AskWay,
        then_follow: Vec<LadderId>,
    },
    Task {
        look: usize,
    },
    Dose {
        look: usize,
        medication: MedicationId,
    },
    /// `at … ACTION`
    Order {
        look: usize,
    },
    Checklist(ChecklistId),
}

/// A phase as it was laid out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Laid {
    pub phase: PhaseId,
    pub start: Exact,
    pub end: Exact,
    /// Its end, or that of a phase before it, is not in the plan but assumed.
    pub assumed: bool,
}

/// An `at` look that has no time in the case.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Unscheduled {
    pub look: usize,
    pub why: NoTime,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NoTime {
    /// It is due so many minutes after a mark that has no exact time yet.
    Waits {
        mark: MarkRef,
        after: Exact,
    },
    BeforeStart(Exact),
    AfterEnd(Exact),
}

/// The shortest `every` that asks for a reading in a phase, in minutes (M5).
pub fn interval_in_force(protocol: &Protocol, reading: ReadingId, phase: PhaseId) -> Option<Exact> {
    protocol
        .looks
        .iter()
        .filter(|look| match &look.what {
            LookWhat::Ask { readings, .. } => readings.iter().any(|at| at.value == reading),
            LookWhat::Do { .. } | LookWhat::Give(_) | LookWhat::Order(_) => false,
        })
        .filter_map(|look| match &look.when {
            LookWhen::Every { interval, during } => (during.is_empty()
                || during.iter().any(|at| at.value == phase))
            .then_some(interval.value),
            LookWhen::At { .. } | LookWhen::Before { .. } => None,
        })
        .min()
}

/// Lays the case out and lists what is due in it.
pub fn schedule(protocol: &Protocol, case: &Case) -> Result<Schedule, PlanError> {
    let plan = Plan::walk(protocol, case, Some(Exact::int(ASSUMED_MINUTES)))?;
    let active = plan
        .phases
        .iter()
        .filter(|placed| protocol.is_active(&protocol[placed.phase]));
    let mut maker = Maker {
        protocol,
        control: active
            .filter_map(|placed| Some((placed.start.earliest, placed.end.planned?)))
            .collect(),
        end: Exact::ZERO,
        made: Schedule {
            due: Vec::new(),
            layout: lay_out(&plan),
            unplaced: Vec::new(),
            by_shift_clock: Vec::new(),
        },
    };
    maker.end = maker
        .made
        .layout
        .last()
        .map_or(Exact::ZERO, |last| last.end);
    for (index, look) in protocol.looks.iter().enumerate() {
        match &look.when {
            LookWhen::Every { interval, during } => {
                let during: Vec<PhaseId> = during.iter().map(|at| at.value).collect();
                for (from, to) in stretches(&maker.made.layout, &during) {
                    maker.every(index, look, interval.value, from, to)?;
                }
            }
            LookWhen::At { after, mark } => {
                let after = after.as_ref().map_or(Exact::ZERO, |after| after.value);
                match known(&plan, mark.value) {
                    Some(at) => maker.once(index, look, at + after)?,
                    None => maker.made.unplaced.push(Unscheduled {
                        look: index,
                        why: NoTime::Waits {
                            mark: mark.value,
                            after,
                        },
                    }),
                }
            }
            LookWhen::Before { before, phase } => {
                if let Some(at) = known(&plan, MarkRef::PhaseStart(phase.value)) {
                    // Already past when the case begins: at once (M19).
                    maker.once(index, look, (at - before.value).max(Exact::ZERO))?;
                }
            }
        }
    }
    maker.shift_checks(case)?;
    Ok(maker.finish())
}

fn lay_out(plan: &Plan) -> Vec<Laid> {
    let mut assumed = false;
    plan.phases
        .iter()
        .filter_map(|placed| {
            assumed |= placed.unplaced.is_some();
            Some(Laid {
                phase: placed.phase,
                start: placed.start.planned?,
                end: placed.end.planned?,
                assumed,
            })
        })
        .collect()
}

/// The moment at which a mark is laid out: its own where it is known exactly,
/// that of the layout for a phase.
fn known(plan: &Plan, mark: MarkRef) -> Option<Exact> {
    match mark {
        MarkRef::Start => Some(Exact::ZERO),
        MarkRef::PhaseStart(_) | MarkRef::PhaseEnd(_) => plan.mark(mark)?.planned,
        MarkRef::Named(_) => plan.mark(mark).as_ref().and_then(Window::exact),
    }
}

/// The unbroken times in those phases (M8); in the whole case where none is
/// named. A phase that takes no time neither makes a stretch nor breaks one.
fn stretches(layout: &[Laid], during: &[PhaseId]) -> Vec<(Exact, Exact)> {
    let mut found: Vec<(Exact, Exact)> = Vec::new();
    for laid in layout.iter().filter(|laid| laid.start < laid.end) {
        if !during.is_empty() && !during.contains(&laid.phase) {
            continue;
        }
        match found.last_mut() {
            Some((_, end)) if *end == laid.start => *end = laid.end,
            _ => found.push((laid.start, laid.end)),
        }
    }
    found
}

struct Maker<'a> {
    protocol: &'a Protocol,
    /// From the earliest beginning to the planned end of each phase with active control.
    control: Vec<(Exact, Exact)>,
    end: Exact,
    made: Schedule,
}

impl Maker<'_> {
    fn every(
        &mut self,
        index: usize,
        look: &Look,
        interval: Exact,
        from: Exact,
        to: Exact,
    ) -> Result<(), PlanError> {
        if interval <= Exact::ZERO || interval.is_overflow() {
            return Err(too_long(look.span));
        }
        let mut at = from;
        while at < to {
            self.add(index, look, at)?;
            at = at + interval;
        }
        Ok(())
    }

    fn once(&mut self, index: usize, look: &Look, at: Exact) -> Result<(), PlanError> {
        let why = if at < Exact::ZERO {
            NoTime::BeforeStart(at)
        } else if at > self.end {
            NoTime::AfterEnd(at)
        } else {
            return self.add(index, look, at);
        };
        self.made.unplaced.push(Unscheduled { look: index, why });
        Ok(())
    }

    fn add(&mut self, index: usize, look: &Look, at: Exact) -> Result<(), PlanError> {
        match &look.what {
            LookWhat::Ask {
                way,
                readings,
                then_follow,
            } => {
                for reading in readings {
                    let what = DueWhat::Ask {
                        reading: reading.value,
                        way: *way,
                        then_follow: then_follow.iter().map(|at| at.value).collect(),
                    };
                    self.push(at, what, look.span)?;
                }
                Ok(())
            }
            LookWhat::Do { .. } => self.push(at, DueWhat::Task { look: index }, look.span),
            LookWhat::Give(medication) => {
                let what = DueWhat::Dose {
                    look: index,
                    medication: medication.value,
                };
                self.push(at, what, look.span)
            }
            LookWhat::Order(action) => match &action.order {
                Order::Ask {
                    way,
                    readings,
                    after,
                } => {
                    let at = at + after.as_ref().map_or(Exact::ZERO, |after| after.value);
                    for reading in readings {
                        let what = DueWhat::Ask {
                            reading: reading.value,
                            way: *way,
                            then_follow: Vec::new(),
                        };
                        self.push(at, what, look.span)?;
                    }
                    Ok(())
                }
                Order::Do { .. } => self.push(at, DueWhat::Task { look: index }, look.span),
                Order::Give { medication, .. } => {
                    let what = DueWhat::Dose {
                        look: index,
                        medication: medication.value,
                    };
                    self.push(at, what, look.span)
                }
                Order::FollowLadder(_)
                | Order::FollowChecklist(_)
                | Order::Call { .. }
                | Order::Continue
                | Order::Begin(_)
                | Order::SetTarget(_)
                | Order::RaiseTarget { .. }
                | Order::LowerTarget { .. }
                | Order::KeepTarget(_)
                | Order::SetRate(_)
                | Order::Pause(_)
                | Order::Stop
                | Order::RaiseRate { .. }
                | Order::LowerRate { .. }
                | Order::Withhold { .. }
                | Order::StopMedication(_) => {
                    self.push(at, DueWhat::Order { look: index }, look.span)
                }
            },
        }
    }

    fn push(&mut self, at: Exact, what: DueWhat, span: Span) -> Result<(), PlanError> {
        if self.made.due.len() >= MOST_DUE || at.is_overflow() {
            return Err(too_long(span));
        }
        if let Some(phase) = self.phase_at(at) {
            self.made.due.push(Due { at, phase, what });
        }
        Ok(())
    }

    /// The phase that runs then; at the end of the case its last.
    fn phase_at(&self, at: Exact) -> Option<PhaseId> {
        let layout = &self.made.layout;
        layout
            .iter()
            .find(|laid| laid.start <= at && at < laid.end)
            .or_else(|| layout.last())
            .map(|laid| laid.phase)
    }

    fn shift_checks(&mut self, case: &Case) -> Result<(), PlanError> {
        let shifts = &self.protocol.head.shifts;
        let protocol = self.protocol;
        for (id, checklist) in protocol.checklists() {
            if !checklist.at.value.is_each_shift() {
                continue;
            }
            if shifts.is_empty() {
                let mut at = Exact::ZERO;
                while at < self.end {
                    self.shift_check(at, id, checklist)?;
                    at = at + Exact::int(SHIFT_MINUTES);
                }
                continue;
            }
            let Some(clock) = &case.clock else {
                self.made.by_shift_clock.push(id);
                continue;
            };
            for days in 0.. {
                let times: Vec<Exact> = shifts
                    .iter()
                    .filter_map(|shift| clock.minutes_to_shift(shift.value, days))
                    .collect();
                let later = times.iter().all(|at| *at >= self.end);
                for at in times {
                    if at >= Exact::ZERO && at < self.end {
                        self.shift_check(at, id, checklist)?;
                    }
                }
                if later {
                    break;
                }
            }
        }
        Ok(())
    }

    fn shift_check(
        &mut self,
        at: Exact,
        id: ChecklistId,
        list: &Checklist,
    ) -> Result<(), PlanError> {
        // A phase of control may begin sooner than planned.
        let is_asked = match list.at.value {
            Occasion::EachShiftOfControl => {
                let mut control = self.control.iter();
                control.any(|(from, to)| *from <= at && at < *to)
            }
            _ => true,
        };
        if is_asked {
            self.push(at, DueWhat::Checklist(id), list.span)?;
        }
        Ok(())
    }

    /// In the order of time, and one box for each reading and time.
    fn finish(mut self) -> Schedule {
        self.made.due.sort_by_key(|due| due.at);
        let mut due: Vec<Due> = Vec::new();
        let mut now = 0;
        for next in self.made.due {
            if due.last().is_some_and(|last| last.at < next.at) {
                now = due.len();
            }
            let same =
                due.get_mut(now..)
                    .unwrap_or_default()
                    .iter_mut()
                    .find_map(|earlier| match (&mut earlier.what, &next.what) {
                        (
                            DueWhat::Ask {
                                reading,
                                then_follow,
                                ..
                            },
                            DueWhat::Ask { reading: other, .. },
                        ) if reading == other => Some(then_follow),
                        _ => None,
                    });
            match (same, &next.what) {
                (Some(ladders), DueWhat::Ask { then_follow, .. }) => {
                    for ladder in then_follow {
                        if !ladders.contains(ladder) {
                            ladders.push(*ladder);
                        }
                    }
                }
                _ => due.push(next),
            }
        }
        self.made.due = due;
        self.made
    }
}

fn too_long(span: Span) -> PlanError {
    PlanError::TooLarge(Box::new(
        Diagnostic::error(
            "schedule-too-long",
            span,
            format!("this asks so often that the case has more than {MOST_DUE} entries"),
        )
        .why("nobody could print such a sheet, nor fill it in")
        .help("write a longer interval")
        .source("structural"),
    ))
}
