//! Minutes since the start as the sheet prints them: by the clock where the case has one, or
//! else as hours since the start.

use crate::plan::report::hours_and_minutes;
use crate::plan::{Case, ClockTime, Round, Window};
use crate::quantity::Exact;

pub(super) struct Times<'a> {
    case: &'a Case,
}

impl<'a> Times<'a> {
    pub fn of(case: &'a Case) -> Self {
        Times { case }
    }

    pub fn has_clock(&self) -> bool {
        self.case.clock.is_some()
    }

    pub fn clock(&self, at: Exact, round: Round) -> Option<ClockTime> {
        self.case.clock.as_ref()?.at(at, round)
    }

    /// `Wed 25 Nov 03:10`, or `4:00 h`, counted from the start.
    pub fn moment(&self, at: Exact, round: Round) -> String {
        match self.clock(at, round) {
            Some(time) => format!("{} {}", time.day().replace(' ', "\u{a0}"), time.time()),
            None if at.is_negative() => {
                format!("{}\u{a0}h before the start", hours_and_minutes(-at, round))
            }
            None => format!("{}\u{a0}h", hours_and_minutes(at, round)),
        }
    }

    /// When something begins or ends, as far as the plan can say: `Tue 24 Nov 14:30 to 18:30`.
    pub fn window(&self, window: Window) -> String {
        let early = self.moment(window.earliest, Round::Down);
        if window.exact().is_some() {
            return early;
        }
        match (window.planned, window.latest) {
            (_, Some(latest)) => format!("{early} to {}", self.after(window.earliest, latest)),
            (Some(planned), None) if planned == window.earliest => format!("{early} or later"),
            (Some(planned), None) => {
                format!(
                    "{early} to {}, or later",
                    self.after(window.earliest, planned)
                )
            }
            (None, None) => format!("{early} or later; open"),
        }
    }

    /// A later moment beside an earlier one: the day only where it is another.
    fn after(&self, first: Exact, at: Exact) -> String {
        let (Some(before), Some(time)) =
            (self.clock(first, Round::Down), self.clock(at, Round::Up))
        else {
            return self.moment(at, Round::Up);
        };
        if before.is_same_day(&time) {
            time.time()
        } else {
            format!("{} {}", time.day().replace(' ', "\u{a0}"), time.time())
        }
    }
}
