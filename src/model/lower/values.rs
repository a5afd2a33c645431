//! Numbers with units: the place gives the type.

use super::names::Kind;
use super::*;
use crate::quantity::{
    Age, Dimension, Duration, Exact, Rate, UNITS, Unit, Weight, Written, unit_named,
};

/// A number with its unit, before its place has given it a type.
#[derive(Debug, Clone)]
pub(in crate::model) struct Raw {
    pub value: Exact,
    pub unit: Option<&'static Unit>,
    pub written: Written,
    pub span: Span,
}

impl Raw {
    pub fn dimension(&self) -> Option<Dimension> {
        self.unit.map(|unit| unit.dimension)
    }

    /// In the base unit of its dimension.
    pub fn scaled(&self) -> Exact {
        self.unit
            .map_or(self.value, |unit| self.value * unit.factor())
    }

    pub fn shown(&self) -> String {
        if self.written.unit.is_empty() {
            self.written.number.clone()
        } else {
            format!("{} {}", self.written.number, self.written.unit)
        }
    }
}

/// What a number with this unit is, in a message.
fn what_is(unit: Option<&Unit>) -> &'static str {
    match unit.map(|unit| unit.dimension) {
        None => "a number without a unit",
        Some(Dimension::Temperature) => "a temperature",
        Some(Dimension::TemperatureRate) => "a rate of change",
        Some(Dimension::Time) => "a duration",
        Some(Dimension::Mass) => "a mass",
        Some(Dimension::Dose) => "a dose",
        Some(Dimension::DosePerKg) => "a dose for each kilogram",
        Some(Dimension::Infusion) => "an infusion rate",
        Some(Dimension::InfusionPerKg) => "an infusion rate for each kilogram",
        Some(Dimension::Concentration) => "a concentration",
        Some(Dimension::Amount) => "an amount",
    }
}

impl<'t> Lowerer<'t> {
    /// The number of a `value` node, through a `let` where a name stands.
    /// `place` is what the place takes, for a `let` that is used as two things.
    pub fn raw(&mut self, node: &Node<'t>, place: &'static str) -> Option<Raw> {
        if let Some(name) = node.find(R::name) {
            let (_, index) = match self.names.find(&[Kind::Let], name.text(), name.span()) {
                Ok(found) => found,
                Err(problem) => {
                    self.unknown(problem, name.text());
                    return None;
                }
            };
            let declared = self.lets.get_mut(index as usize)?;
            declared.used_as.push((place, name.span()));
            let first = declared.used_as.first().copied();
            let value = declared.node.find(R::value)?;
            let declared_at = declared.node.span();
            if let Some((other, at)) = first.filter(|(other, _)| *other != place) {
                self.error(
                    Diagnostic::error(
                        "unit-mismatch",
                        name.span(),
                        format!("`{}` is used as {other} and as {place}", name.text()),
                    )
                    .here(format!("{place} here"))
                    .also(at, format!("{other} here"))
                    .also(declared_at, "declared here")
                    .why("33.0 °C as a difference is not 33.0 °C as a temperature")
                    .help("declare two values with two names")
                    .source("structural"),
                );
                return None;
            }
            if value.has(R::name) {
                self.error(
                    Diagnostic::error(
                        "unit-mismatch",
                        value.span(),
                        "a named value takes a number, not another name",
                    )
                    .why("whoever reads it aloud would have to look twice")
                    .help("write the number and its unit")
                    .source("structural"),
                );
                return None;
            }
            let mut raw = self.number(&value)?;
            raw.span = name.span();
            return Some(raw);
        }
        self.number(node)
    }

    fn number(&mut self, node: &Node<'t>) -> Option<Raw> {
        let number = node.find(R::number)?;
        let Some(value) = Exact::parse(number.text()) else {
            self.error(
                Diagnostic::error(
                    "bad-number",
                    number.span(),
                    format!("`{}` is no number that can be read safely", number.text()),
                )
                .why("a point at the edge of a number is overlooked, and ten times the value is read")
                .help("write `0.5`, `33.0` or `1/3`, with at most nine digits")
                .source("structural"),
            );
            return None;
        };
        let unit = match node.find(R::unit) {
            None => None,
            Some(unit) => Some(self.unit(&unit)?),
        };
        Some(Raw {
            value,
            unit,
            written: Written {
                number: number.text().to_owned(),
                unit: unit.map_or("", |unit| unit.name),
            },
            span: node.span(),
        })
    }

