//! What the server says about a place in a file.

use super::Server;
use crate::format::format;
use crate::model::words::CONNECTING_WORDS;
use crate::plan::{Case, Plan};
use crate::source::Span;
use crate::syntax::index::{Declaration, Symbol};
use lsp_types::{
    DocumentFormattingParams, DocumentSymbol, DocumentSymbolParams, GotoDefinitionParams, Hover,
    HoverContents, HoverParams, InlayHint, InlayHintKind, InlayHintLabel, InlayHintParams,
    Location, MarkupContent, MarkupKind, Position, PrepareRenameResponse, Range, ReferenceParams,
    RenameParams, SymbolKind, TextDocumentPositionParams, TextEdit, Uri, WorkspaceEdit,
};
use std::collections::HashMap;
use std::fmt::Write as _;

/// The file and byte that a request is about.
struct Spot {
    path: String,
    text: String,
    offset: u32,
}

impl Server {
    fn spot(&self, at: &TextDocumentPositionParams) -> Option<Spot> {
        let path = self.documents.path(&at.text_document.uri)?;
        let text = self.documents.text(&path)?;
        let offset = self.columns.offset(&text, at.position);
        Some(Spot {
            offset: u32::try_from(offset).ok()?,
            path,
            text,
        })
    }

    fn declaration(&self, path: &str, name: &str) -> Option<(String, String, Declaration)> {
        self.documents
            .indexes(path)
            .into_iter()
            .find_map(|(path, text, index)| {
                let declared = index
                    .declarations
                    .iter()
                    .find(|declaration| declaration.name == name)?;
                Some((path, text, declared.clone()))
            })
    }

    fn name_at(&self, spot: &Spot) -> Option<(String, Span)> {
        let indexes = self.documents.indexes(&spot.path);
        let (_, _, index) = indexes.iter().find(|(path, _, _)| *path == spot.path)?;
        index
            .name_at(spot.offset)
            .map(|(name, span)| (name.to_owned(), span))
    }

    pub(super) fn hover(&mut self, params: &HoverParams) -> Option<Hover> {
        let spot = self.spot(&params.text_document_position_params)?;
        let said = match self.name_at(&spot) {
            Some((name, _)) => {
                let (path, _, declared) = self.declaration(&spot.path, &name)?;
                let mut said = format!("```\n{}\n```\n{path}", declared.line);
                if declared.symbol == Symbol::Phase
                    && let Some(place) = self.phase_place(&spot.path, &name)
                {
                    let _ = write!(said, "\n\n{place}");
                }
                said
            }
            None => {
                let word = word_at(&spot.text, spot.offset as usize)?;
                let mut said = meaning(word)?.to_owned();
                if let Some(boxes) = self.boxes_of(&spot) {
                    let _ = write!(said, "\n\nHere: {boxes}");
                }
                said
            }
        };
        Some(Hover {
            contents: HoverContents::Markup(MarkupContent {
                kind: MarkupKind::Markdown,
                value: said,
            }),
            range: None,
        })
    }

    /// The rule's condition on this line in the words of the sheet, with the boxes in
    /// a row that its times come to; from the text as it stands.
    fn boxes_of(&self, spot: &Spot) -> Option<String> {
        let loaded = self.documents.last_good(&spot.path)?;
        let (_, protocol) = loaded.protocols.first()?;
        // After a change that cannot be read, places are those of an older text.
        let same = |span: Span| {
            let file = loaded.sources.get(span.file)?;
            (file.path == spot.path && file.text == spot.text).then_some(())
        };
        protocol.rules().find_map(|(_, rule)| {
            let span = rule.when_span;
            same(span)?;
            let during: Vec<_> = rule.during.iter().map(|phase| phase.value).collect();
            span.range().contains(&(spot.offset as usize)).then(|| {
                crate::words::Words::of(protocol)
                    .condition(&rule.when, &during)
                    .replace('\u{a0}', " ")
            })
        })
    }

    /// When a phase starts and ends by plan, from the last good reading.
    fn phase_place(&self, path: &str, name: &str) -> Option<String> {
        let loaded = self.documents.last_good(path)?;
        let (_, protocol) = loaded.protocols.first()?;
        let plan = Plan::of(protocol, &Case::default()).ok()?;
        let phase = plan
            .phases
            .iter()
            .find(|placed| protocol[placed.phase].name.name == name)?;
        Some(format!(
            "starts {}, ends {} after `start`",
            crate::plan::report::window_words(phase.start),
            crate::plan::report::window_words(phase.end)
        ))
    }

