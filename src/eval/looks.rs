//! `every` and `at`: what is asked or done when, and whether it was (M5, M19).
//!
//! Each reading of an `every` has one box at a time. A box is filled by a record
//! from a quarter of the interval before its time; up to a quarter after it is in
//! time, later it is late, and when the next box can be filled it is missed. A box
//! whose phase ends within that quarter falls away.
//!
//! An `at` is done once for each time of its mark; `D before PHASE.start` once for
//! each time that the phase begins.

use super::board::Board;
use super::event::{Asked, Cause, Event, Events, What};
use super::phases::Phases;
use crate::model::{
    AskWay, LadderId, Look, LookWhat, LookWhen, Order, PhaseId, Protocol, ReadingId,
};
use crate::quantity::Exact;
use std::borrow::Cow;
use std::sync::Arc;

#[derive(Debug, Clone)]
pub struct Looks<'p> {
    protocol: &'p Protocol,
    /// The place of each look among those that ask for one reading at one time.
    turns: Arc<[usize]>,
    states: Vec<State>,
}

#[derive(Debug, Clone, Default)]
struct State {
    every: Option<Every>,
    once: Once,
}

/// A running stretch of an `every`.
#[derive(Debug, Clone)]
struct Every {
    since: Exact,
    next: Exact,
    /// A quarter of the interval.
    slack: Exact,
    boxes: Vec<Slot>,
}

#[derive(Debug, Clone, Copy)]
struct Slot {
    way: AskWay,
    reading: ReadingId,
    open: Option<Exact>,
    /// The next one has been filled already.
    early: bool,
}

#[derive(Debug, Clone, Copy, Default)]
struct Once {
    /// The time of the mark for which it was done.
    done_for: Option<Exact>,
}

/// Something that looks ask for at a moment.
#[derive(Debug, Clone)]
pub enum Ask<'p> {
    Order(Cow<'p, Order>, Cause),
    /// An `at … record`: asked for now.
    Entry {
        way: AskWay,
        reading: ReadingId,
    },
}

impl<'p> Looks<'p> {
    pub fn new(protocol: &'p Protocol) -> Self {
        Looks {
            protocol,
            turns: turns(protocol).into(),
            states: protocol.looks.iter().map(|_| State::default()).collect(),
        }
    }

    /// Ends and begins stretches once the phases of a moment have settled.
    pub fn settle(&mut self, phase: Option<PhaseId>, now: Exact, events: &mut Events<'p>) {
        for (look, state) in self.protocol.looks.iter().zip(&mut self.states) {
            let Some((interval, during)) = every(look) else {
                continue;
            };
            let within = phase
                .is_some_and(|phase| during.is_empty() || during.iter().any(|p| p.value == phase));
            match (&mut state.every, within) {
                (Some(running), false) => {
                    for made in &running.boxes {
                        if made.open.is_some_and(|due| now > due + running.slack) {
                            made.say_missed(now, events);
                        }
                    }
                    state.every = None;
                }
                (None, true) => {
                    state.every = Some(Every {
                        since: now,
                        next: now,
                        slack: interval * Exact::ratio(1, 4),
                        boxes: boxes(look),
                    });
                }
                (Some(_), true) | (None, false) => {}
            }
        }
    }

    /// A record fills the box that is open for it.
    pub fn record(&mut self, reading: ReadingId, now: Exact, events: &mut Events<'p>) {
        for running in self.states.iter_mut().filter_map(|s| s.every.as_mut()) {
            for filled in running.boxes.iter_mut().filter(|b| b.reading == reading) {
                if now >= running.next - running.slack {
                    filled.early = true;
                } else if let Some(due) = filled.open.take() {
                    events.push(Event {
                        at: now,
                        what: What::EntryMade {
                            asked: filled.asked(due),
                            late: now > due + running.slack,
                        },
                    });
                }
            }
        }
    }

    /// The ladders that a record of this reading is to be followed by.
    pub fn follows(&self, reading: ReadingId) -> Vec<LadderId> {
        let protocol = self.protocol;
        protocol
            .looks
            .iter()
            .zip(&self.states)
            .filter(|(_, state)| state.every.is_some())
            .filter_map(|(look, _)| match &look.what {
                LookWhat::Ask {
                    then_follow: Some(ladder),
                    ..
                } if protocol[ladder.value].reading.value == reading => Some(ladder.value),
                LookWhat::Ask { .. }
                | LookWhat::Do { .. }
                | LookWhat::Give(_)
                | LookWhat::Order(_) => None,
            })
            .collect()
    }

