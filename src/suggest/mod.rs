//! Scenarios for what no scenario of a protocol reaches, ready to paste.
//!
//! Takes a protocol; asks the solver for a record that reaches each rule, rung, step and
//! phase that its own scenarios do not, takes from that record what is not needed, and
//! writes it down as a scenario. Every one is tried on the evaluator before it is given:
//! pasted, it passes. What may go wrong: no regular record reaches it, or none was found;
//! that is said by name.
//!
//! What is expected is what the protocol does now. Whether that is right, a person says.

mod shrink;
mod write;

use crate::eval::{Case, Entry, EntryWhat, Event, Run, What};
use crate::model::*;
use crate::quantity::Exact;
use crate::rehearse::{Missing, missing};
use crate::solve::{Answer, Found, Goal, Question, Solver};

/// Scenarios as text, and what none was found for.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Suggested {
    pub text: String,
    pub scenarios: usize,
    /// By name, with the reason.
    pub without: Vec<String>,
}

/// A record that reaches something, at its last moment.
#[derive(Debug, Clone)]
struct Record {
    marks: Vec<(MarkId, Exact)>,
    entries: Vec<Entry>,
    at: Exact,
}

/// What a scenario is to reach.
#[derive(Debug, Clone, Copy)]
enum Wanted {
    Phase(PhaseId),
    Rule(RuleId),
    Rung(LadderId, usize),
}

/// Scenarios for everything that the protocol's own do not reach.
pub fn suggest(protocol: &Protocol) -> Suggested {
    let Missing {
        phases,
        rules,
        rungs,
    } = missing(protocol);
    let seeker = Seeker {
        protocol,
        solver: Solver::new(protocol),
    };
    let wanted = (phases.into_iter().map(Wanted::Phase))
        .chain(rules.into_iter().map(Wanted::Rule))
        .chain(
            rungs
                .into_iter()
                .map(|(ladder, at)| Wanted::Rung(ladder, at)),
        );
    let mut made = Suggested::default();
    for wanted in wanted {
        let found = seeker
            .seek(wanted)
            .map(|record| shrink::shrink(protocol, record, wanted));
        match found {
            Some(record) => {
                if made.scenarios > 0 {
                    made.text.push('\n');
                }
                made.text
                    .push_str(&write::scenario(protocol, &record, wanted));
                made.scenarios += 1;
            }
            None => made.without.push(write::name(protocol, wanted)),
        }
    }
    made
}

/// What a record says, up to and with its last moment.
fn events<'p>(protocol: &'p Protocol, record: &Record) -> Vec<Event<'p>> {
    let case = Case {
        marks: record.marks.clone(),
        ..Case::default()
    };
    let mut run = Run::new(protocol, &case);
    for entry in &record.entries {
        run.enter(*entry);
    }
    run.advance(record.at);
    run.take_events()
}

/// Whether the record reaches it at its last moment, and nothing of it is refused.
fn reaches(protocol: &Protocol, record: &Record, wanted: Wanted) -> bool {
    let events = events(protocol, record);
    if events
        .iter()
        .any(|event| matches!(event.what, What::Refused(_)))
    {
        return false;
    }
    events.iter().any(|event| {
        event.at == record.at
            && match (&event.what, wanted) {
                (What::PhaseBegins { phase, .. }, Wanted::Phase(wanted)) => *phase == wanted,
                (What::RuleFires { rule, .. }, Wanted::Rule(wanted)) => *rule == wanted,
                (What::RungChosen { ladder, rung }, Wanted::Rung(wanted, at)) => {
                    *ladder == wanted && *rung == at
                }
                (What::StepDone { ladder, step }, Wanted::Rung(wanted, at)) => {
                    *ladder == wanted && *step == at
                }
                _ => false,
            }
    }) && match wanted {
        // It must still run once everything of the moment is done.
        Wanted::Phase(phase) => last_phase(&events) == Some(phase),
        Wanted::Rule(_) | Wanted::Rung(..) => true,
    }
}

fn last_phase(events: &[Event<'_>]) -> Option<PhaseId> {
    events.iter().rev().find_map(|event| match event.what {
        What::PhaseBegins { phase, .. } => Some(phase),
        _ => None,
    })
}

struct Seeker<'p> {
    protocol: &'p Protocol,
    solver: Solver<'p>,
}

