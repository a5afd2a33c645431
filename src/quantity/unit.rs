//! The closed table of units. A unit that is not here is an error, never a guess.

use super::Exact;

/// What a unit measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Dimension {
    /// A temperature or a difference of temperatures: the place says which.
    Temperature,
    /// Speed of change of a temperature.
    TemperatureRate,
    Time,
    /// A mass: a body weight or a dose.
    Mass,
    /// A dose that is not a mass.
    Dose,
    DosePerKg,
    /// A dose per time.
    Infusion,
    InfusionPerKg,
    Concentration,
    /// A laboratory or monitor value.
    Amount,
}

/// What substance a dose counts: two doses compare only within one base.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Base {
    /// Milligrams.
    Mass,
    /// Millimoles.
    Moles,
    /// Millilitres.
    Volume,
    /// Units of activity.
    Units,
    /// Not a dose.
    None,
}

/// One unit: its printed name, its other spellings, and what it is worth.
#[derive(Debug, Clone, Copy)]
pub struct Unit {
    pub name: &'static str,
    pub spellings: &'static [&'static str],
    pub dimension: Dimension,
    pub base: Base,
    /// How many base units one of this is: °C (K), °C/h, minutes, mg (kg for a
    /// body weight is handled where it is read), mmol, mL, units, each per hour
    /// and per kg where the dimension says so.
    numerator: i64,
    denominator: i64,
    /// The code of the Unified Code for Units of Measure, for outputs.
    pub ucum: &'static str,
}

impl PartialEq for Unit {
    fn eq(&self, other: &Self) -> bool {
        self.name == other.name
    }
}

impl Eq for Unit {}

impl Unit {
    pub fn factor(&self) -> Exact {
        Exact::ratio(self.numerator, self.denominator)
    }

    pub fn is_fahrenheit(&self) -> bool {
        self.name.starts_with("°F")
    }

    /// A reading of this unit in °C: the zero point is moved where it differs.
    pub fn temperature_to_celsius(&self, value: Exact) -> Exact {
        if self.is_fahrenheit() {
            to_celsius(value)
        } else {
            value
        }
    }
}

/// A temperature in °C on the other scale, exactly.
pub fn to_fahrenheit(celsius: Exact) -> Exact {
    difference_to_fahrenheit(celsius) + Exact::int(32)
}

/// A temperature in °F on the other scale, exactly.
pub fn to_celsius(fahrenheit: Exact) -> Exact {
    (fahrenheit - Exact::int(32)) * Exact::ratio(5, 9)
}

/// A difference or a rate of change, which knows no zero: 0.5 °C is 0.9 °F.
pub fn difference_to_fahrenheit(celsius: Exact) -> Exact {
    celsius * Exact::ratio(9, 5)
}

const fn unit(
    name: &'static str,
    spellings: &'static [&'static str],
    dimension: Dimension,
    base: Base,
    (numerator, denominator): (i64, i64),
    ucum: &'static str,
) -> Unit {
    Unit {
        name,
        spellings,
        dimension,
        base,
        numerator,
        denominator,
        ucum,
    }
}

use Base as B;
use Dimension as D;

