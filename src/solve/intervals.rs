//! How often each reading is asked for in each phase.

use crate::model::{PhaseId, Protocol, ReadingId};
use crate::quantity::Exact;

/// A week, in minutes: no question is followed for longer.
pub fn longest_followed() -> Exact {
    Exact::int(7 * 24 * 60)
}

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

    /// After how long the looks at these readings fall in that phase as they fell before:
    /// those every 45 min and every 60 min after 3 h. `None` where that takes more than
    /// [`longest_followed`].
    pub fn repeats(
        &self,
        phase: PhaseId,
        readings: impl IntoIterator<Item = ReadingId>,
    ) -> Option<Exact> {
        readings
            .into_iter()
            .filter_map(|reading| self.at(reading, phase))
            .try_fold(Exact::ZERO, |common, interval| {
                if common.is_zero() {
                    return Some(interval);
                }
                let (_, times) = (common / interval).parts()?;
                let common = common * Exact::int(times);
                (common <= longest_followed()).then_some(common)
            })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn looks_repeat_after_the_least_common_time() {
        let every = |minutes: &[Exact]| Intervals {
            by_reading: minutes.iter().map(|every| vec![Some(*every)]).collect(),
            longest_of_all: Exact::ZERO,
        };
        let repeats = |minutes: &[Exact]| {
            let readings = (0..4).map(ReadingId);
            every(minutes).repeats(PhaseId(0), readings)
        };
        let whole = |minutes: &[i64]| {
            let minutes: Vec<Exact> = minutes.iter().copied().map(Exact::int).collect();
            repeats(&minutes)
        };
        assert_eq!(whole(&[]), Some(Exact::ZERO));
        assert_eq!(whole(&[15, 60, 240]), Some(Exact::int(240)));
        assert_eq!(whole(&[45, 60, 90, 120]), Some(Exact::int(360)));
        assert_eq!(whole(&[420, 660]), Some(Exact::int(4620)));
        assert_eq!(whole(&[420, 660, 780]), None);
        let halves = [Exact::ratio(3, 2), Exact::ratio(5, 2)];
        assert_eq!(repeats(&halves), Some(Exact::ratio(15, 2)));
    }
}