    pub(super) fn definition(&self, params: &GotoDefinitionParams) -> Option<Location> {
        let spot = self.spot(&params.text_document_position_params)?;
        let (name, _) = self.name_at(&spot)?;
        let (path, text, declared) = self.declaration(&spot.path, &name)?;
        Some(Location::new(
            self.documents.uri(&path)?,
            self.columns.range(&text, declared.span.range()),
        ))
    }

    /// Every place of a name in the files of this protocol and of open ones.
    fn places(&self, spot: &Spot, name: &str) -> Vec<(String, Range)> {
        let mut found: Vec<(String, Range)> = Vec::new();
        for path in self.documents.family(&spot.path) {
            for (path, text, index) in self.documents.indexes(&path) {
                for span in index.places(name) {
                    let place = (path.clone(), self.columns.range(&text, span.range()));
                    if !found.contains(&place) {
                        found.push(place);
                    }
                }
            }
        }
        found
    }

    pub(super) fn references(&self, params: &ReferenceParams) -> Vec<Location> {
        let Some(spot) = self.spot(&params.text_document_position) else {
            return Vec::new();
        };
        let Some((name, _)) = self.name_at(&spot) else {
            return Vec::new();
        };
        self.places(&spot, &name)
            .into_iter()
            .filter_map(|(path, range)| Some(Location::new(self.documents.uri(&path)?, range)))
            .collect()
    }

    pub(super) fn prepare_rename(
        &self,
        params: &TextDocumentPositionParams,
    ) -> Option<PrepareRenameResponse> {
        let spot = self.spot(params)?;
        let (name, span) = self.name_at(&spot)?;
        self.declaration(&spot.path, &name)?;
        Some(PrepareRenameResponse::RangeWithPlaceholder {
            range: self.columns.range(&spot.text, span.range()),
            placeholder: name,
        })
    }

    pub(super) fn rename(&self, params: &RenameParams) -> Result<Option<WorkspaceEdit>, String> {
        let Some(spot) = self.spot(&params.text_document_position) else {
            return Ok(None);
        };
        let Some((name, _)) = self.name_at(&spot) else {
            return Ok(None);
        };
        let new = params.new_name.as_str();
        let shape = new.starts_with(|first: char| first.is_ascii_lowercase())
            && new.chars().all(|character| {
                character.is_ascii_lowercase() || character.is_ascii_digit() || character == '-'
            });
        if !shape {
            return Err(format!(
                "`{new}` is no name: write lower-case letters, digits and hyphens"
            ));
        }
        if CONNECTING_WORDS.contains(&new) {
            return Err(format!(
                "`{new}` joins statements together, so it can be no name"
            ));
        }
        if self.declaration(&spot.path, new).is_some() {
            return Err(format!("`{new}` is taken"));
        }
        if self.declaration(&spot.path, &name).is_none() {
            return Err(format!("`{name}` is not declared in what was read"));
        }
        // The editor's own type; nothing in a key changes.
        #[allow(clippy::mutable_key_type)]
        let mut changes: HashMap<Uri, Vec<TextEdit>> = HashMap::new();
        for (path, range) in self.places(&spot, &name) {
            if let Some(uri) = self.documents.uri(&path) {
                changes
                    .entry(uri)
                    .or_default()
                    .push(TextEdit::new(range, new.to_owned()));
            }
        }
        Ok(Some(WorkspaceEdit::new(changes)))
    }

    pub(super) fn symbols(&self, params: &DocumentSymbolParams) -> Vec<DocumentSymbol> {
        let Some(path) = self.documents.path(&params.text_document.uri) else {
            return Vec::new();
        };
        let indexes = self.documents.indexes(&path);
        let Some((_, text, index)) = indexes.iter().find(|(other, _, _)| *other == path) else {
            return Vec::new();
        };
        index
            .declarations
            .iter()
            .map(|declared| {
                #[allow(deprecated)]
                DocumentSymbol {
                    name: declared.name.clone(),
                    detail: Some(declared.symbol.word().to_owned()),
                    kind: symbol_kind(declared.symbol),
                    tags: None,
                    deprecated: None,
                    range: self.columns.range(text, declared.whole.range()),
                    selection_range: self.columns.range(text, declared.span.range()),
                    children: None,
                }
            })
            .collect()
    }

    pub(super) fn formatting(&self, params: &DocumentFormattingParams) -> Option<Vec<TextEdit>> {
        let path = self.documents.path(&params.text_document.uri)?;
        let text = self.documents.text(&path)?;
        let after = format(&text).ok()?;
        if after == text {
            return Some(Vec::new());
        }
        let all = Range::new(
            Position::new(0, 0),
            self.columns.position(&text, text.len()),
        );
        Some(vec![TextEdit::new(all, after)])
    }

