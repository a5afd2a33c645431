//! Audits as files for others: CSV for a spreadsheet, and one HTML page to read and
//! print.
//!
//! Takes audits and the protocol; gives text. Nothing is computed here. The page has no
//! script and needs no network; its drawings are inline SVG in black and grey, and each
//! says in words what it shows.

mod course;
mod csv;
mod page;

pub use course::records;
pub use csv::csv;
pub use page::html;
