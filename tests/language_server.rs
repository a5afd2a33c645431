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

/// The README's sketch, with a ladder that has a gap and a reading that nobody
/// looks at.
fn sketch() -> String {
    let readme = include_str!("../README.md");
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
    fn actions(&mut self, path: &str, position: &Value) -> Vec<Value> {
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
fn with(text: &str, action: &Value, path: &str) -> String {
    let edit = &action["edit"]["changes"][uri(path)][0];
    assert_eq!(edit["range"]["start"], edit["range"]["end"], "{action}");
    assert_eq!(edit["range"]["start"]["character"], 0, "{action}");
    let line = edit["range"]["start"]["line"].as_u64().expect("a line") as usize;
    let mut lines: Vec<&str> = text.split_inclusive('\n').collect();
    lines.insert(line, edit["newText"].as_str().expect("a text"));
    lines.concat()
}

#[test]
fn what_is_missing_is_offered_and_mends_the_finding() {
    let mut text = sketch();
    let mut editor = Editor::start(MemoryLibrary::default());
    editor.open("a.protocol", &text);
    for (place, name, begins) in [
        (
            "air below",
            "never-looked-at",
            "add `every 1 h record air during hold",
        ),
        (
            "shivering-steps \"Shivering",
            "ladder-gap",
            "add `rung 1 \"To be decided\" { call doctor now }",
        ),
    ] {
        let position = at(&text, place, 1);
        let actions = editor.actions("a.protocol", &position);
        let titles: Vec<&str> = actions
            .iter()
            .filter_map(|action| action["title"].as_str())
            .collect();
        let offered = actions.iter().find(|action| {
            action["title"]
                .as_str()
                .is_some_and(|title| title.starts_with(begins))
        });
        let offered = offered.unwrap_or_else(|| panic!("{name}: {titles:?}"));
        assert_eq!(offered["diagnostics"][0]["code"], name);
        text = with(&text, offered, "a.protocol");
        editor.tell(
            "textDocument/didChange",
            json!({ "textDocument": { "uri": uri("a.protocol"), "version": 2 }, "contentChanges": [{ "text": text }] }),
        );
        let left = editor.actions("a.protocol", &at(&text, place, 1));
        assert!(
            left.iter()
                .all(|action| action["diagnostics"][0]["code"] != name),
            "{name} is mended: {text}"
        );
        assert!(tempwright::format::format(&text).is_ok());
    }
    // What was proposed is not decided, and is told until it is.
    assert_eq!(text.matches("# decide:").count(), 2, "{text}");
    let found = editor.findings("a.protocol");
    let undecided = found.iter().filter(|name| *name == "undecided").count();
    assert_eq!(undecided, 2, "{found:?}");
}

#[test]
fn a_warning_can_be_accepted_with_a_reason_to_fill_in() {
    let text = sketch().replacen(
        "  review   2027-06-30",
        "  review   2027-06-30\n  let spare = 33.0 °C",
        1,
    );
    let mut editor = Editor::start(MemoryLibrary::default());
    editor.open("a.protocol", &text);
    let actions = editor.actions("a.protocol", &at(&text, "spare", 1));
    let accept = actions.iter().find(|action| {
        action["title"]
            .as_str()
            .is_some_and(|title| title.starts_with("accept `"))
    });
    let accept = accept.unwrap_or_else(|| panic!("{actions:?}"));
    let changed = with(&text, accept, "a.protocol");
    assert!(
        changed
            .contains("\n  accept unused-name on spare because \"\" by \"\" until 2000-01-01\n}"),
        "{changed}"
    );
}

#[test]
fn what_takes_a_search_is_told_once_nobody_types() {
    let text = sketch();
    let mut editor = Editor::start(MemoryLibrary::default());
    editor.open("a.protocol", &text);
    let quick = editor.findings("a.protocol");
    assert!(!quick.is_empty());
    let mut found = Vec::new();
    for _ in 0..600 {
        found = editor.findings("a.protocol");
        if found.iter().any(|name| name == "contradiction") {
            break;
        }
        std::thread::sleep(std::time::Duration::from_millis(100));
    }
    assert!(
        found.iter().any(|name| name == "contradiction"),
        "{found:?}"
    );
    assert!(
        quick.iter().all(|name| found.contains(name)),
        "{quick:?} {found:?}"
    );
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
    let text = "protocol p {\n  measure a \"A\" share of time when core above 37.0 °C, goal at least 95 \n}\n";
    editor.open("q.protocol", text);
    let list = editor.ask(
        "textDocument/completion",
        place("q.protocol", at(text, "least 95 ", 9)),
    );
    let units: Vec<&str> = list
        .as_array()
        .expect("a list")
        .iter()
        .filter_map(|item| item["label"].as_str())
        .collect();
    assert_eq!(units, ["%"]);
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
