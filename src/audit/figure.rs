//! One number of an audit: what it is, and how it is shown.

use crate::eval::wording;
use crate::model::Bound;
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
    /// By the exact value; `None` where that is not known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub goal_met: Option<bool>,
    /// The goal in the unit of the value, for drawing.
    #[serde(skip)]
    pub goal_at: Option<Exact>,
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
            goal_at: None,
        }
    }

    /// Holds the value against a bound in its own unit, which `words` say.
    pub fn judged(mut self, bound: Bound, at: Exact, words: String) -> Self {
        if let Some(value) = self.value {
            self.shown = shown_against(value, &self.unit, bound);
            self.goal_met = Some(bound.allows(value, at));
        }
        self.goal = Some(words);
        self.goal_at = Some(at);
        self
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

/// Beside a goal: never shown as met where it is missed by less than a digit.
fn shown_against(value: Exact, unit: &Unit, bound: Bound) -> String {
    let step = match unit {
        Unit::Share => Exact::ratio(1, 1000),
        Unit::Change(_) | Unit::Area(_) => Exact::ratio(1, 100),
        Unit::Minutes | Unit::Count => return shown(value, unit),
    };
    let low = value.round_down_to(step);
    let shy = match bound {
        Bound::AtMost if low < value => low + step,
        _ => low,
    };
    shown(shy, unit)
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

    #[test]
    fn a_goal_is_judged_on_the_exact_value_and_shown_on_its_side() {
        let judged = |value: Exact, unit: Unit, bound, at: Exact| {
            let figure = Figure::new(Part::Measures, "k", "t", Some(value), unit).judged(
                bound,
                at,
                String::new(),
            );
            (figure.shown, figure.goal_met)
        };
        let (share, area) = (|| Unit::Share, || Unit::Area("°C"));
        let percent = |of: i64| Exact::ratio(of, 100_000);
        for (value, unit, bound, at, shown, met) in [
            // 94.999 %, 95 % and 95.001 % against 95 %.
            (
                percent(94_999),
                share(),
                Bound::AtLeast,
                percent(95_000),
                "94.9 %",
                false,
            ),
            (
                percent(95_000),
                share(),
                Bound::AtLeast,
                percent(95_000),
                "95.0 %",
                true,
            ),
            (
                percent(95_001),
                share(),
                Bound::AtLeast,
                percent(95_000),
                "95.0 %",
                true,
            ),
            // 5.001 % rounded down would read as if it met 5 %.
            (
                percent(5_001),
                share(),
                Bound::AtMost,
                percent(5_000),
                "5.1 %",
                false,
            ),
            (
                percent(5_000),
                share(),
                Bound::AtMost,
                percent(5_000),
                "5.0 %",
                true,
            ),
            (
                Exact::ratio(2001, 1000),
                area(),
                Bound::AtMost,
                Exact::int(2),
                "2.01 °C × h",
                false,
            ),
            (
                Exact::ratio(1999, 1000),
                area(),
                Bound::AtMost,
                Exact::int(2),
                "2.0 °C × h",
                true,
            ),
            (
                Exact::ratio(1999, 1000),
                area(),
                Bound::AtLeast,
                Exact::int(2),
                "1.99 °C × h",
                false,
            ),
            (
                Exact::ratio(601, 10),
                Unit::Minutes,
                Bound::AtMost,
                Exact::int(60),
                "1:00:06 h",
                false,
            ),
            (
                Exact::int(60),
                Unit::Minutes,
                Bound::AtMost,
                Exact::int(60),
                "1:00 h",
                true,
            ),
        ] {
            assert_eq!(
                judged(value, unit, bound, at),
                (shown.to_owned(), Some(met)),
                "{value} {at}"
            );
        }
        let unknown = Figure::new(Part::Measures, "k", "t", None, Unit::Share).judged(
            Bound::AtLeast,
            Exact::ONE,
            String::new(),
        );
        assert_eq!(
            (unknown.shown.as_str(), unknown.goal_met),
            ("not known", None)
        );
    }
}
