//! A log, read twice: once for when it begins and whether it is in order, once for its
//! entries.
//!
//! Takes something that can be opened again and gives the entries in order of time, one
//! at a time, so that memory does not grow with a log that is in order. A log that is
//! not is put in order in memory, and every line that was out of place is told.
//!
//! ```text
//! time,core,water,rosc        time,reading,value
//! 0:00,36.4,,yes              0:00,core,36.4
//! 1:00,35.2,14.0,             0:00,rosc,
//! ```
//!
//! *Wide*: an empty cell is no record; in the column of a mark `yes` is that mark.
//! *Long*: the second column may also be headed `name`; a mark needs no value there.

use super::columns::{Column, Names, Scale};
use super::mark;
use super::problem::{Problems, Weight as Heft};
use super::rows::{Row, Rows};
use super::survey::Survey;
use super::value::Reader;
use super::when::{When, Zone, minutes};
use crate::eval::{Entry, EntryWhat};
use crate::model::Protocol;
use crate::quantity::Exact;
use std::io::{self, BufRead};

/// How logs are to be read.
#[derive(Debug, Clone, Default)]
pub struct Options {
    /// When the case began, as it is written in a log.
    pub start: Option<String>,
    /// Values finer than the display go to its nearest step.
    pub round: bool,
}

/// Why a log could not be read at all.
#[derive(Debug)]
pub enum LogError {
    Disk(io::Error),
    /// The protocol's time zone, or the start that was given.
    Start(String),
}

#[derive(Debug)]
pub(super) enum Form {
    Long,
    Wide {
        time: usize,
        columns: Vec<Option<Column>>,
    },
    /// There is nothing to read by.
    None,
}

/// One entry and the line that it stands on.
pub type Placed = (u64, Entry);

pub struct LogReader<'p> {
    protocol: &'p Protocol,
    pub(super) names: Names,
    pub(super) zone: Zone,
    pub(super) options: &'p Options,
}

impl<'p> LogReader<'p> {
    pub fn new(protocol: &'p Protocol, options: &'p Options) -> Result<Self, LogError> {
        let zone = &protocol.head.timezone.value;
        Ok(LogReader {
            protocol,
            names: Names::of(protocol),
            zone: Zone::named(zone).ok_or_else(|| {
                LogError::Start(format!(
                    "there is no time zone `{zone}`, so no date of a log can be placed"
                ))
            })?,
            options,
        })
    }

    pub fn zone(&self) -> &Zone {
        &self.zone
    }

    /// The second reading: every entry goes to `sink` in order of time.
    pub fn entries(
        &self,
        from: impl BufRead,
        survey: &Survey,
        problems: &mut Problems,
        sink: &mut dyn FnMut(Placed, &mut Problems, u64),
    ) -> Result<u64, LogError> {
        let mut rows = Rows::new(from);
        let mut row = Row::default();
        let mut form: Option<Form> = None;
        let mut kept: Vec<Placed> = Vec::new();
        let mut found: Vec<(u64, Entry)> = Vec::new();
        let mut last: Option<Exact> = None;
        let mut count = 0;
        let mut first_row = 0;
        loop {
            match rows.next(&mut row).map_err(LogError::Disk)? {
                Ok(true) => {}
                Ok(false) => break,
                Err((line, fault)) => {
                    problems.add(
                        Heft::Lost,
                        Some(line),
                        "unreadable-line",
                        fault.words(),
                        || fault.words().to_owned(),
                    );
                    continue;
                }
            }
            let Some(form) = &form else {
                first_row = row.line;
                let line = row.line;
                let made = self.form(&row, &mut |about, what| {
                    problems.add(Heft::Lost, Some(line), "unknown-column", about, || what);
                });
                if matches!(made, Form::None) {
                    problems.add(Heft::Lost, Some(line), "no-time", "", || {
                        "there is no column `time`, so no row was read".to_owned()
                    });
                }
                form = Some(made);
                continue;
            };
            count += 1;
            found.clear();
            let reader = Reader {
                protocol: self.protocol,
                round: self.options.round,
                comma: rows.separator() != b',',
            };
            self.row(form, &row, &reader, survey, problems, &mut found);
            let Some(at) = found.first().map(|(_, entry)| entry.at) else {
                continue;
            };
            if last.is_some_and(|last| at < last) {
                problems.add(Heft::Doubtful, Some(row.line), "out-of-order", "", || {
                    "the row is earlier than one before it; it was put in its place".to_owned()
                });
            }
            last = Some(last.map_or(at, |last| last.max(at)));
            if survey.in_order {
                for entry in found.drain(..) {
                    sink(entry, problems, rows.bytes());
                }
            } else {
                kept.append(&mut found);
            }
        }
        if let Some(line) = rows.latin() {
            problems.add(Heft::Doubtful, Some(line), "not-utf-8", "", || {
                "the log is not in UTF-8; it was read as Latin-1".to_owned()
            });
        }
        if form.is_none() && problems.is_empty() {
            problems.add(Heft::Lost, None, "empty", "", || {
                "the log is empty".to_owned()
            });
        } else if form.is_some() && count == 0 {
            problems.add(Heft::Lost, Some(first_row), "empty", "", || {
                "the log has a head and no row".to_owned()
            });
        }
        // Stable, so that of two records of one time the later line stays the later.
        kept.sort_by_key(|(_, entry)| entry.at);
        for entry in kept {
            sink(entry, problems, rows.bytes());
        }
        Ok(count)
    }

