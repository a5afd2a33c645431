//! Whether a condition holds, decided look by look (M7 to M12).
//!
//! A [`Watch`] follows one condition over one stretch. It is shown each moment
//! ([`Watch::observe`]) and answers at any of them ([`Watch::truth`]) with one of
//! three: it holds, it is decided and does not hold, or a reading that it needs
//! is unknown. It keeps no more than its longest window reaches back.
//!
//! `and` does not hold as soon as one part is decided and does not; `or` holds as
//! soon as one part does; whatever else has an unknown part is unknown.
//!
//! Choices where the definitions leave room:
//! - `within X of target` in a phase that keeps a range counts from the nearer
//!   limit; inside the range it holds.
//! - `above target` in a phase that keeps no upper limit is decided and does not
//!   hold, and so for `below`. A target that is not yet known leaves the test
//!   undecided.

use super::board::Board;
use super::target::Aimed;
use crate::model::{Cond, MoreLess, PhaseId, ReadingId, Side, Test, TestKind, TrendWay};
use crate::quantity::Exact;
use arrayvec::ArrayVec;
use std::collections::VecDeque;

/// What the clock tests and the comparisons with the target need to know.
#[derive(Clone, Copy)]
pub struct View<'a> {
    pub now: Exact,
    pub board: &'a Board,
    pub aimed: Aimed,
    pub running: Option<PhaseClock>,
    /// Control has been paused without a break since then.
    pub paused_since: Option<Exact>,
}

/// The phase that runs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PhaseClock {
    pub phase: PhaseId,
    pub since: Exact,
    /// When it should have arrived (M24).
    pub due: Option<Exact>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Truth {
    Holds,
    /// Decided, and does not hold.
    Fails,
    Unknown,
}

impl Truth {
    pub fn of(holds: bool) -> Self {
        if holds { Truth::Holds } else { Truth::Fails }
    }

    pub fn holds(self) -> bool {
        self == Truth::Holds
    }
}

/// One condition, followed over one stretch.
#[derive(Debug, Clone)]
pub struct Watch<'p> {
    cond: &'p Cond,
    since: Exact,
    tests: Vec<TestWatch<'p>>,
}

/// What one test of a condition came to, and on which looks.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fact<'p> {
    pub test: &'p Test,
    pub truth: Truth,
    /// The looks that decided it, the oldest first.
    pub seen: Vec<Seen>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Seen {
    pub at: Exact,
    pub reading: ReadingId,
    pub value: Exact,
}

impl<'p> Watch<'p> {
    /// The stretch begins at `since`; a record of that very moment is in it.
    pub fn new(cond: &'p Cond, since: Exact) -> Self {
        Watch {
            cond,
            since,
            tests: cond.tests().into_iter().map(TestWatch::new).collect(),
        }
    }

    pub fn since(&self) -> Exact {
        self.since
    }

    /// Takes in the records of this moment. A moment shown twice counts once.
    pub fn observe(&mut self, view: &View<'_>) {
        for test in &mut self.tests {
            test.observe(self.since, view);
        }
    }

    pub fn truth(&self, view: &View<'_>) -> Truth {
        let mut tests = self.tests.iter();
        self.truth_of(self.cond, &mut tests, view)
    }

    // The tests stand in the order of `Cond::tests`, so walking the condition
    // meets them one by one.
    fn truth_of<'t>(
        &'t self,
        cond: &Cond,
        tests: &mut impl Iterator<Item = &'t TestWatch<'p>>,
        view: &View<'_>,
    ) -> Truth
    where
        'p: 't,
    {
        match cond {
            Cond::Test(_) => tests
                .next()
                .map_or(Truth::Unknown, |test| test.truth(self.since, view)),
            Cond::All(parts) => {
                let mut all = Truth::Holds;
                for part in parts {
                    all = match (all, self.truth_of(part, tests, view)) {
                        (Truth::Fails, _) | (_, Truth::Fails) => Truth::Fails,
                        (Truth::Unknown, _) | (_, Truth::Unknown) => Truth::Unknown,
                        (Truth::Holds, Truth::Holds) => Truth::Holds,
                    };
                }
                all
            }
            Cond::Any(parts) => {
                let mut any = Truth::Fails;
                for part in parts {
                    any = match (any, self.truth_of(part, tests, view)) {
                        (Truth::Holds, _) | (_, Truth::Holds) => Truth::Holds,
                        (Truth::Unknown, _) | (_, Truth::Unknown) => Truth::Unknown,
                        (Truth::Fails, Truth::Fails) => Truth::Fails,
                    };
                }
                any
            }
        }
    }

    /// Every test with what it came to, from left to right.
    pub fn facts(&self, view: &View<'_>) -> Vec<Fact<'p>> {
        self.tests
            .iter()
            .map(|test| Fact {
                test: test.test,
                truth: test.truth(self.since, view),
                seen: test.seen.to_vec(),
            })
            .collect()
    }

    /// The next moment at which a test of it becomes true by the clock (M12).
    pub fn wakes(&self, view: &View<'_>) -> Option<Exact> {
        self.tests
            .iter()
            .filter_map(|test| test.true_by_clock(self.since, view))
            .filter(|at| *at > view.now)
            .min()
    }
}

