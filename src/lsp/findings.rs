//! Findings as an editor shows them.

use super::documents::uri_of;
use super::position::Columns;
use crate::checks::run::Checked;
use crate::diag::{Diagnostic, Level, render};
use crate::source::{FileId, Sources, Span};
use crate::syntax::{Item, outline};
use lsp_types::{
    DiagnosticRelatedInformation, DiagnosticSeverity, Location, NumberOrString,
    PublishDiagnosticsParams, Range,
};
use std::collections::BTreeMap;
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
        let mut shown = Vec::new();
        let mut elsewhere: BTreeMap<FileId, Vec<&Diagnostic>> = BTreeMap::new();
        for found in &checked.findings {
            let file = found.place.span.file;
            if sources.get(file).is_some_and(|file| file.path == path) {
                shown.push(self.finding(found, sources));
            } else if found.level != Level::Note {
                elsewhere.entry(file).or_default().push(found);
            }
        }
        for (file, found) in elsewhere {
            shown.extend(self.in_library(path, file, &found, sources));
        }
        Some(PublishDiagnosticsParams::new(uri, shown, None))
    }

    /// What is found in a library, told once at the `use` line that brings it in:
    /// whoever has only the protocol open would take it for clean.
    fn in_library(
        &self,
        path: &str,
        file: FileId,
        found: &[&Diagnostic],
        sources: &Sources,
    ) -> Option<lsp_types::Diagnostic> {
        let gravest = found
            .iter()
            .max_by_key(|found| found.level == Level::Error)?;
        let library = &sources.get(file)?.path;
        let (here, text) = sources
            .iter()
            .find(|(_, file)| file.path == path)
            .map(|(id, file)| (id, file.text.as_str()))?;
        let uses = use_lines(text, here);
        let line = uses
            .iter()
            .find(|(_, used)| crate::model::resolve(path, used).as_ref() == Some(library))
            .or(uses.first())?;
        let mut shown = self.finding(gravest, sources);
        let more = match found.len() - 1 {
            0 => String::new(),
            more => format!(" (and {more} more)"),
        };
        shown.message = format!("in {library}{more}: {}", shown.message);
        let place = DiagnosticRelatedInformation {
            location: Location::new(uri_of(&self.root, library)?, shown.range),
            message: gravest.title.clone(),
        };
        shown.range = self.range(sources, line.0);
        shown
            .related_information
            .get_or_insert_default()
            .insert(0, place);
        Some(shown)
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

/// The `use` lines of a file and the paths in them.
fn use_lines(text: &str, file: FileId) -> Vec<(Span, &str)> {
    let outline = outline(text, file);
    let blocks = outline.items.iter().filter_map(|item| match item {
        Item::Block(block) => Some(block),
        Item::Statement(_) => None,
    });
    blocks
        .flat_map(|block| &block.items)
        .filter_map(|item| {
            let Item::Statement(piece) = item else {
                return None;
            };
            let line = text.get(piece.span.range())?.strip_prefix("use")?;
            let (path, _) = line.trim_start().strip_prefix('"')?.split_once('"')?;
            Some((piece.span, path))
        })
        .collect()
}
