//! The language server: findings while typing, meanings under the pointer,
//! going to declarations, renaming, formatting.
//!
//! What is quick to find is told at each keystroke; what takes a search comes from a
//! thread of its own once the typing pauses. Otherwise synchronous, over standard input and output. Only this module knows the
//! editor's protocol; everything it says comes from the same functions as the
//! command line's reports.

mod actions;
mod answers;
mod complete;
mod documents;
mod findings;
mod hints;
mod hover;
mod place;
mod position;
mod thorough;

use crate::checks::Depth;
use crate::checks::run::{Checked, check_all_to};
use crate::model::Loaded;
use crate::source::Library;
use documents::Documents;
use findings::Shown;
use lsp_server::{Connection, ErrorCode, Message, Notification, Request, Response};
use lsp_types::{
    CodeActionProviderCapability, CompletionOptions, Diagnostic, DiagnosticSeverity,
    HoverProviderCapability, InitializeParams, OneOf, PositionEncodingKind,
    PublishDiagnosticsParams, RenameOptions, ServerCapabilities, TextDocumentSyncCapability,
    TextDocumentSyncKind, WorkDoneProgressOptions,
};
use position::Columns;
use serde::de::DeserializeOwned;
use serde_json::Value;
use thorough::{Thorough, message};

/// Why the server ended otherwise than by being told to.
pub type ServerError = Box<dyn std::error::Error + Send + Sync>;

pub struct Server {
    documents: Documents,
    columns: Columns,
    shown: Shown,
    /// The day against which review dates are judged; none, and they are not.
    today: Option<jiff::civil::Date>,
    /// What was last checked in whole, for what can be done about its findings.
    checked: Option<Checked>,
}

/// Serves one editor until it says `exit` or goes away. `open` gives the files
/// below a root that the editor names.
pub fn serve(
    connection: &Connection,
    today: Option<jiff::civil::Date>,
    open: impl Fn(&str) -> Box<dyn Library + Send>,
) -> Result<(), ServerError> {
    let (id, params) = connection.initialize_start()?;
    let params: InitializeParams = serde_json::from_value(params)?;
    let columns = columns(&params);
    let root = root(&params);
    let answer = serde_json::json!({
        "capabilities": capabilities(columns),
        "serverInfo": { "name": "tempwright", "version": env!("CARGO_PKG_VERSION") },
    });
    connection.initialize_finish(id, answer)?;
    let shown = Shown {
        root: root.clone(),
        columns,
    };
    let mut server = Server {
        documents: Documents::new(root.clone(), open(&root)),
        columns,
        shown: shown.clone(),
        today,
        checked: None,
    };
    let sender = connection.sender.clone();
    let thorough = Thorough::start(shown, today, move |message| {
        // An editor that has left wants nothing any more.
        let _ = sender.send(message);
    });
    for received in &connection.receiver {
        match received {
            Message::Request(request) => {
                if connection.handle_shutdown(&request)? {
                    return Ok(());
                }
                let response = server.request(request);
                connection.sender.send(Message::Response(response))?;
            }
            Message::Notification(notification) => {
                let Some(changed) = server.notification(notification) else {
                    continue;
                };
                thorough.changed();
                let (told, files) = server.quick(changed);
                for message in told.into_iter().filter_map(message) {
                    connection.sender.send(message)?;
                }
                if !files.is_empty() {
                    thorough.check(files);
                }
            }
            Message::Response(_) => {}
        }
    }
    Ok(())
}

fn columns(params: &InitializeParams) -> Columns {
    let offered = params
        .capabilities
        .general
        .as_ref()
        .and_then(|general| general.position_encodings.as_ref());
    match offered {
        Some(kinds) if kinds.contains(&PositionEncodingKind::UTF8) => Columns::Utf8,
        _ => Columns::Utf16,
    }
}

fn root(params: &InitializeParams) -> String {
    let folder = params
        .workspace_folders
        .as_ref()
        .and_then(|folders| folders.first())
        .map(|folder| folder.uri.as_str().to_owned());
    #[allow(deprecated)]
    let uri = folder.or_else(|| params.root_uri.as_ref().map(|uri| uri.as_str().to_owned()));
    uri.and_then(|uri| uri.strip_prefix("file://").map(documents::decode))
        .unwrap_or_else(|| "/".to_owned())
}

fn capabilities(columns: Columns) -> ServerCapabilities {
    ServerCapabilities {
        position_encoding: Some(match columns {
            Columns::Utf8 => PositionEncodingKind::UTF8,
            Columns::Utf16 => PositionEncodingKind::UTF16,
        }),
        text_document_sync: Some(TextDocumentSyncCapability::Kind(
            TextDocumentSyncKind::INCREMENTAL,
        )),
        hover_provider: Some(HoverProviderCapability::Simple(true)),
        definition_provider: Some(OneOf::Left(true)),
        references_provider: Some(OneOf::Left(true)),
        document_symbol_provider: Some(OneOf::Left(true)),
        document_formatting_provider: Some(OneOf::Left(true)),
        inlay_hint_provider: Some(OneOf::Left(true)),
        code_action_provider: Some(CodeActionProviderCapability::Simple(true)),
        completion_provider: Some(CompletionOptions {
            trigger_characters: Some(vec![" ".to_owned()]),
            ..CompletionOptions::default()
        }),
        rename_provider: Some(OneOf::Right(RenameOptions {
            prepare_provider: Some(true),
            work_done_progress_options: WorkDoneProgressOptions::default(),
        })),
        ..ServerCapabilities::default()
    }
}

