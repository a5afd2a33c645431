//! A number with its unit, in the rule file: the exact value that programs work
//! with beside the words that people wrote.
//!
//! ```json
//! { "value": "33", "ucum": "Cel", "written": "33.0 °C" }
//! { "value": "1/3", "ucum": "K/h", "written": "1/3 °C/h" }
//! { "value": "1440", "ucum": "min", "written": "24 h" }
//! ```
//!
//! INVARIANT: on reading, the value must be what the written words come to.

use super::refusal::Refusal;
use crate::model::{self as m, ReadingKind};
use crate::quantity::{
    Age, Base, Change, Dimension, Duration, Exact, Level, Rate, Share, Unit, Weight, Written,
    unit_named,
};
use crate::source::Span;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A number with its unit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Measured {
    /// Exact: a decimal or a fraction in lowest terms, in the unit of `ucum`.
    #[schemars(regex(pattern = r"^-?[0-9]+(\.[0-9]+|/[1-9][0-9]*)?$"))]
    pub value: String,
    /// The unit of `value` in the Unified Code for Units of Measure. Every kind of
    /// quantity has one unit: Cel (a temperature), K (a difference), K/h, min
    /// (a duration), kg (a weight), d (an age), % (a share); amounts have that of their
    /// reading, doses mg, mmol, mL or [U]; an area has `.h` behind the unit of its
    /// difference.
    pub ucum: String,
    /// Number and unit as the committee wrote them, and as they are printed.
    pub written: String,
}

/// An exact number in words; every [`Exact`] comes back from it.
pub(super) fn number_text(value: Exact) -> String {
    value.to_string()
}

/// Reads what [`number_text`] writes; `None` for anything else.
pub(super) fn number(text: &str) -> Option<Exact> {
    let (negative, digits) = match text.strip_prefix('-') {
        Some(rest) => (true, rest),
        None => (false, text),
    };
    let whole = |digits: &str| -> Option<Exact> {
        if digits.is_empty() || digits.len() > 38 || !digits.bytes().all(|b| b.is_ascii_digit()) {
            return None;
        }
        let mut value = Exact::ZERO;
        for digit in digits.bytes() {
            value = value * Exact::int(10) + Exact::int(i64::from(digit - b'0'));
        }
        (!value.is_overflow()).then_some(value)
    };
    let value = if let Some((above, below)) = digits.split_once('/') {
        whole(above)? / whole(below)?
    } else if let Some((head, tail)) = digits.split_once('.') {
        let scale = whole(&format!("1{}", "0".repeat(tail.len().min(38))))?;
        whole(head)? + whole(tail)? / scale
    } else {
        whole(digits)?
    };
    let value = if negative { -value } else { value };
    // Only the one spelling that is written: two files with one meaning are one text.
    (!value.is_overflow() && number_text(value) == text).then_some(value)
}

/// What a place of the file takes, and so in which unit its value stands.
#[derive(Debug, Clone, Copy)]
pub(super) enum Place<'k> {
    Level(&'k ReadingKind),
    Change(&'k ReadingKind),
    Rate,
    Duration,
    Weight,
    Age,
    Share,
}

impl Place<'_> {
    fn ucum(self) -> &'static str {
        match self {
            Place::Level(kind) | Place::Change(kind) => match kind {
                ReadingKind::Body(_) | ReadingKind::Medium(_) => {
                    if matches!(self, Place::Level(_)) {
                        "Cel"
                    } else {
                        "K"
                    }
                }
                ReadingKind::Amount {
                    unit: Some(unit), ..
                } => unit.ucum,
                ReadingKind::Amount { unit: None, .. }
                | ReadingKind::Score { .. }
                | ReadingKind::Choice { .. } => "1",
            },
            Place::Rate => "K/h",
            Place::Duration => "min",
            Place::Weight => "kg",
            Place::Age => "d",
            Place::Share => "%",
        }
    }

    /// What `number unit` is worth here; `None` where that unit does not belong.
    fn worth(self, number: Exact, unit: Option<&'static Unit>) -> Option<Exact> {
        let dimension = unit.map(|unit| unit.dimension);
        let scaled = unit.map_or(number, |unit| number * unit.factor());
        match self {
            Place::Level(kind) | Place::Change(kind) => match kind {
                ReadingKind::Body(_) | ReadingKind::Medium(_) => {
                    let unit = unit.filter(|unit| unit.dimension == Dimension::Temperature)?;
                    Some(match self {
                        Place::Level(_) => unit.temperature_to_celsius(number),
                        _ => scaled,
                    })
                }
                ReadingKind::Amount { unit: own, .. } => (unit == *own).then_some(number),
                ReadingKind::Score { .. } | ReadingKind::Choice { .. } => {
                    unit.is_none().then_some(number)
                }
            },
            Place::Rate => (dimension == Some(Dimension::TemperatureRate)).then_some(scaled),
            Place::Duration => (dimension == Some(Dimension::Time)).then_some(scaled),
            Place::Weight => {
                (dimension == Some(Dimension::Mass)).then(|| scaled / Exact::int(1_000_000))
            }
            Place::Age => (dimension == Some(Dimension::Time)).then(|| scaled / Exact::int(1440)),
            Place::Share => unit
                .is_some_and(|unit| unit.name == "%" && number <= Exact::int(100))
                .then_some(number),
        }
    }
}