    pub fn unit(&mut self, node: &Node<'t>) -> Option<&'static Unit> {
        let text = node.text();
        if let Some(unit) = unit_named(text) {
            return Some(unit);
        }
        let mut problem = Diagnostic::error(
            "unknown-unit",
            node.span(),
            format!("`{text}` is no unit that the language knows"),
        )
        .why("a unit that is guessed can be wrong by a thousand")
        .source("structural");
        problem = match text {
            "lb" | "lbs" | "pound" | "pounds" => problem.help(
                "weigh in kilograms: pounds are not read, since two factors for them are in use",
            ),
            "cc" | "ml" => problem.help("write `mL`").fix(node.span(), "mL"),
            "ug" | "µg" | "μg" => problem
                .help("write `mcg` or `micrograms`: the sign µ is read as m")
                .fix(node.span(), "mcg"),
            "U" | "u" | "IU" | "iu" => problem
                .help("write `units`: U is read as 0 or 4")
                .fix(node.span(), "units"),
            "K" => problem
                .help("write a difference in °C")
                .fix(node.span(), "°C"),
            _ => {
                let near = crate::syntax::nearest(
                    text,
                    UNITS
                        .iter()
                        .flat_map(|unit| unit.spellings.iter().copied().chain([unit.name])),
                );
                match near.and_then(unit_named) {
                    Some(near) => problem
                        .here(format!("did you mean `{}`?", near.name))
                        .help(format!("write `{}`", near.name))
                        .fix(node.span(), near.name),
                    None => problem.help("the language reference lists every unit that is read"),
                }
            }
        };
        self.error(problem);
        None
    }

    pub fn mismatch(&mut self, raw: &Raw, wanted: &str, help: &str) {
        let given = what_is(raw.unit);
        self.error(
            Diagnostic::error(
                "unit-mismatch",
                raw.span,
                format!("`{}` is {given}, where {wanted} belongs", raw.shown()),
            )
            .why("the number would be printed and worked with as something that it is not")
            .help(help.to_owned())
            .source("structural"),
        );
    }

    pub(super) fn not_positive(&mut self, raw: &Raw) -> bool {
        if raw.value > Exact::ZERO {
            return false;
        }
        self.error(
            Diagnostic::error(
                "not-positive",
                raw.span,
                format!("`{}` must be more than zero here", raw.shown()),
            )
            .why("nothing can be done in no time, by no step, or with no dose")
            .help("write the value that is meant, or take the line away")
            .source("structural"),
        );
        true
    }

    pub fn duration(&mut self, node: &Node<'t>) -> Option<Duration> {
        let raw = self.raw(node, "a duration")?;
        if raw.dimension() != Some(Dimension::Time) {
            self.mismatch(&raw, "a duration", "write it in min, h, days or weeks");
            return None;
        }
        if matches!(raw.written.unit, "month" | "months" | "year" | "years") {
            self.mismatch(
                &raw,
                "a duration of treatment",
                "months and years are for ages; write days or weeks",
            );
            return None;
        }
        if self.not_positive(&raw) {
            return None;
        }
        Some(Duration::new(raw.scaled(), raw.written.clone(), raw.span))
    }

    /// A duration after which something comes again. Shorter than a minute it would
    /// come without end; the sheet and the clock on the wall show minutes.
    pub fn interval(&mut self, node: &Node<'t>, what: &str) -> Option<Duration> {
        let interval = self.duration(node)?;
        if interval.value >= Exact::ONE {
            return Some(interval);
        }
        self.error(
            Diagnostic::error(
                "not-positive",
                interval.span,
                format!("nobody can {what} more often than every minute"),
            )
            .why("the record would have more rows than a nurse could fill in")
            .help("write an interval of 1 min or more")
            .source("structural"),
        );
        None
    }

    pub fn rate(&mut self, node: &Node<'t>) -> Option<Rate> {
        let raw = self.raw(node, "a rate")?;
        if raw.dimension() != Some(Dimension::TemperatureRate) {
            self.mismatch(&raw, "a rate of change", "write it in °C/h");
            return None;
        }
        if self.not_positive(&raw) {
            return None;
        }
        Some(Rate::new(raw.scaled(), raw.written.clone(), raw.span))
    }

    pub fn weight(&mut self, node: &Node<'t>) -> Option<Weight> {
        let raw = self.raw(node, "a weight")?;
        if !matches!(raw.written.unit, "kg" | "g") {
            self.mismatch(&raw, "a body weight", "write it in kg (or g for a newborn)");
            return None;
        }
        if self.not_positive(&raw) {
            return None;
        }
        let kilograms = raw.scaled() / Exact::int(1_000_000);
        Some(Weight::new(kilograms, raw.written, raw.span))
    }

    pub fn age(&mut self, node: &Node<'t>) -> Option<Age> {
        let raw = self.raw(node, "an age")?;
        if raw.dimension() != Some(Dimension::Time) {
            self.mismatch(&raw, "an age", "write it in days, weeks, months or years");
            return None;
        }
        let days = raw.scaled() / Exact::int(1440);
        Some(Age::new(days, raw.written, raw.span))
    }
}
