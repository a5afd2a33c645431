//! What each order does once it is given (M16, M22, M23, M25, M30).
//!
//! What it changes counts from the next moment on (M3).

use super::contradiction::change;
use super::event::{NotDone, What};
use super::machine::Run;
use super::medications::{Given, Verb};
use super::phases::EndWhy;
use super::target::NoTarget;
use crate::model::{MedicationId, Order};
use crate::quantity::Exact;
use std::borrow::Cow;

impl<'p> Run<'p> {
    /// Why an order cannot be done; `None` where it can.
    pub(super) fn cannot(&self, order: &Order, now: Exact) -> Option<NotDone> {
        if let Some(change) = change(order) {
            return self.target.moved(change, now).err().map(NotDone::Target);
        }
        match order {
            Order::SetRate(_) => self.target.cannot_set_rate().map(NotDone::Target),
            Order::KeepTarget(_) => (self.target.value(now).is_none() && !self.target.is_waiting())
                .then_some(NotDone::Target(NoTarget::NoneHere)),
            Order::Begin(phase) if self.begun.contains(&phase.value) => Some(NotDone::GoingRound),
            Order::Begin(phase) => (self.phases.running() == Some(phase.value)
                && !self.phases.is_stopped())
            .then_some(NotDone::RunsAlready),
            _ => None,
        }
    }

    pub(super) fn carry_out(&mut self, order: Cow<'p, Order>, now: Exact) {
        if let Cow::Borrowed(order) = &order {
            self.let_stand(order, now);
        }
        if let Some(moved) = change(&order).and_then(|change| self.target.moved(change, now).ok()) {
            self.target.put(moved, now);
            self.say_target(now, true);
            return;
        }
        match &*order {
            Order::Ask {
                way,
                readings,
                after,
            } => {
                let after = after.as_ref().map_or(Exact::ZERO, |after| after.value);
                for reading in readings {
                    let just = self.board.just_recorded(reading.value, now);
                    self.asks
                        .ask(*way, reading.value, after, just, now, &mut self.events);
                }
            }
            Order::Call { role, within } => {
                let by = now + within.as_ref().map_or(Exact::ZERO, |within| within.value);
                if let Some(call) = self.calls.call(self.protocol, role.value, by, now) {
                    self.say(now, What::Call(call));
                }
            }
            Order::Begin(phase) => {
                self.begun.push(phase.value);
                self.end_phase(EndWhy::Order, now);
                self.begin_phase(phase.value, now, true);
            }
            Order::SetRate(rate) => {
                self.target.set_rate(rate.value, now);
                self.say_target(now, true);
            }
            Order::Stop => {
                self.phases.stop();
                for pause in self.standing.end_pauses() {
                    self.say(now, What::OrderEnds(pause));
                }
                self.update_still(now);
            }
            Order::Give { medication, .. } => {
                for given in self.medications.give(medication.value, now) {
                    self.say_given(medication.value, given, now);
                }
            }
            Order::RaiseRate { medication, .. } => self.step(medication.value, Verb::Raise, now),
            Order::LowerRate { medication, .. } => self.step(medication.value, Verb::Lower, now),
            Order::StopMedication(medication) => {
                if self.medications.stop(medication.value, now) {
                    self.say_given(medication.value, Given::Stopped, now);
                }
            }
            // Standing orders stand already; ladders have been followed through;
            // the others ask for nothing that a record would show.
            Order::KeepTarget(_)
            | Order::Pause(_)
            | Order::Withhold { .. }
            | Order::FollowLadder(_)
            | Order::FollowChecklist(_)
            | Order::Do { .. }
            | Order::Continue
            | Order::SetTarget(_)
            | Order::RaiseTarget { .. }
            | Order::LowerTarget { .. } => {}
        }
    }

    /// An order with an UNTIL stands until that ends it.
    fn let_stand(&mut self, order: &'p Order, now: Exact) {
        let until = match order {
            Order::KeepTarget(until) | Order::Pause(until) | Order::Withhold { until, .. } => until,
            _ => return,
        };
        let view = super::condition::View {
            now,
            board: &self.board,
            aimed: self.target.aimed(now),
            running: self.phases.clock(),
            paused_since: self.pauses.since,
        };
        self.standing.add(order, until, &view);
        self.update_still(now);
    }

    fn step(&mut self, medication: MedicationId, verb: Verb, now: Exact) {
        if let Some(given) = self.medications.step(medication, verb, now) {
            self.say_given(medication, given, now);
        }
    }

    fn say_given(&mut self, medication: MedicationId, given: Given, now: Exact) {
        self.say(now, What::Medication { medication, given });
    }
}
