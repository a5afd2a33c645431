//! How often each reading is asked for in each phase.

use crate::model::{PhaseId, Protocol, ReadingId};
use crate::quantity::Exact;

/// The interval in force of each reading in each phase (M5).
#[derive(Debug, Clone)]
pub struct Intervals {
    by_reading: Vec<Vec<Option<Exact>>>,
    longest_of_all: Exact,
}

impl Intervals {
    pub fn of(protocol: &Protocol) -> Self {
        let by_reading: Vec<Vec<Option<Exact>>> = protocol
            .readings()
            .map(|(reading, _)| {
                protocol
                    .phases()
                    .map(|(phase, _)| crate::plan::interval_in_force(protocol, reading, phase))
                    .collect()
            })
            .collect();
        let longest = by_reading.iter().flatten().flatten().max().copied();
        Intervals {
            longest_of_all: longest.unwrap_or(Exact::ZERO),
            by_reading,
        }
    }

    pub fn at(&self, reading: ReadingId, phase: PhaseId) -> Option<Exact> {
        *self.by_reading.get(reading.index())?.get(phase.index())?
    }

    /// The longest interval of any reading in any phase.
    pub fn longest_of_all(&self) -> Exact {
        self.longest_of_all
    }

    /// The longest interval of any reading in that phase.
    pub fn longest(&self, phase: PhaseId) -> Exact {
        self.by_reading
            .iter()
            .filter_map(|row| *row.get(phase.index())?)
            .max()
            .unwrap_or(Exact::ZERO)
    }

    /// After how long the looks of that phase fall as they fell before: those every 45 min
    /// and every 60 min after 3 h. Twice the longest interval at the least; and no more where
    /// they fall alike only after two days.
    pub fn repeats(&self, phase: PhaseId) -> Exact {
        /// Minutes.
        const MOST: i64 = 48 * 60;
        let least = self.longest(phase) * Exact::int(2);
        let all = self
            .by_reading
            .iter()
            .filter_map(|row| *row.get(phase.index())?);
        let mut common = 1;
        for interval in all {
            let whole = interval.is_integer().then(|| interval.to_i64_floor());
            let Some(minutes) = whole.flatten().filter(|minutes| *minutes > 0) else {
                return least;
            };
            let (mut a, mut b) = (common, minutes);
            while b != 0 {
                (a, b) = (b, a % b);
            }
            common = common / a * minutes;
            if common > MOST {
                return least;
            }
        }
        least.max(Exact::int(common))
    }
}
