//! The page about one finding, made from the metadata that made the finding.
//!
//! Takes a name of a check or of a row of the evidence table; gives its page, or
//! the nearest name there is.

use super::evidence::{self, Row};
use super::{Check, Family, all};
use crate::diag::Level;
use std::fmt;

/// What `explain NAME` prints.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Page {
    pub name: &'static str,
    pub family: Family,
    pub level: Level,
    pub since: &'static str,
    pub summary: String,
    /// Heading and text, in order; an example stands in its text as a code block.
    pub sections: Vec<(&'static str, String)>,
}

/// The page of that name.
pub fn explain(name: &str) -> Option<Page> {
    all()
        .find(|check| check.name == name)
        .map(check_page)
        .or_else(|| evidence::row(name).map(row_page))
}

/// Every name that has a page, in the order of the families.
pub fn names() -> Vec<&'static str> {
    all()
        .map(|check| check.name)
        .chain(evidence::rows().map(|row| row.id))
        .collect()
}

/// The nearest name, for "did you mean".
pub fn nearest_name(name: &str) -> Option<&'static str> {
    crate::syntax::nearest(name, names())
}

fn check_page(check: &'static Check) -> Page {
    let mut sections = vec![
        ("What it finds", check.catches.to_owned()),
        ("Why it matters", check.why.to_owned()),
    ];
    if !check.fires.is_empty() {
        sections.push(("Found here", code(check.fires)));
    }
    if !check.passes.is_empty() {
        sections.push(("Not here", code(check.passes)));
    }
    sections.push(("Source", check.source.to_owned()));
    Page {
        name: check.name,
        family: check.family,
        level: check.level,
        since: check.since,
        summary: check.summary.to_owned(),
        sections,
    }
}

fn row_page(row: &'static Row) -> Page {
    let mut sections = vec![
        ("Section", row.section.words().to_owned()),
        ("Quantity", row.quantity.to_owned()),
        ("Patients", row.patients.to_owned()),
        ("Intent", row.intent.to_owned()),
        ("Published limit", row.limit.to_owned()),
        ("Protects against", row.protects.to_owned()),
        ("Source", row.source.to_owned()),
        ("How it was confirmed", row.standing.words(row.seen)),
    ];
    sections.push(match row.decision {
        evidence::Decision::Fires { decided_by, .. } => {
            ("How it is decided", format!("By {decided_by}."))
        }
        evidence::Decision::Never(because) => ("Never reported", because.to_owned()),
    });
    if let evidence::Decision::Fires { .. } = row.decision {
        sections.push((
            "To let it stand",
            format!(
                "The reason must say why this unit departs from the limit.\n\n{}",
                code(&format!(
                    "accept {} on NAME because \"…\" by \"…\" until YYYY-MM-DD",
                    row.id
                ))
            ),
        ));
    }
    Page {
        name: row.id,
        family: Family::Evidence,
        level: row.level,
        since: row.since,
        summary: format!("{}: {}", row.quantity, row.limit),
        sections,
    }
}

fn code(text: &str) -> String {
    let body: String = text
        .trim_matches('\n')
        .lines()
        .map(|line| format!("    {line}\n"))
        .collect();
    body.trim_end().to_owned()
}

impl fmt::Display for Page {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(
            out,
            "{} ({}, {})",
            self.name,
            self.level.word(),
            self.family.word()
        )?;
        writeln!(out, "{}", self.summary)?;
        for (heading, text) in &self.sections {
            writeln!(out, "\n{heading}")?;
            for line in text.lines() {
                if line.is_empty() {
                    writeln!(out)?;
                } else {
                    writeln!(out, "  {line}")?;
                }
            }
        }
        writeln!(out, "\nSince version {}", self.since)
    }
}
