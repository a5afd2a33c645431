//! The language server: findings while typing, meanings under the pointer,
//! going to declarations, renaming, formatting.
//!
//! Synchronous, over standard input and output. Only this module knows the
//! editor's protocol; everything it says comes from the same functions as the
//! command line's reports.

mod answers;
mod complete;
mod documents;
mod position;

use crate::source::Library;
use documents::Documents;
use lsp_server::{Connection, ErrorCode, Message, Notification, Request, Response};
use lsp_types::{
    CodeActionProviderCapability, CompletionOptions, HoverProviderCapability, InitializeParams,
    OneOf, PositionEncodingKind, PublishDiagnosticsParams, RenameOptions, ServerCapabilities,
    TextDocumentSyncCapability, TextDocumentSyncKind, WorkDoneProgressOptions,
};
use position::Columns;
use serde::de::DeserializeOwned;
use serde_json::Value;

/// Why the server ended otherwise than by being told to.
pub type ServerError = Box<dyn std::error::Error + Send + Sync>;

pub struct Server {
    documents: Documents,
    columns: Columns,
    /// The day against which review dates are judged; none, and they are not.
    today: Option<jiff::civil::Date>,
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
    let mut server = Server {
        documents: Documents::new(root.clone(), open(&root)),
        columns,
        today,
    };
    for message in &connection.receiver {
        match message {
            Message::Request(request) => {
                if connection.handle_shutdown(&request)? {
                    return Ok(());
                }
                let response = server.request(request);
                connection.sender.send(Message::Response(response))?;
            }
            Message::Notification(notification) => {
                for published in server.notification(notification) {
                    let params = serde_json::to_value(published)?;
                    connection.sender.send(Message::Notification(Notification {
                        method: "textDocument/publishDiagnostics".to_owned(),
                        params,
                    }))?;
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

    /// Applies what the editor says; gives the findings to show anew.
    fn notification(&mut self, notification: Notification) -> Vec<PublishDiagnosticsParams> {
        let Notification { method, params } = notification;
        match method.as_str() {
            "textDocument/didOpen" => {
                let Ok(opened) =
                    serde_json::from_value::<lsp_types::DidOpenTextDocumentParams>(params)
                else {
                    return Vec::new();
                };
                let Some(path) = self.documents.path(&opened.text_document.uri) else {
                    return Vec::new();
                };
                self.documents
                    .open
                    .insert(path.clone(), opened.text_document.text);
                self.publish(&path)
            }
            "textDocument/didChange" => {
                let Ok(changed) =
                    serde_json::from_value::<lsp_types::DidChangeTextDocumentParams>(params)
                else {
                    return Vec::new();
                };
                let Some(path) = self.documents.path(&changed.text_document.uri) else {
                    return Vec::new();
                };
                let Some(text) = self.documents.open.get_mut(&path) else {
                    return Vec::new();
                };
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
                self.publish(&path)
            }
            "textDocument/didClose" => {
                let Ok(closed) =
                    serde_json::from_value::<lsp_types::DidCloseTextDocumentParams>(params)
                else {
                    return Vec::new();
                };
                if let Some(path) = self.documents.path(&closed.text_document.uri) {
                    self.documents.open.remove(&path);
                }
                vec![PublishDiagnosticsParams::new(
                    closed.text_document.uri,
                    Vec::new(),
                    None,
                )]
            }
            _ => Vec::new(),
        }
    }

    fn publish(&mut self, path: &str) -> Vec<PublishDiagnosticsParams> {
        let family = self.documents.family(path);
        family
            .iter()
            .filter_map(|path| self.diagnostics(path))
            .collect()
    }
}
