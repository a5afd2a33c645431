//! Whether a protocol may still be used on a day.

use crate::approval::review_over;
use crate::model::Protocol;
use jiff::civil::Date;
use serde::Serialize;

/// Why nothing is printed, for all of a case or a protocol.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Refusal {
    pub title: String,
    pub why: String,
    pub help: String,
}

/// Nothing is printed from a protocol, or a library in it, whose day of review has passed. The
/// day itself is still good.
pub fn refused(protocol: &Protocol, on: Date) -> Option<Refusal> {
    review_over(protocol, on).map(|over| Refusal {
        title: format!("{over}, and this is for {on}"),
        why: "what has been published since has not been weighed by the unit's committee, so no sheet is printed from it".to_owned(),
        help: "use the unit's current way, and ask whoever looks after the protocols for a page with the reviewed one".to_owned(),
    })
}