#[derive(Debug, Clone)]
struct TestWatch<'p> {
    test: &'p Test,
    readings: ArrayVec<ReadingId, 2>,
    last_look: Option<Exact>,
    answer: Truth,
    /// The first look of those, unbroken up to the last, at which it held.
    held_since: Option<Exact>,
    /// Looks within the window of a trend, the oldest first.
    window: VecDeque<(Exact, Exact)>,
    /// Its values, and ahead of them an earlier one that decides with them.
    seen: ArrayVec<Seen, 3>,
}

impl<'p> TestWatch<'p> {
    fn new(test: &'p Test) -> Self {
        TestWatch {
            test,
            readings: test.kind.readings(),
            last_look: None,
            answer: Truth::Unknown,
            held_since: None,
            window: VecDeque::new(),
            seen: ArrayVec::new(),
        }
    }

    fn observe(&mut self, stretch: Exact, view: &View<'_>) {
        if self.test.kind.is_by_clock() || self.last_look == Some(view.now) {
            return;
        }
        let recorded = self
            .readings
            .iter()
            .any(|reading| view.board.just_recorded(*reading, view.now));
        if !recorded {
            return;
        }
        let Some(values) = self.values(stretch, view) else {
            return;
        };
        let (answer, deciding) = match (&self.test.kind, values.first()) {
            (
                TestKind::Trend {
                    way, cmp, by, over, ..
                },
                Some(now),
            ) => self.decide_trend(now, (*way, *cmp), by.value, over.value, view),
            (kind, _) => (compare(kind, &values, view.aimed), None),
        };
        let first_seen = self.seen.first().copied();
        self.seen = values;
        self.answer = match (&self.test.sustained, answer) {
            (Some(duration), Truth::Holds) => {
                let held_since = self.keep_run(view);
                if held_since < view.now
                    && let Some(first) = first_seen.filter(|seen| seen.at == held_since)
                {
                    self.seen.insert(0, first);
                }
                let needed = duration.value - view.board.slack(&self.readings);
                Truth::of(held_since < view.now && view.now - held_since >= needed)
            }
            (Some(_), other) => {
                self.held_since = None;
                other
            }
            (None, other) => {
                if let Some(earlier) = deciding {
                    self.seen.insert(0, earlier);
                }
                other
            }
        };
        self.last_look = Some(view.now);
    }

    /// The values of its readings, where all are known.
    fn values(&self, stretch: Exact, view: &View<'_>) -> Option<ArrayVec<Seen, 3>> {
        self.readings
            .iter()
            .map(|reading| {
                let record = view.board.known(*reading, stretch, view.now)?;
                Some(Seen {
                    at: view.now,
                    reading: *reading,
                    value: record.value,
                })
            })
            .collect()
    }

    /// Since when it has held, look by look and never unknown in between.
    fn keep_run(&mut self, view: &View<'_>) -> Exact {
        let unbroken = self.last_look.is_some_and(|last| {
            self.readings.iter().all(|reading| {
                view.board
                    .last(*reading)
                    .is_some_and(|record| record.unbroken_since <= last)
            })
        });
        let since = match self.held_since {
            Some(since) if unbroken => since,
            _ => view.now,
        };
        self.held_since = Some(since);
        since
    }

