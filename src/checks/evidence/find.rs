//! Makes the findings of one row.

use super::super::Context;
use super::{Row, Standing};
use crate::diag::{Diagnostic, Level};
use crate::model::Protocol;
use crate::source::Span;

/// Gathers the findings of a row over one protocol.
pub struct Finder<'c, 'a> {
    pub context: &'c Context<'a>,
    pub protocol: &'a Protocol,
    row: &'static Row,
    pub found: Vec<Diagnostic>,
}

impl<'c, 'a> Finder<'c, 'a> {
    pub fn new(context: &'c Context<'a>, row: &'static Row) -> Self {
        Finder {
            context,
            protocol: context.protocol,
            row,
            found: Vec::new(),
        }
    }

    /// A finding at the row's own level.
    pub fn hit(&mut self, span: Span, about: &str, title: impl Into<String>) {
        self.hit_at(self.row.level, span, about, title);
    }

    /// INVARIANT: an unconfirmed row never gives an error.
    pub fn hit_at(&mut self, level: Level, span: Span, about: &str, title: impl Into<String>) {
        let row = self.row;
        let level = match (row.standing, level) {
            (Standing::Memory, Level::Error) => Level::Warning,
            (_, level) => level,
        };
        let finding = Diagnostic::new(row.id, level, span, title)
            .here(format!("published limit: {}", row.limit))
            .why(format!("the limit protects against {}", row.protects))
            .help(format!(
                "keep within the limit, or let the committee say why this unit departs from it: `accept {} on {about} \
                 because \"…\" by \"…\" until YYYY-MM-DD`",
                row.id
            ))
            .source(format!("{} ({})", row.source, row.standing.words(row.seen)))
            .about(about);
        self.found.push(finding);
    }

    /// What is absent is shown where the protocol says what it is for.
    pub fn missing(&mut self, title: impl Into<String>) {
        self.missing_at(self.row.level, title);
    }

    pub fn missing_at(&mut self, level: Level, title: impl Into<String>) {
        let name = self.protocol.name.name.clone();
        self.hit_at(level, self.protocol.head.purpose.span, &name, title);
    }
}
