//! What the server says about a place in a file.

use super::Server;
use crate::format::format;
use crate::model::words::CONNECTING_WORDS;
use crate::source::Span;
use crate::syntax::index::{Declaration, Symbol};
use crate::syntax::{Item, outline};
use lsp_types::{
    DocumentFormattingParams, DocumentSymbol, DocumentSymbolParams, GotoDefinitionParams, Location,
    Position, PrepareRenameResponse, Range, ReferenceParams, RenameParams, SymbolKind,
    TextDocumentPositionParams, TextEdit, Uri, WorkspaceEdit,
};
use std::collections::HashMap;

/// The file and byte that a request is about.
pub(super) struct Spot {
    pub path: String,
    pub text: String,
    pub offset: u32,
}

impl Server {
    pub(super) fn spot(&self, at: &TextDocumentPositionParams) -> Option<Spot> {
        let path = self.documents.path(&at.text_document.uri)?;
        let text = self.documents.text(&path)?;
        let offset = self.columns.offset(&text, at.position);
        Some(Spot {
            offset: u32::try_from(offset).ok()?,
            path,
            text,
        })
    }

    pub(super) fn declaration(
        &self,
        path: &str,
        name: &str,
    ) -> Option<(String, String, Declaration)> {
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

    pub(super) fn name_at(&self, spot: &Spot) -> Option<(String, Span)> {
        let indexes = self.documents.indexes(&spot.path);
        let (_, _, index) = indexes.iter().find(|(path, _, _)| *path == spot.path)?;
        index
            .name_at(spot.offset)
            .map(|(name, span)| (name.to_owned(), span))
    }

    pub(super) fn definition(&self, params: &GotoDefinitionParams) -> Option<Location> {
        let spot = self.spot(&params.text_document_position_params)?;
        if let Some(used) = used_file(&spot) {
            self.documents.text(&used)?;
            return Some(Location::new(self.documents.uri(&used)?, Range::default()));
        }
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
        let declared = self.declaration(&spot.path, name);
        let symbol = declared.map(|(_, _, declared)| declared.symbol);
        for path in self.documents.family(&spot.path) {
            for (path, text, index) in self.documents.indexes(&path) {
                for span in index.places(name, symbol) {
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
        if matches!(new, "start") {
            return Err("`start` is built in: it is the beginning of the case".to_owned());
        }
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
        // A library does not know the names of the protocols that use it.
        let family = self.documents.family(&spot.path);
        if family
            .iter()
            .any(|path| self.declaration(path, new).is_some())
        {
            return Err(format!("`{new}` is taken"));
        }
        let Some((_, _, declared)) = self.declaration(&spot.path, &name) else {
            return Err(format!("`{name}` is not declared in what was read"));
        };
        if declared.symbol == Symbol::Person && (name == "nurse" || new == "nurse") {
            return Err(
                "`nurse` is the one who holds the sheet: another name, or another person by \
                 this name, would change what the orders mean"
                    .to_owned(),
            );
        }
        if let Some(line) = self.unread_line_with(&family, &name) {
            return Err(format!(
                "{line} cannot be read and may hold `{name}`: mend it first, or the old name \
                 would stay in it"
            ));
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

    /// The first statement that cannot be read and has this word outside its texts,
    /// as `path:line`.
    fn unread_line_with(&self, family: &[String], name: &str) -> Option<String> {
        let mut loaded = family
            .iter()
            .filter_map(|path| crate::model::load(&self.documents.overlay(), &[path]).ok());
        loaded.find_map(|loaded| {
            loaded.sources.iter().find_map(|(id, file)| {
                let broken = crate::syntax::parse(id, file).diagnostics;
                broken.iter().find_map(|found| {
                    let at = found.place.span.start as usize;
                    let statement = statement_at(&outline(&file.text, id).items, at)
                        .map_or(found.place.span, |span| span)
                        .range();
                    let text = file.text.get(statement.clone()).unwrap_or("");
                    has_word(text, name).then(|| {
                        let line = file.line_column(statement.start).line;
                        format!("{}:{line}", file.path)
                    })
                })
            })
        })
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

/// The innermost statement or head of a block that holds a byte.
fn statement_at(items: &[Item], at: usize) -> Option<Span> {
    items.iter().find_map(|item| {
        match item {
            Item::Statement(piece) => Some(piece.span),
            Item::Block(block) if block.head.span.range().contains(&at) => Some(block.head.span),
            Item::Block(block) => statement_at(&block.items, at),
        }
        .filter(|span| span.range().contains(&at))
    })
}

/// Whether a statement has the word outside its texts and comments.
fn has_word(statement: &str, name: &str) -> bool {
    let mut rest = statement.split('"').step_by(2).flat_map(str::lines);
    rest.any(|part| {
        let part = part.split('#').next().unwrap_or("");
        part.split(|one: char| !(one.is_ascii_alphanumeric() || one == '-'))
            .any(|word| word == name)
    })
}

/// The library that the `use` line under the pointer names.
fn used_file(spot: &Spot) -> Option<String> {
    let offset = spot.offset as usize;
    let start = spot.text.get(..offset)?.rfind('\n').map_or(0, |at| at + 1);
    let line = spot.text.get(start..)?.lines().next()?;
    let rest = line.trim_start().strip_prefix("use")?;
    let (path, _) = rest.trim_start().strip_prefix('"')?.split_once('"')?;
    crate::model::resolve(&spot.path, path)
}
