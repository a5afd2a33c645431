//! Can these conditions hold together, and on which record?
//!
//! Takes a protocol; answers [`Question`]s about one of its phases. The answer is
//! exact over regular records (M32): a record that shows it, or the certainty that
//! there is none. What may go wrong: a question with very many `or`s is answered
//! [`Answer::TooComplex`]; a phase that no regular record leads into,
//! [`Answer::NoRecord`].
//!
//! ```text
//! grid      values as whole numbers of one unit
//! neutral   what a reading shows when nothing is the matter
//! frame     the times of a regular record, from the evaluator itself (drive)
//! scene     conditions at a moment -> formula over the values recorded (compare)
//! formula   `and` and `or` of differences        bounds, search   decide it
//! looks     at which looks a test is decided, and how far back they lie
//! ask       moment after moment, the first that can be      prelude  orders before
//! possible  what orders can bring about at all, for a proof that they do not
//! target    where the target can stand, whoever has moved it or held it up
//! compiled  formulas kept, and a sieve for what cannot hold together
//! replay    the record that was found, through the evaluator
//! quiet     the same without the rules that cannot change it, where nobody is shown the record
//! follows   what the conditions themselves answer
//! guard     once more, without the orders that have disturbed it
//! opposites which two orders contradict (M33)
//! budget    how much all questions together may take
//! ```

mod ask;
pub mod bounds;
mod budget;
mod compare;
mod compiled;
mod drive;
mod follows;
pub mod formula;
pub mod frame;
pub mod grid;
mod guard;
mod intervals;
mod looks;
mod moments;
mod neutral;
mod next;
pub mod on_plan;
pub mod opposites;
mod planned;
mod possible;
mod prelude;
pub mod question;
mod quiet;
mod record;
pub mod replay;
pub mod said;
pub mod scene;
pub mod search;
mod shown;
mod target;

pub use budget::Budget;
pub use question::{Answer, Found, Goal, Question};
pub use scene::Values;

use crate::model::*;
use crate::quantity::Exact;
use frame::{Builder, Ending, Frame};
use grid::Grids;
use intervals::Intervals;
use rustc_hash::FxHashMap;
use std::cell::{Cell, RefCell};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Arc, OnceLock};

/// Everything about a protocol that questions share.
pub struct Solver<'p> {
    pub protocol: &'p Protocol,
    pub(crate) grids: Grids,
    pub(crate) intervals: Intervals,
    neutral: Vec<i64>,
    frames: Frames,
    pub(crate) replayed: Cell<u32>,
    pub(crate) not_reproduced: RefCell<Vec<Found>>,
    unsettled: RefCell<BTreeSet<Unsettled>>,
    budget: Budget,
    store: RefCell<compiled::Store>,
    lead_ins: replay::LeadIns<'p>,
    last_replay: RefCell<Option<replay::Last<'p>>>,
    quiet: quiet::Quiet<'p>,
    /// What several checks ask.
    plain: RefCell<FxHashMap<Plain, Answer>>,
    /// By phase; the same for every question.
    orders: RefCell<BTreeMap<PhaseId, scene::Any>>,
}

/// By phase; made when it is first asked about, by whichever solver of a protocol asks.
pub type Frames = Arc<[Made]>;

#[derive(Debug, Default)]
pub struct Made {
    frame: OnceLock<Option<Frame>>,
    ending: OnceLock<Option<Ending>>,
}

/// Whether the condition of a rule can hold in a phase, or need not, and only once all windows
/// are full, on any record that nobody is shown.
type Plain = (PhaseId, RuleId, bool, bool);

/// A question that was not answered: somebody must be told.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Unsettled {
    pub why: Why,
    /// Those whose conditions were asked about.
    pub rules: Vec<RuleId>,
    pub phase: PhaseId,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Why {
    TooComplex,
    /// There is a record, but other orders stand in the way of replaying it.
    NotShown,
}

impl<'p> Solver<'p> {
    pub fn new(protocol: &'p Protocol) -> Self {
        Self::with(
            protocol,
            protocol.phases().map(|_| Made::default()).collect(),
        )
    }

