//! A comparison of all protocols of two places.

use super::Comparison;
use serde::Serialize;

#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Report {
    pub format_version: &'static str,
    /// How the two sides are called.
    pub old: String,
    pub new: String,
    /// Those with a change first.
    pub compared: Vec<Comparison>,
    /// Protocols that only one side has, with their files.
    pub added: Vec<String>,
    pub removed: Vec<String>,
}

impl Report {
    pub fn new(old: &str, new: &str) -> Self {
        Report {
            format_version: "1.0",
            old: old.to_owned(),
            new: new.to_owned(),
            compared: Vec::new(),
            added: Vec::new(),
            removed: Vec::new(),
        }
    }

    pub fn same_meaning(&self) -> bool {
        self.added.is_empty()
            && self.removed.is_empty()
            && self.compared.iter().all(Comparison::same_meaning)
    }

    /// What changed comes first; then by name.
    pub fn settle(&mut self) {
        self.compared
            .sort_by_key(|one| (one.same_meaning(), one.protocol.clone()));
    }
}
