//! Medications: whether one can be given now, and what then runs (M27 to M30).
//!
//! A run takes every order as carried out at once: the language has no entry that
//! says a dose was drawn up later, or not at all.
//!
//! Choices where the definitions leave room:
//! - `raise` and `lower` of an infusion that does not run are not done, and
//!   neither is `lower` at the lowest rate; `otherwise` stands in.
//! - `give` of an infusion that runs already is done, and changes nothing.
//! - A single dose counts as running while it runs in (`over D`).
//! - `steps … every D` counts from the last change of the rate, the start too.
//! - An infusion stops by itself at its longest time, and is then not given again;
//!   one that an order stopped may be started anew.
//! - `withhold` keeps back doses and raises; it does not stop what runs.
//! - A ceiling is asked when a dose or a raise is ordered (M27, M28). An infusion that
//!   runs on past it by time alone makes no event: no order answers it, and whether the
//!   rates allowed can come to that is `over-ceiling`, before any patient.
//! - A dose that cannot be worked out (no weight, no line for that weight) is not
//!   given.

use crate::model::{DoseLine, InfusionLine, Medication, MedicationId, Protocol};
use crate::quantity::{Base, Exact};
use std::collections::VecDeque;

/// What was done with a medication.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Given {
    /// In base units; `None` where the protocol states no dose.
    Dose(Option<Exact>),
    /// Base units per hour, for each kg where the line is per kg.
    Rate(Exact),
    RunsAlready,
    Stopped,
    /// It has run for its longest time and ends by itself.
    RanOut,
}

/// Why a medication is not given, raised or lowered (M27).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NotGiven {
    Withheld,
    /// Not before this moment.
    TooSoon(Exact),
    TopRate,
    LowestRate,
    NotRunning,
    LongestTime,
    /// None of its `only with` runs.
    Alone,
    /// It would come to this much within the time of the ceiling.
    PastCeiling(Exact),
    /// The dose for this patient cannot be worked out.
    NoDose,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verb {
    Give,
    Raise,
    Lower,
}

#[derive(Debug, Clone)]
pub struct Medications<'p> {
    protocol: &'p Protocol,
    weight: Option<Exact>,
    states: Vec<State>,
}

#[derive(Debug, Clone, Default)]
struct State {
    last_dose: Option<Exact>,
    /// The last dose runs in until then.
    running_in_until: Option<Exact>,
    /// Doses that may still count, in the ceiling's base unit.
    doses: VecDeque<(Exact, Exact)>,
    infusion: Option<Infusion>,
    /// Stretches at one rate that may still count, the last one open.
    ran: VecDeque<Ran>,
    ran_out: bool,
}

#[derive(Debug, Clone, Copy)]
struct Infusion {
    started: Exact,
    changed: Exact,
    per_hour: Exact,
}

#[derive(Debug, Clone, Copy)]
struct Ran {
    from: Exact,
    to: Option<Exact>,
    /// In the ceiling's base unit, for this patient.
    per_hour: Exact,
}

impl<'p> Medications<'p> {
    pub fn new(protocol: &'p Protocol, weight: Option<Exact>) -> Self {
        Medications {
            protocol,
            weight,
            states: protocol.medications().map(|_| State::default()).collect(),
        }
    }

    /// Whether it can be done now, decided on what stood before this moment.
    pub fn refusal(
        &self,
        id: MedicationId,
        verb: Verb,
        withheld: bool,
        now: Exact,
    ) -> Option<NotGiven> {
        let medication = &self.protocol[id];
        let state = self.states.get(id.index())?;
        if verb == Verb::Lower {
            let Some(infusion) = &state.infusion else {
                return Some(NotGiven::NotRunning);
            };
            let lowest = rates(medication).map_or(infusion.per_hour, |(low, _)| low);
            return (infusion.per_hour <= lowest).then_some(NotGiven::LowestRate);
        }
        if withheld {
            return Some(NotGiven::Withheld);
        }
        let accompanied = medication.only_with.is_empty()
            || medication
                .only_with
                .iter()
                .any(|partner| self.runs(partner.value, now));
        if !accompanied {
            return Some(NotGiven::Alone);
        }
        if state.ran_out {
            return Some(NotGiven::LongestTime);
        }
        if verb == Verb::Raise {
            return self.refuse_raise(medication, state, now);
        }
        self.refuse_dose(medication, state, now)
    }

