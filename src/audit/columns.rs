//! What the head of a log means: which column is which reading, in which unit.
//!
//! A reading or mark goes by its name or its title in the protocol, in small or large
//! letters. A unit may follow in brackets or after `in`: `core (°F)`, `water in °C`.
//! A unit that is not the reading's own, and no other way to write a temperature,
//! leaves the column out: a number in the wrong unit is worse than none.

use crate::eval::wording;
use crate::model::{MarkId, Protocol, ReadingId};
use std::collections::BTreeMap;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Scale {
    /// As the protocol shows it.
    Own,
    Celsius,
    Fahrenheit,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Column {
    Time,
    Reading(ReadingId, Scale),
    Mark(MarkId),
    /// The start of the case, where the log marks it.
    Start,
    /// The weight of the patient; in kg by the head, or else with its unit in the cell.
    Weight {
        kg: bool,
    },
}

/// Every name that a log may use.
#[derive(Debug, Clone)]
pub struct Names {
    known: BTreeMap<String, Column>,
    /// By reading: the unit in which it is shown.
    units: Vec<&'static str>,
}

impl Names {
    pub fn of(protocol: &Protocol) -> Names {
        let mut known = BTreeMap::new();
        // Titles first, so that a name that is another's title wins.
        for (id, mark) in protocol.marks() {
            known.insert(mark.title.markdown.to_lowercase(), Column::Mark(id));
        }
        for (id, reading) in protocol.readings() {
            let column = Column::Reading(id, Scale::Own);
            known.insert(reading.title.markdown.to_lowercase(), column);
        }
        for (id, mark) in protocol.marks() {
            known.insert(mark.name.name.clone(), Column::Mark(id));
        }
        for (id, reading) in protocol.readings() {
            known.insert(reading.name.name.clone(), Column::Reading(id, Scale::Own));
        }
        known.insert("time".to_owned(), Column::Time);
        known.insert("start".to_owned(), Column::Start);
        known.insert("weight".to_owned(), Column::Weight { kg: false });
        Names {
            known,
            units: protocol
                .readings()
                .map(|(id, _)| wording::unit(protocol, id))
                .collect(),
        }
    }

    /// What a name in the log means, or why it means nothing.
    pub fn named(&self, text: &str) -> Result<Column, String> {
        let text = text.trim();
        if let Some(column) = self.known.get(text) {
            return Ok(*column);
        }
        let lower = text.to_lowercase();
        if let Some(column) = self.known.get(&lower) {
            return Ok(*column);
        }
        let unknown = || {
            let shown: String = text.chars().take(60).collect();
            if shown.is_empty() {
                "a column without a name; it is left out".to_owned()
            } else {
                format!("`{shown}` is no reading and no mark of the protocol; it is left out")
            }
        };
        let (name, unit) = with_unit(&lower).ok_or_else(unknown)?;
        match self.known.get(name).copied() {
            Some(Column::Reading(id, _)) => {
                let own = self.units.get(id.index()).copied().unwrap_or("");
                self.scale(own, unit)
                    .map(|scale| Column::Reading(id, scale))
                    .ok_or_else(|| {
                        let own = if own.is_empty() { "no unit" } else { own };
                        format!(
                            "`{name}` is in {unit} here and in {own} in the protocol; the column is left out"
                        )
                    })
            }
            Some(Column::Weight { .. }) if unit == "kg" => Ok(Column::Weight { kg: true }),
            _ => Err(unknown()),
        }
    }

    fn scale(&self, own: &str, unit: &str) -> Option<Scale> {
        let temperature = own == "°C" || own == "°F";
        match (temperature, degrees(unit)) {
            (true, Some(scale)) => Some(scale),
            (true, None) => None,
            (false, _) => (own.to_lowercase() == unit).then_some(Scale::Own),
        }
    }
}

/// `°c`, `c`, `degc`, `ºc` and the same for Fahrenheit, in small letters.
pub fn degrees(unit: &str) -> Option<Scale> {
    let bare = unit.trim().trim_start_matches(['°', 'º', '˚']).trim();
    match bare.strip_prefix("deg").map_or(bare, str::trim) {
        "c" | "celsius" => Some(Scale::Celsius),
        "f" | "fahrenheit" => Some(Scale::Fahrenheit),
        _ => None,
    }
}

/// `core (°f)` as its name and its unit.
fn with_unit(text: &str) -> Option<(&str, &str)> {
    for (open, close) in [('(', ')'), ('[', ']')] {
        if let Some(inner) = text.strip_suffix(close)
            && let Some((name, unit)) = inner.rsplit_once(open)
        {
            return Some((name.trim(), unit.trim()));
        }
    }
    if let Some((name, unit)) = text.rsplit_once(" in ") {
        return Some((name.trim(), unit.trim()));
    }
    let (name, unit) = text.rsplit_once([' ', '_'])?;
    degrees(unit).map(|_| (name.trim(), unit.trim()))
}