    /// Opens and closes boxes, and gives what is to be done at this moment.
    pub fn due(
        &mut self,
        board: &Board,
        phases: &Phases<'p>,
        starts: impl Fn(PhaseId) -> Option<Exact>,
        now: Exact,
        events: &mut Events<'p>,
    ) -> Vec<Ask<'p>> {
        let mut asks = Vec::new();
        let asked_now: Vec<(ReadingId, usize)> = self.asked_at(now).collect();
        let looks = self.protocol.looks.iter().zip(self.turns.iter());
        for (index, ((look, own), state)) in looks.zip(&mut self.states).enumerate() {
            match (&look.when, &mut state.every) {
                (LookWhen::Every { interval, .. }, Some(running)) => {
                    let shorter = |reading| {
                        asked_now
                            .iter()
                            .any(|(other, turn)| *other == reading && turn < own)
                    };
                    if running.due(interval.value, board, shorter, now, events) {
                        ask_for(look, index, false, &mut asks);
                    }
                }
                (LookWhen::Every { .. }, None) => {}
                (LookWhen::At { after, mark }, _) => {
                    let made = phases.mark_time(mark.value);
                    let wait = after.as_ref().map_or(Exact::ZERO, |after| after.value);
                    if let Some(made) = made
                        && made + wait <= now
                        && state.once.done_for != Some(made)
                    {
                        state.once.done_for = Some(made);
                        ask_for(look, index, true, &mut asks);
                    }
                }
                (LookWhen::Before { before, phase }, _) => {
                    if state
                        .once
                        .before(before.value, phase.value, phases, &starts, now)
                    {
                        ask_for(look, index, true, &mut asks);
                    }
                }
            }
        }
        asks
    }

    /// Which readings the looks that run ask for by then, and with which turn.
    pub fn asked_at(&self, at: Exact) -> impl Iterator<Item = (ReadingId, usize)> {
        let turns = self.states.iter().zip(self.turns.iter());
        turns
            .filter_map(move |(state, turn)| {
                let running = state.every.as_ref()?;
                (running.next <= at).then_some((&running.boxes, *turn))
            })
            .flat_map(|(boxes, turn)| boxes.iter().map(move |slot| (slot.reading, turn)))
    }

    /// When the next box that nobody has filled is missed. Nothing is decided
    /// then: it is no moment of M3, only something to say.
    pub fn closes(&self, now: Exact) -> Option<Exact> {
        self.states
            .iter()
            .filter_map(|state| state.every.as_ref())
            .filter(|running| running.is_open())
            .map(|running| running.next - running.slack)
            .filter(|at| *at > now)
            .min()
    }

    /// Says which boxes are missed by now.
    pub fn close(&mut self, now: Exact, events: &mut Events<'p>) {
        for running in self.states.iter_mut().filter_map(|s| s.every.as_mut()) {
            running.close(now, events);
        }
    }

    pub fn wakes(
        &self,
        phases: &Phases<'p>,
        starts: impl Fn(PhaseId) -> Option<Exact>,
        now: Exact,
    ) -> Option<Exact> {
        let wakes = |(look, state): (&Look, &State)| match &look.when {
            LookWhen::Every { .. } => state.every.as_ref().map(|running| running.next),
            LookWhen::At { after, mark } => {
                let wait = after.as_ref().map_or(Exact::ZERO, |after| after.value);
                phases.mark_time(mark.value).map(|made| made + wait)
            }
            LookWhen::Before { before, phase } => {
                starts(phase.value).map(|start| start - before.value)
            }
        };
        let looks = self.protocol.looks.iter().zip(&self.states);
        looks.filter_map(wakes).filter(|at| *at > now).min()
    }
}

impl Every {
    fn is_open(&self) -> bool {
        self.boxes.iter().any(|slot| slot.open.is_some())
    }

    /// A box is missed once the next one can be filled.
    fn close(&mut self, now: Exact, events: &mut Events<'_>) {
        if self.is_open() && self.next > self.since && now >= self.next - self.slack {
            for missed in &mut self.boxes {
                missed.say_missed(now, events);
                missed.open = None;
            }
        }
    }

    /// Whether it asks at this moment; opens, fills and closes its boxes.
    fn due(
        &mut self,
        interval: Exact,
        board: &Board,
        asked_by_shorter: impl Fn(ReadingId) -> bool,
        now: Exact,
        events: &mut Events<'_>,
    ) -> bool {
        self.close(now, events);
        if self.next > now {
            return false;
        }
        let due = self.next;
        // An interval of nothing would ask for ever.
        self.next = if interval > Exact::ZERO {
            due + interval
        } else {
            Exact::OVERFLOW
        };
        for asked in &mut self.boxes {
            // One box for each reading and time: that of the shortest interval.
            if asked_by_shorter(asked.reading) {
                asked.early = false;
                continue;
            }
            events.push(Event {
                at: now,
                what: What::EntryDue(asked.asked(due)),
            });
            let made = asked.early || board.just_recorded(asked.reading, now);
            asked.early = false;
            if made {
                events.push(Event {
                    at: now,
                    what: What::EntryMade {
                        asked: asked.asked(due),
                        late: false,
                    },
                });
            } else {
                asked.open = Some(due);
            }
        }
        true
    }
}

