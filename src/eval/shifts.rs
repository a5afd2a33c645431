//! Checklists for each shift (M5): at the times of `shifts` by the clock, or every
//! 12 h from the start without them.
//!
//! A case whose start by the clock is not known has no shift times; nothing is said
//! then, rather than something wrong.

use crate::model::{ChecklistId, PhaseId, Protocol};
use crate::plan::Clock;
use crate::quantity::Exact;

/// Without `shifts`, hours from one to the next (M5).
const HOURS: i64 = 12;

#[derive(Debug, Clone)]
pub struct Shifts<'p> {
    protocol: &'p Protocol,
    clock: Option<Clock>,
    lists: Vec<ChecklistId>,
    next: Option<Exact>,
}

impl<'p> Shifts<'p> {
    pub fn new(protocol: &'p Protocol, clock: Option<Clock>) -> Self {
        let lists = protocol
            .checklists()
            .filter(|(_, list)| list.at.value.is_each_shift())
            .map(|(id, _)| id)
            .collect();
        let mut shifts = Shifts {
            protocol,
            clock,
            lists,
            next: None,
        };
        shifts.next = shifts.from(Exact::ZERO);
        shifts
    }

    /// The checklists that are due now, in that phase.
    pub fn due(&mut self, now: Exact, running: Option<PhaseId>) -> Vec<ChecklistId> {
        if self.next != Some(now) {
            return Vec::new();
        }
        self.next = self.after(now);
        let lists = self.lists.iter().copied();
        lists
            .filter(|id| {
                let list = &self.protocol[*id];
                running.is_some_and(|phase| self.protocol.is_asked_each_shift(list, phase))
            })
            .collect()
    }

    pub fn wakes(&self) -> Option<Exact> {
        self.next.filter(|_| !self.lists.is_empty())
    }

    fn after(&self, now: Exact) -> Option<Exact> {
        if self.protocol.head.shifts.is_empty() {
            return Some(now + Exact::int(HOURS * 60));
        }
        // A minute later: no two shifts begin within one.
        self.from(now + Exact::ONE)
    }

    /// The first shift at or after that moment.
    fn from(&self, at: Exact) -> Option<Exact> {
        let shifts = &self.protocol.head.shifts;
        if shifts.is_empty() {
            return Some(at);
        }
        let clock = self.clock.as_ref()?;
        let days = (at / Exact::int(24 * 60)).to_i64_floor()?;
        // A day more on both sides: the start is somewhere within its own day, and
        // a day on which the clocks change is longer or shorter than 24 h.
        (days - 1..=days + 2)
            .flat_map(|day| {
                shifts
                    .iter()
                    .filter_map(move |shift| clock.minutes_to_shift(shift.value, day))
            })
            .filter(|time| *time >= at)
            .min()
    }
}
