//! From the rows of a table to entries, in order of time.

use super::csv::{Row, rows};
use crate::eval::{Entry, EntryWhat};
use crate::model::{MarkId, Protocol, ReadingId, ReadingKind};
use crate::plan::Clock;
use crate::quantity::Exact;
use serde::Serialize;

/// The entries of a table, and what of it could not be read.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Table {
    pub entries: Vec<Entry>,
    pub problems: Vec<Problem>,
}

/// A row or a record that counts for nothing.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Problem {
    pub line: Option<usize>,
    pub what: String,
}

enum Column {
    Time,
    Reading(ReadingId),
    Mark(MarkId),
}

/// Reads a table, wide or long. `start` places dates with a time of day.
pub fn read(protocol: &Protocol, text: &str, start: Option<&Clock>) -> Table {
    let mut table = Table::default();
    let all = match rows(text) {
        Ok(all) => all,
        Err(line) => {
            table.problem(
                line,
                "a quote is opened here and never closed; no row was read",
            );
            return table;
        }
    };
    let Some((head, body)) = all.split_first() else {
        table.problem(1, "the table is empty");
        return table;
    };
    let names: Vec<String> = head.fields.iter().map(|name| name.to_lowercase()).collect();
    let reader = Reader { protocol, start };
    if names == ["time", "name", "value"] {
        for row in body {
            reader.long(row, &mut table);
        }
    } else {
        reader.wide(head, body, &mut table);
    }
    if !table.entries.is_sorted_by_key(|entry| entry.at) {
        table.problem(
            head.line,
            "the rows are not in order of time; they were put in order",
        );
        table.entries.sort_by_key(|entry| entry.at);
    }
    table
}

impl Table {
    fn problem(&mut self, line: usize, what: impl Into<String>) {
        self.problems.push(Problem {
            line: Some(line),
            what: what.into(),
        });
    }
}

struct Reader<'a> {
    protocol: &'a Protocol,
    start: Option<&'a Clock>,
}