    /// One more for the same protocol, for another thread.
    pub fn with(protocol: &'p Protocol, frames: Frames) -> Self {
        let grids = Grids::of(protocol);
        Solver {
            protocol,
            intervals: Intervals::of(protocol),
            neutral: neutral::neutral(protocol, &grids),
            grids,
            frames,
            replayed: Cell::new(0),
            not_reproduced: RefCell::new(Vec::new()),
            unsettled: RefCell::default(),
            budget: Budget::default(),
            store: RefCell::new(compiled::Store::of(protocol)),
            lead_ins: RefCell::default(),
            last_replay: RefCell::default(),
            quiet: quiet::Quiet::default(),
            plain: RefCell::default(),
            orders: RefCell::default(),
        }
    }

    /// Beyond it no question is answered but as [`Answer::TooComplex`].
    pub fn within(mut self, budget: &Budget) -> Self {
        self.budget = budget.clone();
        self
    }

    pub fn frame(&self, phase: PhaseId) -> Option<&Frame> {
        let made = self.frames.get(phase.index())?;
        made.frame.get_or_init(|| self.build(phase)).as_ref()
    }

    /// Makes all of them, the last first: beside a solver that begins with the first.
    pub fn make_frames(&self) {
        let phases: Vec<PhaseId> = self.protocol.phases().map(|(phase, _)| phase).collect();
        for phase in phases.into_iter().rev() {
            self.frame(phase);
        }
    }

    pub fn frames(&self) -> Frames {
        Arc::clone(&self.frames)
    }

    /// What was left open by another solver of the same protocol.
    pub fn leave_open(&self, unsettled: Vec<Unsettled>) {
        self.unsettled.borrow_mut().extend(unsettled);
    }

    /// What orders can make of the target and of control in that phase.
    fn can_order(&self, frame: &Frame) -> scene::Any {
        if let Some(known) = self.orders.borrow().get(&frame.phase) {
            return *known;
        }
        let found = possible::by_orders(self, frame);
        self.orders.borrow_mut().insert(frame.phase, found);
        found
    }

    fn build(&self, phase: PhaseId) -> Option<Frame> {
        // Only those ahead of it are asked for, and so on: no two wait for each other.
        let ahead = self.protocol.phases().map(|(ahead, _)| ahead);
        let endings: BTreeMap<PhaseId, Ending> = ahead
            .take_while(|ahead| *ahead < phase)
            .filter_map(|ahead| Some((ahead, self.ending_of(ahead)?.clone())))
            .collect();
        Builder {
            protocol: self.protocol,
            grids: &self.grids,
            neutral: &self.neutral,
            intervals: &self.intervals,
            endings: &endings,
        }
        .build(phase, self.length(phase))
    }

    fn ending_of(&self, phase: PhaseId) -> Option<&Ending> {
        if !matches!(
            &self.protocol[phase].end,
            End::Awaited {
                trigger: EndTrigger::When(_),
                ..
            }
        ) {
            return None;
        }
        let made = self.frames.get(phase.index())?;
        let ending = || self.frame(phase).and_then(|frame| self.ending(frame));
        made.ending.get_or_init(ending).as_ref()
    }

    /// How many witnesses were run through the evaluator.
    pub fn replays(&self) -> u32 {
        self.replayed.get()
    }

    /// Those that did not show what they should: none, or there is a defect in this
    /// program. Nobody is shown them, and tests fail on them.
    pub fn not_reproduced(&self) -> Vec<Found> {
        self.not_reproduced.borrow().clone()
    }

    /// The questions that were asked and not answered, in the order of their rules.
    pub fn unsettled(&self) -> Vec<Unsettled> {
        self.unsettled.borrow().iter().cloned().collect()
    }

    fn note(&self, question: &Question<'_>, answer: &Answer) {
        let why = match answer {
            Answer::TooComplex => Why::TooComplex,
            Answer::NotShown(_) => Why::NotShown,
            Answer::Found(_) | Answer::Never | Answer::NoRecord => return,
        };
        let mut rules: Vec<RuleId> = question
            .conds()
            .filter_map(|cond| self.rule_of(cond))
            .collect();
        rules.sort_unstable();
        rules.dedup();
        self.unsettled.borrow_mut().insert(Unsettled {
            why,
            rules,
            phase: question.phase,
        });
    }

