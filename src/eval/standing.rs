//! Orders that stand until something ends them: pauses, a kept target, a
//! medication withheld (M15, M23).
//!
//! Choices where the definitions leave room:
//! - UNTIL is decided before the rules of its moment, so a pause that is over at a
//!   moment is no longer a pause for the rules of that moment.
//! - An order given again while it stands begins anew: its stretch is the later one.
//! - A mark, or a `for D`, ends an order at a later moment than the one at which it
//!   was given.

use super::condition::{View, Watch};
use super::phases::Phases;
use super::same::{Closeness, same_order};
use crate::model::{MarkRef, MedicationId, Order, Until};
use crate::quantity::Exact;

#[derive(Debug, Clone, Default)]
pub struct Standing<'p> {
    orders: Vec<StandingOrder<'p>>,
}

#[derive(Debug, Clone)]
struct StandingOrder<'p> {
    order: &'p Order,
    since: Exact,
    ends: Ends<'p>,
}

#[derive(Debug, Clone)]
enum Ends<'p> {
    When(Watch<'p>),
    Mark(MarkRef),
    At(Exact),
}

impl<'p> Standing<'p> {
    /// Takes in an order that has an UNTIL, `until`. The records of the moment are
    /// in its stretch: they begin it.
    pub fn add(&mut self, order: &'p Order, until: &'p Until, view: &View<'_>) {
        self.orders
            .retain(|standing| !same_order(standing.order, order, Closeness::Whole));
        let ends = match until {
            Until::When(cond) => {
                let mut watch = Watch::new(cond, view.now);
                watch.observe(view);
                Ends::When(watch)
            }
            Until::Mark(mark) => Ends::Mark(mark.value),
            Until::For(duration) => Ends::At(view.now + duration.value),
        };
        self.orders.push(StandingOrder {
            order,
            since: view.now,
            ends,
        });
    }

    pub fn observe(&mut self, view: &View<'_>) {
        for order in &mut self.orders {
            if let Ends::When(watch) = &mut order.ends {
                watch.observe(view);
            }
        }
    }

    /// Takes out the orders whose UNTIL holds.
    pub fn end(&mut self, view: &View<'_>, phases: &Phases<'_>) -> Vec<&'p Order> {
        self.take(|order| {
            order.since < view.now
                && match &order.ends {
                    Ends::When(watch) => watch.truth(view).holds(),
                    Ends::Mark(mark) => phases.mark_time(*mark).is_some_and(|at| at > order.since),
                    Ends::At(at) => *at <= view.now,
                }
        })
    }

    /// A phase has ended: what it kept of its target is over (M20).
    pub fn end_of_phase(&mut self) -> Vec<&'p Order> {
        self.take(|order| matches!(order.order, Order::KeepTarget(_)))
    }

    /// Control is stopped: there is nothing left to pause.
    pub fn end_pauses(&mut self) -> Vec<&'p Order> {
        self.take(|order| matches!(order.order, Order::Pause(_)))
    }

    fn take(&mut self, over: impl Fn(&StandingOrder<'p>) -> bool) -> Vec<&'p Order> {
        let mut taken = Vec::new();
        self.orders.retain(|order| {
            let ends = over(order);
            if ends {
                taken.push(order.order);
            }
            !ends
        });
        taken
    }

    pub fn pauses(&self) -> bool {
        self.any(|order| matches!(order, Order::Pause(_)))
    }

    pub fn keeps_target(&self) -> bool {
        self.any(|order| matches!(order, Order::KeepTarget(_)))
    }

    pub fn withholds(&self, id: MedicationId) -> bool {
        self.any(
            |order| matches!(order, Order::Withhold { medication, .. } if medication.value == id),
        )
    }

    fn any(&self, wanted: impl Fn(&Order) -> bool) -> bool {
        self.orders.iter().any(|order| wanted(order.order))
    }

    pub fn wakes(&self, view: &View<'_>) -> Option<Exact> {
        self.orders
            .iter()
            .filter_map(|order| match &order.ends {
                Ends::When(watch) => watch.wakes(view),
                Ends::Mark(_) => None,
                Ends::At(at) => Some(*at),
            })
            .filter(|at| *at > view.now)
            .min()
    }
}

/// Since when control has been paused without a break.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Pauses {
    pub(super) since: Option<Exact>,
    /// A pause that ended, and when: one that begins at that moment goes on with it.
    ended: Option<(Exact, Exact)>,
}

impl Pauses {
    pub(super) fn update(&mut self, paused: bool, now: Exact) {
        match (self.since, paused) {
            (None, true) => {
                self.since = Some(match self.ended {
                    Some((since, at)) if at == now => since,
                    _ => now,
                });
            }
            (Some(since), false) => {
                self.ended = Some((since, now));
                self.since = None;
            }
            (Some(_), true) | (None, false) => {}
        }
    }
}