fn params<T: DeserializeOwned>(params: Value) -> Result<T, String> {
    serde_json::from_value(params).map_err(|error| error.to_string())
}

impl Server {
    fn request(&mut self, request: Request) -> Response {
        let Request { id, method, params } = request;
        match self.answer(&method, params) {
            Ok(Some(value)) => Response::new_ok(id, value),
            Ok(None) => Response::new_err(
                id,
                ErrorCode::MethodNotFound as i32,
                format!("`{method}` is not served"),
            ),
            Err(error) => Response::new_err(id, ErrorCode::InvalidParams as i32, error),
        }
    }

    fn answer(&mut self, method: &str, value: Value) -> Result<Option<Value>, String> {
        let answer = match method {
            "textDocument/hover" => serde_json::to_value(self.hover(&params(value)?)),
            "textDocument/definition" => serde_json::to_value(self.definition(&params(value)?)),
            "textDocument/references" => serde_json::to_value(self.references(&params(value)?)),
            "textDocument/documentSymbol" => serde_json::to_value(self.symbols(&params(value)?)),
            "textDocument/formatting" => serde_json::to_value(self.formatting(&params(value)?)),
            "textDocument/inlayHint" => serde_json::to_value(self.hints(&params(value)?)),
            "textDocument/codeAction" => serde_json::to_value(self.actions(&params(value)?)),
            "textDocument/completion" => serde_json::to_value(self.complete(&params(value)?)),
            "textDocument/prepareRename" => {
                serde_json::to_value(self.prepare_rename(&params(value)?))
            }
            "textDocument/rename" => serde_json::to_value(self.rename(&params(value)?)?),
            _ => return Ok(None),
        };
        answer.map(Some).map_err(|error| error.to_string())
    }

    /// Applies what the editor says; gives the file that is another one now.
    fn notification(&mut self, notification: Notification) -> Option<Changed> {
        let Notification { method, params } = notification;
        match method.as_str() {
            "textDocument/didOpen" => {
                let Ok(opened) =
                    serde_json::from_value::<lsp_types::DidOpenTextDocumentParams>(params)
                else {
                    return None;
                };
                let Some(path) = self.documents.path(&opened.text_document.uri) else {
                    return Some(Changed::Outside(opened.text_document.uri));
                };
                self.documents
                    .open
                    .insert(path.clone(), opened.text_document.text);
                Some(Changed::Text(path))
            }
            "textDocument/didChange" => {
                let Ok(changed) =
                    serde_json::from_value::<lsp_types::DidChangeTextDocumentParams>(params)
                else {
                    return None;
                };
                let path = self.documents.path(&changed.text_document.uri)?;
                let text = self.documents.open.get_mut(&path)?;
                // In order: each counts on the one before.
                for change in changed.content_changes {
                    match change.range {
                        None => *text = change.text,
                        Some(range) => {
                            let start = self.columns.offset(text, range.start);
                            let end = self.columns.offset(text, range.end).max(start);
                            text.replace_range(start..end, &change.text);
                        }
                    }
                }
                Some(Changed::Text(path))
            }
            "textDocument/didClose" => {
                let Ok(closed) =
                    serde_json::from_value::<lsp_types::DidCloseTextDocumentParams>(params)
                else {
                    return None;
                };
                let path = self.documents.path(&closed.text_document.uri);
                if let Some(path) = &path {
                    self.documents.open.remove(path);
                }
                Some(Changed::Closed(closed.text_document.uri, path))
            }
            _ => None,
        }
    }

    /// What is quick to find, and the files that are still to be checked in whole.
    fn quick(
        &mut self,
        changed: Changed,
    ) -> (Vec<PublishDiagnosticsParams>, Vec<(String, Loaded)>) {
        let mut told = Vec::new();
        let path = match changed {
            Changed::Text(path) => path,
            Changed::Closed(uri, path) => {
                told.push(PublishDiagnosticsParams::new(uri, Vec::new(), None));
                let Some(path) = path else {
                    return (told, Vec::new());
                };
                path
            }
            Changed::Outside(uri) => {
                let unchecked = Diagnostic {
                    severity: Some(DiagnosticSeverity::WARNING),
                    source: Some("tempwright".to_owned()),
                    message: format!(
                        "this file is not checked: it does not lie below `{}`, the folder that \
                         is open\nhelp: save it there, or open its own folder",
                        self.shown.root
                    ),
                    ..Diagnostic::default()
                };
                told.push(PublishDiagnosticsParams::new(uri, vec![unchecked], None));
                return (told, Vec::new());
            }
        };
        let mut files = Vec::new();
        let mut family = self.documents.family(&path);
        // What a closed file held counts no more for those that use it.
        family.retain(|path| self.documents.open.contains_key(path));
        for path in family {
            let Some(loaded) = self.documents.load(&path) else {
                continue;
            };
            if !loaded.protocols.is_empty() {
                files.push((path.clone(), loaded.clone()));
            }
            let checked = check_all_to(loaded, self.today, Depth::Quick);
            told.extend(self.shown.published(&path, &checked));
        }
        (told, files)
    }
}

/// What the editor has changed.
enum Changed {
    /// The text of that path.
    Text(String),
    Closed(lsp_types::Uri, Option<String>),
    /// A file that is none of this project's.
    Outside(lsp_types::Uri),
}
