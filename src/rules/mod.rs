//! The machine-readable rule file: a protocol for programs.
//!
//! Takes a [`Protocol`], gives a [`RuleFile`] whose bytes are canonical JSON
//! (RFC 8785), its JSON Schema, and the fingerprint of the meaning. Reads such a
//! file back, and gives the same protocol again. What the file means is written
//! down in `grammar/MEANING.md`, for whoever has only the file.
//!
//! ```text
//! protocol ── export ──> RuleFile ── to_bytes ──> rules.json
//!     ^                     ^                         │
//!     └──── to_model ───────┴───────── read ──────────┘
//! ```
//!
//! What may go wrong: a file that is no rule file, is of another format, or was
//! changed after it was written is refused with a [`Refusal`] that says so in
//! words. INVARIANT: nothing here changes what a protocol means, and no number is
//! ever a floating-point one.

mod aim;
#[cfg(feature = "cli")]
mod calendar;
mod condition;
#[cfg(feature = "cli")]
mod csv;
#[cfg(feature = "cli")]
mod due;
#[cfg(feature = "cli")]
mod fhir;
mod file;
mod fingerprint;
mod head;
mod ladder;
mod look;
mod medication;
mod names;
mod order;
mod parts;
mod protocol;
mod quantity;
mod read;
mod refusal;
mod scenario;
mod timeline;
mod words;

pub use aim::*;
#[cfg(feature = "cli")]
pub use calendar::{NoCalendar, calendar};
pub use condition::*;
#[cfg(feature = "cli")]
pub use csv::{cell as csv_cell, schedule_csv};
#[cfg(feature = "cli")]
pub use fhir::{fhir, fhir_of};
pub use file::{FORMAT, FORMAT_VERSION, LibraryFile, RuleFile, export, schema, to_bytes};
pub use fingerprint::fingerprint;
pub use head::*;
pub use ladder::*;
pub use look::*;
pub use medication::*;
pub use order::*;
pub use parts::*;
pub use protocol::Meaning;
pub use quantity::Measured;
pub use read::{Read, read, read_protocol};
pub use refusal::{Refusal, RefusedFor};
pub use scenario::*;
pub use timeline::{PhaseTimes, Times};
pub use words::*;

use crate::model::Protocol;

/// The protocol of a rule file, with empty positions: it has no text of its own.
pub fn to_model(file: &RuleFile) -> Result<Protocol, Refusal> {
    protocol::to_model(file)
}
