//! The language server, driven by its own messages over an in-memory connection.

#![allow(clippy::expect_used, clippy::panic)]

use lsp_server::{Connection, Message, Notification, Request, RequestId};
use serde_json::{Value, json};
use std::thread::JoinHandle;
use tempwright::lsp::serve;
use tempwright::source::{Library, MemoryLibrary};

struct Editor {
    connection: Connection,
    server: Option<JoinHandle<()>>,
    next: i32,
    /// The last findings of each file.
    published: std::collections::BTreeMap<String, Value>,
}

fn flagship() -> (String, MemoryLibrary) {
    let root = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("protocols");
    let mut library = MemoryLibrary::default();
    for entry in std::fs::read_dir(root.join("shared")).expect("shared libraries") {
        let path = entry.expect("an entry").path();
        let name = path
            .file_name()
            .expect("a name")
            .to_string_lossy()
            .into_owned();
        let text = std::fs::read_to_string(&path).expect("text");
        library = library.with(&format!("shared/{name}"), &text);
    }
    let text = std::fs::read_to_string(root.join("adult-arrest-33.protocol")).expect("text");
    (text, library)
}

impl Editor {
    fn start(library: MemoryLibrary) -> Editor {
        let (server, client) = Connection::memory();
        let thread = std::thread::spawn(move || {
            let open = move |_: &str| Box::new(library.clone()) as Box<dyn Library + Send>;
            serve(&server, None, open).expect("served");
        });
        let mut editor = Editor {
            connection: client,
            server: Some(thread),
            next: 0,
            published: std::collections::BTreeMap::new(),
        };
        let answer = editor.ask(
            "initialize",
            json!({ "capabilities": {}, "workspaceFolders": [{ "uri": "file:///work%20place", "name": "w" }] }),
        );
        assert_eq!(answer["capabilities"]["positionEncoding"], "utf-16");
        editor.tell("initialized", json!({}));
        editor
    }

    fn tell(&self, method: &str, params: Value) {
        let message = Notification {
            method: method.to_owned(),
            params,
        };
        self.connection
            .sender
            .send(Message::Notification(message))
            .expect("sent");
    }

    fn ask(&mut self, method: &str, params: Value) -> Value {
        self.ask_raw(method, params).expect("an answer")
    }

    fn ask_raw(&mut self, method: &str, params: Value) -> Result<Value, String> {
        self.next += 1;
        let id = RequestId::from(self.next);
        let request = Request {
            id: id.clone(),
            method: method.to_owned(),
            params,
        };
        self.connection
            .sender
            .send(Message::Request(request))
            .expect("sent");
        loop {
            match self.connection.receiver.recv().expect("a message") {
                Message::Response(response) if response.id == id => {
                    return response.response_result.map_err(|error| error.message);
                }
                Message::Notification(told) => {
                    let uri = told.params["uri"].as_str().expect("a file").to_owned();
                    self.published
                        .insert(uri, told.params["diagnostics"].clone());
                }
                other => panic!("unexpected {other:?}"),
            }
        }
    }

    fn open(&mut self, path: &str, text: &str) {
        self.tell(
            "textDocument/didOpen",
            json!({ "textDocument": { "uri": uri(path), "languageId": "protocol", "version": 1, "text": text } }),
        );
    }

    /// Names of the findings of a file, once everything before has been answered.
    fn findings(&mut self, path: &str) -> Vec<String> {
        self.ask(
            "textDocument/documentSymbol",
            json!({ "textDocument": { "uri": uri(path) } }),
        );
        self.published
            .get(&uri(path))
            .and_then(Value::as_array)
            .map(|list| {
                list.iter()
                    .map(|found| found["code"].as_str().unwrap_or("").to_owned())
                    .collect()
            })
            .unwrap_or_default()
    }
}

impl Drop for Editor {
    fn drop(&mut self) {
        if std::thread::panicking() {
            return;
        }
        self.ask("shutdown", Value::Null);
        self.tell("exit", Value::Null);
        if let Some(server) = self.server.take() {
            server.join().expect("the server ends well");
        }
    }
}

fn uri(path: &str) -> String {
    format!("file:///work%20place/{path}")
}

/// The position of the first place of `needle`, `ahead` characters in; all test
/// lines before it are plain but for `°`, which is one unit of UTF-16.
fn at(text: &str, needle: &str, ahead: usize) -> Value {
    let offset = text.find(needle).expect("there") + ahead;
    let before = &text[..offset];
    let line = before.matches('\n').count();
    let column: usize = before
        .rsplit('\n')
        .next()
        .unwrap_or("")
        .encode_utf16()
        .count();
    json!({ "line": line, "character": column })
}

fn place(path: &str, position: Value) -> Value {
    json!({ "textDocument": { "uri": uri(path) }, "position": position })
}

