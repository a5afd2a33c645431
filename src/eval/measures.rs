//! Measures over a case as it goes on (M35).
//!
//! Takes the same moments as the run; adds up, for each measure, the time for which
//! its condition held, for which it was decided, and for which it was not known, and
//! the area beyond a value. Exact, and no more than one number of each is kept.
//!
//! Choices where the definitions leave room:
//! - Only the time in the phases of `during` counts, and a record from before that
//!   stretch does not (M8); so the time up to its first record is unknown.
//! - The share is of the time for which the condition was decided.

use super::board::Board;
use super::condition::{Truth, View, Watch};
use crate::model::{Measure, MeasureWhat, PhaseId, Protocol, Side};
use crate::quantity::Exact;

/// What one measure has come to. Times are minutes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Measured {
    /// The condition held; for an area, the reading was beyond the value.
    pub held: Exact,
    /// Decided, one way or the other.
    pub known: Exact,
    pub unknown: Exact,
    /// Degrees (or units of the reading) × hours.
    pub area: Exact,
}

impl Measured {
    const NONE: Measured = Measured {
        held: Exact::ZERO,
        known: Exact::ZERO,
        unknown: Exact::ZERO,
        area: Exact::ZERO,
    };

    /// The part of the known time for which it held; `None` where none was known.
    pub fn share(&self) -> Option<Exact> {
        (self.known > Exact::ZERO).then(|| self.held / self.known)
    }
}

#[derive(Debug, Clone, Default)]
pub struct Measures<'p> {
    states: Vec<State<'p>>,
}

#[derive(Debug, Clone)]
struct State<'p> {
    measure: &'p Measure,
    stretch: Option<Stretch<'p>>,
    sum: Measured,
}

#[derive(Debug, Clone)]
struct Stretch<'p> {
    since: Exact,
    watch: Option<Watch<'p>>,
}

impl<'p> Measures<'p> {
    pub fn new(protocol: &'p Protocol) -> Self {
        Measures {
            states: protocol
                .measures
                .iter()
                .map(|measure| State {
                    measure,
                    stretch: None,
                    sum: Measured::NONE,
                })
                .collect(),
        }
    }

    /// Time has passed in which nothing was entered: adds it up, on what stood at
    /// its beginning.
    pub fn pass<'v>(&mut self, from: Exact, to: Exact, view: impl Fn(Exact) -> View<'v>) {
        for state in &mut self.states {
            let Some(stretch) = &state.stretch else {
                continue;
            };
            let mut edges = state.edges(stretch, &view(from), to, &view);
            edges.push(to);
            let mut begins = from;
            for edge in edges {
                let length = edge - begins;
                // What stands is the same all through; at the edge itself it may not be.
                let middle = begins + length / Exact::int(2);
                let (truth, beyond) = stretch.stands(state.measure, &view(middle));
                begins = edge;
                let sum = &mut state.sum;
                match truth {
                    Truth::Unknown => sum.unknown = sum.unknown + length,
                    Truth::Fails => sum.known = sum.known + length,
                    Truth::Holds => {
                        sum.known = sum.known + length;
                        sum.held = sum.held + length;
                        sum.area = sum.area + beyond * length / Exact::int(60);
                    }
                }
            }
        }
    }

    /// A moment is over: stretches begin and end, and its records are decided on.
    pub fn observe(&mut self, phase: Option<PhaseId>, view: &View<'_>) {
        for state in &mut self.states {
            let during = &state.measure.during;
            let within = phase
                .is_some_and(|phase| during.is_empty() || during.iter().any(|p| p.value == phase));
            if !within {
                state.stretch = None;
                continue;
            }
            let measure = state.measure;
            let stretch = state.stretch.get_or_insert_with(|| Stretch {
                since: view.now,
                watch: match &measure.what {
                    MeasureWhat::Share(cond) | MeasureWhat::Length(cond) => {
                        Some(Watch::new(cond, view.now))
                    }
                    MeasureWhat::Area { .. } => None,
                },
            });
            if let Some(watch) = &mut stretch.watch {
                watch.observe(view);
            }
        }
    }

    /// What each measure has come to, in the order of the protocol.
    pub fn sums(&self) -> Vec<Measured> {
        self.states.iter().map(|state| state.sum).collect()
    }
}

impl State<'_> {
    /// The moments between two at which what stands can change: a value becomes too
    /// old, or a test of the clock becomes true.
    fn edges<'v>(
        &self,
        stretch: &Stretch<'_>,
        at: &View<'_>,
        to: Exact,
        view: &impl Fn(Exact) -> View<'v>,
    ) -> Vec<Exact> {
        let readings = match &self.measure.what {
            MeasureWhat::Share(cond) | MeasureWhat::Length(cond) => cond.readings(),
            MeasureWhat::Area { reading, .. } => vec![*reading],
        };
        let between = |edge: &Exact| *edge > at.now && *edge < to;
        let mut edges: Vec<Exact> = readings
            .iter()
            .filter_map(|reading| at.board.last(*reading).map(|record| record.good_until))
            .filter(between)
            .collect();
        let mut now = at.now;
        while let Some(next) = stretch
            .watch
            .as_ref()
            .and_then(|watch| watch.wakes(&view(now)))
            .filter(between)
        {
            edges.push(next);
            now = next;
        }
        edges.sort();
        edges.dedup();
        edges
    }
}

impl Stretch<'_> {
    /// Whether it holds, and by how much the value is beyond.
    fn stands(&self, measure: &Measure, view: &View<'_>) -> (Truth, Exact) {
        match &measure.what {
            MeasureWhat::Share(_) | MeasureWhat::Length(_) => {
                let truth = self
                    .watch
                    .as_ref()
                    .map_or(Truth::Unknown, |watch| watch.truth(view));
                (truth, Exact::ZERO)
            }
            MeasureWhat::Area {
                reading,
                side,
                level,
            } => {
                let board: &Board = view.board;
                match board.known(*reading, self.since, view.now) {
                    Some(record) => {
                        let beyond = match side {
                            Side::Above => record.value - level.value,
                            Side::Below => level.value - record.value,
                        };
                        (Truth::of(beyond > Exact::ZERO), beyond)
                    }
                    None => (Truth::Unknown, Exact::ZERO),
                }
            }
        }
    }
}
