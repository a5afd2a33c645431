//! The engine of the print kit: what the page on the ward asks, answered.
//!
//! The page is one HTML file that the command `kit` makes. Inside it this crate runs as
//! WebAssembly, so that a sheet from the page and one from the command line come from the same
//! lines of code. Everything goes in and out as JSON:
//!
//! ```text
//! {"ask": "questions", "protocol": 0}      what is asked about a case
//! {"ask": "sheet", "protocol": 0,
//!  "fields": {"start": {"text": "1430"}}}  what is wrong beside each field, and the sheet
//! {"ask": "blank", "protocol": 0}          the blank form
//! {"ask": "reading", "protocol": 0}        the protocol to read on a screen
//! ```
//!
//! Takes the texts of the protocols, and with each question the moment that the PC's clock shows:
//! nothing here knows a clock, a zone or a file. What may go wrong is told in the answer: beside
//! the field that it is about, or as a refusal for all of it.
//!
//! INVARIANT: there is a document in the answer only where no entry is wrong and the protocol
//! may be used on that day.

#[cfg(target_arch = "wasm32")]
mod abi;
mod answer;
mod days;
mod entries;
mod fields;
mod number;
#[cfg(feature = "cli")]
pub mod page;
mod review;
#[cfg(test)]
mod tests;
mod time;
mod view;

pub use answer::{Engine, Listed, Root, Texts};
