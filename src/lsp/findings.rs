//! Findings as an editor shows them.

use super::documents::uri_of;
use super::position::Columns;
use crate::checks::run::Checked;
use crate::diag::{Diagnostic, Level, render};
use crate::source::{Sources, Span};
use lsp_types::{
    DiagnosticRelatedInformation, DiagnosticSeverity, Location, NumberOrString,
    PublishDiagnosticsParams, Range,
};
use std::fmt::Write as _;

/// What is needed to say where something stands.
#[derive(Debug, Clone)]
pub struct Shown {
    /// Absolute path of the root, without a slash at its end.
    pub root: String,
    pub columns: Columns,
}

impl Shown {
    /// All findings about one file, with the places in others that take part.
    pub fn published(&self, path: &str, checked: &Checked) -> Option<PublishDiagnosticsParams> {
        let uri = uri_of(&self.root, path)?;
        let sources = &checked.sources;
        let shown = checked
            .findings
            .iter()
            .filter(|found| {
                sources
                    .get(found.place.span.file)
                    .is_some_and(|file| file.path == path)
            })
            .map(|found| self.finding(found, sources))
            .collect();
        Some(PublishDiagnosticsParams::new(uri, shown, None))
    }

    pub fn range(&self, sources: &Sources, span: Span) -> Range {
        sources.get(span.file).map_or_else(Range::default, |file| {
            self.columns.range(&file.text, span.range())
        })
    }

    pub fn finding(&self, found: &Diagnostic, sources: &Sources) -> lsp_types::Diagnostic {
        let mut message = found.title.clone();
        if !found.place.text.is_empty() {
            let _ = write!(message, " ({})", found.place.text);
        }
        if let Some(witness) = &found.witness {
            let _ = write!(message, "\n{}", render::witness_text(witness).trim_end());
        }
        let _ = write!(message, "\nwhy: {}", found.why);
        for help in &found.help {
            let _ = write!(message, "\nhelp: {help}");
        }
        let related: Vec<DiagnosticRelatedInformation> = found
            .others
            .iter()
            .filter_map(|label| {
                let path = &sources.get(label.span.file)?.path;
                Some(DiagnosticRelatedInformation {
                    location: Location::new(
                        uri_of(&self.root, path)?,
                        self.range(sources, label.span),
                    ),
                    message: label.text.clone(),
                })
            })
            .collect();
        lsp_types::Diagnostic {
            range: self.range(sources, found.place.span),
            severity: Some(match found.level {
                Level::Error => DiagnosticSeverity::ERROR,
                Level::Warning => DiagnosticSeverity::WARNING,
                Level::Note => DiagnosticSeverity::INFORMATION,
            }),
            code: Some(NumberOrString::String(found.name.to_owned())),
            source: Some("tempwright".to_owned()),
            message,
            related_information: (!related.is_empty()).then_some(related),
            ..lsp_types::Diagnostic::default()
        }
    }
}
