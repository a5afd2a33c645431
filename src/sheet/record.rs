//! The record: for each phase a table with a row a time point and a column for each thing that
//! the phase asks for.

use super::Sheet;
use super::rows::{BoxOf, PhaseRows};
use crate::document::{
    Block, Cell, Column, Field, Notice, NoticeKind, Rich, Row, Table, Width, text,
};
use crate::model::{Aim, End, LookWhat, LookWhen, MarkRef, PhaseId, ReadingId, ReadingKind};
use crate::plan::{Laid, NoTime, Round};
use crate::quantity::Exact;

/// Rows to write on where a phase may last longer than its plan.
const MORE_ROWS: usize = 3;

impl Sheet<'_> {
    pub(super) fn record(&self) -> Vec<Block> {
        let mut blocks = vec![self.how_to_fill()];
        blocks.extend(self.waiting());
        blocks.extend(self.regular_doses());
        for laid in self
            .schedule
            .layout
            .iter()
            .filter(|laid| laid.start < laid.end)
        {
            blocks.push(Block::Table(self.phase_table(laid)));
        }
        for table in self.shift_checks() {
            blocks.push(Block::Keep(vec![table]));
        }
        blocks
    }

    /// The marks of the record, and what each letter stands for.
    fn how_to_fill(&self) -> Block {
        let mut body = vec![Block::paragraph(
            "Dotted line: fill in at that time. Grey with a dash: not asked for then. Write what \
             the display shows, with the digits that it shows. Boxes marked + 15 min and so on belong \
             to the same row, so many minutes later. Filled in late: write the true time beside it.",
        )];
        for (id, reading) in self.protocol.readings() {
            if let ReadingKind::Choice { words, .. } = &reading.kind {
                let words: Vec<String> = words
                    .iter()
                    .map(|word| word.name.replace('-', " "))
                    .collect();
                let list = crate::words::listed(&words, "or");
                let line = Rich::bold(text::inline(self.words.reading(id)).plain()).then(format!(
                    ": write {list}, or enough letters to tell them apart."
                ));
                body.push(Block::Paragraph(line));
            }
        }
        let tasks: Vec<Rich> = self
            .tasks()
            .into_iter()
            .map(|(letter, look)| {
                let when = self
                    .protocol
                    .looks
                    .get(look)
                    .map(|look| self.words.when(&look.when));
                Rich::bold(format!("{letter}  "))
                    .then(text::inline(&self.task_words(look)))
                    .then(format!(" ({})", when.unwrap_or_default()))
            })
            .collect();
        if !tasks.is_empty() {
            body.push(Block::paragraph(
                "Columns with a letter: tick when it is done.",
            ));
            body.extend(tasks.into_iter().map(Block::Paragraph));
        }
        Block::Notice(Notice {
            kind: NoticeKind::Plain,
            title: "How to fill in the record".into(),
            body,
        })
    }

    /// Regular tasks with their letters, in the order of the protocol.
    pub(super) fn tasks(&self) -> Vec<(char, usize)> {
        self.protocol
            .looks
            .iter()
            .enumerate()
            .filter(|(_, look)| {
                matches!(look.when, LookWhen::Every { .. })
                    && matches!(look.what, LookWhat::Do { .. })
            })
            .map(|(index, _)| index)
            .zip("ABCDEFGHJKLMNPQRSTUVWXYZ".chars())
            .map(|(index, letter)| (letter, index))
            .collect()
    }

    /// What a look tells to do.
    pub(super) fn task_words(&self, look: usize) -> String {
        let Some(look) = self.protocol.looks.get(look) else {
            return String::new();
        };
        match &look.what {
            LookWhat::Do { text, .. } => text.markdown.trim().to_string(),
            LookWhat::Give(medication) => format!(
                "Give **{}**",
                self.protocol[medication.value].title.markdown.trim()
            ),
            LookWhat::Order(action) => crate::words::sentence(&self.words.order(action, &[])),
            LookWhat::Ask { way, readings, .. } => {
                let names: Vec<String> = readings
                    .iter()
                    .map(|at| self.words.reading_marked(at.value))
                    .collect();
                crate::words::sentence(&format!(
                    "{} {}",
                    way.word(),
                    crate::words::listed(&names, "and")
                ))
            }
        }
    }

    /// What hangs on a moment that nobody knows yet, or that lies outside the plan.
    fn waiting(&self) -> Option<Block> {
        let rows: Vec<Row> = self
            .schedule
            .unplaced
            .iter()
            .map(|waiting| {
                let what = text::inline(&self.task_words(waiting.look));
                let when = self
                    .protocol
                    .looks
                    .get(waiting.look)
                    .map(|look| self.words.when(&look.when))
                    .unwrap_or_default();
                let note = match waiting.why {
                    NoTime::Waits { mark, .. } => match mark {
                        MarkRef::Named(_)
                        | MarkRef::Start
                        | MarkRef::PhaseStart(_)
                        | MarkRef::PhaseEnd(_) => String::new(),
                    },
                    NoTime::BeforeStart(at) => {
                        format!(
                            " ({}: already past at the start)",
                            self.times.moment(at, Round::Down)
                        )
                    }
                    NoTime::AfterEnd(at) => format!(
                        " ({}: after the end of this sheet)",
                        self.times.moment(at, Round::Down)
                    ),
                };
                Row::cells(vec![
                    Cell::Tick,
                    Cell::Text(text::inline(&when).then(note)),
                    Cell::Text(what),
                    Cell::WriteIn(Field::open("", "", 24)),
                    Cell::Initials,
                ])
            })
            .collect();
        (!rows.is_empty()).then(|| {
            Block::Table(Table {
                caption: "To be done at a moment that is not known when this is printed".into(),
                columns: vec![
                    Column::new("Done", Width::Mm(11)).middle(),
                    Column::new("When", Width::Share(2)),
                    Column::new("What", Width::Share(3)),
                    Column::new("Due at", Width::Mm(30)),
                    Column::new("Initials", Width::Mm(15)),
                ],
                rows,
                row_height: 75,
            })
        })
    }

    fn phase_table(&self, laid: &Laid) -> Table {
        let exact = self.times.has_clock() && self.begins_for_sure(laid.phase);
        let rows = PhaseRows::of(self, laid, exact);
        let mut columns = Vec::new();
        if exact {
            columns.push(Column::new("Time", Width::Fit(30)).middle());
        } else {
            columns.push(Column::new("Hours", Width::Fit(14)).middle());
            columns.push(Column::new("Clock", Width::Mm(14)).middle());
        }
        let control = self.protocol[laid.phase].aim.reading();
        let target = self
            .words
            .reading(control)
            .split_whitespace()
            .next()
            .unwrap_or_default();
        columns.push(
            Column::new("Target", Width::Fit(26)).middle().under(
                format!("{target} {}", self.unit_of(control))
                    .trim()
                    .to_string(),
            ),
        );
        for of in &rows.boxes {
            columns.push(match *of {
                BoxOf::Reading(reading) => self.reading_column(reading, laid.phase),
                BoxOf::Later(reading, after) => {
                    let first = self.words.reading(reading).split_whitespace().next();
                    Column::new(first.unwrap_or_default(), Width::Word(12))
                        .middle()
                        .under(format!("+ {}", crate::words::minutes(after)))
                }
            });
        }
        for (letter, _) in &rows.tasks {
            columns.push(Column::new(letter.to_string(), Width::Mm(7)).middle());
        }
        if rows.boxes.len() < 6 {
            columns.push(Column::new("Notes", Width::Share(1)));
        }
        columns.push(Column::new("Initials", Width::Word(12)).middle());
        let mut body = rows.table_rows(self, columns.len());
        if self.may_last_longer(laid) {
            // An awaited end can be hours away: its plan is a guess.
            let awaited = matches!(self.protocol[laid.phase].end, End::Awaited { .. });
            let count = if awaited { 3 * MORE_ROWS } else { MORE_ROWS };
            body.extend(more_rows(columns.len(), count));
        }
        Table {
            caption: self.phase_caption(laid, exact),
            columns,
            rows: body,
            row_height: 70,
        }
    }

    fn reading_column(&self, reading: ReadingId, phase: PhaseId) -> Column {
        let mut under = self.box_of(reading);
        if self.protocol[phase].aim.reading() == reading
            && let Aim::Hold { within, .. } = &self.protocol[phase].aim
        {
            under.push_str(&format!(", ±\u{a0}{}", within.written.number));
        }
        for limit in self.limits_of(reading) {
            under.push_str(&format!(", {limit}"));
        }
        let rules = self.rules_on(reading, phase);
        if !rules.is_empty() {
            let word = if rules.len() == 1 { "rule" } else { "rules" };
            let numbers: Vec<String> = rules.iter().map(ToString::to_string).collect();
            under.push_str(&format!("\n{word} {}", numbers.join(", ")));
        }
        let under = under.trim_start_matches([',', ' ', '\n']).to_string();
        Column::new(text::inline(self.words.reading(reading)), Width::Word(12))
            .middle()
            .under(under)
    }

    fn phase_caption(&self, laid: &Laid, exact: bool) -> Rich {
        let name = format!("Phase {}", self.words.phase(laid.phase));
        let window = self.plan.phase(laid.phase);
        let mut caption = text::inline(&name);
        if let Some(window) = window {
            let when = if exact {
                format!(
                    ", {}, {}",
                    self.times.begins(window.start),
                    self.times.ends(window.end)
                )
            } else {
                ": begun at ____________ (write the clock time into each row)".to_string()
            };
            caption = caption.then(when);
        }
        caption
    }

    /// Whether the clock time of a phase's beginning can be printed: the plan knows it, and no
    /// phase before it can still last longer than planned, as one that ends by arriving can.
    fn begins_for_sure(&self, id: PhaseId) -> bool {
        let mut sure = true;
        for placed in &self.plan.phases {
            if placed.phase == id {
                return sure && placed.start.exact().is_some();
            }
            sure = match &self.protocol[placed.phase].end {
                _ if placed.over => true,
                End::Reached | End::Awaited { .. } => false,
                End::Lasts(_) => sure,
                End::After { mark, .. } => match mark.value {
                    MarkRef::Start => true,
                    MarkRef::Named(mark) => self.case.marks.contains_key(&mark),
                    MarkRef::PhaseStart(_) | MarkRef::PhaseEnd(_) => sure,
                },
            };
        }
        false
    }

    fn may_last_longer(&self, laid: &Laid) -> bool {
        let open = self
            .plan
            .phase(laid.phase)
            .is_none_or(|placed| placed.end.latest.is_none());
        let over = self
            .plan
            .phase(laid.phase)
            .is_some_and(|placed| placed.over);
        if over {
            return false;
        }
        laid.assumed
            || open
            || matches!(
                self.protocol[laid.phase].end,
                End::Reached | End::Awaited { .. }
            )
    }
}

fn more_rows(columns: usize, count: usize) -> Vec<Row> {
    let mut rows = vec![Row::Band {
        text: "If the phase goes on: write the time and what is due".into(),
        tick: false,
        initials: 0,
        divider: true,
    }];
    rows.extend((0..count).map(|_| Row::cells(vec![Cell::Empty; columns])));
    rows
}

/// The hour grid of a phase: `0:15` since it began.
pub(super) fn since(at: Exact) -> String {
    crate::plan::report::hours_and_minutes(at, Round::Down)
}