    /// Decides a trend (M10), and gives the earlier look that decided it.
    fn decide_trend(
        &mut self,
        now: &Seen,
        (way, cmp): (TrendWay, MoreLess),
        by: Exact,
        over: Exact,
        view: &View<'_>,
    ) -> (Truth, Option<Seen>) {
        let slack = view.board.slack(&self.readings);
        let gained = |earlier: Exact| match way {
            TrendWay::Rises => now.value - earlier,
            TrendWay::Falls => earlier - now.value,
        };
        let age = |at: Exact| view.now - at;
        let found = match cmp {
            MoreLess::More => self
                .window
                .iter()
                .filter(|(at, _)| age(*at) <= over + slack)
                .max_by_key(|(_, value)| gained(*value))
                .filter(|(_, value)| gained(*value) > by),
            MoreLess::Less => self
                .window
                .iter()
                .rev()
                .find(|(at, _)| age(*at) >= over - slack && age(*at) <= over + slack)
                .filter(|(_, value)| gained(*value) < by),
        }
        .copied();
        self.window.push_back((now.at, now.value));
        let reach = over + view.board.longest_slack(now.reading);
        while self
            .window
            .front()
            .is_some_and(|(at, _)| view.now - *at > reach)
        {
            self.window.pop_front();
        }
        (
            Truth::of(found.is_some()),
            found.map(|(at, value)| Seen {
                at,
                reading: now.reading,
                value,
            }),
        )
    }

    fn truth(&self, stretch: Exact, view: &View<'_>) -> Truth {
        if self.test.kind.is_by_clock() {
            return Truth::of(
                self.true_by_clock(stretch, view)
                    .is_some_and(|at| at <= view.now),
            );
        }
        let known = self
            .readings
            .iter()
            .all(|reading| view.board.known(*reading, stretch, view.now).is_some());
        if known { self.answer } else { Truth::Unknown }
    }

    /// The moment from which a test of the clock is true, as things stand.
    fn true_by_clock(&self, stretch: Exact, view: &View<'_>) -> Option<Exact> {
        let running = |phase: &PhaseId| view.running.filter(|clock| clock.phase == *phase);
        match &self.test.kind {
            TestKind::NotRecorded { reading, over } => {
                let last = view
                    .board
                    .last(*reading)
                    .map_or(stretch, |record| record.at.max(stretch));
                Some(last + over.value)
            }
            TestKind::LastsLonger { phase, than } => {
                running(phase).map(|clock| clock.since + than.value)
            }
            TestKind::Overdue { phase } => running(phase)?.due,
            TestKind::PausedLonger { than } => view.paused_since.map(|since| since + than.value),
            TestKind::Compare { .. }
            | TestKind::Outside { .. }
            | TestKind::Is { .. }
            | TestKind::OffTarget { .. }
            | TestKind::NearTarget { .. }
            | TestKind::Differ { .. }
            | TestKind::Trend { .. } => None,
        }
    }
}

/// A comparison of the values at one look (M7, M11).
fn compare(kind: &TestKind, values: &[Seen], aimed: Aimed) -> Truth {
    let Some(value) = values.first().map(|seen| seen.value) else {
        return Truth::Unknown;
    };
    match kind {
        TestKind::Compare { cmp, level, .. } => Truth::of(cmp.holds(value, level.value)),
        TestKind::Outside { low, high, .. } => Truth::of(value < low.value || value > high.value),
        TestKind::Is { word, .. } => {
            Truth::of(i64::try_from(*word).is_ok_and(|word| value == Exact::int(word)))
        }
        TestKind::OffTarget { side, by, .. } => match (aimed, side) {
            (Aimed::Nothing, _) => Truth::Unknown,
            (Aimed::Value(target), Side::Above) => Truth::of(value - target > by.value),
            (Aimed::Value(target), Side::Below) => Truth::of(target - value > by.value),
            (Aimed::Range { high, .. }, Side::Above) => {
                Truth::of(high.is_some_and(|high| value - high > by.value))
            }
            (Aimed::Range { low, .. }, Side::Below) => {
                Truth::of(low.is_some_and(|low| low - value > by.value))
            }
        },
        TestKind::NearTarget { within, .. } => match aimed {
            Aimed::Nothing => Truth::Unknown,
            Aimed::Value(target) => Truth::of((value - target).abs() <= within.value),
            Aimed::Range { low, high } => Truth::of(
                low.is_none_or(|low| low - value <= within.value)
                    && high.is_none_or(|high| value - high <= within.value),
            ),
        },
        TestKind::Differ { cmp, by, .. } => match values.get(1) {
            Some(second) => {
                let apart = (value - second.value).abs();
                Truth::of(match cmp {
                    MoreLess::More => apart > by.value,
                    MoreLess::Less => apart < by.value,
                })
            }
            None => Truth::Unknown,
        },
        TestKind::Trend { .. }
        | TestKind::NotRecorded { .. }
        | TestKind::LastsLonger { .. }
        | TestKind::Overdue { .. }
        | TestKind::PausedLonger { .. } => Truth::Unknown,
    }
}
