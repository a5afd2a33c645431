//! An editor that speaks to the server over a connection in memory.

use lsp_server::{Connection, Message, Notification, Request, RequestId};
use serde_json::{Value, json};
use std::thread::JoinHandle;
use tempwright::lsp::serve;
use tempwright::source::{Library, MemoryLibrary};

pub struct Editor {
    connection: Connection,
    server: Option<JoinHandle<()>>,
    next: i32,
    /// The last findings of each file.
    pub published: std::collections::BTreeMap<String, Value>,
}

pub fn flagship() -> (String, MemoryLibrary) {
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
    pub fn start(library: MemoryLibrary) -> Editor {
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

    pub fn tell(&self, method: &str, params: Value) {
        let message = Notification {
            method: method.to_owned(),
            params,
        };
        self.connection
            .sender
            .send(Message::Notification(message))
            .expect("sent");
    }

    pub fn ask(&mut self, method: &str, params: Value) -> Value {
        self.ask_raw(method, params).expect("an answer")
    }

    pub fn ask_raw(&mut self, method: &str, params: Value) -> Result<Value, String> {
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

    pub fn open(&mut self, path: &str, text: &str) {
        self.tell(
            "textDocument/didOpen",
            json!({ "textDocument": { "uri": uri(path), "languageId": "protocol", "version": 1, "text": text } }),
        );
    }

    /// Names of the findings of a file, once everything before has been answered.
    pub fn findings(&mut self, path: &str) -> Vec<String> {
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

pub fn uri(path: &str) -> String {
    format!("file:///work%20place/{path}")
}

/// The position of the first place of `needle`, `ahead` characters in; all test
/// lines before it are plain but for `°`, which is one unit of UTF-16.
pub fn at(text: &str, needle: &str, ahead: usize) -> Value {
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

pub fn place(path: &str, position: Value) -> Value {
    json!({ "textDocument": { "uri": uri(path) }, "position": position })
}

/// The README's sketch, with a ladder that has a gap and a reading that nobody
/// looks at.
pub fn sketch() -> String {
    let readme = include_str!("../../README.md");
    let (_, sketch) = readme.split_once("```protocol\n").expect("the example");
    let sketch = sketch.split_once("```").expect("its end").0;
    let more = "  people {\n    nurse \"Nurse\"\n    doctor \"Doctor\"\n  }\n  \
        reading air \"Air\" temperature of air, shown to 0.1 °C, accurate to 0.3 °C\n  \
        reading shiver \"Shivering\" score of shivering 0 to 3\n  \
        every 2 h score shiver then follow shivering-steps\n  \
        ladder shivering-steps \"Shivering\" on shiver {\n    \
        rung 0 \"None\" { continue }\n    rung 2 to 3 \"Much\" { call doctor now }\n  }\n  \
        rule cold-air {\n    when air below 10.0 °C\n    then call doctor now\n  }\n}\n";
    let end = sketch.trim_end().rfind('}').expect("a brace");
    format!("{}{more}", &sketch[..end])
}

impl Editor {
    pub fn actions(&mut self, path: &str, position: &Value) -> Vec<Value> {
        let asked = json!({
            "textDocument": { "uri": uri(path) },
            "range": { "start": position, "end": position },
            "context": { "diagnostics": [] },
        });
        let answer = self.ask("textDocument/codeAction", asked);
        answer.as_array().cloned().unwrap_or_default()
    }
}

/// The text with an action's one edit carried out; it inserts at a line's beginning.
pub fn with(text: &str, action: &Value, path: &str) -> String {
    let edit = &action["edit"]["changes"][uri(path)][0];
    assert_eq!(edit["range"]["start"], edit["range"]["end"], "{action}");
    assert_eq!(edit["range"]["start"]["character"], 0, "{action}");
    let line = edit["range"]["start"]["line"].as_u64().expect("a line") as usize;
    let mut lines: Vec<&str> = text.split_inclusive('\n').collect();
    lines.insert(line, edit["newText"].as_str().expect("a text"));
    lines.concat()
}

impl Editor {
    pub fn hover(&mut self, path: &str, position: Value) -> String {
        let answer = self.ask("textDocument/hover", place(path, position));
        answer["contents"]["value"]
            .as_str()
            .unwrap_or("")
            .to_owned()
    }

    pub fn labels(&mut self, path: &str, position: Value) -> Vec<String> {
        let list = self.ask("textDocument/completion", place(path, position));
        list.as_array()
            .expect("a list")
            .iter()
            .map(|item| item["label"].as_str().unwrap_or("").to_owned())
            .collect()
    }

    /// Label of each hint, by the text of its line up to where it stands.
    pub fn hints(&mut self, path: &str, text: &str) -> Vec<(String, String)> {
        let lines: Vec<&str> = text.lines().collect();
        let asked = json!({
            "textDocument": { "uri": uri(path) },
            "range": { "start": { "line": 0, "character": 0 }, "end": { "line": 100_000, "character": 0 } },
        });
        let answer = self.ask("textDocument/inlayHint", asked);
        let hints = answer.as_array().expect("hints").iter();
        hints
            .map(|hint| {
                let at =
                    |member: &str| hint["position"][member].as_u64().expect("a number") as usize;
                let units: Vec<u16> = lines[at("line")]
                    .encode_utf16()
                    .take(at("character"))
                    .collect();
                let before = String::from_utf16(&units).expect("whole characters");
                (
                    before.trim().to_owned(),
                    hint["label"].as_str().expect("a label").to_owned(),
                )
            })
            .collect()
    }

    pub fn change(&mut self, path: &str, text: &str) {
        self.tell(
            "textDocument/didChange",
            json!({ "textDocument": { "uri": uri(path), "version": 9 }, "contentChanges": [{ "text": text }] }),
        );
    }

    /// Sees the findings until one has this name.
    pub fn found(&mut self, path: &str, name: &str) -> Value {
        for _ in 0..600 {
            self.findings(path);
            let published = self.published.get(&uri(path)).and_then(Value::as_array);
            if let Some(found) =
                published.and_then(|list| list.iter().find(|found| found["code"] == name))
            {
                return found.clone();
            }
            std::thread::sleep(std::time::Duration::from_millis(100));
        }
        panic!("{name} is not told: {:?}", self.published);
    }
}
