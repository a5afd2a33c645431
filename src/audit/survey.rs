//! The first reading of a log: when the case begins, what the patient weighs, and
//! whether the rows are in order of time.

use super::columns::Column;
use super::log::{Form, LogError, LogReader};
use super::mark;
use super::rows::{Row, Rows};
use super::when::When;
use jiff::Timestamp;
use std::io::BufRead;

/// What the first reading has found.
#[derive(Debug, Clone)]
pub struct Survey {
    pub start: Option<Timestamp>,
    /// How the start is known, in words.
    pub start_from: &'static str,
    /// Another start than the first, with its line: the first counts.
    pub other_start: Option<(u64, Timestamp)>,
    /// As it is written, with its line.
    pub weight: Option<(u64, String)>,
    /// Another one further down: the first counts.
    pub other_weight: Option<(u64, String)>,
    pub in_order: bool,
    /// Bytes of the log.
    pub bytes: u64,
}

impl LogReader<'_> {
    /// Reads a log through once, without its entries.
    pub fn survey(&self, from: impl BufRead) -> Result<Survey, LogError> {
        let mut rows = Rows::new(from);
        let mut row = Row::default();
        let mut form: Option<Form> = None;
        let (mut marked, mut first_record, mut first_row) = (None, None, None);
        let mut other_start = None;
        let mut weight: Option<(u64, String)> = None;
        let mut other_weight: Option<(u64, String)> = None;
        let mut before: Option<When> = None;
        let mut in_order = true;
        loop {
            match rows.next(&mut row).map_err(LogError::Disk)? {
                Ok(true) => {}
                Ok(false) => break,
                Err(_) => continue,
            }
            let Some(form) = &form else {
                form = Some(self.form(&row, &mut |_, _| {}));
                continue;
            };
            let (time, is_record, is_start) = match form {
                Form::None => continue,
                Form::Long => {
                    let name = row.fields.get(1).map_or("", String::as_str);
                    let column = self.names.named(name).ok();
                    if let Some(Column::Weight { kg }) = column {
                        let found = row.fields.get(2).map(|text| weighed(text, kg));
                        weigh(found, row.line, &mut weight, &mut other_weight);
                    }
                    (
                        row.fields.first(),
                        matches!(column, Some(Column::Reading(..))),
                        column == Some(Column::Start)
                            && mark::is_start(row.fields.get(2).map_or("", String::as_str))
                                == Some(true),
                    )
                }
                Form::Wide { time, columns } => {
                    let filled = |wanted: &dyn Fn(&Column) -> bool| {
                        columns.iter().zip(&row.fields).any(|(column, field)| {
                            column.as_ref().is_some_and(wanted) && !field.is_empty()
                        })
                    };
                    let found =
                        columns
                            .iter()
                            .zip(&row.fields)
                            .find_map(|(column, text)| match column {
                                Some(Column::Weight { kg }) if !text.is_empty() => {
                                    Some(weighed(text, *kg))
                                }
                                _ => None,
                            });
                    weigh(found, row.line, &mut weight, &mut other_weight);
                    (
                        row.fields.get(*time),
                        filled(&|column| matches!(column, Column::Reading(..))),
                        columns.iter().zip(&row.fields).any(|(column, field)| {
                            *column == Some(Column::Start)
                                && !field.is_empty()
                                && mark::is_start(field) == Some(true)
                        }),
                    )
                }
            };
            let Some(Ok(when)) = time.map(|time| self.zone.read(time)) else {
                continue;
            };
            if let When::Instant { at, .. } = when {
                let earliest = |known: Option<Timestamp>| Some(known.map_or(at, |k| k.min(at)));
                first_row = earliest(first_row);
                if is_record {
                    first_record = earliest(first_record);
                }
                if is_start {
                    match marked {
                        None => marked = Some(at),
                        Some(first) if first != at && other_start.is_none() => {
                            other_start = Some((row.line, at));
                        }
                        Some(_) => {}
                    }
                }
            }
            in_order &= before.is_none_or(|before| is_later(before, when));
            before = Some(when);
        }
        let (start, start_from) = match &self.options.start {
            Some(text) => match self.zone.read(text) {
                Ok(When::Instant { at, .. }) => (Some(at), "as it was given"),
                Ok(When::Elapsed(_)) => {
                    return Err(LogError::Start(format!(
                        "`{text}` is no date with a time of day; write the start as 2026-11-24T14:30"
                    )));
                }
                Err(why) => return Err(LogError::Start(why)),
            },
            None if marked.is_some() => (marked, "the log's own `start`"),
            None if first_record.is_some() => {
                (first_record, "taken from the first record of the log")
            }
            None => (first_row, "taken from the first line of the log"),
        };
        Ok(Survey {
            start,
            start_from: if start.is_some() {
                start_from
            } else {
                "hours since the start"
            },
            // One that was given counts, whatever the log says.
            other_start: other_start.filter(|_| self.options.start.is_none()),
            weight,
            other_weight,
            in_order,
            bytes: rows.bytes(),
        })
    }
}

/// The first weight of a log counts; the first that differs from it is told.
fn weigh(
    found: Option<String>,
    line: u64,
    weight: &mut Option<(u64, String)>,
    other: &mut Option<(u64, String)>,
) {
    match (found, weight.as_ref()) {
        (Some(found), None) => *weight = Some((line, found)),
        (Some(found), Some((_, first))) if other.is_none() && found != *first => {
            *other = Some((line, found));
        }
        _ => {}
    }
}

fn weighed(text: &str, kg: bool) -> String {
    if kg {
        format!("{text} kg")
    } else {
        text.to_owned()
    }
}

/// Whether two times that can be compared are in order.
fn is_later(before: When, now: When) -> bool {
    match (before, now) {
        (When::Elapsed(before), When::Elapsed(now)) => before <= now,
        (When::Instant { at: before, .. }, When::Instant { at: now, .. }) => before <= now,
        // A log that mixes both is put in order, whatever order it is in.
        _ => false,
    }
}
