//! The table of published limits, a file for each section.
//!
//! A row gives its limit as what a protocol should satisfy; it fires when the
//! protocol does not. Where a source was not seen, the row says so, and so does
//! every finding of it. Digital object identifiers that were not seen in a page
//! are marked "from memory". Nothing here is medical advice: every figure is to be
//! confirmed against the current source by the unit that uses it.

mod accidental;
mod after_arrest;
mod child_after_arrest;
mod heat;
mod monitoring;
mod neuro_fever;
mod newborn;
mod rates;
mod shivering;
mod skin;
mod theatre;

use super::{Decision, Finder, Row, Section, Standing};
use crate::diag::Level;

/// Every row, section by section.
pub fn all() -> impl Iterator<Item = &'static Row> {
    [
        after_arrest::ROWS,
        rates::ROWS,
        neuro_fever::ROWS,
        newborn::ROWS,
        accidental::ROWS,
        theatre::ROWS,
        heat::ROWS,
        skin::ROWS,
        monitoring::ROWS,
        shivering::ROWS,
        child_after_arrest::ROWS,
    ]
    .into_iter()
    .flatten()
}

/// What the rows of a section have in common.
const fn blank(section: Section) -> Row {
    Row {
        id: "",
        section,
        quantity: "",
        patients: "",
        intent: "",
        limit: "",
        level: Level::Note,
        protects: "",
        source: "",
        standing: Standing::Memory,
        seen: "",
        since: "0.1.0",
        decision: Decision::Never(""),
    }
}

/// Why a row is never reported.
const REPORTS: &str = "it reports a result and sets no limit that a protocol could keep";
const DEFINES: &str = "it defines a word and sets no limit that a protocol could keep";
const IN_TEXT: &str = "its figures stand in free text, which is not searched for clinical numbers";
