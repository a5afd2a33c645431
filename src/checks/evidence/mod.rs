//! Evidence: the protocol's own values against published limits.
//!
//! The table is `rows`: one row a published limit, with its population, its
//! source, how that was confirmed, and the test. A row fires where its patients,
//! intent, edition, method and sites match the protocol. `stop`, `warn` and
//! `note` of the table are error, warning and note; a limit that is unconfirmed
//! is never an error. Rows that no statement of the language can meet or break
//! stand in the table all the same, for `explain`.

mod burn_times;
mod facts;
mod find;
mod lines;
pub mod rows;
mod scope;
mod two_fever_lines;

use super::{Check, Context};
use crate::diag::{Diagnostic, Level};

pub(in crate::checks) use find::Finder;
pub use rows::all as rows;

pub(super) const CHECKS: &[&Check] = &[&two_fever_lines::CHECK];

/// The section of the published table that a row belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Section {
    AfterArrest,
    Rates,
    NeuroFever,
    Newborn,
    Accidental,
    Theatre,
    Heat,
    Skin,
    Monitoring,
    ChildAfterArrest,
}

impl Section {
    pub fn words(self) -> &'static str {
        match self {
            Section::AfterArrest => "targets, fever and durations after cardiac arrest, adults",
            Section::Rates => "rates, floors, overshoot",
            Section::NeuroFever => "fever and normal temperature in neurological intensive care",
            Section::Newborn => "cooling of newborns after birth asphyxia",
            Section::Accidental => "accidental hypothermia",
            Section::Theatre => "warmth around operations",
            Section::Heat => "heat stroke and other hyperthermia",
            Section::Skin => "contact with the skin, accuracy, probe site",
            Section::Monitoring => "monitoring during cooling and rewarming",
            Section::ChildAfterArrest => "children after cardiac arrest",
        }
    }
}

/// How a limit was confirmed when the table was made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Standing {
    /// Seen in the source itself, its abstract, its registry entry or its table.
    Seen,
    /// Seen on another page that reports the source.
    Reported,
    /// Not found. INVARIANT: such a row is never an error.
    Memory,
}

impl Standing {
    /// `seen` is the page, or what of the row is not confirmed.
    pub fn words(self, seen: &str) -> String {
        let standing = match self {
            Standing::Seen => "seen in the source",
            Standing::Reported => "seen in a page that reports it",
            Standing::Memory => "from memory, unconfirmed",
        };
        if seen.is_empty() {
            standing.to_owned()
        } else {
            format!("{standing}: {seen}")
        }
    }
}

/// Whether and how a row is decided.
pub enum Decision {
    Fires {
        /// What of a protocol decides it, for `explain`.
        decided_by: &'static str,
        applies: fn(&scope::Scope) -> bool,
        run: fn(&mut Finder),
    },
    /// Why no statement decides it.
    Never(&'static str),
}

/// One published limit.
pub struct Row {
    /// Stable, kebab-case: the name of its finding.
    pub id: &'static str,
    pub section: Section,
    pub quantity: &'static str,
    pub patients: &'static str,
    pub intent: &'static str,
    /// What a protocol should satisfy.
    pub limit: &'static str,
    /// The gravest level at which it speaks.
    pub level: Level,
    /// What it protects against.
    pub protects: &'static str,
    pub source: &'static str,
    pub standing: Standing,
    /// Where it was seen, and what of it was not.
    pub seen: &'static str,
    pub since: &'static str,
    pub decision: Decision,
}

/// The row of that name.
pub fn row(id: &str) -> Option<&'static Row> {
    rows().find(|row| row.id == id)
}

/// Every row that applies, over the protocol.
pub(super) fn run(context: &Context) -> Vec<Diagnostic> {
    let scope = scope::Scope::of(context.protocol);
    let mut found = Vec::new();
    for row in rows() {
        if let Decision::Fires { applies, run, .. } = row.decision
            && applies(&scope)
        {
            let mut finder = Finder::new(context, row);
            run(&mut finder);
            found.extend(finder.found);
        }
    }
    found
}
