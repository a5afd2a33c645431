//! What is recorded on the way into a phase, and in it, when all goes to plan.

use super::drive::Drive;
use crate::eval::{self, Aimed};
use crate::model::*;
use crate::quantity::Exact;

impl<'a> Drive<'a> {
    /// What is recorded when all goes to plan.
    pub(super) fn value(
        &self,
        run: &eval::Run<'a>,
        phase: PhaseId,
        reading: ReadingId,
        now: Exact,
        before: Option<PhaseId>,
    ) -> i64 {
        // The record that ends a phase is made in it, and counts in the next.
        let ending = before.into_iter().chain([phase]);
        let mut ending = ending.filter_map(|phase| self.of_ending(phase, reading, now));
        if let Some(value) = ending.next() {
            return value;
        }
        let protocol = self.with.protocol;
        let aim = &protocol[phase].aim;
        let is_body = |reading: ReadingId| protocol[reading].kind.is_body();
        let neutral = self.with.neutral.get(reading.index()).copied().unwrap_or(0);
        if aim.reading() != reading && !(is_body(reading) && is_body(aim.reading())) {
            return neutral;
        }
        let grids = self.with.grids;
        let last = self
            .last
            .get(&aim.reading())
            .or_else(|| self.last.get(&reading))
            .copied()
            .unwrap_or_else(|| (now, self.on_arrival(phase)));
        let exact = match aim {
            Aim::Hold { at, .. } => at.value,
            Aim::Keep { low, high, .. } => {
                let mut value = grids.value(last.1);
                if let Some(low) = low {
                    value = value.max(low.value);
                }
                if let Some(high) = high {
                    value = value.min(high.value);
                }
                value
            }
            Aim::Reach {
                rate: Some(_), to, ..
            } => match run.aimed(now) {
                // A course that the moment begins is where it begins.
                Aimed::Value(target) => target,
                Aimed::Nothing | Aimed::Range { .. } if phase == self.wanted => grids.value(last.1),
                Aimed::Nothing | Aimed::Range { .. } => grids.value(last.1).min(to.value),
            },
            Aim::Reach { way, to, .. } => {
                let far = grids.value(last.1);
                if phase == self.wanted {
                    far
                } else {
                    let moved = protocol[phase]
                        .never_faster
                        .as_ref()
                        .map(|cap| cap.value * (now - last.0) / Exact::int(60));
                    match (way, moved) {
                        (_, None) => to.value,
                        (Way::Cool, Some(moved)) => to.value.max(far - moved),
                        (Way::Warm, Some(moved)) => to.value.min(far + moved),
                    }
                }
            }
        };
        let value = match (aim, phase == self.wanted) {
            // No faster than the cap: rounded to the side that it comes from.
            (
                Aim::Reach {
                    way, rate: None, ..
                },
                false,
            ) => {
                let step = grids.domain(reading).map_or(1, |domain| domain.step);
                match way {
                    Way::Warm => grids.floor(exact).div_euclid(step) * step,
                    Way::Cool => -((-grids.ceil(exact)).div_euclid(step) * step),
                }
            }
            _ => grids.nearest(reading, exact),
        };
        if phase == self.wanted
            && let Some((low, high)) = self.not_arrived(reading, now)
        {
            let step = grids.domain(reading).map_or(1, |domain| domain.step);
            if value > high {
                return high.div_euclid(step) * step;
            }
            if value < low {
                return -((-low).div_euclid(step) * step);
            }
        }
        value
    }

    fn of_ending(&self, phase: PhaseId, reading: ReadingId, now: Exact) -> Option<i64> {
        if phase == self.wanted {
            return None;
        }
        let since = self
            .frame
            .runs
            .last()
            .filter(|(run, _)| *run == phase)
            .map_or(now, |(_, at)| *at);
        self.with
            .endings
            .get(&phase)?
            .values
            .iter()
            .find(|(after, of, _)| *of == reading && since + *after == now)
            .map(|(_, _, value)| *value)
    }

    /// Of the values allowed on arrival the one nearest to what is aimed at.
    fn on_arrival(&self, phase: PhaseId) -> i64 {
        let aim = &self.with.protocol[phase].aim;
        let reading = aim.reading();
        let wanted = match aim {
            Aim::Hold { at, .. } => at.value,
            Aim::Reach { to, from, .. } => from.as_ref().unwrap_or(to).value,
            Aim::Keep { low, high, .. } => match (low, high) {
                (Some(low), Some(high)) => (low.value + high.value) / Exact::int(2),
                (Some(only), None) | (None, Some(only)) => only.value,
                (None, None) => Exact::ZERO,
            },
        };
        let arrival = self
            .with
            .protocol
            .head
            .patients
            .on_arrival
            .iter()
            .find(|(of, _)| *of == reading);
        let value = arrival.map_or(wanted, |(_, range)| {
            wanted.max(range.low.value).min(range.high.value)
        });
        self.with.grids.nearest(reading, value)
    }
}
