//! One number of an audit: what it is, and how it is shown.

use crate::eval::wording;
use crate::quantity::Exact;
use serde::{Serialize, Serializer};

/// Where a number stands in the report.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Part {
    Target,
    Held,
    Speed,
    Guard,
    Measures,
    Entries,
    Rules,
}

impl Part {
    pub const ALL: [Part; 7] = [
        Part::Target,
        Part::Held,
        Part::Speed,
        Part::Guard,
        Part::Measures,
        Part::Entries,
        Part::Rules,
    ];

    pub fn title(self) -> &'static str {
        match self {
            Part::Target => "Reaching the target",
            Part::Held => "Holding it",
            Part::Speed => "Fastest change",
            Part::Guard => "Fever guard and limits",
            Part::Measures => "Measures of the protocol",
            Part::Entries => "Entries asked for",
            Part::Rules => "Rules that fired",
        }
    }
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Unit {
    /// Shown as hours and minutes.
    Minutes,
    /// Of one; shown in percent, rounded down: a share is never shown better than it is.
    Share,
    Count,
    /// A difference, in that unit.
    Change(&'static str),
    /// Change × hours.
    Area(&'static str),
}

impl Unit {
    /// As it stands in a table for machines.
    pub fn name(&self) -> String {
        match self {
            Unit::Minutes => "min".to_owned(),
            Unit::Share => "1".to_owned(),
            Unit::Count => "count".to_owned(),
            Unit::Change(unit) => (*unit).to_owned(),
            Unit::Area(unit) => format!("{unit} h").trim().to_owned(),
        }
    }
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Figure {
    pub part: Part,
    /// The same for every case of a protocol: `hold.share-of-time-in-band`.
    pub key: String,
    pub title: String,
    /// Exact; `None` where the log does not tell.
    #[serde(serialize_with = "exact")]
    pub value: Option<Exact>,
    #[serde(serialize_with = "unit")]
    pub unit: Unit,
    pub shown: String,
    /// What the protocol wants, in words.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub goal: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub goal_met: Option<bool>,
}

impl Figure {
    pub fn new(
        part: Part,
        key: impl Into<String>,
        title: impl Into<String>,
        value: Option<Exact>,
        unit: Unit,
    ) -> Figure {
        let shown = value.map_or_else(|| "not known".to_owned(), |value| shown(value, &unit));
        Figure {
            part,
            key: key.into(),
            title: title.into(),
            value,
            unit,
            shown,
            goal: None,
            goal_met: None,
        }
    }

    pub fn count(part: Part, key: impl Into<String>, title: impl Into<String>, count: u64) -> Self {
        let count = i64::try_from(count).map_or(Exact::OVERFLOW, Exact::int);
        Figure::new(part, key, title, Some(count), Unit::Count)
    }
}

/// As people read it.
pub fn shown(value: Exact, unit: &Unit) -> String {
    match unit {
        Unit::Minutes => format!("{} h", wording::time(value)),
        Unit::Share => format!("{} %", down(value * Exact::int(100), 1)),
        Unit::Count => value.to_string(),
        Unit::Change(unit) => format!("{} {unit}", near(value, 2)).trim().to_owned(),
        Unit::Area("") => format!("{} × h", near(value, 2)),
        Unit::Area(unit) => format!("{} {unit} × h", near(value, 2)),
    }
}

fn down(value: Exact, places: u32) -> String {
    let step = Exact::ratio(1, 10i64.pow(places));
    let value = value.round_down_to(step);
    value
        .to_decimal(places)
        .unwrap_or_else(|| value.to_string())
}

/// Exact where few digits say it, or else about.
fn near(value: Exact, places: u32) -> String {
    for fewer in 1..=places {
        if let Some(text) = value.to_decimal(fewer) {
            return text;
        }
    }
    let step = Exact::ratio(1, 10i64.pow(places));
    let rounded = (value / step + Exact::ratio(1, 2)).floor() * step;
    rounded
        .to_decimal(places)
        .unwrap_or_else(|| rounded.to_string())
}

fn exact<S: Serializer>(value: &Option<Exact>, serializer: S) -> Result<S::Ok, S::Error> {
    match value {
        Some(value) => serializer.collect_str(value),
        None => serializer.serialize_none(),
    }
}

fn unit<S: Serializer>(unit: &Unit, serializer: S) -> Result<S::Ok, S::Error> {
    serializer.collect_str(&unit.name())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shown_as_people_read_it() {
        let says = |value: Exact, unit| shown(value, &unit);
        assert_eq!(says(Exact::ratio(1919, 10), Unit::Minutes), "3:11:54 h");
        assert_eq!(says(Exact::ratio(2, 3), Unit::Share), "66.6 %");
        assert_eq!(says(Exact::ratio(9999, 10_000), Unit::Share), "99.9 %");
        assert_eq!(says(Exact::ratio(1, 3), Unit::Change("°C")), "0.33 °C");
        assert_eq!(says(Exact::ratio(1, 2), Unit::Area("°C")), "0.5 °C × h");
    }
}