/// Every unit that the language reads.
pub const UNITS: &[Unit] = &[
    unit(
        "°C",
        &["C", "degC", "℃"],
        D::Temperature,
        B::None,
        (1, 1),
        "Cel",
    ),
    unit(
        "°F",
        &["F", "degF", "℉"],
        D::Temperature,
        B::None,
        (5, 9),
        "[degF]",
    ),
    unit(
        "°C/h",
        &["C/h", "degC/h"],
        D::TemperatureRate,
        B::None,
        (1, 1),
        "K/h",
    ),
    unit(
        "°C/min",
        &["C/min", "degC/min"],
        D::TemperatureRate,
        B::None,
        (60, 1),
        "K/min",
    ),
    unit(
        "°F/h",
        &["F/h", "degF/h"],
        D::TemperatureRate,
        B::None,
        (5, 9),
        "[degF]/h",
    ),
    unit(
        "°F/min",
        &["F/min", "degF/min"],
        D::TemperatureRate,
        B::None,
        (100, 3),
        "[degF]/min",
    ),
    unit("s", &["second", "seconds"], D::Time, B::None, (1, 60), "s"),
    unit(
        "min",
        &["minute", "minutes"],
        D::Time,
        B::None,
        (1, 1),
        "min",
    ),
    unit(
        "h",
        &["hour", "hours", "hr"],
        D::Time,
        B::None,
        (60, 1),
        "h",
    ),
    unit("day", &["d"], D::Time, B::None, (1440, 1), "d"),
    unit("days", &[], D::Time, B::None, (1440, 1), "d"),
    unit("week", &[], D::Time, B::None, (10080, 1), "wk"),
    unit("weeks", &[], D::Time, B::None, (10080, 1), "wk"),
    unit("month", &[], D::Time, B::None, (43830, 1), "mo"),
    unit("months", &[], D::Time, B::None, (43830, 1), "mo"),
    unit("year", &[], D::Time, B::None, (525_960, 1), "a"),
    unit("years", &[], D::Time, B::None, (525_960, 1), "a"),
    unit("kg", &[], D::Mass, B::Mass, (1_000_000, 1), "kg"),
    unit("g", &[], D::Mass, B::Mass, (1000, 1), "g"),
    unit("mg", &[], D::Mass, B::Mass, (1, 1), "mg"),
    unit("mcg", &[], D::Mass, B::Mass, (1, 1000), "ug"),
    unit(
        "micrograms",
        &["microgram"],
        D::Mass,
        B::Mass,
        (1, 1000),
        "ug",
    ),
    unit("mmol", &[], D::Dose, B::Moles, (1, 1), "mmol"),
    unit("mL", &[], D::Dose, B::Volume, (1, 1), "mL"),
    unit("L", &[], D::Dose, B::Volume, (1000, 1), "L"),
    unit("unit", &[], D::Dose, B::Units, (1, 1), "[U]"),
    unit("units", &[], D::Dose, B::Units, (1, 1), "[U]"),
    unit("g/kg", &[], D::DosePerKg, B::Mass, (1000, 1), "g/kg"),
    unit("mg/kg", &[], D::DosePerKg, B::Mass, (1, 1), "mg/kg"),
    unit("mcg/kg", &[], D::DosePerKg, B::Mass, (1, 1000), "ug/kg"),
    unit(
        "micrograms/kg",
        &[],
        D::DosePerKg,
        B::Mass,
        (1, 1000),
        "ug/kg",
    ),
    unit("mmol/kg", &[], D::DosePerKg, B::Moles, (1, 1), "mmol/kg"),
    unit("mL/kg", &[], D::DosePerKg, B::Volume, (1, 1), "mL/kg"),
    unit("units/kg", &[], D::DosePerKg, B::Units, (1, 1), "[U]/kg"),
    unit("g/h", &[], D::Infusion, B::Mass, (1000, 1), "g/h"),
    unit("mg/h", &[], D::Infusion, B::Mass, (1, 1), "mg/h"),
    unit("mg/min", &[], D::Infusion, B::Mass, (60, 1), "mg/min"),
    unit("mcg/h", &[], D::Infusion, B::Mass, (1, 1000), "ug/h"),
    unit("mcg/min", &[], D::Infusion, B::Mass, (60, 1000), "ug/min"),
    unit("micrograms/h", &[], D::Infusion, B::Mass, (1, 1000), "ug/h"),
    unit(
        "micrograms/min",
        &[],
        D::Infusion,
        B::Mass,
        (60, 1000),
        "ug/min",
    ),
    unit("mmol/h", &[], D::Infusion, B::Moles, (1, 1), "mmol/h"),
    unit("mL/h", &[], D::Infusion, B::Volume, (1, 1), "mL/h"),
    unit("units/h", &[], D::Infusion, B::Units, (1, 1), "[U]/h"),
    unit("mg/kg/h", &[], D::InfusionPerKg, B::Mass, (1, 1), "mg/kg/h"),
    unit(
        "mg/kg/min",
        &[],
        D::InfusionPerKg,
        B::Mass,
        (60, 1),
        "mg/kg/min",
    ),
    unit(
        "mcg/kg/h",
        &[],
        D::InfusionPerKg,
        B::Mass,
        (1, 1000),
        "ug/kg/h",
    ),
    unit(
        "mcg/kg/min",
        &[],
        D::InfusionPerKg,
        B::Mass,
        (60, 1000),
        "ug/kg/min",
    ),
    unit(
        "micrograms/kg/h",
        &[],
        D::InfusionPerKg,
        B::Mass,
        (1, 1000),
        "ug/kg/h",
    ),
    unit(
        "micrograms/kg/min",
        &[],
        D::InfusionPerKg,
        B::Mass,
        (60, 1000),
        "ug/kg/min",
    ),
    unit(
        "mmol/kg/h",
        &[],
        D::InfusionPerKg,
        B::Moles,
        (1, 1),
        "mmol/kg/h",
    ),
    unit(
        "mL/kg/h",
        &[],
        D::InfusionPerKg,
        B::Volume,
        (1, 1),
        "mL/kg/h",
    ),
    unit(
        "units/kg/h",
        &[],
        D::InfusionPerKg,
        B::Units,
        (1, 1),
        "[U]/kg/h",
    ),
    unit("g/mL", &[], D::Concentration, B::Mass, (1000, 1), "g/mL"),
    unit("mg/mL", &[], D::Concentration, B::Mass, (1, 1), "mg/mL"),
    unit("mcg/mL", &[], D::Concentration, B::Mass, (1, 1000), "ug/mL"),
    unit(
        "micrograms/mL",
        &[],
        D::Concentration,
        B::Mass,
        (1, 1000),
        "ug/mL",
    ),
    unit(
        "mmol/mL",
        &[],
        D::Concentration,
        B::Moles,
        (1, 1),
        "mmol/mL",
    ),
    unit(
        "units/mL",
        &[],
        D::Concentration,
        B::Units,
        (1, 1),
        "[U]/mL",
    ),
    unit("mmol/L", &[], D::Amount, B::None, (1, 1), "mmol/L"),
    unit("mg/dL", &[], D::Amount, B::None, (1, 1), "mg/dL"),
    unit("g/L", &[], D::Amount, B::None, (1, 1), "g/L"),
    unit("g/dL", &[], D::Amount, B::None, (1, 1), "g/dL"),
    unit("mmHg", &[], D::Amount, B::None, (1, 1), "mm[Hg]"),
    unit("kPa", &[], D::Amount, B::None, (1, 1), "kPa"),
    unit("cmH2O", &[], D::Amount, B::None, (1, 1), "cm[H2O]"),
    unit(
        "/min",
        &["per min", "bpm"],
        D::Amount,
        B::None,
        (1, 1),
        "/min",
    ),
    unit("%", &["percent"], D::Amount, B::None, (1, 1), "%"),
    unit("L/min", &[], D::Amount, B::None, (1, 1), "L/min"),
    unit("W", &[], D::Amount, B::None, (1, 1), "W"),
    unit("cm", &[], D::Amount, B::None, (1, 1), "cm"),
    unit("mm", &[], D::Amount, B::None, (1, 1), "mm"),
];

/// The unit of that name or spelling, to the letter.
pub fn unit_named(text: &str) -> Option<&'static Unit> {
    UNITS
        .iter()
        .find(|unit| unit.name == text || unit.spellings.contains(&text))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_spelling_stands_for_two_units() {
        let mut seen = std::collections::BTreeSet::new();
        for unit in UNITS {
            assert!(seen.insert(unit.name), "{}", unit.name);
            for spelling in unit.spellings {
                assert!(seen.insert(spelling), "{spelling}");
            }
        }
    }

    #[test]
    fn fahrenheit_is_exact() {
        let fahrenheit = unit_named("°F").expect("in the table");
        let value = Exact::parse("99.86").expect("a number");
        assert_eq!(
            fahrenheit.temperature_to_celsius(value),
            Exact::parse("37.7").expect("a number")
        );
    }
}
