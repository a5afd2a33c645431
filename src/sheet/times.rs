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

    /// `Wed 25 Nov 03:10`, or `4:00 after the start`.
    pub fn moment(&self, at: Exact, round: Round) -> String {
        match self.clock(at, round) {
            Some(time) => format!("{} {}", time.day().replace(' ', "\u{a0}"), time.time()),
            None if at.is_zero() => "the start".to_string(),
            None if at.is_negative() => {
                format!("{}\u{a0}h before the start", hours_and_minutes(-at, round))
            }
            None => format!("{}\u{a0}h", hours_and_minutes(at, round)),
        }
    }

    /// When something begins, as far as the plan can say.
    pub fn begins(&self, window: Window) -> String {
        self.window(window, "begins")
    }

    /// When something ends, as far as the plan can say.
    pub fn ends(&self, window: Window) -> String {
        self.window(window, "ends")
    }

    fn window(&self, window: Window, word: &str) -> String {
        if let Some(at) = window.exact() {
            return format!("{word} {}", self.moment(at, Round::Down));
        }
        let early = self.moment(window.earliest, Round::Down);
        match (window.planned, window.latest) {
            (_, Some(latest)) => {
                format!(
                    "{word} between {early} and {}",
                    self.after(window.earliest, latest)
                )
            }
            (Some(planned), None) if planned == window.earliest => {
                format!("{word} at {early} or later")
            }
            (Some(planned), None) => format!(
                "{word} between {early} and {}, or later",
                self.after(window.earliest, planned)
            ),
            (None, None) => format!("{word} at {early} at the earliest; open"),
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