    /// How much of a phase a proof needs to see.
    fn length(&self, phase: PhaseId) -> Exact {
        let tests = self.all_tests();
        let window = self.window(&tests, phase);
        let longest = self.intervals.longest(phase);
        let stated = &self.protocol[phase];
        let course = match &stated.aim {
            Aim::Reach {
                rate: Some(rate),
                from,
                to,
                reading,
                ..
            } => {
                let begin = from.as_ref().map(|from| from.value).or_else(|| {
                    self.protocol
                        .head
                        .patients
                        .on_arrival
                        .iter()
                        .find_map(|(of, range)| {
                            (*of == reading.value).then_some({
                                let low = (range.low.value - to.value).abs();
                                let high = (range.high.value - to.value).abs();
                                if low > high {
                                    range.low.value
                                } else {
                                    range.high.value
                                }
                            })
                        })
                });
                begin
                    .and_then(|begin| crate::plan::Course::of(stated, begin, rate.slower().value))
                    .and_then(|course| course.arrives_after())
                    .unwrap_or(Exact::ZERO)
            }
            Aim::Reach { .. } | Aim::Hold { .. } | Aim::Keep { .. } => Exact::ZERO,
        };
        // A reading that falls silent does so when the windows are full.
        let silent = tests
            .iter()
            .filter_map(|test| match &test.kind {
                TestKind::NotRecorded { over, .. } => Some(over.value),
                _ => None,
            })
            .max()
            .unwrap_or(Exact::ZERO);
        let all = self.protocol.readings().map(|(reading, _)| reading);
        let repeats = self.intervals.repeats(phase, all);
        let followed = repeats
            .unwrap_or(intervals::longest_followed())
            .max(longest * Exact::int(2));
        // Held up, it arrives as late as one likes; behind its beginning all repeats.
        let until = match possible::bent(self.protocol, &self.grids, phase) {
            Some(_) if self.target_moves(phase) => window + course,
            _ => window.max(course),
        };
        until + silent + longest + followed
    }

    /// The shortest record at whose end the condition of a phase's end holds for the
    /// first time.
    fn first_end(&self, frame: &Frame, cond: &Cond, least: Exact) -> Option<Found> {
        let from = frame.begins + least;
        for at in frame.moments.iter().filter(|at| **at >= from) {
            let mut scene = self.scene(frame, Values::Free);
            let mut all = vec![scene.cond(cond, frame.begins, *at)];
            for moment in &frame.moments {
                if *moment >= from && moment < at {
                    all.push(scene.cond(cond, frame.begins, *moment).negated());
                }
            }
            let formula = formula::Formula::all(all);
            match search::decide(&scene.domains, &formula) {
                search::Verdict::Possible(values) => {
                    return Some(record::found(&scene, frame, *at, &values));
                }
                search::Verdict::Impossible => {}
                // Then no question about the phases behind is answered.
                search::Verdict::TooComplex => {
                    self.unsettled.borrow_mut().insert(Unsettled {
                        why: Why::TooComplex,
                        rules: Vec::new(),
                        phase: frame.phase,
                    });
                }
            }
        }
        None
    }

    fn all_tests(&self) -> Vec<&'p Test> {
        let protocol = self.protocol;
        let mut tests: Vec<&Test> = Vec::new();
        for (_, rule) in protocol.rules() {
            tests.extend(rule.when.tests());
            tests.extend(rule.ready_again.iter().flat_map(Cond::tests));
            for action in &rule.then {
                if let Order::Pause(Until::When(cond))
                | Order::KeepTarget(Until::When(cond))
                | Order::Withhold {
                    until: Until::When(cond),
                    ..
                } = &action.order
                {
                    tests.extend(cond.tests());
                }
            }
        }
        for (_, phase) in protocol.phases() {
            if let End::Awaited {
                trigger: EndTrigger::When(cond),
                ..
            } = &phase.end
            {
                tests.extend(cond.tests());
            }
        }
        tests
    }

    /// How a phase that waits for a condition ends soonest, for the phases behind.
    fn ending(&self, frame: &Frame) -> Option<Ending> {
        let End::Awaited {
            trigger: EndTrigger::When(cond),
            at_least,
            at_most,
            ..
        } = &self.protocol[frame.phase].end
        else {
            return None;
        };
        let least = at_least.as_ref().map_or(Exact::ZERO, |least| least.value);
        let found = self.first_end(frame, cond, least);
        match (found, at_most) {
            (Some(found), _) => Some(Ending {
                length: found.at - frame.begins,
                values: found
                    .shown
                    .iter()
                    .map(|(at, reading, value)| {
                        (*at - frame.begins, *reading, self.grids.floor(*value))
                    })
                    .collect(),
            }),
            (None, Some(most)) => Some(Ending {
                length: most.value,
                values: Vec::new(),
            }),
            (None, None) => None,
        }
    }
}