#[test]
fn findings_follow_the_typing() {
    let (text, library) = flagship();
    let mut editor = Editor::start(library);
    editor.open("a.protocol", &text);
    assert_eq!(editor.findings("a.protocol"), Vec::<String>::new());

    // `33.0 °C` becomes `33.0 °C/h`: the columns behind ° must be right.
    let start = at(&text, "let goal = 33.0 °C", "let goal = 33.0 °C".len());
    editor.tell(
        "textDocument/didChange",
        json!({
            "textDocument": { "uri": uri("a.protocol"), "version": 2 },
            "contentChanges": [{ "range": { "start": start, "end": start }, "text": "/h" }],
        }),
    );
    let found = editor.findings("a.protocol");
    assert!(found.contains(&"unit-mismatch".to_owned()), "{found:?}");

    // The broken file still knows the plan of the last good one.
    let hover = editor.ask(
        "textDocument/hover",
        place("a.protocol", at(&text, "phase hold", 8)),
    );
    let said = hover["contents"]["value"].as_str().expect("text");
    assert!(said.contains("starts") && said.contains("28:00"), "{said}");

    let end = json!({ "line": start["line"], "character": start["character"].as_u64().expect("a column") + 2 });
    editor.tell(
        "textDocument/didChange",
        json!({
            "textDocument": { "uri": uri("a.protocol"), "version": 3 },
            "contentChanges": [{ "range": { "start": start, "end": end }, "text": "" }],
        }),
    );
    assert_eq!(editor.findings("a.protocol"), Vec::<String>::new());
}

#[test]
fn a_name_is_found_and_renamed_across_its_files() {
    let (text, library) = flagship();
    let mut editor = Editor::start(library);
    editor.open("a.protocol", &text);

    let definition = editor.ask(
        "textDocument/definition",
        place("a.protocol", at(&text, "follow shivering-steps", 9)),
    );
    assert_eq!(definition["uri"], uri("shared/shivering.protocol"));

    let edit = editor.ask(
        "textDocument/rename",
        json!({ "textDocument": { "uri": uri("a.protocol") }, "position": at(&text, "score shiver ", 7), "newName": "shivers" }),
    );
    let changes = edit["changes"].as_object().expect("changes");
    assert_eq!(
        changes.len(),
        2,
        "the protocol and the library: {changes:?}"
    );
    let here = changes[&uri("a.protocol")].as_array().expect("edits").len();
    // The reading itself, its looks, rules, measures and scenarios; not the
    // fixed word in `score of shivering` nor the ladder `shivering-steps`.
    let expected = text
        .split(|character: char| !(character.is_ascii_alphanumeric() || character == '-'))
        .filter(|word| *word == "shiver")
        .count();
    assert_eq!(here, expected);

    for (new, why) in [
        ("core", "taken"),
        ("Core", "lower-case"),
        ("during", "joins"),
    ] {
        let refused = editor.ask_raw(
            "textDocument/rename",
            json!({ "textDocument": { "uri": uri("a.protocol") }, "position": at(&text, "score shiver ", 7), "newName": new }),
        );
        assert!(refused.expect_err("refused").contains(why));
    }
}

#[test]
fn slips_are_offered_their_mend_and_words_their_meaning() {
    let (text, library) = flagship();
    let text = text.replacen("call doctor within", "call docter within", 1);
    let mut editor = Editor::start(library);
    editor.open("a.protocol", &text);
    let position = at(&text, "docter", 2);
    let actions = editor.ask(
        "textDocument/codeAction",
        json!({
            "textDocument": { "uri": uri("a.protocol") },
            "range": { "start": position, "end": position },
            "context": { "diagnostics": [] },
        }),
    );
    assert_eq!(actions[0]["title"], "write `doctor`");
    assert_eq!(
        actions[0]["edit"]["changes"][uri("a.protocol")][0]["newText"],
        "doctor"
    );
    let hover = editor.ask(
        "textDocument/hover",
        place("a.protocol", at(&text, "for 1 h", 1)),
    );
    let said = hover["contents"]["value"].as_str().expect("text");
    assert!(said.contains("two hourly boxes in a row"), "{said}");
}

#[test]
fn completion_knows_the_place() {
    let text = "protocol p {\n  purpose \n  phase a \"A\" {\n    \n  }\n  rule b {\n    then call \n  }\n  people {\n    doctor \"D\"\n  }\n}\n";
    let mut editor = Editor::start(MemoryLibrary::default());
    editor.open("p.protocol", text);
    let mut labels = |needle: &str, ahead: usize| -> Vec<String> {
        let list = editor.ask(
            "textDocument/completion",
            place("p.protocol", at(text, needle, ahead)),
        );
        list.as_array()
            .expect("a list")
            .iter()
            .map(|item| item["label"].as_str().unwrap_or("").to_owned())
            .collect()
    };
    assert!(labels("purpose ", 8).contains(&"fever-control".to_owned()));
    let in_phase = labels("\"A\" {\n    ", 10);
    assert!(in_phase.contains(&"lasts".to_owned()), "{in_phase:?}");
    assert!(!in_phase.contains(&"then".to_owned()), "{in_phase:?}");
    assert_eq!(labels("then call ", 10), ["doctor"]);
}

#[test]
fn formatting_is_the_command_lines_own() {
    let text = "protocol   p {\n}\n";
    let mut editor = Editor::start(MemoryLibrary::default());
    editor.open("p.protocol", text);
    let edits = editor.ask(
        "textDocument/formatting",
        json!({ "textDocument": { "uri": uri("p.protocol") }, "options": { "tabSize": 2, "insertSpaces": true } }),
    );
    assert_eq!(
        edits[0]["newText"].as_str(),
        tempwright::format::format(text).ok().as_deref()
    );
    // A broken file is left alone, and an unknown request is refused, not fatal.
    assert!(editor.ask_raw("textDocument/unknown", json!({})).is_err());
    assert!(
        editor
            .ask_raw("textDocument/hover", json!({ "no": 1 }))
            .is_err()
    );
}
