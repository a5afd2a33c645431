//! Stretches in which a moment or a value can lie.
//!
//! A [`Window`] is about a moment: how early, how late, and what the plan
//! counts on. A [`ValueWindow`] is about the value of a reading. A bound that
//! is not there is open: nothing in the protocol bounds it on that side.

use crate::quantity::Exact;

/// When something can happen, in minutes from `start`.
///
/// INVARIANT: `earliest <= planned <= latest` where they are there, and
/// `latest` without `planned` does not occur.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Window {
    pub earliest: Exact,
    /// What a sheet prints: the slow side of what the plan counts on. `None`
    /// where the protocol gives nothing to count on.
    pub planned: Option<Exact>,
    /// `None` is open: it can be later than any time named in the protocol.
    pub latest: Option<Exact>,
}

impl Window {
    pub fn exactly(at: Exact) -> Self {
        Window::between(at, at)
    }

    /// The plan counts on the later of the two.
    pub fn between(earliest: Exact, latest: Exact) -> Self {
        Window {
            earliest,
            planned: Some(latest),
            latest: Some(latest),
        }
    }

    pub fn open_from(earliest: Exact) -> Self {
        Window {
            earliest,
            planned: None,
            latest: None,
        }
    }

    /// The one moment that it can be, or else `None`.
    pub fn exact(&self) -> Option<Exact> {
        (self.latest == Some(self.earliest)).then_some(self.earliest)
    }

    /// The same later by `by`, which may be negative.
    pub fn plus(self, by: Exact) -> Self {
        self.plus_window(Window::exactly(by))
    }

    /// A moment in `self` and then a length in `length`.
    pub fn plus_window(self, length: Window) -> Self {
        let add = |a: Option<Exact>, b: Option<Exact>| Some(a? + b?);
        Window {
            earliest: self.earliest + length.earliest,
            planned: add(self.planned, length.planned),
            latest: add(self.latest, length.latest),
        }
    }

    /// The later of two moments.
    pub fn later(self, other: Window) -> Self {
        let later = |a: Option<Exact>, b: Option<Exact>| Some(a?.max(b?));
        Window {
            earliest: self.earliest.max(other.earliest),
            planned: later(self.planned, other.planned),
            latest: later(self.latest, other.latest),
        }
    }

    /// The sooner of two moments.
    pub fn sooner(self, other: Window) -> Self {
        let sooner = |a: Option<Exact>, b: Option<Exact>| match (a, b) {
            (Some(a), Some(b)) => Some(a.min(b)),
            (one, other) => one.or(other),
        };
        Window {
            earliest: self.earliest.min(other.earliest),
            planned: sooner(self.planned, other.planned),
            latest: sooner(self.latest, other.latest),
        }
    }

    /// The same, known to be no later than `bound`.
    pub fn no_later_than(self, bound: Exact) -> Self {
        let cut = |at: Option<Exact>| Some(at.map_or(bound, |at| at.min(bound)));
        Window {
            earliest: self.earliest.min(bound),
            planned: cut(self.planned),
            latest: cut(self.latest),
        }
    }

    pub fn contains(&self, at: Exact) -> bool {
        at >= self.earliest && self.latest.is_none_or(|latest| at <= latest)
    }

    pub(super) fn overflows(&self) -> bool {
        self.earliest.is_overflow()
            || self.planned.is_some_and(Exact::is_overflow)
            || self.latest.is_some_and(Exact::is_overflow)
    }
}

/// The values that a reading can have at a moment, in its unit. Both ends are
/// in it; `None` is open.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct ValueWindow {
    pub low: Option<Exact>,
    pub high: Option<Exact>,
}

impl ValueWindow {
    /// Nothing is known.
    pub const UNKNOWN: ValueWindow = ValueWindow {
        low: None,
        high: None,
    };

    pub fn between(low: Exact, high: Exact) -> Self {
        ValueWindow {
            low: Some(low),
            high: Some(high),
        }
    }

    pub fn exactly(value: Exact) -> Self {
        ValueWindow::between(value, value)
    }

    pub fn exact(&self) -> Option<Exact> {
        self.low.filter(|low| self.high == Some(*low))
    }

    pub fn contains(&self, value: Exact) -> bool {
        self.low.is_none_or(|low| low <= value) && self.high.is_none_or(|high| value <= high)
    }

    /// The smallest window with both in it.
    pub fn join(self, other: ValueWindow) -> Self {
        let both = |a: Option<Exact>, b: Option<Exact>| Some((a?, b?));
        ValueWindow {
            low: both(self.low, other.low).map(|(a, b)| a.min(b)),
            high: both(self.high, other.high).map(|(a, b)| a.max(b)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_open_end_stays_open() {
        let open = Window::open_from(Exact::int(60)).plus(Exact::int(30));
        assert_eq!(open, Window::open_from(Exact::int(90)));
        let later = open.later(Window::exactly(Exact::int(120)));
        assert_eq!(later, Window::open_from(Exact::int(120)));
        assert_eq!(
            later.no_later_than(Exact::int(200)),
            Window::between(Exact::int(120), Exact::int(200))
        );
    }

    #[test]
    fn values_join_to_the_widest() {
        let window = |low, high| ValueWindow::between(Exact::int(low), Exact::int(high));
        assert_eq!(window(33, 34).join(window(36, 37)), window(33, 37));
        assert_eq!(
            window(33, 34).join(ValueWindow::UNKNOWN),
            ValueWindow::UNKNOWN
        );
        assert!(ValueWindow::UNKNOWN.contains(Exact::int(20)));
    }

    #[test]
    fn one_time_that_does_not_fit_is_enough() {
        let (fits, not) = (Exact::ZERO, Exact::OVERFLOW);
        for (earliest, planned, latest, over) in [
            (fits, Some(fits), Some(fits), false),
            (fits, None, None, false),
            (not, Some(fits), Some(fits), true),
            (fits, Some(not), Some(fits), true),
            (fits, Some(fits), Some(not), true),
        ] {
            let window = Window {
                earliest,
                planned,
                latest,
            };
            assert_eq!(window.overflows(), over, "{window:?}");
        }
    }
}