impl Seeker<'_> {
    fn seek(&self, wanted: Wanted) -> Option<Record> {
        match wanted {
            Wanted::Phase(phase) => self.phase(phase),
            Wanted::Rule(rule) => self.rule(rule),
            Wanted::Rung(ladder, at) => self.rung(ladder, at),
        }
    }

    fn ask(&self, phase: PhaseId, goals: Vec<Goal<'_>>) -> Option<Record> {
        match self.solver.ask(&Question::new(phase, goals)) {
            Answer::Found(found) => Some(record(&found)),
            Answer::Never | Answer::NoRecord | Answer::TooComplex | Answer::NotShown(_) => None,
        }
    }

    fn phase(&self, phase: PhaseId) -> Option<Record> {
        let mut record = self.ask(phase, Vec::new())?;
        // The moment asked about may be later than the phase's beginning.
        record.at = events(self.protocol, &record)
            .iter()
            .find_map(|event| match event.what {
                What::PhaseBegins { phase: begun, .. } if begun == phase => Some(event.at),
                _ => None,
            })?;
        record.entries.retain(|entry| entry.at <= record.at);
        self.if_it_reaches(record, Wanted::Phase(phase))
    }

    fn rule(&self, id: RuleId) -> Option<Record> {
        let rule = &self.protocol[id];
        self.phases_of(&rule.during).into_iter().find_map(|phase| {
            // What overrides it must not hold, or it is silent.
            let over = self.protocol.rules().filter(|(_, other)| {
                other
                    .overrides
                    .iter()
                    .any(|overridden| overridden.value == id)
                    && (other.during.is_empty() || other.during.iter().any(|p| p.value == phase))
            });
            let alone: Vec<Goal<'_>> = std::iter::once(Goal::rule(rule, true))
                .chain(over.map(|(_, other)| Goal::rule(other, false)))
                .collect();
            [alone, vec![Goal::rule(rule, true)]]
                .into_iter()
                .find_map(|goals| self.if_it_reaches(self.ask(phase, goals)?, Wanted::Rule(id)))
        })
    }

    fn rung(&self, id: LadderId, at: usize) -> Option<Record> {
        let ladder = &self.protocol[id];
        self.followed(id).into_iter().find_map(|record| {
            let wanted = Wanted::Rung(id, at);
            match &ladder.form {
                LadderForm::Rungs(rungs) => {
                    let value = in_band(&rungs.get(at)?.band, self.grid(ladder)?)?;
                    let record = with(record, ladder.reading.value, value);
                    self.if_it_reaches(record, wanted)
                }
                LadderForm::Steps { goal, steps } => {
                    let value = not_met(goal, &self.protocol[ladder.reading.value])?;
                    let mut record = with(record, ladder.reading.value, value);
                    for step in steps.iter().take(at) {
                        let wait = step.recheck.as_ref()?.value;
                        record.at = record.at + wait;
                        record
                            .entries
                            .push(Entry::record(record.at, ladder.reading.value, value));
                    }
                    self.if_it_reaches(record, wanted)
                }
            }
        })
    }

    /// Records at whose last moment the ladder is followed: by a look at its reading, or
    /// by a rule that orders it.
    fn followed(&self, id: LadderId) -> Vec<Record> {
        let protocol = self.protocol;
        let mut found = Vec::new();
        for look in &protocol.looks {
            if let (
                LookWhat::Ask {
                    then_follow: Some(ladder),
                    ..
                },
                LookWhen::Every { during, .. },
            ) = (&look.what, &look.when)
                && ladder.value == id
            {
                for phase in self.phases_of(during).into_iter().take(2) {
                    found.extend(self.ask(phase, Vec::new()));
                }
            }
        }
        for (rule, stated) in protocol.rules() {
            let orders = crate::solve::said::said(protocol, stated);
            let follows = orders.iter().any(|said| {
                matches!(&said.action.order, Order::FollowLadder(ladder) if ladder.value == id)
            });
            if follows {
                found.extend(self.rule(rule));
            }
        }
        found
    }

    fn phases_of(&self, during: &[At<PhaseId>]) -> Vec<PhaseId> {
        if during.is_empty() {
            self.protocol.phases().map(|(id, _)| id).collect()
        } else {
            during.iter().map(|phase| phase.value).collect()
        }
    }

    fn grid(&self, ladder: &Ladder) -> Option<Grid> {
        self.protocol[ladder.reading.value].grid()
    }

    fn if_it_reaches(&self, record: Record, wanted: Wanted) -> Option<Record> {
        // A scenario writes whole minutes.
        let whole =
            record.at.is_integer() && record.entries.iter().all(|entry| entry.at.is_integer());
        (whole && reaches(self.protocol, &record, wanted)).then_some(record)
    }
}

fn record(found: &Found) -> Record {
    // A mark of the very start is written as an entry: `given` is before or after it.
    let (at_start, marks): (Vec<_>, Vec<_>) = found.marks.iter().partition(|(_, at)| at.is_zero());
    let entries = (at_start.into_iter())
        .map(|(mark, at): (MarkId, Exact)| Entry::mark(at, mark))
        .chain(found.entries.iter().copied())
        .collect();
    Record {
        marks,
        entries,
        at: found.at,
    }
}

/// The same with that value of the reading at its last moment.
fn with(mut record: Record, reading: ReadingId, value: Exact) -> Record {
    let at = record.at;
    record.entries.retain(|entry| {
        !(entry.at == at
            && matches!(entry.what, EntryWhat::Record { reading: of, .. } if of == reading))
    });
    record.entries.push(Entry::record(at, reading, value));
    record
}

/// A value of the grid that the rung is for.
fn in_band(band: &RungBand, grid: Grid) -> Option<Exact> {
    let fits = |value: Exact| {
        value >= grid.low
            && value <= grid.high
            && match band {
                RungBand::Values { low, high } => value >= low.value && value <= high.value,
                RungBand::Compare { cmp, level } => cmp.holds(value, level.value),
            }
    };
    let edge = match band {
        RungBand::Values { low, .. } => low.value,
        RungBand::Compare { level, .. } => level.value,
    };
    [edge, edge + grid.step, edge - grid.step]
        .into_iter()
        .find(|value| fits(*value))
}

/// A value with which the goal of a ladder is not met.
fn not_met(goal: &crate::model::Goal, reading: &Reading) -> Option<Exact> {
    let grid = reading.grid()?;
    let mut value = grid.low;
    let fits = |value: Exact| match goal {
        crate::model::Goal::Compare { cmp, level } => !cmp.holds(value, level.value),
        crate::model::Goal::Is(word) => {
            i64::try_from(word.value).map(Exact::int).ok() != Some(value)
        }
    };
    // The value next to the goal is the plainest; the ends are tried where there is none.
    if let crate::model::Goal::Compare { level, .. } = goal {
        let next = [
            level.value,
            level.value - grid.step,
            level.value + grid.step,
        ];
        if let Some(near) = next
            .into_iter()
            .find(|value| fits(*value) && *value >= grid.low && *value <= grid.high)
        {
            return Some(near);
        }
    }
    while value <= grid.high {
        if fits(value) {
            return Some(value);
        }
        value = value + grid.step;
    }
    None
}
