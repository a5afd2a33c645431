//! From a keystroke to findings, on the flagship with its libraries: through the
//! language server, as an editor waits for it.

use divan::Bencher;
use lsp_server::{Connection, Message, Notification, Request, RequestId};
use serde_json::{Value, json};
use tempwright::lsp::serve;
use tempwright::source::{Library, MemoryLibrary};

fn main() {
    divan::main();
}

const URI: &str = "file:///w/adult-arrest-33.protocol";

fn flagship() -> (String, MemoryLibrary) {
    let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("protocols");
    let mut library = MemoryLibrary::default();
    let shared = std::fs::read_dir(root.join("shared")).into_iter().flatten();
    for path in shared.flatten().map(|entry| entry.path()) {
        let text = std::fs::read_to_string(&path).unwrap_or_default();
        let name = path.file_name().unwrap_or_default().to_string_lossy();
        library = library.with(&format!("shared/{name}"), &text);
    }
    let text = std::fs::read_to_string(root.join("adult-arrest-33.protocol"));
    (text.unwrap_or_default(), library)
}

fn tell(editor: &Connection, method: &str, params: Value) {
    let method = method.to_owned();
    let _ = editor
        .sender
        .send(Message::Notification(Notification { method, params }));
}

/// Waits for the next findings.
fn findings(editor: &Connection) -> Value {
    loop {
        match editor.receiver.recv() {
            Ok(Message::Notification(told)) if told.method.ends_with("publishDiagnostics") => {
                return told.params;
            }
            Ok(_) => {}
            Err(_) => return Value::Null,
        }
    }
}

#[divan::bench(sample_count = 60, sample_size = 1)]
fn keystroke_to_first_findings(bencher: Bencher) {
    let (text, library) = flagship();
    let (server, editor) = Connection::memory();
    let thread = std::thread::spawn(move || {
        let open = move |_: &str| Box::new(library.clone()) as Box<dyn Library + Send>;
        let _ = serve(&server, None, open);
    });
    let start =
        json!({ "capabilities": {}, "workspaceFolders": [{ "uri": "file:///w", "name": "w" }] });
    let _ = editor.sender.send(Message::Request(Request {
        id: RequestId::from(1),
        method: "initialize".to_owned(),
        params: start,
    }));
    let _ = editor.receiver.recv();
    tell(&editor, "initialized", json!({}));
    tell(
        &editor,
        "textDocument/didOpen",
        json!({ "textDocument": { "uri": URI, "languageId": "protocol", "version": 1, "text": text } }),
    );
    findings(&editor);
    let end = json!({ "line": 0, "character": 0 });
    bencher.bench_local(|| {
        tell(
            &editor,
            "textDocument/didChange",
            json!({
                "textDocument": { "uri": URI, "version": 2 },
                "contentChanges": [{ "range": { "start": end, "end": end }, "text": "#\n" }],
            }),
        );
        findings(&editor)
    });
    let _ = editor.sender.send(Message::Request(Request {
        id: RequestId::from(2),
        method: "shutdown".to_owned(),
        params: Value::Null,
    }));
    tell(&editor, "exit", Value::Null);
    while editor.receiver.recv().is_ok() {}
    let _ = thread.join();
}
