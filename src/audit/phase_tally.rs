//! What the records of one phase come to: in the band or past it, and its fastest hour.

use super::sliding::Sliding;
use crate::eval::Aimed;
use crate::model::*;
use crate::plan::interval_in_force;
use crate::quantity::Exact;

#[derive(Debug, Clone, Default)]
pub(super) struct PhaseTally {
    pub readings: u64,
    pub in_band: u64,
    pub within_one: u64,
    /// The farthest past the band on each side.
    pub below: Farthest,
    pub above: Farthest,
    /// How often it went above the band anew.
    pub episodes: u64,
    pub is_above: bool,
    /// Of the first pass that arrived.
    pub arrived: Option<(Exact, Exact)>,
    /// Before it arrived, or without arriving at all.
    pub overdue: bool,
    pub sliding: Option<(Sliding, Exact)>,
    pub since: Option<Exact>,
}

/// How far past a band, at the farthest; nothing at first.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Farthest(pub Exact);

impl Default for Farthest {
    fn default() -> Self {
        Farthest(Exact::ZERO)
    }
}

impl PhaseTally {
    pub fn record(&mut self, phase: &Phase, aimed: Aimed, value: Exact, at: Exact) {
        if let Some((sliding, _)) = &mut self.sliding {
            sliding.look(at, value);
        }
        let band = match (&phase.aim, aimed) {
            (Aim::Hold { within, .. }, Aimed::Value(target)) => {
                if (value - target).abs() <= Exact::ONE {
                    self.within_one += 1;
                }
                (Some(target - within.value), Some(target + within.value))
            }
            (Aim::Keep { .. }, Aimed::Range { low, high }) => (low, high),
            (
                Aim::Reach {
                    within: Some(within),
                    rate: Some(_),
                    ..
                },
                Aimed::Value(target),
            ) => (Some(target - within.value), Some(target + within.value)),
            _ => return,
        };
        self.readings += 1;
        let below = band.0.map_or(Exact::ZERO, |low| low - value);
        let above = band.1.map_or(Exact::ZERO, |high| value - high);
        self.below.0 = self.below.0.max(below);
        self.above.0 = self.above.0.max(above);
        let is_above = above > Exact::ZERO;
        if is_above && !self.is_above {
            self.episodes += 1;
        }
        self.is_above = is_above;
        if !is_above && below <= Exact::ZERO {
            self.in_band += 1;
        }
    }
}

/// The window of a phase that cools or warms: that of the rule which watches its speed,
/// or else an hour.
pub(super) fn sliding(protocol: &Protocol, id: PhaseId, phase: &Phase) -> Option<(Sliding, Exact)> {
    let Aim::Reach { way, reading, .. } = &phase.aim else {
        return None;
    };
    let wanted = match way {
        Way::Warm => TrendWay::Rises,
        Way::Cool => TrendWay::Falls,
    };
    let window = protocol
        .rules()
        .filter(|(_, rule)| {
            rule.during.is_empty() || rule.during.iter().any(|during| during.value == id)
        })
        .flat_map(|(_, rule)| rule.when.tests())
        .find_map(|test| match &test.kind {
            TestKind::Trend {
                reading: of,
                way,
                cmp: MoreLess::More,
                over,
                ..
            } if *of == reading.value && *way == wanted => Some(over.value),
            _ => None,
        })
        .unwrap_or(Exact::int(60));
    let slack = interval_in_force(protocol, reading.value, id)
        .map_or(Exact::ZERO, |interval| interval * Exact::ratio(1, 4));
    Some((Sliding::new(*way, window + slack), window))
}