fn text_of(written: &Written) -> String {
    if written.unit.is_empty() {
        written.number.clone()
    } else {
        format!("{} {}", written.number, written.unit)
    }
}

impl Measured {
    fn new(value: Exact, ucum: impl Into<String>, written: &Written) -> Self {
        Measured {
            value: number_text(value),
            ucum: ucum.into(),
            written: text_of(written),
        }
    }

    pub(super) fn level(level: &Level, kind: &ReadingKind) -> Self {
        Measured::new(level.value, Place::Level(kind).ucum(), &level.written)
    }

    pub(super) fn change(change: &Change, kind: &ReadingKind) -> Self {
        Measured::new(change.value, Place::Change(kind).ucum(), &change.written)
    }

    pub(super) fn rate(rate: &Rate) -> Self {
        Measured::new(rate.value, Place::Rate.ucum(), &rate.written)
    }

    pub(super) fn duration(duration: &Duration) -> Self {
        Measured::new(duration.value, Place::Duration.ucum(), &duration.written)
    }

    pub(super) fn weight(weight: &Weight) -> Self {
        Measured::new(weight.value, Place::Weight.ucum(), &weight.written)
    }

    pub(super) fn age(age: &Age) -> Self {
        Measured::new(age.value, Place::Age.ucum(), &age.written)
    }

    pub(super) fn share(share: &Share) -> Self {
        Measured::new(share.value, Place::Share.ucum(), &share.written)
    }

    /// Differences times hours.
    pub(super) fn area(area: &Change, kind: &ReadingKind) -> Self {
        let change = Measured::change(area, kind);
        Measured {
            ucum: format!("{}.h", change.ucum),
            written: format!("{} h", change.written),
            ..change
        }
    }

    pub(super) fn dose(dose: &m::Dose) -> Self {
        let kilo = if dose.per_kg { "/kg" } else { "" };
        let base = base_ucum(dose.base);
        Measured::new(dose.value, format!("{base}{kilo}"), &dose.written)
    }

    pub(super) fn infusion_rate(rate: &m::InfusionRate) -> Self {
        let kilo = if rate.per_kg { "/kg" } else { "" };
        let base = base_ucum(rate.base);
        Measured::new(rate.per_hour, format!("{base}{kilo}/h"), &rate.written)
    }

    pub(super) fn concentration(of: &m::Concentration) -> Self {
        let base = base_ucum(of.base);
        Measured::new(of.per_ml, format!("{base}/mL"), &of.written)
    }

    pub(super) fn rounding(step: &m::Rounding) -> Self {
        let ucum = if step.is_rate {
            "mL/h"
        } else {
            base_ucum(step.base)
        };
        Measured::new(step.value, ucum, &step.written)
    }

    /// Number, unit and both as written.
    fn parts(&self) -> Result<(Exact, Option<&'static Unit>, Written), Refusal> {
        let (number_part, unit_part) = match self.written.split_once(' ') {
            Some((number, unit)) => (number, Some(unit)),
            None => (self.written.as_str(), None),
        };
        let value = Exact::parse(number_part).ok_or_else(|| self.bad("is no number"))?;
        let unit = match unit_part {
            None => None,
            Some(name) => Some(
                unit_named(name)
                    .filter(|unit| unit.name == name)
                    .ok_or_else(|| self.bad("has a unit that the language does not know"))?,
            ),
        };
        let written = Written {
            number: number_part.to_owned(),
            unit: unit.map_or("", |unit| unit.name),
        };
        Ok((value, unit, written))
    }

    fn bad(&self, what: &str) -> Refusal {
        Refusal::inconsistent(format!("`{}` {what}", self.written))
    }

    fn agrees(&self, value: Exact, ucum: &str) -> Result<Exact, Refusal> {
        if number(&self.value) == Some(value) && self.ucum == ucum {
            return Ok(value);
        }
        Err(Refusal::inconsistent(format!(
            "`{}` is stored as {} {}, which is not the same",
            self.written, self.value, self.ucum
        )))
    }

    fn read_at(&self, place: Place<'_>) -> Result<(Exact, Written), Refusal> {
        let (number, unit, written) = self.parts()?;
        let value = place
            .worth(number, unit)
            .ok_or_else(|| self.bad("is not of the kind that belongs here"))?;
        Ok((self.agrees(value, place.ucum())?, written))
    }

