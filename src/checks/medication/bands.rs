//! Which weights have no dose, and which have two.
//!
//! Weights are read in steps of 0.1 kg (M29), so the steps are simply counted.

use crate::model::*;
use crate::quantity::Exact;

/// Weights from `low` to `high`, both taken in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stretch {
    pub low: Exact,
    pub high: Exact,
}

impl Stretch {
    pub fn words(self) -> String {
        let kg = |weight: Exact| {
            let number = weight.to_decimal(1).unwrap_or_else(|| weight.to_string());
            format!("{number}\u{a0}kg")
        };
        if self.low == self.high {
            kg(self.low)
        } else {
            format!("{} to {}", kg(self.low), kg(self.high))
        }
    }
}

/// Weights that no line is for, and weights that two lines are for, with the two.
#[derive(Default)]
pub struct Bands {
    pub gaps: Vec<Stretch>,
    pub overlaps: Vec<(Stretch, usize, usize)>,
}

/// Protocols without a weight range are looked at over all weights of people.
const LIGHTEST: i64 = 0;
const HEAVIEST: i64 = 400;

pub fn bands(protocol: &Protocol, medication: &Medication) -> Bands {
    let mut found = Bands::default();
    if medication.doses.is_empty() {
        return found;
    }
    let step = Exact::ratio(1, 10);
    let range = protocol.head.patients.dosing_weight();
    let low = range.map_or(Exact::int(LIGHTEST) + step, |range| range.low.value);
    let high = range.map_or(Exact::int(HEAVIEST), |range| range.high.value);
    let mut weight = low.round_up_to(step);
    while weight <= high && weight <= Exact::int(HEAVIEST) {
        let lines: Vec<usize> = medication
            .doses
            .iter()
            .enumerate()
            .filter(|(_, line)| line.is_for(Some(weight)))
            .map(|(at, _)| at)
            .collect();
        match lines.as_slice() {
            [] => grow(&mut found.gaps, weight, step),
            [first, second, ..] => {
                let same = found.overlaps.last_mut().filter(|(stretch, one, other)| {
                    stretch.high + step == weight && one == first && other == second
                });
                match same {
                    Some((stretch, _, _)) => stretch.high = weight,
                    None => found.overlaps.push((
                        Stretch {
                            low: weight,
                            high: weight,
                        },
                        *first,
                        *second,
                    )),
                }
            }
            [_] => {}
        }
        weight = weight + step;
    }
    found
}

fn grow(stretches: &mut Vec<Stretch>, weight: Exact, step: Exact) {
    match stretches.last_mut() {
        Some(last) if last.high + step == weight => last.high = weight,
        _ => stretches.push(Stretch {
            low: weight,
            high: weight,
        }),
    }
}
