//! The target of the moment: what a phase aims at, and what orders, pauses and
//! time make of it (M20 to M23).
//!
//! Takes the phase that begins, the value of its reading, and the orders; gives
//! the target at any minute. A course that stands still or is bent begins anew
//! where it stands, as a new [`Course`].
//!
//! Choices where the definitions leave room:
//! - `raise target by X, at most V` never lowers it: where the target is already
//!   above V it stays. `lower` is the mirror.
//! - A pair of rates runs at the slower unless the case names one.

use crate::model::{Aim, Phase, Way};
use crate::plan::Course;
use crate::quantity::Exact;
use std::cell::Cell;

/// What the running phase aims at, at one moment.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Aimed {
    /// No phase runs, or its course waits for a first value.
    Nothing,
    Value(Exact),
    /// A range is kept; at least one of its ends is there.
    Range {
        low: Option<Exact>,
        high: Option<Exact>,
    },
}

/// An order that moves the target cannot be done.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum NoTarget {
    /// The phase keeps a range, or no phase runs (M20).
    NoneHere,
    /// The course has not begun, because its reading is not known yet.
    NotBegun,
    /// `set rate` in a phase without a rate.
    NoRate,
}

#[derive(Debug, Clone)]
pub struct Target<'p> {
    state: State<'p>,
    /// Paused, kept or stopped: a course stands where it is.
    still: bool,
    /// Where a course stood when it was last asked, which is several times in a moment.
    asked: Cell<Option<(Exact, Exact)>>,
}

#[derive(Debug, Clone)]
enum State<'p> {
    Nothing,
    Fixed(Exact),
    Range {
        low: Option<Exact>,
        high: Option<Exact>,
    },
    /// A course without `from`, before its reading is known.
    Waiting {
        phase: &'p Phase,
        rate: Exact,
    },
    /// While still, the target is the course's own beginning.
    Course {
        course: Course,
        since: Exact,
    },
}

impl<'p> Target<'p> {
    pub fn new() -> Self {
        Target {
            state: State::Nothing,
            still: false,
            asked: Cell::new(None),
        }
    }

    /// A phase begins at `now`. `value` is its reading, where that is known.
    pub fn begin(
        &mut self,
        phase: &'p Phase,
        now: Exact,
        entered_by_order: bool,
        value: Option<Exact>,
        chosen_rate: Option<Exact>,
    ) {
        self.asked.set(None);
        self.state = match &phase.aim {
            Aim::Hold { at, .. } => State::Fixed(at.value),
            Aim::Keep { low, high, .. } => State::Range {
                low: low.as_ref().map(|level| level.value),
                high: high.as_ref().map(|level| level.value),
            },
            Aim::Reach {
                way,
                from,
                to,
                rate,
                ..
            } => match rate {
                None => State::Fixed(to.value),
                Some(pair) => {
                    let rate = chosen_rate.unwrap_or(pair.slower().value);
                    let from = from.as_ref().map(|from| from.value);
                    let begins = match (from, value) {
                        (Some(from), Some(value)) if entered_by_order => {
                            Some(farther(*way, from, value))
                        }
                        (Some(from), _) => Some(from),
                        (None, value) => value,
                    };
                    match begins.and_then(|begins| course(phase, begins, rate)) {
                        Some(course) => State::Course { course, since: now },
                        None => State::Waiting { phase, rate },
                    }
                }
            },
        };
    }

    /// No phase runs any more.
    pub fn end(&mut self) {
        self.asked.set(None);
        self.state = State::Nothing;
    }

    /// The reading of a course that waits for it is known.
    pub fn known(&mut self, value: Exact, now: Exact) {
        self.asked.set(None);
        if let State::Waiting { phase, rate } = &self.state
            && let Some(course) = course(phase, value, *rate)
        {
            self.state = State::Course { course, since: now };
        }
    }

    pub fn is_waiting(&self) -> bool {
        matches!(self.state, State::Waiting { .. })
    }

    /// Stands still from now on, or goes on from where it stands.
    pub fn set_still(&mut self, still: bool, now: Exact) {
        if still != self.still {
            self.anew(now);
            self.still = still;
        }
    }

    pub fn aimed(&self, now: Exact) -> Aimed {
        match &self.state {
            State::Nothing | State::Waiting { .. } => Aimed::Nothing,
            State::Fixed(value) => Aimed::Value(*value),
            State::Range { low, high } => Aimed::Range {
                low: *low,
                high: *high,
            },
            State::Course { course, since } => Aimed::Value(match self.asked.get() {
                _ if self.still => course.begin,
                Some((at, value)) if at == now => value,
                _ => {
                    let value = course.target_at(now - *since);
                    self.asked.set(Some((now, value)));
                    value
                }
            }),
        }
    }

    pub fn value(&self, now: Exact) -> Option<Exact> {
        match self.aimed(now) {
            Aimed::Value(value) => Some(value),
            Aimed::Nothing | Aimed::Range { .. } => None,
        }
    }