    fn refuse_raise(&self, medication: &Medication, state: &State, now: Exact) -> Option<NotGiven> {
        let Some(infusion) = &state.infusion else {
            return Some(NotGiven::NotRunning);
        };
        let line = medication.infusion.as_ref()?;
        let top = rates(medication).map_or(infusion.per_hour, |(_, top)| top);
        if line.step.is_none() || infusion.per_hour >= top {
            return Some(NotGiven::TopRate);
        }
        if let Some(every) = &line.step_every {
            let next = infusion.changed + every.value;
            if now < next {
                return Some(NotGiven::TooSoon(next));
            }
        }
        self.past_ceiling(medication, state, None, now)
    }

    fn refuse_dose(&self, medication: &Medication, state: &State, now: Exact) -> Option<NotGiven> {
        let line = medication.dose_line_for(self.weight);
        if line.is_none() && !medication.doses.is_empty() {
            return Some(NotGiven::NoDose);
        }
        if let (Some(last), Some(not_again)) = (
            state.last_dose,
            line.and_then(|line| line.not_again.as_ref()),
        ) {
            let next = last + not_again.value;
            if now < next {
                return Some(NotGiven::TooSoon(next));
            }
        }
        if let Some(infusion) = &medication.infusion
            && infusion.first.for_weight(self.weight).is_none()
        {
            return Some(NotGiven::NoDose);
        }
        let amount = match line {
            Some(line) => {
                let Some(worked) = medication.work_dose(line, self.weight) else {
                    return Some(NotGiven::NoDose);
                };
                let Some(counted) = counted(medication, worked.given, line.dose.base) else {
                    return Some(NotGiven::NoDose);
                };
                Some(counted)
            }
            None => None,
        };
        self.past_ceiling(medication, state, amount, now)
    }

    /// What the ceiling would come to (M28): with a dose, when that is past it;
    /// without one, when nothing more may run in.
    fn past_ceiling(
        &self,
        medication: &Medication,
        state: &State,
        dose: Option<Exact>,
        now: Exact,
    ) -> Option<NotGiven> {
        let ceiling = medication.ceiling.as_ref()?;
        let Some(most) = ceiling.dose.for_weight(self.weight) else {
            return Some(NotGiven::NoDose);
        };
        let since = now - ceiling.per.value;
        let doses: Exact = state
            .doses
            .iter()
            .filter(|(at, _)| *at > since)
            .map(|(_, amount)| *amount)
            .sum();
        let ran: Exact = state
            .ran
            .iter()
            .map(|ran| {
                let minutes = ran.to.unwrap_or(now) - ran.from.max(since);
                minutes.max(Exact::ZERO) / Exact::int(60) * ran.per_hour
            })
            .sum();
        let total = doses + ran + dose.unwrap_or(Exact::ZERO);
        let past = match dose {
            Some(_) => total > most,
            None => total >= most,
        };
        past.then_some(NotGiven::PastCeiling(total))
    }

    fn runs(&self, id: MedicationId, now: Exact) -> bool {
        self.states.get(id.index()).is_some_and(|state| {
            state.infusion.is_some() || state.running_in_until.is_some_and(|until| now < until)
        })
    }

    /// Gives it: the dose, then the infusion at its first rate (M30).
    pub fn give(&mut self, id: MedicationId, now: Exact) -> Vec<Given> {
        let medication = &self.protocol[id];
        let weight = self.weight;
        let Some(state) = self.states.get_mut(id.index()) else {
            return Vec::new();
        };
        let mut given = Vec::new();
        if let Some(line) = medication.dose_line_for(weight) {
            let worked = medication
                .work_dose(line, weight)
                .map(|worked| worked.given);
            state.dose(medication, line, worked, now);
            given.push(Given::Dose(worked));
        }
        match &medication.infusion {
            Some(_) if state.infusion.is_some() => given.push(Given::RunsAlready),
            Some(line) => {
                let first = line.first.per_hour;
                state.infusion = Some(Infusion {
                    started: now,
                    changed: now,
                    per_hour: first,
                });
                state.run_at(medication, line, first, weight, now);
                given.push(Given::Rate(first));
            }
            None if given.is_empty() => given.push(Given::Dose(None)),
            None => {}
        }
        given
    }

    /// One step up or down within the two rates (M30).
    pub fn step(&mut self, id: MedicationId, verb: Verb, now: Exact) -> Option<Given> {
        let medication = &self.protocol[id];
        let weight = self.weight;
        let state = self.states.get_mut(id.index())?;
        let line = medication.infusion.as_ref()?;
        let (low, top) = rates(medication)?;
        let infusion = state.infusion.as_mut()?;
        // Without steps, the one way down is to the lowest rate.
        let step = line.step.as_ref().map_or(top - low, |step| step.per_hour);
        infusion.per_hour = match verb {
            Verb::Give | Verb::Raise => (infusion.per_hour + step).min(top),
            Verb::Lower => (infusion.per_hour - step).max(low),
        };
        infusion.changed = now;
        let per_hour = infusion.per_hour;
        state.run_at(medication, line, per_hour, weight, now);
        Some(Given::Rate(per_hour))
    }

