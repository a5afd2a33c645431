//! The layout-neutral document and its three renderers.
//!
//! Takes: a [`Document`], built elsewhere from the model and the plan. Returns: Markdown
//! ([`markdown::render`]), one self-contained HTML page ([`html::render`]) or PDF bytes
//! ([`pdf::render`]). All three say the same, because all three read the same blocks.
//!
//! What may go wrong: only the PDF can fail ([`pdf::PdfError`]) — a character that the font
//! lacks, or a block that no page can hold. Both stop the printing: a sheet with a dropped sign
//! is worse than no sheet.
//!
//! INVARIANT: nothing here computes a clinical number, and nothing here reads a file, the clock
//! or the environment; the same document gives the same bytes.

mod block;
mod chart;
pub mod html;
mod line_start;
mod list;
pub mod markdown;
#[cfg(feature = "pdf")]
pub mod pdf;
mod qr;
mod rich;
mod runs;
mod shape;
mod table;
pub mod text;
pub mod typeface;

#[cfg(test)]
mod sample;
#[cfg(test)]
mod tests;

pub use block::{Block, Field, Notice, NoticeKind};
pub use chart::{Chart, ChartPhase, Course, CoursePoint, Tick};
pub use list::{List, ListItem};
pub use rich::{Rich, Run, Style};
pub use runs::RunChart;
pub use table::{Align, Cell, Checklist, Column, Row, Step, Table, Width};

/// The paper that the PDF and the print style of the HTML page are made for.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Paper {
    /// 210 mm × 297 mm.
    #[default]
    A4,
    /// 8.5 in × 11 in (215.9 mm × 279.4 mm).
    Letter,
}

/// What identifies the protocol on every page.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Meta {
    /// Name of the protocol, as in the source.
    pub protocol: String,
    /// Version, as in the source.
    pub version: String,
    /// Fingerprint of the meaning, in full; shortened only by who builds the footer.
    pub fingerprint: String,
    /// "draft" or who approved it and when, in words.
    pub status: String,
}

/// What stands at the foot of every page.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Footer {
    /// Lines below the page number; the first is printed beside it.
    pub lines: Vec<String>,
    /// What the QR code says.
    pub code: String,
}

/// One printed thing: a run sheet, a comparison, a blank form.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Document {
    /// Title of the document, also in the file's own properties.
    pub title: String,
    /// Line under the title: the unit.
    pub subtitle: String,
    /// Language tag (BCP 47).
    pub language: String,
    pub meta: Meta,
    pub paper: Paper,
    /// Printed across every page when present.
    pub draft: Option<String>,
    /// Caption of the box for the patient's label. Never a name.
    pub label: Option<String>,
    /// Facts beside the label box on the first page.
    pub facts: Vec<(Rich, Rich)>,
    pub footer: Footer,
    pub blocks: Vec<Block>,
}
