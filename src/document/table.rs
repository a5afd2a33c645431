//! Tables and checklists. A row is never split over two pages; the head is repeated.

use super::{Field, List, Rich};

/// Width of a column.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Width {
    /// Exactly so many millimetres.
    Mm(u16),
    /// As wide as its widest line, but no wider than so many millimetres.
    Fit(u16),
    /// As wide as the longest word of its head, and no less than so many millimetres.
    Word(u16),
    /// A share of what the others leave.
    Share(u16),
}

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Align {
    #[default]
    Start,
    Middle,
}

#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Column {
    pub head: Rich,
    /// Under the head, not bold: unit and limits.
    pub under: Rich,
    pub width: Width,
    pub align: Align,
}

impl Column {
    pub fn new(head: impl Into<Rich>, width: Width) -> Column {
        Column {
            head: head.into(),
            under: Rich::default(),
            width,
            align: Align::Start,
        }
    }

    #[must_use]
    pub fn under(mut self, text: impl Into<Rich>) -> Column {
        self.under = text.into();
        self
    }

    #[must_use]
    pub fn middle(mut self) -> Column {
        self.align = Align::Middle;
        self
    }
}

/// What stands in a cell.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Cell {
    Text(Rich),
    /// Numbered or marked lines.
    List(List),
    /// An entry is wanted here: open, with a line to write on.
    Due,
    /// No entry is wanted here: grey and struck through.
    NotDue,
    /// Room to write, with its unit.
    WriteIn(Field),
    /// Several places to write, one under the other.
    Fields(Vec<Field>),
    /// A text, and after it or under it places to write.
    Step(Rich, Vec<Field>),
    /// A printed value that the row is about (the target of the hour).
    Value(String),
    /// A box to tick.
    Tick,
    /// Room for initials.
    Initials,
    /// Nothing, and nothing wanted.
    Empty,
}

impl Cell {
    pub fn text(text: impl Into<Rich>) -> Cell {
        Cell::Text(text.into())
    }
}

/// One row.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Row {
    Cells {
        cells: Vec<Cell>,
        /// A heavier line above: a new hour, a new group.
        heavy: bool,
    },
    /// Opens a part of the table: a phase. Said again under the head on each page that the part
    /// reaches.
    Section {
        text: Rich,
        /// Places to write, after the text.
        fields: Vec<Field>,
        /// What is said when the part goes on.
        again: Rich,
    },
    /// One text over all columns: a day, a task that falls between two rows.
    Band {
        text: Rich,
        /// A box to tick before it.
        tick: bool,
        /// The last column is left for initials.
        initials: bool,
        /// Grey behind it (a divider, not a task).
        divider: bool,
    },
}

impl Row {
    pub fn cells(cells: Vec<Cell>) -> Row {
        Row::Cells {
            cells,
            heavy: false,
        }
    }
}

#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Table {
    /// Repeated above the head on each page that the table reaches.
    pub caption: Rich,
    pub columns: Vec<Column>,
    pub rows: Vec<Row>,
    /// Least height of a row in tenths of a millimetre; 70 or more where people write by hand.
    pub row_height: u16,
    /// Where the rest of a page would stay white, it is filled with more of the last row.
    pub fill: bool,
}

impl Table {
    /// Whether a column says what it holds. Where none does, a step says it for its row.
    pub fn is_headed(&self) -> bool {
        self.columns
            .iter()
            .any(|column| !column.head.is_empty() || !column.under.is_empty())
    }
}

/// A checklist: steps in order, each with a box to tick.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Checklist {
    pub title: Rich,
    pub steps: Vec<Step>,
}

#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Step {
    pub text: Rich,
    pub fields: Vec<Field>,
    /// Two people: two initials.
    pub two_people: bool,
}

impl Checklist {
    /// The same as a table, which is how every renderer draws it. Whoever worked through it signs
    /// once, at its end; where two people are asked for, both sign at the step.
    pub fn table(&self) -> Table {
        let mut rows: Vec<Row> = self
            .steps
            .iter()
            .enumerate()
            .map(|(index, step)| {
                let number = Rich::from(format!("{}. ", index + 1));
                let mut fields = step.fields.clone();
                if step.two_people {
                    fields.push(Field::open("two initials", "", 26));
                }
                let text = number.then(step.text.clone());
                Row::cells(vec![Cell::Tick, Cell::Step(text, fields)])
            })
            .collect();
        let signed = vec![Field::open("time", "", 14), Field::open("initials", "", 14)];
        rows.push(Row::cells(vec![
            Cell::Empty,
            Cell::Step(Rich::bold("All done:"), signed),
        ]));
        Table {
            caption: self.title.clone(),
            columns: vec![
                Column::new("", Width::Mm(9)).middle(),
                Column::new("", Width::Share(1)),
            ],
            rows,
            row_height: 56,
            fill: false,
        }
    }
}
