//! Values of readings as whole numbers of one common unit.
//!
//! The unit is the largest of which every display step is a whole multiple: with
//! readings shown to 0.1 °C, to 1 mmHg and as whole scores it is 0.1. A constant
//! need not be a multiple: it is rounded to the side that changes nothing.

use super::formula::Domain;
use crate::model::{Protocol, ReadingId};
use crate::quantity::Exact;

#[derive(Debug, Clone)]
pub struct Grids {
    unit: Exact,
    readings: Vec<Option<Domain>>,
}

impl Grids {
    pub fn of(protocol: &Protocol) -> Self {
        let unit = protocol
            .readings()
            .filter_map(|(_, reading)| reading.grid())
            .fold(None, |unit: Option<Exact>, grid| {
                Some(unit.map_or(grid.step, |unit| common(unit, grid.step)))
            })
            .unwrap_or(Exact::ONE);
        let readings = protocol
            .readings()
            .map(|(_, reading)| {
                let grid = reading.grid()?;
                let whole = |value: Exact| (value / unit).to_i64_floor();
                Some(Domain {
                    low: whole(grid.low)?,
                    high: whole(grid.high)?,
                    step: whole(grid.step)?,
                    plan: whole(grid.low)?,
                })
            })
            .collect();
        Grids { unit, readings }
    }

    /// The values that a reading can have; `None` where the author has not said.
    pub fn domain(&self, reading: ReadingId) -> Option<Domain> {
        self.readings.get(reading.index()).copied().flatten()
    }

    /// The whole number at or below a value.
    pub fn floor(&self, value: Exact) -> i64 {
        (value / self.unit)
            .to_i64_floor()
            .unwrap_or(i64::MAX / 8)
            .clamp(-i64::MAX / 8, i64::MAX / 8)
    }

    /// The whole number at or above a value.
    pub fn ceil(&self, value: Exact) -> i64 {
        -self.floor(-value)
    }

    /// Whether a value is a whole number of units.
    pub fn is_whole(&self, value: Exact) -> bool {
        self.floor(value) == self.ceil(value)
    }

    /// The value of a whole number of units.
    pub fn value(&self, units: i64) -> Exact {
        Exact::int(units) * self.unit
    }

    /// The value of the reading nearest to this one; of two the lower.
    pub fn nearest(&self, reading: ReadingId, value: Exact) -> i64 {
        let Some(domain) = self.domain(reading) else {
            return 0;
        };
        let floor = self.floor(value).clamp(domain.low, domain.high);
        let below = floor.div_euclid(domain.step) * domain.step;
        let above = (below + domain.step).min(domain.high);
        let distance = |units: i64| (self.value(units) - value).abs();
        if distance(above) < distance(below) {
            above
        } else {
            below
        }
    }
}

/// The largest number of which both are whole multiples.
fn common(a: Exact, b: Exact) -> Exact {
    let (Some((numerator_a, denominator_a)), Some((numerator_b, denominator_b))) =
        (a.parts(), b.parts())
    else {
        return Exact::ONE;
    };
    let product = |a: i64, b: i64| i128::from(a) * i128::from(b);
    let top = gcd(
        product(numerator_a, denominator_b),
        product(numerator_b, denominator_a),
    );
    let top = Exact::int(i64::try_from(top).unwrap_or(1));
    top / (Exact::int(denominator_a) * Exact::int(denominator_b))
}

fn gcd(a: i128, b: i128) -> i128 {
    if b == 0 { a.abs() } else { gcd(b, a % b) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_common_unit_divides_both() {
        assert_eq!(common(Exact::ratio(1, 10), Exact::ONE), Exact::ratio(1, 10));
        assert_eq!(
            common(Exact::ratio(1, 10), Exact::ratio(1, 18)),
            Exact::ratio(1, 90)
        );
        assert_eq!(
            common(Exact::ratio(1, 2), Exact::ratio(1, 5)),
            Exact::ratio(1, 10)
        );
    }
}
