//! Notation: what is easily misread, on the screen or on paper.
//!
//! What reading the text finds itself (names, units) stands in `reading`.

mod error_prone_notation;
pub(super) mod hidden_characters;
mod line;
mod mixed_units;
mod published_list;
mod slips;
mod texts;

use super::Check;

pub(super) const CHECKS: &[&Check] = &[
    &mixed_units::CHECK,
    &error_prone_notation::CHECK,
    &hidden_characters::CHECK,
];
