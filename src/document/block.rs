//! The blocks that a document is made of.

use super::{Chart, Checklist, List, Rich, RunChart, Table};

/// One block, top to bottom.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Block {
    /// Level 1 opens a part of the sheet and makes a bookmark; 2 and 3 are below it.
    Heading {
        level: u8,
        text: Rich,
    },
    Paragraph(Rich),
    List(List),
    Notice(Notice),
    /// A name and its value on each line.
    KeyValues(Vec<(Rich, Rich)>),
    /// Fields to write in, side by side as far as they fit.
    Fields(Vec<Field>),
    Chart(Chart),
    Runs(RunChart),
    Checklist(Checklist),
    Table(Table),
    /// Blocks side by side, columns of equal width; kept on one page.
    Columns(Vec<Vec<Block>>),
    /// Blocks that run down the left half of the page and go on in the right half.
    Halves(Vec<Block>),
    /// Blocks that must stay on one page together.
    Keep(Vec<Block>),
    PageBreak,
}

impl Block {
    pub fn heading(level: u8, text: impl Into<Rich>) -> Block {
        Block::Heading {
            level,
            text: text.into(),
        }
    }

    pub fn paragraph(text: impl Into<Rich>) -> Block {
        Block::Paragraph(text.into())
    }
}

/// How much a notice matters. The word is printed: nothing is told by the frame alone.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoticeKind {
    Note,
    Caution,
    /// A frame without a word, for a calculation or a group.
    Plain,
}

impl NoticeKind {
    /// The word before the title.
    pub fn word(self) -> &'static str {
        match self {
            NoticeKind::Note => "Note",
            NoticeKind::Caution => "Caution",
            NoticeKind::Plain => "",
        }
    }
}

/// A framed text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Notice {
    pub kind: NoticeKind,
    pub title: Rich,
    pub body: Vec<Block>,
}

/// A place to write: what, and in which unit. With a value it is printed instead.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Field {
    pub label: Rich,
    pub value: Option<String>,
    pub unit: String,
    /// Room to write, in millimetres.
    pub room: u16,
}

impl Field {
    /// An empty field with room for a number.
    pub fn open(label: impl Into<Rich>, unit: impl Into<String>, room: u16) -> Field {
        Field {
            label: label.into(),
            value: None,
            unit: unit.into(),
            room,
        }
    }

    /// A field that is already known.
    pub fn filled(label: impl Into<Rich>, value: impl Into<String>) -> Field {
        Field {
            label: label.into(),
            value: Some(value.into()),
            unit: String::new(),
            room: 0,
        }
    }
}
