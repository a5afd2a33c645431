//! The largest change of a reading over a window, as records come (M10).
//!
//! A change is measured to a look no older than D plus the slack. Kept are only the
//! looks of one window that can still be the lowest (or the highest), so memory is
//! bounded by the window.

use crate::model::Way;
use crate::quantity::Exact;
use std::collections::VecDeque;

#[derive(Debug, Clone)]
pub struct Sliding {
    way: Way,
    /// D plus the slack, in minutes.
    back: Exact,
    looks: VecDeque<(Exact, Exact)>,
    largest: Option<(Exact, Exact)>,
}

impl Sliding {
    pub fn new(way: Way, back: Exact) -> Self {
        Sliding {
            way,
            back,
            looks: VecDeque::new(),
            largest: None,
        }
    }

    /// A stretch begins: looks from before it do not count.
    pub fn begin(&mut self) {
        self.looks.clear();
    }

    pub fn look(&mut self, at: Exact, value: Exact) {
        while self
            .looks
            .front()
            .is_some_and(|(then, _)| at - *then > self.back)
        {
            self.looks.pop_front();
        }
        if let Some((_, before)) = self.looks.front() {
            let change = match self.way {
                Way::Warm => value - *before,
                Way::Cool => *before - value,
            };
            if self.largest.is_none_or(|(largest, _)| change > largest) {
                self.largest = Some((change, at));
            }
        }
        let is_no_use = |kept: Exact| match self.way {
            Way::Warm => kept >= value,
            Way::Cool => kept <= value,
        };
        while self.looks.back().is_some_and(|(_, kept)| is_no_use(*kept)) {
            self.looks.pop_back();
        }
        self.looks.push_back((at, value));
    }

    /// By how much, never less than nothing, and when it was over; `None` before two
    /// looks.
    pub fn largest(&self) -> Option<(Exact, Exact)> {
        self.largest
            .map(|(change, at)| (change.max(Exact::ZERO), at))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    proptest::proptest! {
        #![proptest_config(proptest::prelude::ProptestConfig {
            failure_persistence: None,
            ..proptest::prelude::ProptestConfig::default()
        })]

        /// The same as comparing every two looks.
        #[test]
        fn as_every_pair(values in proptest::collection::vec((1i64..40, -20i64..20), 2..60), back in 10i64..90) {
            let mut at = 0;
            let mut looks = Vec::new();
            let mut sliding = Sliding::new(Way::Warm, Exact::int(back));
            for (step, value) in values {
                at += step;
                looks.push((at, value));
                sliding.look(Exact::int(at), Exact::int(value));
            }
            let mut largest: Option<i64> = None;
            for (index, (now, value)) in looks.iter().enumerate() {
                for (then, before) in looks.iter().take(index) {
                    if now - then <= back {
                        largest = Some(largest.map_or(value - before, |l| l.max(value - before)));
                    }
                }
            }
            proptest::prop_assert_eq!(
                sliding.largest().map(|(change, _)| change),
                largest.map(|l| Exact::int(l.max(0)))
            );
        }
    }
}