    pub(super) fn form(&self, head: &Row, unknown: &mut dyn FnMut(&str, String)) -> Form {
        let lower: Vec<String> = head.fields.iter().map(|name| name.to_lowercase()).collect();
        if let [time, name, value] = lower.as_slice()
            && time == "time"
            && matches!(name.as_str(), "reading" | "name")
            && value == "value"
        {
            return Form::Long;
        }
        let mut columns: Vec<Option<Column>> = Vec::new();
        for name in &head.fields {
            match self.names.named(name) {
                Ok(column) if columns.contains(&Some(column)) => {
                    unknown(
                        name,
                        format!("`{name}` has a column already; this one is left out"),
                    );
                    columns.push(None);
                }
                Ok(column) => columns.push(Some(column)),
                Err(what) => {
                    unknown(name, what);
                    columns.push(None);
                }
            }
        }
        match columns
            .iter()
            .position(|column| *column == Some(Column::Time))
        {
            Some(time) => Form::Wide { time, columns },
            None => Form::None,
        }
    }

    fn row(
        &self,
        form: &Form,
        row: &Row,
        reader: &Reader<'_>,
        survey: &Survey,
        problems: &mut Problems,
        found: &mut Vec<Placed>,
    ) {
        let line = row.line;
        let lost = |problems: &mut Problems, kind, about: &str, what: String| {
            problems.add(Heft::Lost, Some(line), kind, about, || what);
        };
        let wanted = match form {
            Form::None => {
                lost(
                    problems,
                    "no-time",
                    "row",
                    "the row was not read".to_owned(),
                );
                return;
            }
            Form::Long => 3,
            Form::Wide { columns, .. } => columns.len(),
        };
        let spare = row.fields.get(wanted..).unwrap_or_default();
        if row.fields.len() < wanted || spare.iter().any(|field| !field.is_empty()) {
            lost(
                problems,
                "ragged-row",
                "",
                format!(
                    "the row has {} fields and the head {wanted}, so which value is whose cannot be known; it was not read",
                    row.fields.len()
                ),
            );
            return;
        }
        let time_at = match form {
            Form::Wide { time, .. } => *time,
            Form::Long | Form::None => 0,
        };
        let at = match self.at(
            row.fields.get(time_at).map_or("", String::as_str),
            survey,
            line,
            problems,
        ) {
            Ok(at) => at,
            Err(what) => {
                lost(problems, "no-time", "cell", what);
                return;
            }
        };
        match form {
            Form::None => {}
            Form::Long => {
                let name = row.fields.get(1).map_or("", String::as_str);
                let text = row.fields.get(2).map_or("", String::as_str);
                match self.names.named(name) {
                    Ok(Column::Time) => lost(
                        problems,
                        "unknown-column",
                        name,
                        "`time` is no reading and no mark".to_owned(),
                    ),
                    Ok(column) => self.cell(at, column, name, text, line, reader, problems, found),
                    Err(what) => lost(problems, "unknown-column", name, what),
                }
            }
            Form::Wide { columns, .. } => {
                for (column, text) in columns.iter().zip(&row.fields) {
                    match column {
                        None | Some(Column::Time) => {}
                        Some(_) if text.is_empty() => {}
                        Some(column) => {
                            self.cell(at, *column, "", text, line, reader, problems, found);
                        }
                    }
                }
            }
        }
    }

