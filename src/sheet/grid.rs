//! The grid of the record: phases one after the other in one table, as long as they ask for nearly
//! the same things, so that a reading keeps its column. A phase that asks for little runs down the
//! left half of the page and goes on in the right half.

use super::Sheet;
use super::rows::{BoxOf, PhaseRows};
use crate::document::{Block, Cell, Column, Field, Paper, Rich, Row, Table, Width, text};
use crate::model::{Aim, End, PhaseId, ReadingId};
use crate::plan::Window;

/// Rows to write on where a phase may last longer than its plan.
const MORE_ROWS: usize = 2;

/// Columns that may stand unused in a phase for the sake of one table.
const UNUSED: usize = 4;

/// Rows that are worth two halves.
const LONG: usize = 16;

/// Widths in millimetres.
const TIME: f64 = 13.0;
const HOURS: f64 = 11.5;
const BOX: f64 = 10.8;
const TASK: f64 = 7.0;
const INITIALS: f64 = 12.0;

/// The columns of one table.
#[derive(Clone, Debug, Default)]
pub(super) struct Columns {
    pub boxes: Vec<BoxOf>,
    pub tasks: Vec<(char, usize)>,
    /// All its clock times are known: no hours since the phase began are printed.
    pub exact: bool,
    /// The target stands in a column of its own.
    pub target: bool,
    pub notes: bool,
    pub count: usize,
}

struct Grid {
    phases: Vec<PhaseRows>,
    columns: Columns,
}

impl Sheet<'_> {
    pub(super) fn grids(&self) -> Vec<Block> {
        let mut grids: Vec<Grid> = Vec::new();
        for laid in &self.schedule.layout {
            let longest = self.at_its_longest(*laid);
            let laid = match laid.start < laid.end {
                true => *laid,
                false => longest,
            };
            if laid.start == laid.end {
                continue;
            }
            let exact = self.times.has_clock() && self.begins_for_sure(laid.phase);
            let rows = PhaseRows::of(self, laid, exact);
            match grids.last_mut().and_then(|grid| grid.with(self, &rows)) {
                Some(columns) => {
                    if let Some(grid) = grids.last_mut() {
                        grid.columns = columns;
                        grid.phases.push(rows);
                    }
                }
                None => grids.push(Grid {
                    columns: columns_of(self, &[&rows]),
                    phases: vec![rows],
                }),
            }
        }
        grids.into_iter().map(|grid| grid.block(self)).collect()
    }

    /// Millimetres that the boxes of a table may take beside its other columns.
    pub(super) fn room_for_boxes(&self, phases: &[PhaseId], exact: bool, tasks: usize) -> usize {
        let rest = wide(self.paper) - self.beside(phases, exact, tasks);
        (rest / (BOX - 0.1)).max(0.0) as usize
    }

    /// Millimetres of the columns that are no boxes.
    fn beside(&self, phases: &[PhaseId], exact: bool, tasks: usize) -> f64 {
        let time = if exact { TIME } else { HOURS + TIME };
        let target = phases.iter().map(|id| self.target_width(*id));
        time + target.fold(0.0, f64::max) + INITIALS + TASK * tasks as f64
    }

    fn target_width(&self, phase: PhaseId) -> f64 {
        match &self.protocol[phase].aim {
            Aim::Keep {
                low: Some(_),
                high: Some(_),
                ..
            } => 22.0,
            Aim::Hold { .. } | Aim::Reach { .. } if self.protocol.head.both_scales => 25.0,
            Aim::Keep { .. } | Aim::Hold { .. } | Aim::Reach { .. } => 12.0,
        }
    }
}

/// Width of the text, in millimetres.
fn wide(paper: Paper) -> f64 {
    match paper {
        Paper::A4 => 184.0,
        Paper::Letter => 189.9,
    }
}

/// Width of one of two halves.
fn half(paper: Paper) -> f64 {
    (wide(paper) - 6.0) / 2.0
}

/// The columns of phases together, boxes in the order of the protocol.
fn columns_of(sheet: &Sheet, phases: &[&PhaseRows]) -> Columns {
    let mut boxes: Vec<BoxOf> = Vec::new();
    let mut tasks: Vec<(char, usize)> = Vec::new();
    for rows in phases {
        for each in &rows.boxes {
            if !boxes.contains(each) {
                boxes.push(*each);
            }
        }
        for each in &rows.tasks {
            if !tasks.contains(each) {
                tasks.push(*each);
            }
        }
    }
    boxes.sort_by_key(|each| (each.reading(), each.after()));
    tasks.sort();
    let exact = phases.iter().all(|rows| rows.exact);
    // A long phase of few columns runs in two halves; its range, which never changes and would be
    // the widest column, is said at the head of each.
    let rows: usize = phases.iter().map(|rows| rows.count()).sum();
    let target = !(phases.len() == 1
        && boxes.len() < 6
        && rows >= LONG
        && sheet.beside(&[], exact, tasks.len()) + BOX * boxes.len() as f64 <= half(sheet.paper)
        && phases
            .iter()
            .all(|rows| matches!(sheet.protocol[rows.phase()].aim, Aim::Keep { .. })));
    let notes = target && boxes.len() < 6;
    let fixed = if exact { 1 } else { 2 };
    let count = fixed + usize::from(target) + boxes.len() + tasks.len() + usize::from(notes) + 1;
    Columns {
        boxes,
        tasks,
        exact,
        target,
        notes,
        count,
    }
}

