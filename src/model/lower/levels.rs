//! Values of a reading: a temperature, an amount in its unit, a score; the reading
//! gives the type.

use super::values::Raw;
use super::*;
use crate::quantity::{Change, Dimension, Exact, Level};

impl<'t> Lowerer<'t> {
    /// A value of a reading: a temperature, an amount in its unit, a score.
    pub fn level(&mut self, node: &Node<'t>, reading: ReadingId) -> Option<Level> {
        let raw = self.raw(node, "a value")?;
        self.level_of(&raw, reading)
    }

    pub fn level_of(&mut self, raw: &Raw, reading: ReadingId) -> Option<Level> {
        let (kind, title) = self.reading_kind(reading)?;
        match kind {
            ReadingKind::Body(_) | ReadingKind::Medium(_) => {
                if raw.dimension() != Some(Dimension::Temperature) {
                    self.mismatch(raw, "a temperature", "write it in °C");
                    return None;
                }
                let value = raw
                    .unit
                    .map_or(raw.value, |unit| unit.temperature_to_celsius(raw.value));
                Some(Level::new(value, raw.written.clone(), raw.span))
            }
            ReadingKind::Score { low, high, .. } => {
                let whole = raw.unit.is_none() && raw.value.is_integer();
                let inside = raw.value >= Exact::int(low) && raw.value <= Exact::int(high);
                if whole && inside {
                    return Some(Level::new(raw.value, raw.written.clone(), raw.span));
                }
                self.mismatch(
                    raw,
                    &format!("a score of `{title}`, {low} to {high},"),
                    &format!("write a whole number from {low} to {high}, without a unit"),
                );
                None
            }
            ReadingKind::Amount { unit, .. } => {
                if raw.unit != unit {
                    let wanted = unit.map_or("a number without a unit".to_owned(), |unit| {
                        format!("an amount in {}", unit.name)
                    });
                    self.mismatch(
                        raw,
                        &wanted,
                        &format!("`{title}` is read in that unit everywhere, or the nurse would have to convert"),
                    );
                    return None;
                }
                Some(Level::new(raw.value, raw.written.clone(), raw.span))
            }
            ReadingKind::Choice { .. } => {
                self.mismatch(
                    raw,
                    &format!("a word of `{title}`"),
                    &format!("write `{title} is WORD`"),
                );
                None
            }
        }
    }

    /// A difference between two values of a reading; `zero` may be allowed.
    pub fn change(&mut self, node: &Node<'t>, reading: ReadingId, zero: bool) -> Option<Change> {
        let raw = self.raw(node, "a difference")?;
        let (kind, title) = self.reading_kind(reading)?;
        let value = match kind {
            ReadingKind::Body(_) | ReadingKind::Medium(_) => {
                if raw.dimension() != Some(Dimension::Temperature) {
                    self.mismatch(&raw, "a difference of temperatures", "write it in °C");
                    return None;
                }
                raw.scaled()
            }
            ReadingKind::Score { .. } => {
                if raw.unit.is_some() {
                    self.mismatch(&raw, "a number of points", "write it without a unit");
                    return None;
                }
                raw.value
            }
            ReadingKind::Amount { unit, .. } => {
                if raw.unit != unit {
                    let wanted = unit.map_or("a number without a unit".to_owned(), |unit| {
                        format!("an amount in {}", unit.name)
                    });
                    self.mismatch(&raw, &wanted, "write it in the unit of the reading");
                    return None;
                }
                raw.value
            }
            ReadingKind::Choice { .. } => {
                self.mismatch(
                    &raw,
                    &format!("a word of `{title}`"),
                    &format!("write `{title} is WORD`"),
                );
                return None;
            }
        };
        if !zero && self.not_positive(&raw) {
            return None;
        }
        Some(Change::new(value, raw.written, raw.span))
    }

    pub(super) fn reading_kind(&self, reading: ReadingId) -> Option<(ReadingKind, String)> {
        let reading = self.readings.get(reading.index())?.as_ref()?;
        Some((reading.kind.clone(), reading.name.name.clone()))
    }

    /// A level that is aimed at or starts from must be one that the reading shows.
    pub fn on_scale(&mut self, level: Option<Level>, reading: ReadingId) -> Option<Level> {
        let level = level?;
        let grid = self
            .readings
            .get(reading.index())
            .and_then(Option::as_ref)
            .and_then(Reading::grid);
        if let Some(grid) = grid
            && (level.value < grid.low || level.value > grid.high)
        {
            self.error(
                Diagnostic::error(
                    "off-scale",
                    level.span,
                    format!("`{level}` is off the scale of its reading"),
                )
                .here(format!("the reading shows {} to {}", grid.low, grid.high))
                .why("it can never be recorded, so it can be neither reached nor kept")
                .help("correct the value, or widen the reading with `reads`")
                .source("structural"),
            );
            return None;
        }
        Some(level)
    }
}