impl Reader<'_> {
    fn long(&self, row: &Row, table: &mut Table) {
        let [time, name, value] = row.fields.as_slice() else {
            table.problem(row.line, "the row has not three fields");
            return;
        };
        let column = match self.named(name) {
            Some(Column::Time) | None => {
                table.problem(row.line, unknown(name));
                return;
            }
            Some(column) => column,
        };
        let entry = self
            .time(time)
            .and_then(|at| self.entry(at, &column, value));
        match entry {
            Ok(entry) => table.entries.push(entry),
            Err(what) => table.problem(row.line, what),
        }
    }

    fn wide(&self, head: &Row, body: &[Row], table: &mut Table) {
        let columns: Vec<Option<Column>> = head
            .fields
            .iter()
            .map(|name| {
                let column = self.named(name);
                if column.is_none() {
                    table.problem(head.line, unknown(name));
                }
                column
            })
            .collect();
        let Some(time) = columns
            .iter()
            .position(|column| matches!(column, Some(Column::Time)))
        else {
            table.problem(head.line, "there is no column `time`; no row was read");
            return;
        };
        for row in body {
            if row.fields.len() != columns.len() {
                table.problem(
                    row.line,
                    format!(
                        "the row has {} fields, the first row {}",
                        row.fields.len(),
                        columns.len()
                    ),
                );
                continue;
            }
            let at = match self.time(row.fields.get(time).map_or("", String::as_str)) {
                Ok(at) => at,
                Err(what) => {
                    table.problem(row.line, what);
                    continue;
                }
            };
            for (column, value) in columns.iter().zip(&row.fields) {
                let column = match column {
                    Some(Column::Time) | None => continue,
                    Some(_) if value.is_empty() => continue,
                    Some(column) => column,
                };
                match self.entry(at, column, value) {
                    Ok(entry) => table.entries.push(entry),
                    Err(what) => table.problem(row.line, what),
                }
            }
        }
    }

    fn named(&self, name: &str) -> Option<Column> {
        if name.eq_ignore_ascii_case("time") {
            return Some(Column::Time);
        }
        let reading = self
            .protocol
            .readings()
            .find(|(_, reading)| reading.name.name == name)
            .map(|(id, _)| Column::Reading(id));
        reading.or_else(|| {
            self.protocol
                .marks()
                .find(|(_, mark)| mark.name.name == name)
                .map(|(id, _)| Column::Mark(id))
        })
    }

    fn entry(&self, at: Exact, column: &Column, value: &str) -> Result<Entry, String> {
        let what = match column {
            Column::Mark(mark) => EntryWhat::Mark(*mark),
            Column::Reading(reading) => EntryWhat::Record {
                reading: *reading,
                value: self.value(*reading, value)?,
            },
            Column::Time => return Err("a time is no entry".to_owned()),
        };
        Ok(Entry { at, what })
    }

    /// In the reading's own unit; a word of a choice by its index.
    fn value(&self, id: ReadingId, text: &str) -> Result<Exact, String> {
        let reading = &self.protocol[id];
        let name = &reading.name.name;
        if let ReadingKind::Choice { words, .. } = &reading.kind {
            return words
                .iter()
                .position(|word| word.name == text)
                .and_then(|index| i64::try_from(index).ok())
                .map(Exact::int)
                .ok_or_else(|| format!("`{text}` is no word of `{name}`"));
        }
        // A fraction is a way to write a protocol, never what a display shows.
        let number = Some(text)
            .filter(|text| !text.contains('/'))
            .and_then(Exact::parse)
            .ok_or_else(|| {
                format!("`{text}` is not a number with a decimal point, for `{name}`")
            })?;
        Ok(if crate::eval::wording::unit(self.protocol, id) == "°F" {
            (number - Exact::int(32)) * Exact::ratio(5, 9)
        } else {
            number
        })
    }

    /// Minutes from the start.
    fn time(&self, text: &str) -> Result<Exact, String> {
        if let Some(minutes) = elapsed(text) {
            return Ok(minutes);
        }
        // Seconds are told apart first: the clock of the ward knows none.
        let (text, seconds) = match text.rsplit_once(':') {
            Some((head, last)) if head.contains(':') && two_digits(last).is_some() => {
                (head, two_digits(last).unwrap_or(0))
            }
            _ => (text, 0),
        };
        let Some(start) = self.start else {
            return Err(format!(
                "`{text}` is not hours and minutes since the start, and the start is not known by the clock"
            ));
        };
        let clock = Clock::parse(&self.protocol.head.timezone.value, text)
            .map_err(|error| error.to_string())?;
        Ok(start.minutes_to(clock.start()) + Exact::ratio(seconds, 60))
    }
}

/// `27:30`, `0:07:30`, and `-1:00` for before the start.
fn elapsed(text: &str) -> Option<Exact> {
    let (sign, digits) = match text.strip_prefix('-') {
        Some(rest) => (Exact::int(-1), rest),
        None => (Exact::ONE, text),
    };
    let mut parts = digits.split(':');
    let hours = parts.next()?;
    let plain = !hours.is_empty() && hours.len() <= 5 && hours.bytes().all(|b| b.is_ascii_digit());
    let hours: i64 = plain.then(|| hours.parse().ok())??;
    let minutes = two_digits(parts.next()?)?;
    let seconds = match parts.next() {
        Some(seconds) => two_digits(seconds)?,
        None => 0,
    };
    parts
        .next()
        .is_none()
        .then(|| sign * (Exact::int(hours * 60 + minutes) + Exact::ratio(seconds, 60)))
}

fn two_digits(text: &str) -> Option<i64> {
    let plain = text.len() == 2 && text.bytes().all(|b| b.is_ascii_digit());
    let number = plain.then(|| text.parse().ok())??;
    (number < 60).then_some(number)
}

fn unknown(name: &str) -> String {
    format!("`{name}` is no reading and no mark of the protocol; it is left out")
}