    #[allow(clippy::too_many_arguments)] // one cell and where it stands
    fn cell(
        &self,
        at: Exact,
        column: Column,
        name: &str,
        text: &str,
        line: u64,
        reader: &Reader<'_>,
        problems: &mut Problems,
        found: &mut Vec<Placed>,
    ) {
        match column {
            Column::Time | Column::Weight { .. } => {}
            Column::Start => {
                if mark::is_start(text).is_none() {
                    problems.add(Heft::Lost, Some(line), "no-mark", "start", || {
                        mark::unclear("start", text)
                    });
                }
            }
            Column::Mark(id) => {
                let stated = &self.protocol[id];
                let name = stated.name.name.as_str();
                // In the long form the name is enough.
                let made = if text.is_empty() {
                    Some(true)
                } else {
                    mark::is_made(text, &[name, stated.title.markdown.as_str()])
                };
                match made {
                    Some(true) => found.push((line, Entry::mark(at, id))),
                    Some(false) => {}
                    None => problems.add(Heft::Lost, Some(line), "no-mark", name, || {
                        mark::unclear(name, text)
                    }),
                }
            }
            Column::Reading(id, scale) => {
                let about = if name.is_empty() {
                    self.protocol[id].name.name.as_str()
                } else {
                    name
                };
                if text.is_empty() {
                    problems.add(Heft::Lost, Some(line), "no-value", about, || {
                        format!("`{about}` has no value here")
                    });
                    return;
                }
                match reader.read(id, scale, text) {
                    Ok(read) => {
                        if read.rounded {
                            problems.add(Heft::Doubtful, Some(line), "rounded", about, || {
                                format!("`{about}` is finer than its display and went to the nearest step")
                            });
                        }
                        if scale != Scale::Own && self.converts(id, scale) {
                            problems.add(Heft::Doubtful, None, "converted", about, || {
                                format!("`{about}` stands in the other unit of temperature in this log; it was worked out exactly and went to the nearest step of the display")
                            });
                        }
                        found.push((
                            line,
                            Entry {
                                at,
                                what: EntryWhat::Record {
                                    reading: id,
                                    value: read.value,
                                },
                            },
                        ));
                    }
                    Err(no) => problems.add(Heft::Lost, Some(line), no.kind, about, || no.what),
                }
            }
        }
    }

    fn converts(&self, id: crate::model::ReadingId, scale: Scale) -> bool {
        let fahrenheit = crate::eval::wording::unit(self.protocol, id) == "°F";
        (scale == Scale::Fahrenheit) != fahrenheit
    }

    /// Minutes since the start.
    fn at(
        &self,
        text: &str,
        survey: &Survey,
        line: u64,
        problems: &mut Problems,
    ) -> Result<Exact, String> {
        if text.is_empty() {
            return Err("the row has no time".to_owned());
        }
        match self.zone.read(text)? {
            When::Elapsed(minutes) => Ok(minutes),
            When::Instant {
                at,
                written,
                foreign,
            } => {
                if foreign && let Some(written) = written {
                    let written = super::when::offset_words(written);
                    problems.add(Heft::Doubtful, Some(line), "other-zone", &written, || {
                        format!(
                            "the offset {written} is not that of {} then, {}; it was taken as the instant that it says",
                            self.zone.name(),
                            self.zone.offset_at(at)
                        )
                    });
                }
                match survey.start {
                    Some(start) => Ok(minutes(start, at)),
                    None => Err(format!(
                        "`{text}` cannot be placed, since no start is known"
                    )),
                }
            }
        }
    }
}