    /// Where a phase that reaches something arrives, orders taken into account.
    pub fn end_value(&self) -> Option<Exact> {
        match &self.state {
            State::Fixed(value) => Some(*value),
            State::Course { course, .. } => Some(course.end),
            State::Nothing | State::Range { .. } | State::Waiting { .. } => None,
        }
    }

    /// Whether the course is at its end; true where there is no course to run.
    pub fn has_arrived(&self, now: Exact) -> bool {
        match &self.state {
            State::Fixed(_) => true,
            State::Course { course, .. } => self.value(now) == Some(course.end),
            State::Nothing | State::Range { .. } | State::Waiting { .. } => false,
        }
    }

    /// Whether it moves all the time, and not in steps.
    pub fn glides(&self) -> bool {
        matches!(&self.state, State::Course { course, .. } if course.steps.is_none()) && !self.still
    }

    /// When the course will have arrived if nothing stops or bends it.
    pub fn arrives_at(&self, now: Exact) -> Option<Exact> {
        let State::Course { course, since } = &self.state else {
            return None;
        };
        let begun = if self.still { now } else { *since };
        course.arrives_after().map(|after| begun + after)
    }

    /// What `set`, `raise` or `lower target` would make of it (M22).
    pub fn moved(&self, change: Change, now: Exact) -> Result<Exact, NoTarget> {
        let current = match &self.state {
            State::Waiting { .. } => return Err(NoTarget::NotBegun),
            State::Nothing | State::Range { .. } => return Err(NoTarget::NoneHere),
            State::Fixed(_) | State::Course { .. } => self.value(now).ok_or(NoTarget::NoneHere)?,
        };
        let wanted = match change {
            Change::Set(value) => value,
            Change::Raise { by, at_most } => current.max((current + by).min(at_most)),
            Change::Lower { by, at_least } => current.min((current - by).max(at_least)),
        };
        Ok(match &self.state {
            State::Course { course, .. } => match course.way {
                Way::Warm => wanted.min(course.end),
                Way::Cool => wanted.max(course.end),
            },
            State::Nothing | State::Fixed(_) | State::Range { .. } | State::Waiting { .. } => {
                wanted
            }
        })
    }

    /// Puts the target at a value that [`Target::moved`] gave.
    pub fn put(&mut self, value: Exact, now: Exact) {
        self.asked.set(None);
        match &mut self.state {
            State::Fixed(target) => *target = value,
            State::Course { course, since } => {
                course.begin = value;
                *since = now;
            }
            State::Nothing | State::Range { .. } | State::Waiting { .. } => {}
        }
    }

    /// Why `set rate` cannot be done; `None` where it can.
    pub fn cannot_set_rate(&self) -> Option<NoTarget> {
        match self.state {
            State::Course { .. } | State::Waiting { .. } => None,
            State::Fixed(_) => Some(NoTarget::NoRate),
            State::Nothing | State::Range { .. } => Some(NoTarget::NoneHere),
        }
    }

    /// `set rate RATE`: the course goes on from where it stands.
    pub fn set_rate(&mut self, per_hour: Exact, now: Exact) {
        self.asked.set(None);
        self.anew(now);
        match &mut self.state {
            State::Course { course, .. } => course.rate = per_hour,
            State::Waiting { rate, .. } => *rate = per_hour,
            State::Fixed(_) | State::Nothing | State::Range { .. } => {}
        }
    }

    /// The next moment at which time alone moves it, or ends its course.
    pub fn wakes(&self, now: Exact) -> Option<Exact> {
        let State::Course { course, since } = &self.state else {
            return None;
        };
        if self.still {
            return None;
        }
        let next = match course.next_move(now - *since) {
            Some(next) => Some(*since + next.after),
            None => course.arrives_after().map(|after| *since + after),
        };
        next.filter(|at| *at > now)
    }

    /// The course begins anew where it stands.
    fn anew(&mut self, now: Exact) {
        let stands = self.value(now);
        if let (State::Course { course, since }, Some(stands)) = (&mut self.state, stands) {
            course.begin = stands;
            *since = now;
        }
        self.asked.set(None);
    }
}

impl Default for Target<'_> {
    fn default() -> Self {
        Target::new()
    }
}

/// A move of the target.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Change {
    Set(Exact),
    Raise { by: Exact, at_most: Exact },
    Lower { by: Exact, at_least: Exact },
}

/// The course of a phase; one that begins past its end begins at it.
fn course(phase: &Phase, begins: Exact, rate: Exact) -> Option<Course> {
    let mut course = Course::of(phase, begins, rate)?;
    if course.distance().is_zero() {
        course.begin = course.end;
    }
    Some(course)
}

/// Whichever of the two lies farther along the way.
fn farther(way: Way, from: Exact, value: Exact) -> Exact {
    match way {
        Way::Warm => from.max(value),
        Way::Cool => from.min(value),
    }
}
