//! Which rung has which value of a ladder's reading.

use super::super::words;
use crate::model::*;
use crate::quantity::Exact;

/// A run of neighbouring values that the same rungs have.
pub struct Band {
    pub low: Exact,
    pub high: Exact,
    /// By place among the rungs.
    pub rungs: Vec<usize>,
}

/// A display has some hundreds of values; more would be no bedside reading.
const MOST_VALUES: usize = 100_000;

/// All values of the reading from the lowest on; empty where the author has not said
/// what it reads, or where the ladder has steps.
pub fn bands(protocol: &Protocol, ladder: &Ladder) -> Vec<Band> {
    let LadderForm::Rungs(rungs) = &ladder.form else {
        return Vec::new();
    };
    let Some(grid) = protocol[ladder.reading.value].grid() else {
        return Vec::new();
    };
    let mut bands: Vec<Band> = Vec::new();
    let mut value = grid.low;
    for _ in 0..MOST_VALUES {
        if value > grid.high {
            break;
        }
        let has: Vec<usize> = rungs
            .iter()
            .enumerate()
            .filter(|(_, rung)| rung.band.has(value))
            .map(|(at, _)| at)
            .collect();
        match bands.last_mut() {
            Some(last) if last.rungs == has => last.high = value,
            _ => bands.push(Band {
                low: value,
                high: value,
                rungs: has,
            }),
        }
        value = value + grid.step;
    }
    bands
}

/// `2` or `2 to 3`, as it stands after `rung`.
pub fn band_text(reading: &Reading, band: &Band) -> String {
    let text = |value| words::value(reading, value);
    if band.low == band.high {
        text(band.low)
    } else {
        format!("{} to {}", text(band.low), text(band.high))
    }
}
