//! Checklists: once, or with a column for each shift.

use super::Sheet;
use crate::document::{Block, Cell, Checklist, Column, Field, Rich, Row, Step, Table, Width, text};
use crate::model::words::Occasion;
use crate::model::{CheckStep, ChecklistId};
use crate::plan::{DueWhat, Round};
use crate::quantity::{Exact, Level};

/// Columns that a shift table has room for.
const SHIFTS: usize = 10;
/// So many take no room that the steps need.
const FEW: usize = 6;

impl Sheet<'_> {
    /// The lists of these occasions, occasion by occasion, in the order written.
    pub(super) fn checklists_at(&self, occasions: &[Occasion]) -> Vec<Block> {
        let mut blocks = Vec::new();
        for occasion in occasions {
            for (_, list) in self.protocol.checklists() {
                if list.at.value == *occasion {
                    blocks.push(Block::Checklist(Checklist {
                        title: text::inline(&list.title.markdown),
                        steps: list.steps.iter().map(step).collect(),
                    }));
                }
            }
        }
        blocks
    }

    /// The lists of each shift, with a column for each.
    pub(super) fn shift_checks(&self) -> Vec<Block> {
        self.protocol
            .checklists()
            .filter(|(_, list)| list.at.value.is_each_shift())
            .flat_map(|(id, list)| {
                let times = self.shift_times(id);
                // Of even width, rather than a full table and one with a single column.
                let count = times.len().div_ceil(SHIFTS).max(1);
                let tables: Vec<Block> = times
                    .chunks(times.len().div_ceil(count).max(1))
                    .map(|times| {
                        let title = text::inline(&list.title.markdown);
                        Block::Table(shift_table(title, &list.steps, times))
                    })
                    .collect();
                tables
            })
            .collect()
    }

    /// What stands over each column: the time, or nothing where it is not known yet.
    fn shift_times(&self, id: ChecklistId) -> Vec<String> {
        let mut times: Vec<String> = self
            .schedule
            .due
            .iter()
            .filter(|due| due.what == DueWhat::Checklist(id))
            .map(|due| match self.times.clock(due.at, Round::Down) {
                Some(time) => {
                    let day = time.day();
                    let day = day.rsplit_once(' ').map_or(day.as_str(), |(day, _)| day);
                    format!("{day}\n{}", time.time())
                }
                None => String::new(),
            })
            .collect();
        if times.is_empty() {
            let list = &self.protocol[id];
            let asked = self.schedule.layout.iter();
            let span = asked
                .filter(|laid| self.protocol.is_asked_each_shift(list, laid.phase))
                .fold(Exact::ZERO, |span, laid| span + (laid.end - laid.start));
            let shifts = (span / Exact::int(12 * 60))
                .ceil()
                .to_i64_floor()
                .unwrap_or(1);
            times = vec![String::new(); usize::try_from(shifts.clamp(1, 60)).unwrap_or(1)];
        }
        times
    }
}

fn step(step: &CheckStep) -> Step {
    Step {
        text: text::inline(&step.text.markdown),
        fields: step
            .record
            .iter()
            .map(|(name, unit)| Field::open(name.name.replace('-', " "), unit.clone(), 16))
            .collect(),
        two_people: step.two_people,
    }
}

fn shift_table(title: Rich, steps: &[CheckStep], times: &[String]) -> Table {
    let mut columns = vec![Column::new("Step", Width::Share(1))];
    // Where there are few, the day stands on one line.
    let wide = if times.len() > FEW { 11 } else { 14 };
    for time in times {
        let head = if time.is_empty() {
            Rich::from("day, time")
        } else {
            Rich::from(time.replace("\u{a0}", " "))
        };
        columns.push(Column::new(head, Width::Mm(wide)).middle());
    }
    let mut rows = Vec::new();
    if times.iter().all(String::is_empty) {
        let mut cells = vec![Cell::text("Day and time")];
        cells.extend(times.iter().map(|_| Cell::Due));
        rows.push(Row::cells(cells));
    }
    for (index, step) in steps.iter().enumerate() {
        let mut words =
            Rich::from(format!("{}. ", index + 1)).then(text::inline(&step.text.markdown));
        if step.two_people {
            words = words.then(" (two people)");
        }
        let cell = match &step.record {
            Some((name, unit)) => {
                let unit = if unit.is_empty() {
                    String::new()
                } else {
                    format!(" in {unit}")
                };
                words = words.then(format!("; write the {}{unit}", name.name.replace('-', " ")));
                Cell::Due
            }
            None => Cell::Tick,
        };
        let mut cells = vec![Cell::Text(words)];
        cells.extend(times.iter().map(|_| cell.clone()));
        rows.push(Row::cells(cells));
    }
    let people = if steps.iter().any(|step| step.two_people) {
        vec!["Initials", "Second person"]
    } else {
        vec!["Initials"]
    };
    for who in people {
        let mut cells = vec![Cell::Text(Rich::bold(who))];
        cells.extend(times.iter().map(|_| Cell::Initials));
        rows.push(Row::cells(cells));
    }
    Table {
        caption: title,
        columns,
        rows,
        row_height: 56,
        fill: false,
    }
}

impl Sheet<'_> {
    /// Unit of a reading as printed: °C for a temperature, none for a score.
    pub(super) fn unit_of(&self, id: crate::model::ReadingId) -> String {
        let reading = &self.protocol[id];
        match &reading.kind {
            crate::model::ReadingKind::Body(_) | crate::model::ReadingKind::Medium(_) => reading
                .shown_to
                .as_ref()
                .map_or("°C".to_string(), |step| step.written.unit.to_string()),
            crate::model::ReadingKind::Amount { unit, .. } => {
                unit.map_or_else(String::new, |unit| unit.name.to_string())
            }
            crate::model::ReadingKind::Score { .. } | crate::model::ReadingKind::Choice { .. } => {
                String::new()
            }
        }
    }

    /// A level under a head that says the unit of the display: the number alone where that is its
    /// unit too.
    pub(super) fn in_column(&self, level: &Level, id: crate::model::ReadingId) -> String {
        match self.unit_of(id) == level.written.unit {
            true => level.written.number.clone(),
            false => level.to_string(),
        }
    }

    /// What a box of the reading takes: its unit, `0 to 3`, or its words.
    pub(super) fn box_of(&self, id: crate::model::ReadingId) -> String {
        match &self.protocol[id].kind {
            crate::model::ReadingKind::Score { low, high, .. } => format!("{low} to {high}"),
            crate::model::ReadingKind::Choice { .. } => "word".to_string(),
            _ => self.unit_of(id),
        }
    }

    /// The limits of the protocol on a reading, for its column head.
    pub(super) fn limits_of(&self, id: crate::model::ReadingId) -> Vec<String> {
        self.protocol
            .limits
            .iter()
            .filter(|limit| limit.reading == id)
            .map(|limit| {
                let sign = match limit.side {
                    crate::model::Side::Above => "≤",
                    crate::model::Side::Below => "≥",
                };
                let level = self.in_column(&limit.level, id);
                let unit = limit.level.written.unit;
                match self.words.beside(limit.level.value, unit, false) {
                    Some(other) => format!("{sign}\u{a0}{level} ({other})"),
                    None => format!("{sign}\u{a0}{level}"),
                }
            })
            .collect()
    }
}
