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
}