impl Slot {
    fn asked(&self, due: Exact) -> Asked {
        Asked {
            way: self.way,
            reading: self.reading,
            due,
        }
    }

    fn say_missed(&self, now: Exact, events: &mut Events<'_>) {
        if let Some(due) = self.open {
            events.push(Event {
                at: now,
                what: What::EntryMissed(self.asked(due)),
            });
        }
    }
}

impl Once {
    /// Whether `D before PHASE.start` is now: as planned, or at once when the plan
    /// has it in the past, at the latest when the phase begins.
    fn before(
        &mut self,
        before: Exact,
        phase: PhaseId,
        phases: &Phases<'_>,
        starts: impl Fn(PhaseId) -> Option<Exact>,
        now: Exact,
    ) -> bool {
        // Done for the pass that is to come is noted as a time beyond every other.
        const COMING: Option<Exact> = Some(Exact::OVERFLOW);
        let begun = phases.mark_time(crate::model::MarkRef::PhaseStart(phase));
        if phases.running() == Some(phase) {
            let missed = self.done_for != COMING && self.done_for != begun;
            self.done_for = begun;
            return missed;
        }
        let near = starts(phase).is_some_and(|start| start - before <= now);
        if near && self.done_for != COMING {
            self.done_for = COMING;
            return true;
        }
        false
    }
}

fn every(look: &Look) -> Option<(Exact, &[crate::model::At<PhaseId>])> {
    match &look.when {
        LookWhen::Every { interval, during } => Some((interval.value, during)),
        LookWhen::At { .. } | LookWhen::Before { .. } => None,
    }
}

/// Of two looks that ask for one reading at one time the lesser has the box: that of
/// the shorter interval, then the one that goes on through more phases, then through
/// earlier ones. So it does not hang on the order in which looks are written.
type Precedence = (Exact, usize, Vec<PhaseId>);

fn precedence(look: &Look) -> Precedence {
    let Some((interval, during)) = every(look) else {
        return (Exact::OVERFLOW, 0, Vec::new());
    };
    let mut phases: Vec<PhaseId> = during.iter().map(|phase| phase.value).collect();
    phases.sort_unstable();
    phases.dedup();
    let fewer = match phases.len() {
        // Without `during` it is the whole case.
        0 => 0,
        some => usize::MAX - some,
    };
    (interval, fewer, phases)
}

/// By look, its place in the order of [`precedence`], of equal ones the earlier first.
fn turns(protocol: &Protocol) -> Vec<usize> {
    let mut order: Vec<(Precedence, usize)> = (protocol.looks.iter().enumerate())
        .map(|(index, look)| (precedence(look), index))
        .collect();
    order.sort();
    let mut turns = vec![0; order.len()];
    for (turn, (_, index)) in order.into_iter().enumerate() {
        if let Some(of) = turns.get_mut(index) {
            *of = turn;
        }
    }
    turns
}

fn boxes(look: &Look) -> Vec<Slot> {
    match &look.what {
        LookWhat::Ask { way, readings, .. } => readings
            .iter()
            .map(|reading| Slot {
                way: *way,
                reading: reading.value,
                open: None,
                early: false,
            })
            .collect(),
        LookWhat::Do { .. } | LookWhat::Give(_) | LookWhat::Order(_) => Vec::new(),
    }
}

/// What a look says to do; the entries of an `every` have their boxes already.
fn ask_for<'p>(look: &'p Look, index: usize, once: bool, asks: &mut Vec<Ask<'p>>) {
    let cause = Cause::Look(index);
    match &look.what {
        LookWhat::Ask { way, readings, .. } => {
            if once {
                asks.extend(readings.iter().map(|reading| Ask::Entry {
                    way: *way,
                    reading: reading.value,
                }));
            }
        }
        LookWhat::Do { text, covers } => asks.push(Ask::Order(
            Cow::Owned(Order::Do {
                text: text.clone(),
                covers: covers.clone(),
            }),
            cause,
        )),
        LookWhat::Give(medication) => asks.push(Ask::Order(
            Cow::Owned(Order::Give {
                medication: medication.clone(),
                otherwise: None,
            }),
            cause,
        )),
        LookWhat::Order(action) => asks.push(Ask::Order(Cow::Borrowed(&action.order), cause)),
    }
}