    pub(super) fn to_level(&self, kind: &ReadingKind) -> Result<Level, Refusal> {
        let (value, written) = self.read_at(Place::Level(kind))?;
        Ok(Level::new(value, written, Span::default()))
    }

    pub(super) fn to_change(&self, kind: &ReadingKind) -> Result<Change, Refusal> {
        let (value, written) = self.read_at(Place::Change(kind))?;
        Ok(Change::new(value, written, Span::default()))
    }

    pub(super) fn to_share(&self) -> Result<Share, Refusal> {
        let (value, written) = self.read_at(Place::Share)?;
        Ok(Share::new(value, written, Span::default()))
    }

    pub(super) fn to_area(&self, kind: &ReadingKind) -> Result<Change, Refusal> {
        let without_hours = |text: &str, hours: &str| text.strip_suffix(hours).map(str::to_owned);
        let (Some(ucum), Some(written)) = (
            without_hours(&self.ucum, ".h"),
            without_hours(&self.written, " h"),
        ) else {
            return Err(self.bad("is not of the kind that belongs here"));
        };
        Measured {
            value: self.value.clone(),
            ucum,
            written,
        }
        .to_change(kind)
    }

    pub(super) fn to_rate(&self) -> Result<Rate, Refusal> {
        let (value, written) = self.read_at(Place::Rate)?;
        Ok(Rate::new(value, written, Span::default()))
    }

    pub(super) fn to_duration(&self) -> Result<Duration, Refusal> {
        let (value, written) = self.read_at(Place::Duration)?;
        Ok(Duration::new(value, written, Span::default()))
    }

    pub(super) fn to_weight(&self) -> Result<Weight, Refusal> {
        let (value, written) = self.read_at(Place::Weight)?;
        Ok(Weight::new(value, written, Span::default()))
    }

    pub(super) fn to_age(&self) -> Result<Age, Refusal> {
        let (value, written) = self.read_at(Place::Age)?;
        Ok(Age::new(value, written, Span::default()))
    }

    /// The written number as doses are counted: in the base unit of its substance.
    fn dosed(&self, dimensions: &[Dimension]) -> Result<(Exact, &'static Unit, Written), Refusal> {
        let (number, unit, written) = self.parts()?;
        let unit = unit
            .filter(|unit| dimensions.contains(&unit.dimension) && unit.base != Base::None)
            .ok_or_else(|| self.bad("is not of the kind that belongs here"))?;
        Ok((number * unit.factor(), unit, written))
    }

    pub(super) fn to_dose(&self) -> Result<m::Dose, Refusal> {
        let (value, unit, written) =
            self.dosed(&[Dimension::Mass, Dimension::Dose, Dimension::DosePerKg])?;
        let per_kg = unit.dimension == Dimension::DosePerKg;
        let dose = m::Dose {
            value,
            base: unit.base,
            per_kg,
            written,
            span: Span::default(),
        };
        self.agrees(value, &Measured::dose(&dose).ucum)?;
        Ok(dose)
    }

    pub(super) fn to_infusion_rate(&self) -> Result<m::InfusionRate, Refusal> {
        let (per_hour, unit, written) =
            self.dosed(&[Dimension::Infusion, Dimension::InfusionPerKg])?;
        let rate = m::InfusionRate {
            per_hour,
            base: unit.base,
            per_kg: unit.dimension == Dimension::InfusionPerKg,
            written,
            span: Span::default(),
        };
        self.agrees(per_hour, &Measured::infusion_rate(&rate).ucum)?;
        Ok(rate)
    }

    pub(super) fn to_concentration(&self) -> Result<m::Concentration, Refusal> {
        let (per_ml, unit, written) = self.dosed(&[Dimension::Concentration])?;
        let found = m::Concentration {
            per_ml,
            base: unit.base,
            written,
            span: Span::default(),
        };
        self.agrees(per_ml, &Measured::concentration(&found).ucum)?;
        Ok(found)
    }

    pub(super) fn to_rounding(&self) -> Result<m::Rounding, Refusal> {
        let (value, unit, written) =
            self.dosed(&[Dimension::Mass, Dimension::Dose, Dimension::Infusion])?;
        let step = m::Rounding {
            value,
            base: unit.base,
            is_rate: unit.dimension == Dimension::Infusion,
            written,
            span: Span::default(),
        };
        self.agrees(value, &Measured::rounding(&step).ucum)?;
        Ok(step)
    }
}

fn base_ucum(base: Base) -> &'static str {
    match base {
        Base::Mass => "mg",
        Base::Moles => "mmol",
        Base::Volume => "mL",
        Base::Units => "[U]",
        Base::None => "1",
    }
}
