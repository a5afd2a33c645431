//! From the text of a cell to a value that a display can show.
//!
//! Nothing is guessed: a number that the instrument cannot read is left out, and where
//! it would be plain in the other unit, that is said. A temperature that stands in the
//! other unit by its head is worked out exactly and goes to the nearest step of the
//! display, since a record has whole steps (M4).

use super::columns::{Scale, degrees};
use crate::eval::entry::refused_value;
use crate::eval::{RefusedFor, wording};
use crate::model::{Protocol, Reading, ReadingId, ReadingKind};
use crate::quantity::{Exact, difference_to_fahrenheit, to_celsius, to_fahrenheit};

/// A value, and what was done to it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Read {
    /// In the reading's own unit; a word of a choice by its index.
    pub value: Exact,
    /// It went to the nearest step of the display.
    pub rounded: bool,
    pub comma: bool,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NoValue {
    pub kind: &'static str,
    pub what: String,
}

pub struct Reader<'p> {
    pub protocol: &'p Protocol,
    /// Values finer than the display are taken to its nearest step.
    pub round: bool,
    /// The fields are not parted by commas, so a comma can be a decimal one.
    pub comma: bool,
}

impl Reader<'_> {
    pub fn read(&self, id: ReadingId, scale: Scale, text: &str) -> Result<Read, NoValue> {
        let reading = &self.protocol[id];
        let name = &reading.name.name;
        if let ReadingKind::Choice { words, .. } = &reading.kind {
            return words
                .iter()
                .position(|word| word.name.eq_ignore_ascii_case(text))
                .and_then(|index| i64::try_from(index).ok())
                .map(|index| Read {
                    value: Exact::int(index),
                    rounded: false,
                    comma: false,
                })
                .ok_or_else(|| NoValue {
                    kind: "no-word",
                    what: format!("`{}` is no word of `{name}`", short(text)),
                });
        }
        let (number, comma, scale) = self.number(reading, scale, text).ok_or_else(|| NoValue {
            kind: "no-number",
            what: format!(
                "`{}` is not a number with a decimal point, for `{name}`",
                short(text)
            ),
        })?;
        let fahrenheit = wording::unit(self.protocol, id) == "°F";
        let scale = match scale {
            Scale::Own if fahrenheit => Scale::Fahrenheit,
            Scale::Own if reading.kind.is_temperature() => Scale::Celsius,
            other => other,
        };
        let converted = scale
            == if fahrenheit {
                Scale::Celsius
            } else {
                Scale::Fahrenheit
            };
        let value = own(number, scale);
        let (value, rounded) = match refused_value(reading, value) {
            Some(RefusedFor::OffStep)
                if converted || (self.round && reading.shown_to.is_some()) =>
            {
                (nearest(reading, value, fahrenheit), true)
            }
            _ => (value, false),
        };
        match refused_value(reading, value) {
            None => Ok(Read {
                value,
                rounded: rounded && !converted,
                comma,
            }),
            Some(why) => Err(self.refused(id, number, scale, why)),
        }
    }

    fn number(&self, reading: &Reading, scale: Scale, text: &str) -> Option<(Exact, bool, Scale)> {
        let end = text
            .find(|character: char| !matches!(character, '0'..='9' | '.' | ',' | '-' | '+'))
            .unwrap_or(text.len());
        let (digits, unit) = (text.get(..end)?, text.get(end..)?.trim());
        let scale = match unit {
            "" => scale,
            unit if reading.kind.is_temperature() => degrees(&unit.to_lowercase())?,
            unit => match &reading.kind {
                ReadingKind::Amount {
                    unit: Some(own), ..
                } if own.name == unit => scale,
                _ => return None,
            },
        };
        let digits = digits.strip_prefix('+').unwrap_or(digits);
        let comma = self.comma && digits.contains(',') && !digits.contains('.');
        let number = if comma {
            Exact::parse(&digits.replacen(',', ".", 1))
        } else {
            Exact::parse(digits)
        };
        number.map(|number| (number, comma, scale))
    }

    fn refused(&self, id: ReadingId, number: Exact, scale: Scale, why: RefusedFor) -> NoValue {
        let reading = &self.protocol[id];
        let name = &reading.name.name;
        let unit = match scale {
            Scale::Own => wording::unit(self.protocol, id),
            Scale::Celsius => "°C",
            Scale::Fahrenheit => "°F",
        };
        let shown = format!("{number} {unit}");
        let shown = shown.trim();
        if why == RefusedFor::OffStep && reading.shown_to.is_none() {
            return NoValue {
                kind: "off-step",
                what: format!("`{name}` cannot be {shown}: it has whole numbers only"),
            };
        }
        if why == RefusedFor::OffStep {
            let step = reading
                .shown_to
                .as_ref()
                .map_or_else(|| "1".to_owned(), ToString::to_string);
            return NoValue {
                kind: "off-step",
                what: format!(
                    "`{name}` of {shown} lies between two steps of its display, {step}; `--round` takes the nearest"
                ),
            };
        }
        let other = match scale {
            Scale::Own => None,
            Scale::Celsius => Some((Scale::Fahrenheit, "°F")),
            Scale::Fahrenheit => Some((Scale::Celsius, "°C")),
        };
        if let Some((other, unit_of_other)) = other
            && self.is_plausible(reading, own(number, other))
        {
            return NoValue {
                kind: "unit-slip",
                what: format!(
                    "`{name}` cannot be {shown}, but it can be {number} {unit_of_other}: is the column in {unit_of_other}? If it is, head it `{name} ({unit_of_other})`"
                ),
            };
        }
        NoValue {
            kind: "impossible",
            what: format!("`{name}` cannot be {shown}: the instrument does not read that"),
        }
    }

    fn is_plausible(&self, reading: &Reading, value: Exact) -> bool {
        !matches!(
            refused_value(reading, value),
            Some(RefusedFor::OutOfRange | RefusedFor::Unknown)
        )
    }
}

/// In °C, where it is a temperature.
fn own(number: Exact, scale: Scale) -> Exact {
    match scale {
        Scale::Fahrenheit => to_celsius(number),
        Scale::Own | Scale::Celsius => number,
    }
}

/// The nearest step of the display, a half upwards; whole steps count from zero of the
/// unit that it shows.
fn nearest(reading: &Reading, value: Exact, fahrenheit: bool) -> Exact {
    let Some(grid) = reading.grid() else {
        return value;
    };
    let (shown, step) = if fahrenheit {
        (to_fahrenheit(value), difference_to_fahrenheit(grid.step))
    } else {
        (value, grid.step)
    };
    let rounded = (shown / step + Exact::ratio(1, 2)).floor() * step;
    if fahrenheit {
        to_celsius(rounded)
    } else {
        rounded
    }
}

fn short(text: &str) -> String {
    text.chars().take(40).collect()
}
