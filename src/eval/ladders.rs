//! Ladders: which rung has the value, which step comes next (M16, M26).
//!
//! A ladder rests, waits for a value that was asked for, or waits for a recheck.
//!
//! Choices where the definitions leave room:
//! - A ladder chooses once at one moment, however often it is followed then.
//! - A `then follow` look follows its ladder on every record of the ladder's
//!   reading in its phases, asked for or not.
//! - After its last step a ladder rests, met or not.

use super::event::{Cause, Event, Events, What};
use crate::model::{Action, Goal, Ladder, LadderForm, LadderId, Protocol, ReadingId, RungBand};
use crate::quantity::Exact;

#[derive(Debug, Clone)]
pub struct Ladders<'p> {
    protocol: &'p Protocol,
    states: Vec<State>,
}

#[derive(Debug, Clone, Copy, Default)]
struct State {
    now: Stage,
    /// When it last chose.
    chose: Option<Exact>,
}

#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
enum Stage {
    #[default]
    Rests,
    /// Its reading was asked for.
    Asked,
    /// At this rung or step, until a record from `from` on.
    Waits {
        at: usize,
        from: Exact,
        due: Exact,
        said_due: bool,
    },
}

/// What follows from following a ladder or from a record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Followed<'p> {
    /// These orders of a rung or step.
    Orders(Vec<(&'p Action, Cause)>),
    /// Its reading must be asked for.
    Ask(ReadingId),
    /// It goes on where it is.
    GoesOn,
}

impl<'p> Ladders<'p> {
    pub fn new(protocol: &'p Protocol) -> Self {
        Ladders {
            protocol,
            states: protocol.ladders().map(|_| State::default()).collect(),
        }
    }

    /// `follow LADDER`; `value` is that of its reading where it was recorded at
    /// this very moment.
    pub fn follow(
        &mut self,
        id: LadderId,
        value: Option<Exact>,
        now: Exact,
        events: &mut Events<'p>,
    ) -> Followed<'p> {
        let Some(state) = self.states.get_mut(id.index()) else {
            return Followed::GoesOn;
        };
        match (state.now, value) {
            (Stage::Waits { .. }, _) => Followed::GoesOn,
            (Stage::Rests | Stage::Asked, _) if state.chose == Some(now) => Followed::GoesOn,
            (Stage::Rests | Stage::Asked, Some(value)) => {
                Followed::Orders(self.choose(id, 0, value, now, events))
            }
            (Stage::Rests, None) => {
                state.now = Stage::Asked;
                Followed::Ask(self.protocol[id].reading.value)
            }
            (Stage::Asked, None) => Followed::GoesOn,
        }
    }

    /// A record of `reading`: answers what was asked for and what is to be
    /// rechecked. Gives the orders of every ladder that moves on.
    pub fn record(
        &mut self,
        reading: ReadingId,
        value: Exact,
        now: Exact,
        events: &mut Events<'p>,
    ) -> Vec<(&'p Action, Cause)> {
        let protocol = self.protocol;
        let mut orders = Vec::new();
        for (id, ladder) in protocol.ladders() {
            let state = self.states.get(id.index()).copied().unwrap_or_default();
            if ladder.reading.value != reading || state.chose == Some(now) {
                continue;
            }
            match state.now {
                Stage::Rests => {}
                Stage::Asked => orders.extend(self.choose(id, 0, value, now, events)),
                Stage::Waits { at, from, due, .. } if now >= from => {
                    // A quarter of D early answers it, a quarter late is not late.
                    let late = now > due + (due - from);
                    events.push(Event {
                        at: now,
                        what: What::RecheckAnswered {
                            ladder: id,
                            due,
                            late,
                        },
                    });
                    orders.extend(self.choose(id, at + 1, value, now, events));
                }
                Stage::Waits { .. } => {}
            }
        }
        orders
    }

    /// Chooses by the value; `step` is the one to do where the ladder has steps.
    fn choose(
        &mut self,
        id: LadderId,
        step: usize,
        value: Exact,
        now: Exact,
        events: &mut Events<'p>,
    ) -> Vec<(&'p Action, Cause)> {
        let protocol = self.protocol;
        let mut say = |what| events.push(Event { at: now, what });
        let (chosen, goal_met) = match &protocol[id].form {
            LadderForm::Rungs(rungs) => match rungs.iter().position(|rung| rung.band.has(value)) {
                Some(index) => {
                    say(What::RungChosen {
                        ladder: id,
                        rung: index,
                    });
                    let rung = &rungs[index];
                    let cause = Cause::Rung(id, index);
                    (Some((index, &rung.actions, &rung.recheck, cause)), false)
                }
                None => {
                    say(What::NoRung { ladder: id, value });
                    (None, false)
                }
            },
            LadderForm::Steps { goal, steps } => {
                let met = goal.is_met(value);
                match steps.get(step).filter(|_| !met) {
                    Some(next) => {
                        say(What::StepDone { ladder: id, step });
                        let cause = Cause::Step(id, step);
                        (Some((step, &next.actions, &next.recheck, cause)), false)
                    }
                    None => (None, met),
                }
            }
        };
        let recheck = chosen.and_then(|(at, _, recheck, _)| Some((at, recheck.as_ref()?.value)));
        let stage = match recheck {
            Some((at, after)) => Stage::Waits {
                at,
                from: now + after * Exact::ratio(3, 4),
                due: now + after,
                said_due: false,
            },
            None => {
                say(What::LadderRests {
                    ladder: id,
                    goal_met,
                });
                Stage::Rests
            }
        };
        if let Some(state) = self.states.get_mut(id.index()) {
            *state = State {
                now: stage,
                chose: Some(now),
            };
        }
        chosen
            .into_iter()
            .flat_map(|(_, actions, _, cause)| actions.iter().map(move |action| (action, cause)))
            .collect()
    }

    /// Says which rechecks are due now.
    pub fn say_due(&mut self, now: Exact, events: &mut Events<'p>) {
        for ((id, _), state) in self.protocol.ladders().zip(&mut self.states) {
            if let Stage::Waits { due, said_due, .. } = &mut state.now
                && !*said_due
                && *due <= now
            {
                *said_due = true;
                events.push(Event {
                    at: now,
                    what: What::RecheckDue { ladder: id },
                });
            }
        }
    }

    pub fn wakes(&self, now: Exact) -> Option<Exact> {
        self.states
            .iter()
            .filter_map(|state| match state.now {
                Stage::Waits { due, .. } => Some(due),
                Stage::Rests | Stage::Asked => None,
            })
            .filter(|due| *due > now)
            .min()
    }
}

impl RungBand {
    /// Whether this rung has the value.
    pub fn has(&self, value: Exact) -> bool {
        match self {
            RungBand::Values { low, high } => value >= low.value && value <= high.value,
            RungBand::Compare { cmp, level } => cmp.holds(value, level.value),
        }
    }
}

impl Goal {
    pub fn is_met(&self, value: Exact) -> bool {
        match self {
            Goal::Compare { cmp, level } => cmp.holds(value, level.value),
            Goal::Is(word) => i64::try_from(word.value).is_ok_and(|word| value == Exact::int(word)),
        }
    }
}

impl Ladder {
    /// The title of a rung or step by its index.
    pub fn rung_title(&self, index: usize) -> Option<&str> {
        let title = match &self.form {
            LadderForm::Rungs(rungs) => &rungs.get(index)?.title,
            LadderForm::Steps { steps, .. } => &steps.get(index)?.title,
        };
        Some(&title.markdown)
    }
}