    /// `stop MED`; false where nothing ran.
    pub fn stop(&mut self, id: MedicationId, now: Exact) -> bool {
        let Some(state) = self.states.get_mut(id.index()) else {
            return false;
        };
        state.stop(now)
    }

    /// Ends the infusions whose longest time is over.
    pub fn run_out(&mut self, now: Exact) -> Vec<MedicationId> {
        let mut over = Vec::new();
        for ((id, medication), state) in self.protocol.medications().zip(&mut self.states) {
            if state.ends_at(medication).is_some_and(|end| end <= now) {
                state.stop(now);
                state.ran_out = true;
                over.push(id);
            }
            state.forget(medication, now);
        }
        over
    }

    pub fn wakes(&self, now: Exact) -> Option<Exact> {
        self.protocol
            .medications()
            .zip(&self.states)
            .filter_map(|((_, medication), state)| state.ends_at(medication))
            .filter(|end| *end > now)
            .min()
    }
}

impl State {
    fn dose(
        &mut self,
        medication: &Medication,
        line: &DoseLine,
        amount: Option<Exact>,
        now: Exact,
    ) {
        self.last_dose = Some(now);
        self.running_in_until = line.over.as_ref().map(|over| now + over.value);
        let amount = amount.and_then(|amount| counted(medication, amount, line.dose.base));
        if let (Some(amount), Some(_)) = (amount, &medication.ceiling) {
            self.doses.push_back((now, amount));
        }
    }

    /// From now on it runs at another rate.
    fn run_at(
        &mut self,
        medication: &Medication,
        line: &InfusionLine,
        per_hour: Exact,
        weight: Option<Exact>,
        now: Exact,
    ) {
        self.close(now);
        let per_hour = if line.first.per_kg {
            weight.map(|weight| per_hour * weight)
        } else {
            Some(per_hour)
        };
        let per_hour = per_hour.and_then(|rate| counted(medication, rate, line.first.base));
        if let (Some(per_hour), Some(_)) = (per_hour, &medication.ceiling) {
            self.ran.push_back(Ran {
                from: now,
                to: None,
                per_hour,
            });
        }
    }

    fn close(&mut self, now: Exact) {
        if let Some(last) = self.ran.back_mut()
            && last.to.is_none()
        {
            last.to = Some(now);
        }
    }

    fn stop(&mut self, now: Exact) -> bool {
        self.close(now);
        self.running_in_until = self.running_in_until.map(|until| until.min(now));
        self.infusion.take().is_some()
    }

    fn ends_at(&self, medication: &Medication) -> Option<Exact> {
        let longest = medication.infusion.as_ref()?.at_most.as_ref()?;
        Some(self.infusion.as_ref()?.started + longest.value)
    }

    /// Lets go of what no ceiling can count any more.
    fn forget(&mut self, medication: &Medication, now: Exact) {
        let Some(ceiling) = &medication.ceiling else {
            return;
        };
        let since = now - ceiling.per.value;
        while self.doses.front().is_some_and(|(at, _)| *at <= since) {
            self.doses.pop_front();
        }
        while self
            .ran
            .front()
            .is_some_and(|ran| ran.to.is_some_and(|to| to <= since))
        {
            self.ran.pop_front();
        }
    }
}

/// The lowest and the top rate of its infusion, as written.
fn rates(medication: &Medication) -> Option<(Exact, Exact)> {
    let line = medication.infusion.as_ref()?;
    let first = line.first.per_hour;
    let other = line.top.as_ref().map_or(first, |top| top.per_hour);
    Some((first.min(other), first.max(other)))
}

/// An amount in the unit that the ceiling counts; the amount itself without one.
fn counted(medication: &Medication, amount: Exact, base: Base) -> Option<Exact> {
    let Some(ceiling) = &medication.ceiling else {
        return Some(amount);
    };
    if ceiling.dose.base == base {
        return Some(amount);
    }
    let concentration = medication.concentration.as_ref()?;
    if base == Base::Volume && ceiling.dose.base == concentration.base {
        Some(amount * concentration.per_ml)
    } else if ceiling.dose.base == Base::Volume && base == concentration.base {
        Some(amount / concentration.per_ml)
    } else {
        None
    }
}