impl Grid {
    /// The columns with one phase more, if one table is good for all.
    fn with(&self, sheet: &Sheet, next: &PhaseRows) -> Option<Columns> {
        let first = self.phases.first()?;
        let control = |rows: &PhaseRows| sheet.protocol[rows.phase()].aim.reading();
        if control(first) != control(next) {
            return None;
        }
        let all: Vec<&PhaseRows> = self.phases.iter().chain([next]).collect();
        let columns = columns_of(sheet, &all);
        let ids: Vec<PhaseId> = all.iter().map(|rows| rows.phase()).collect();
        let room = sheet.room_for_boxes(&ids, columns.exact, columns.tasks.len());
        let own = |rows: &PhaseRows| rows.boxes.len() + rows.tasks.len();
        let whole = columns.boxes.len() + columns.tasks.len();
        let unused = all.iter().map(|rows| whole - own(rows)).max()?;
        (columns.boxes.len() <= room && unused <= UNUSED).then_some(columns)
    }

    fn block(&self, sheet: &Sheet) -> Block {
        let table = Block::Table(self.table(sheet));
        match self.columns.target {
            true => table,
            false => Block::Halves(vec![table]),
        }
    }

    fn table(&self, sheet: &Sheet) -> Table {
        let mut rows = Vec::new();
        for phase in &self.phases {
            rows.push(sheet.section(phase));
            rows.extend(phase.table_rows(sheet, &self.columns));
            let more_rows = sheet.more_rows(phase);
            rows.extend((0..more_rows).map(|_| more(&self.columns)));
        }
        Table {
            caption: Rich::default(),
            columns: self.heads(sheet),
            rows,
            row_height: 70,
            fill: false,
        }
    }

    fn heads(&self, sheet: &Sheet) -> Vec<Column> {
        let mut heads = Vec::new();
        if self.columns.exact {
            heads.push(Column::new("Time", Width::Fit(30)).middle());
        } else {
            heads.push(Column::new("Hours", Width::Fit(14)).middle());
            heads.push(Column::new("Clock", Width::Mm(13)).middle());
        }
        let control = self
            .phases
            .first()
            .map(|rows| sheet.protocol[rows.phase()].aim.reading());
        if let Some(control) = control.filter(|_| self.columns.target) {
            let name = first_word(sheet.words.reading(control));
            let under = format!("{name} {}", sheet.unit_of(control));
            heads.push(
                Column::new("Target", Width::Fit(26))
                    .middle()
                    .under(under.trim().to_string()),
            );
        }
        for of in &self.columns.boxes {
            heads.push(match *of {
                BoxOf::Reading(reading) => sheet.reading_column(reading),
                BoxOf::Later(reading, after) => {
                    Column::new(first_word(sheet.words.reading(reading)), Width::Word(11))
                        .middle()
                        .under(format!("+ {}", crate::words::minutes(after)))
                }
            });
        }
        for (letter, _) in &self.columns.tasks {
            heads.push(Column::new(letter.to_string(), Width::Mm(7)).middle());
        }
        if self.columns.notes {
            heads.push(Column::new("Notes", Width::Share(1)));
        }
        heads.push(Column::new("Initials", Width::Word(12)).middle());
        heads
    }
}

fn first_word(text: &str) -> &str {
    text.split_whitespace().next().unwrap_or_default()
}

impl Sheet<'_> {
    /// Rows for when a phase goes on after its plan.
    fn more_rows(&self, rows: &PhaseRows) -> usize {
        if self.may_last_longer(&rows.laid) {
            // An awaited end can be hours away: its plan is a guess.
            return match self.protocol[rows.phase()].end {
                End::Awaited { .. } => 3 * MORE_ROWS,
                _ => MORE_ROWS,
            };
        }
        let longest = self.at_its_longest(rows.laid);
        let all = PhaseRows::of(self, longest, rows.exact).count();
        all.saturating_sub(rows.count()).min(MORE_ROWS)
    }
}

/// A row for when the phase goes on.
fn more(columns: &Columns) -> Row {
    let mut cells = vec![Cell::text("+")];
    cells.resize(columns.count, Cell::Empty);
    Row::cells(cells)
}

impl Sheet<'_> {
    fn reading_column(&self, reading: ReadingId) -> Column {
        let mut under = vec![self.box_of(reading)];
        under.extend(self.limits_of(reading));
        under.retain(|part| !part.is_empty());
        Column::new(text::inline(self.words.reading(reading)), Width::Word(11))
            .middle()
            .under(under.join(", "))
    }

    /// What opens a phase in the record: its aim, its cap and its time, or room for it.
    fn section(&self, rows: &PhaseRows) -> Row {
        let phase = &self.protocol[rows.phase()];
        let name = text::inline(&self.words.phase(rows.phase())).all_bold();
        let mut words = self.words.aim(phase);
        if let Some(cap) = &phase.never_faster {
            words.push_str(&format!("; never faster than **{}**", self.words.both(cap)));
        }
        let mut line = name.clone().then(": ").then(text::inline(&words));
        let mut fields = Vec::new();
        let placed = self.plan.phase(rows.phase());
        // An end that hangs on no phase is known before the beginning is.
        let by_the_clock = |end: &Window| self.times.has_clock() && end.exact().is_some();
        let end = placed.map(|placed| placed.end);
        if let Some(end) = end.filter(|end| rows.exact || by_the_clock(end)) {
            line = line.then(format!("; ends {}", self.times.window(end)));
        }
        if !rows.exact || placed.is_none() {
            fields.push(Field::open("begun at", "", 28));
        }
        Row::Section {
            text: line,
            fields,
            again: name.then(" (continued)"),
        }
    }
}
