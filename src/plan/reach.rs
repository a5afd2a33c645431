//! How long a phase takes that ends by arriving, and where its reading then is
//! (M18, M21, M31).
//!
//! Takes a phase, where its reading can be when it begins, and when that is.
//! Gives when the phase can end. Without a rate that is from distance ÷ `never
//! faster than` to the sooner of `due within` and distance ÷ `at least`; the
//! distance is that to the point at which the phase ends, `within` short of its
//! end. With a rate it is the length of the course, which runs to the end itself.

use super::course::Course;
use super::window::{ValueWindow, Window};
use super::{Case, Unplaced};
use crate::model::{Aim, Phase, PhaseId, Way};
use crate::quantity::{Exact, Rate};

const MINUTES_PER_HOUR: i64 = 60;

/// When a phase that ends by arriving is over, and what is missing to say so.
pub(super) struct Arrival {
    pub end: Window,
    /// The course at the rate that is printed, where its beginning is known.
    pub course: Option<Course>,
    pub unplaced: Option<Unplaced>,
}

/// `due_of_mark` is the moment of `due within D of MARK`, where that is known.
pub(super) fn arrival(
    (id, phase): (PhaseId, &Phase),
    start: Window,
    values: ValueWindow,
    due_of_mark: Option<Window>,
    case: &Case,
) -> Arrival {
    let Aim::Reach {
        way,
        from,
        to,
        within,
        rate,
        reading,
    } = &phase.aim
    else {
        return Arrival {
            end: start,
            course: None,
            unplaced: None,
        };
    };
    if let Some(rate) = rate {
        let begins = from
            .as_ref()
            .map_or(values, |from| ValueWindow::exactly(from.value));
        let chosen = case.rates.get(&id);
        let slower = chosen.unwrap_or(rate.slower());
        let faster = chosen.unwrap_or(rate.faster());
        return along_course(phase, *way, start, begins, (slower, faster), reading.value);
    }
    let short = within.as_ref().map_or(Exact::ZERO, |within| within.value);
    let (nearest, farthest) = distances(*way, values, to.value, short);
    let time = |distance: Option<Exact>, rate: &Option<Rate>| {
        let rate = rate.as_ref().filter(|rate| rate.value > Exact::ZERO)?;
        Some(distance? / rate.value * Exact::int(MINUTES_PER_HOUR))
    };
    let shortest = time(nearest, &phase.never_faster).unwrap_or(Exact::ZERO);
    let needed = time(farthest, &phase.never_faster).unwrap_or(shortest);
    let by_progress = time(farthest, &phase.at_least);
    let due = phase.due.as_ref();
    let by_due = due
        .filter(|due| due.of.is_none())
        .map(|due| due.within.value);

    // The sooner of what bounds it, but never sooner than the cap lets the
    // farthest patient arrive.
    let bound = |begins: Option<Exact>, due_at: Option<Exact>| {
        let begins = begins?;
        let ends = [by_progress, by_due]
            .into_iter()
            .flatten()
            .map(|length| begins + length)
            .chain(due_at)
            .min()?;
        Some(ends.max(begins + needed))
    };
    let end = Window {
        earliest: start.earliest + shortest,
        planned: bound(start.planned, due_of_mark.and_then(|due| due.planned)),
        latest: bound(start.latest, due_of_mark.and_then(|due| due.latest)),
    };
    let unplaced = if by_progress.is_some() || by_due.is_some() || due_of_mark.is_some() {
        None
    } else if let Some(of) = due.and_then(|due| due.of.as_ref()) {
        Some(Unplaced::NoMark(of.value))
    } else if phase.at_least.is_some() {
        Some(Unplaced::NoArrival(reading.value))
    } else {
        Some(Unplaced::NoLongest)
    };
    Arrival {
        end,
        course: None,
        unplaced,
    }
}

fn along_course(
    phase: &Phase,
    way: Way,
    start: Window,
    begins: ValueWindow,
    (slower, faster): (&Rate, &Rate),
    reading: crate::model::ReadingId,
) -> Arrival {
    let (near, far) = match way {
        Way::Warm => (begins.high, begins.low),
        Way::Cool => (begins.low, begins.high),
    };
    let course = |begin: Option<Exact>, rate: &Rate| Course::of(phase, begin?, rate.value);
    let (nearest, farthest) = (course(near, faster), course(far, slower));
    let shortest = nearest
        .as_ref()
        .and_then(Course::arrives_after)
        .unwrap_or(Exact::ZERO);
    let longest = farthest.as_ref().and_then(Course::arrives_after);
    let unplaced = match (&farthest, longest) {
        (None, _) => Some(Unplaced::NoArrival(reading)),
        (Some(_), None) => Some(Unplaced::NeverArrives),
        (Some(_), Some(_)) => None,
    };
    Arrival {
        end: start.plus_window(Window {
            earliest: shortest,
            planned: longest,
            latest: longest,
        }),
        course: farthest.filter(|_| begins.exact().is_some()),
        unplaced,
    }
}

/// The least and the most that the reading still has to go until it is known to
/// be no more than `short` from `to`.
fn distances(
    way: Way,
    from: ValueWindow,
    to: Exact,
    short: Exact,
) -> (Option<Exact>, Option<Exact>) {
    let gone = |begin: Exact| {
        match way {
            Way::Warm => to - short - begin,
            Way::Cool => begin - to - short,
        }
        .max(Exact::ZERO)
    };
    match way {
        Way::Warm => (from.high.map(gone), from.low.map(gone)),
        Way::Cool => (from.low.map(gone), from.high.map(gone)),
    }
}

/// Where the phase's reading can be when the phase is over: the end or the held
/// value give or take its `within`, or the range kept. A patient who is already
/// past the end of a `cool` or `warm` stays where he was.
pub(super) fn values_at_end(aim: &Aim, start: ValueWindow) -> ValueWindow {
    match aim {
        Aim::Reach {
            way, to, within, ..
        } => {
            let short = within.as_ref().map_or(Exact::ZERO, |within| within.value);
            let (low, high) = (to.value - short, to.value + short);
            match way {
                Way::Cool => ValueWindow::between(start.low.map_or(low, |at| at.min(low)), high),
                Way::Warm => ValueWindow::between(low, start.high.map_or(high, |at| at.max(high))),
            }
        }
        Aim::Hold { at, within, .. } => {
            ValueWindow::between(at.value - within.value, at.value + within.value)
        }
        Aim::Keep { low, high, .. } => ValueWindow {
            low: low.as_ref().map(|low| low.value),
            high: high.as_ref().map(|high| high.value),
        },
    }
}
