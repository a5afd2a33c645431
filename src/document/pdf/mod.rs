//! The PDF: fonts → flow (lines) → galley (pieces) → pages → writer.
//!
//! Takes: a [`Document`]. Returns: the bytes ([`render`]), or the pages with every text and its
//! place ([`lay_out`]), by which a test can prove that nothing leaves the page or covers
//! another. What may go wrong is in [`PdfError`]; nothing is ever dropped to make it fit.

mod canvas;
mod cell;
mod columns;
mod error;
mod fields;
mod finish;
mod flow;
mod fonts;
mod frame;
mod galley;
mod head;
mod notice;
mod ops;
mod page;
mod setter;
mod table;
mod tags;
mod writer;

pub use error::PdfError;
pub use page::{Layout, PlacedRule, PlacedText, TextRole};

use super::Document;

/// The whole document as PDF bytes.
pub fn render(document: &Document) -> Result<Vec<u8>, PdfError> {
    let layout = lay_out(document)?;
    writer::write(document, &layout)
}

/// Where everything stands, before it becomes PDF.
pub fn lay_out(document: &Document) -> Result<Layout, PdfError> {
    let fonts = fonts::Fonts::load()?;
    page::paginate(document, &fonts)
}

/// Millimetres to points.
pub(super) fn mm(value: f64) -> f64 {
    value * 72.0 / 25.4
}