    /// Behind each phase's head, when it starts and ends by plan.
    pub(super) fn hints(&mut self, params: &InlayHintParams) -> Vec<InlayHint> {
        let Some(path) = self.documents.path(&params.text_document.uri) else {
            return Vec::new();
        };
        let _ = self.documents.load(&path);
        let indexes = self.documents.indexes(&path);
        let Some((_, text, index)) = indexes.iter().find(|(other, _, _)| *other == path) else {
            return Vec::new();
        };
        index
            .declarations
            .iter()
            .filter(|declared| declared.symbol == Symbol::Phase)
            .filter_map(|declared| {
                let place = self.phase_place(&path, &declared.name)?;
                let start = declared.whole.start as usize;
                let line_end = text
                    .get(start..)
                    .and_then(|rest| rest.find('\n'))
                    .map_or(text.len(), |newline| start + newline);
                Some(InlayHint {
                    position: self.columns.position(text, line_end),
                    label: InlayHintLabel::String(place),
                    kind: Some(InlayHintKind::TYPE),
                    text_edits: None,
                    tooltip: None,
                    padding_left: Some(true),
                    padding_right: None,
                    data: None,
                })
            })
            .collect()
    }
}

fn symbol_kind(symbol: Symbol) -> SymbolKind {
    match symbol {
        Symbol::Protocol | Symbol::Library => SymbolKind::MODULE,
        Symbol::Value => SymbolKind::CONSTANT,
        Symbol::Citation => SymbolKind::STRING,
        Symbol::Mark => SymbolKind::EVENT,
        Symbol::Reading => SymbolKind::VARIABLE,
        Symbol::Measure => SymbolKind::NUMBER,
        Symbol::Person => SymbolKind::INTERFACE,
        Symbol::Phase => SymbolKind::CLASS,
        Symbol::Rule => SymbolKind::FUNCTION,
        Symbol::Ladder => SymbolKind::ENUM,
        Symbol::Checklist => SymbolKind::ARRAY,
        Symbol::Medication => SymbolKind::OBJECT,
    }
}

fn word_at(text: &str, offset: usize) -> Option<&str> {
    let is_part = |character: char| character.is_ascii_alphanumeric() || character == '-';
    let before = text.get(..offset)?;
    let start = offset - before.len() + before.trim_end_matches(is_part).len();
    let rest = text.get(start..)?;
    let end = rest
        .find(|character| !is_part(character))
        .unwrap_or(rest.len());
    rest.get(..end).filter(|word| !word.is_empty())
}

/// What a word of the language means, in a line.
fn meaning(word: &str) -> Option<&'static str> {
    Some(match word {
        "for" => {
            "`for D`: it holds at this look and at each look back to one at least D ago, less a quarter of the interval. On an hourly check `for 1 h` is *two hourly boxes in a row* (M9)."
        }
        "rises" | "falls" => {
            "Compared with the looks of the last D, plus a quarter of the interval (M10)."
        }
        "target" => {
            "The target of the moment: the end aimed at, or the point that the course has reached (M20, M21)."
        }
        "until" => "Ends the order at the first later moment at which it holds (M15).",
        "within" => "The value itself counts as inside (M7).",
        "below" | "above" | "outside" => "The value itself is left out (M7).",
        "due" => "A latest time. It orders nothing; a rule with `is overdue` answers it (M24).",
        "every" => "Asked at the beginning of each stretch and each D after (M5).",
        "ready" | "again" => "A rule that has fired does not fire again before this (M14).",
        "overrides" => {
            "While this rule's condition holds in its phases, those named do not fire (M13)."
        }
        "ceiling" => {
            "Counts this dose, all begun less than D ago, and what infusions ran in; never by calendar day (M28)."
        }
        "start" => "0:00 of the case: every elapsed time counts from it (M2).",
        "paused" => "Target and course stand still; ends, dues, looks and rules go on (M23).",
        "limit" => "Binds every aim, order and rule; a reading past it needs a rule (M34).",
        "recheck" => "Answered by the first record from three quarters of D on (M26).",
        "measure" => {
            "Counted when a finished case is looked at; it orders nothing. Each record holds until the next, unknown time is left out (M35)."
        }
        "goal" => {
            "What a measure is meant to come to: `at most` or `at least` a value of its kind (%, a time, or the unit of the reading × h), judged on the exact number (M35)."
        }
        "accept" => "Covers one warning or one published limit, with reason, name and date (M34).",
        _ => return None,
    })
}
