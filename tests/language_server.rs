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
        .filter(|item| item["kind"] == 11)
        .filter_map(|item| item["label"].as_str())
        .collect();
    assert_eq!(units, ["%"]);
}

impl Editor {
    fn hover(&mut self, path: &str, position: Value) -> String {
        let answer = self.ask("textDocument/hover", place(path, position));
        answer["contents"]["value"]
            .as_str()
            .unwrap_or("")
            .to_owned()
    }

    fn labels(&mut self, path: &str, position: Value) -> Vec<String> {
        let list = self.ask("textDocument/completion", place(path, position));
        list.as_array()
            .expect("a list")
            .iter()
            .map(|item| item["label"].as_str().unwrap_or("").to_owned())
            .collect()
    }

    /// Label of each hint, by the text of its line up to where it stands.
    fn hints(&mut self, path: &str, text: &str) -> Vec<(String, String)> {
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

    fn change(&mut self, path: &str, text: &str) {
        self.tell(
            "textDocument/didChange",
            json!({ "textDocument": { "uri": uri(path), "version": 9 }, "contentChanges": [{ "text": text }] }),
        );
    }

    /// Sees the findings until one has this name.
    fn found(&mut self, path: &str, name: &str) -> Value {
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

#[test]
fn a_finding_comes_with_its_case_and_the_other_place() {
    let text = sketch();
    let mut editor = Editor::start(MemoryLibrary::default());
    editor.open("a.protocol", &text);
    let found = editor.found("a.protocol", "contradiction");
    let message = found["message"].as_str().expect("a message");
    for part in ["why: ", "help: ", "0:00", "°C"] {
        assert!(message.contains(part), "{part}: {message}");
    }
    let related = found["relatedInformation"]
        .as_array()
        .expect("other places");
    assert!(!related.is_empty(), "{found}");
    for other in related {
        assert_eq!(other["location"]["uri"], uri("a.protocol"));
        assert_ne!(other["location"]["range"], found["range"]);
    }
}

#[test]
fn a_fault_in_a_library_is_told_where_it_is_used() {
    let (text, library) = flagship();
    let shivering = library.files["shared/shivering.protocol"].clone();
    let broken = shivering.replacen("\n  ladder ", "\n  laddre ", 1);
    assert_ne!(broken, shivering);
    let library = library.with("shared/shivering.protocol", &broken);
    let mut editor = Editor::start(library);
    editor.open("a.protocol", &text);
    let found = editor.found("a.protocol", "unknown-word");
    assert_eq!(
        found["range"]["start"],
        at(&text, "use \"shared/shivering", 0)
    );
    let message = found["message"].as_str().expect("a message");
    assert!(
        message.starts_with("in shared/shivering.protocol"),
        "{message}"
    );
    let place = &found["relatedInformation"][0]["location"];
    assert_eq!(place["uri"], uri("shared/shivering.protocol"));
    assert_eq!(place["range"]["start"], at(&broken, "laddre", 0));

    // Mended in the editor, it is gone; closed unsaved, it is there again.
    editor.open("shared/shivering.protocol", &shivering);
    assert_eq!(editor.findings("a.protocol"), Vec::<String>::new());
    editor.tell(
        "textDocument/didClose",
        json!({ "textDocument": { "uri": uri("shared/shivering.protocol") } }),
    );
    editor.found("a.protocol", "unknown-word");
}

#[test]
fn words_and_names_are_explained() {
    let (text, library) = flagship();
    let text = text
        .replacen("  shifts 07:30, 19:30\n", "  shifts 07:30, 19:30\n  show °C and °F\n", 1)
        .replacen(
            "  # ---- phases ----\n",
            "  accept ladder-gap on core because \"show\" by \"A\" until 2027-01-01\n  # show measure\n",
            1,
        );
    let mut editor = Editor::start(library);
    editor.open("a.protocol", &text);
    for (needle, ahead, wanted) in [
        ("show °C", 1, "exactly on the other scale"),
        ("show °C", 1, "`show °C and °F`"),
        ("measure near-target", 2, "it orders nothing"),
        (
            ", goal at least 90",
            3,
            "What a measure is meant to come to",
        ),
        ("share of time", 1, "in which it holds"),
        ("at least 90", 4, "The value itself meets it"),
        ("due within", 1, "A latest time"),
        ("esophageal feedback", 2, "method"),
        ("workload", 0, ""),
        // A limit and the words of its source, from its line and from its reading.
        (
            "limit potassium never below 3.0",
            1,
            "Mirzoyev et al. Resuscitation 2010",
        ),
        (
            "never below 3.0 mmol/L",
            13,
            "potassium never below 3.0 mmol/L",
        ),
        ("reading potassium", 10, "Soeholm and Kirkegaard"),
        ("test potassium, glucose", 6, "never above 5.5 mmol/L"),
        // A finding that is accepted.
        ("accept ladder-gap", 10, "What it finds"),
        // The computed end of a phase.
        ("phase rewarm", 8, "starts 24:00 to 28:00, ends"),
        ("cite hyperion-2019", 6, "N Engl J Med 2019"),
    ] {
        if !text.contains(needle) {
            assert_eq!(needle, "workload");
            continue;
        }
        let said = editor.hover("a.protocol", at(&text, needle, ahead));
        assert!(said.contains(wanted), "{needle} {ahead}: {said}");
    }
    // In a text or a comment the same words are nobody's.
    for needle in ["show\" by", "show measure", "measure\n"] {
        let said = editor.hover("a.protocol", at(&text, needle, 1));
        assert_eq!(said, "", "{needle}");
    }
}

/// Every word that can begin a statement says something.
#[test]
fn every_beginning_of_a_statement_is_explained() {
    let mut editor = Editor::start(MemoryLibrary::default());
    for block in [
        "",
        "protocol p",
        "library l",
        "phase p \"P\"",
        "rule r",
        "ladder l \"L\" on r",
        "rung 1 \"R\"",
        "checklist c \"C\" at start",
        "medication m \"M\"",
        "scenario \"S\" for p",
    ] {
        let open = if block.is_empty() {
            String::new()
        } else {
            format!("{block} {{\n")
        };
        let text = format!("{open}\n");
        editor.open("p.protocol", &text);
        let line = open.matches('\n').count();
        let words = editor.labels("p.protocol", json!({ "line": line, "character": 0 }));
        assert!(!words.is_empty(), "{block}");
        for word in words {
            editor.change("p.protocol", &format!("{open}{word}\n"));
            let said = editor.hover("p.protocol", json!({ "line": line, "character": 1 }));
            assert!(said.len() > 10, "{block}: {word}: {said}");
        }
    }
}

#[test]
fn what_is_computed_stands_behind_what_was_written() {
    let (text, library) = flagship();
    let mut editor = Editor::start(library);
    editor.open("a.protocol", &text);
    let hints = editor.hints("a.protocol", &text);
    let has = |before: &str, label: &str| {
        hints
            .iter()
            .any(|(at, said)| at.ends_with(before) && said.starts_with(label))
    };
    for (before, label) in [
        (
            "phase hold \"Hold at target\" {",
            "starts 0:00 to 4:00, ends 24:00 to 28:00",
        ),
        (
            "to 36.5 °C within 0.3 °C at 0.25 °C/h",
            "arrives after 14:00 h",
        ),
        (
            "when water below 10.0 °C for 1 h",
            "= two hourly boxes in a row",
        ),
        (
            "when core above 37.7 °C for 4 h",
            "= five hourly boxes in a row",
        ),
        (
            "by more than 0.3 °C for 30 min",
            "= three 15-min boxes in a row",
        ),
    ] {
        assert!(has(before, label), "{before} {label}: {hints:#?}");
    }
    // While a line cannot be read the phases keep their hints, and no other stands at
    // a place of the older text.
    let broken = text.replacen("    lasts 24 h source", "    lasts 24 h h source", 1);
    assert_ne!(broken, text);
    editor.change("a.protocol", &broken);
    let hints = editor.hints("a.protocol", &broken);
    assert!(
        hints.iter().any(|(at, _)| at.starts_with("phase hold")),
        "{hints:?}"
    );
    assert!(
        hints.iter().all(|(at, _)| at.starts_with("phase ")),
        "{hints:?}"
    );
}

#[test]
fn completion_goes_on_as_the_grammar_does() {
    let (text, library) = flagship();
    let line = "  measure near-target ";
    let mut editor = Editor::start(library);
    let start = text.find(line).expect("there");
    let end = start + text[start..].find('\n').expect("an end");
    editor.open("a.protocol", &text);
    let mut labels = |written: &str| -> Vec<String> {
        let with = format!("{}{written}{}", &text[..start], &text[end..]);
        editor.change("a.protocol", &with);
        let shown = at(&with, written, written.len());
        editor.labels("a.protocol", shown)
    };
    let phases = ["cool", "hold", "rewarm", "guard", "watch"];
    for (written, wanted) in [
        ("  show ", &["°C and °F"][..]),
        ("  measure m \"M\" ", &["area", "length", "share"]),
        (
            "  measure m \"M\" share of time when core above 33.0 °C, ",
            &["goal"],
        ),
        (
            "  measure m \"M\" share of time when core above 33.0 °C, goal at ",
            &["least", "most"],
        ),
        (
            "  measure m \"M\" share of time when core above 33.0 °C, goal at least ",
            &["goal"],
        ),
        (
            "  measure m \"M\" share of time when core above 33.0 °C, goal at least 90 ",
            &["%", "because", "source"],
        ),
        (
            "  measure m \"M\" share of time when core above 33.0 °C during ",
            &phases,
        ),
        (
            "  measure m \"M\" share of time when core above 33.0 °C during cool, ",
            &phases,
        ),
        (
            "  limit potassium never below 3.0 ",
            &["mmol/L", "because", "source"],
        ),
        (
            "  limit core never below 32.0 ",
            &["°C", "°F", "because", "source"],
        ),
        (
            "  limit pressure never below 65 ",
            &["mmHg", "because", "source"],
        ),
        (
            "  start within 6 ",
            &[
                "s", "min", "h", "day", "days", "week", "weeks", "month", "months", "year",
                "years", "of",
            ],
        ),
        ("  title \"", &[]),
        ("  title \"A core ", &[]),
        ("  # every 1 h record ", &[]),
    ] {
        let found = labels(written);
        for word in wanted {
            assert!(
                found.iter().any(|label| label == word),
                "{written}{word}: {found:?}"
            );
        }
        assert!(found.len() <= wanted.len() + 3, "{written}: {found:?}");
        assert_eq!(found.is_empty(), wanted.is_empty(), "{written}: {found:?}");
    }
    for (written, wanted, never) in [
        ("  rule r {\n    when core above 37.7 °C for 1 ", "h", "°C"),
        ("  rule r {\n    when core above 37.7 ", "°C", "h"),
        (
            "  rule r {\n    when core above 37.7 °C\n      and water below 10.0 ",
            "°C",
            "mmHg",
        ),
        ("  rule r {\n    when potassium below 3.0 ", "mmol/L", "°C"),
        ("  rule r {\n    then call doctor within 15 ", "min", "°C"),
        ("  rule r {\n    when core ", "rises", "hold"),
        (
            "  phase p \"P\" {\n    warm core from 33.0 °C to 36.5 °C at 0.25 ",
            "°C/h",
            "°C",
        ),
        (
            "  phase p \"P\" {\n    hold core at 33.0 °C within 0.5 ",
            "°C",
            "h",
        ),
        ("  every 1 h record ", "core", "hold"),
        ("  accept ", "ladder-gap", "core"),
        ("  accept ladder-gap on ", "core", "ladder-gap"),
        ("  method ", "surface", "core"),
        ("  method surface ", "feedback", "esophageal"),
        ("  purpose fever-control ", "after", "heat-stroke"),
        ("  reading x \"X\" temperature at ", "bladder", "water"),
        ("  medication m \"M\" {\n    dose 2 ", "g", "iv"),
        ("  medication m \"M\" {\n    dose 2 g ", "iv", "core"),
        (
            "  medication m \"M\" {\n    dose 2 g iv over 30 ",
            "min",
            "mg",
        ),
        ("  medication m \"M\" {\n    infuse 0.2 ", "mcg/kg/h", "h"),
        ("  every 1 h record core, ", "water", "hold"),
    ] {
        let found = labels(written);
        assert!(
            found.iter().any(|label| label == wanted),
            "{written}: {found:?}"
        );
        assert!(
            found.iter().all(|label| label != never),
            "{written}: {found:?}"
        );
    }
}

#[test]
fn a_name_in_a_text_stays_and_one_in_every_statement_is_renamed() {
    let library = "library steps {\n  title \"Steps\"\n  version 1.0.0\n  review 2030-01-01\n  \
        let high = 2\n  cite high-cite \"C\"\n  reading shiver \"shiver\" score of shivering 0 to 3\n  \
        ladder shiver-steps \"high shiver\" on shiver {\n    rung below high \"No shiver\" { continue }\n    \
        rung at or above high \"High\" source high-cite { continue }\n  }\n}\n";
    let text = "protocol p {\n  use \"steps.protocol\"\n  # shiver: µ °C\n  \
        phase high-phase \"°C µ 🥶 shiver\" {\n    keep shiver at or below high\n    lasts 1 h\n  }\n  \
        accept ladder-gap on shiver because \"shiver\" by \"shiver\" until 2030-01-01\n}\n\
        scenario \"shiver\" for p {\n  at 0:00 shiver high\n  expect no give shiver\n}\n";
    let mut editor = Editor::start(MemoryLibrary::default());
    editor.open("steps.protocol", library);
    editor.open("p.protocol", text);
    let mut rename = |path: &str, shown: &str, needle: &str, new: &str| {
        let asked = json!({ "textDocument": { "uri": uri(path) }, "position": at(shown, needle, 1), "newName": new });
        editor.ask_raw("textDocument/rename", asked)
    };
    // From the library, where the name is declared, into the protocol that uses it.
    let edit = rename("steps.protocol", library, "shiver \"shiver", "tremor").expect("renamed");
    let renamed = |path: &str, text: &str, edit: &Value| -> String {
        let mut edits: Vec<(u64, u64, u64)> = edit["changes"][uri(path)]
            .as_array()
            .expect("edits")
            .iter()
            .map(|edit| {
                let number =
                    |end: &str, part: &str| edit["range"][end][part].as_u64().expect("a number");
                (
                    number("start", "line"),
                    number("start", "character"),
                    number("end", "character"),
                )
            })
            .collect();
        edits.sort();
        edits.dedup();
        let mut lines: Vec<Vec<u16>> = text
            .lines()
            .map(|line| line.encode_utf16().collect())
            .collect();
        for (line, start, end) in edits.into_iter().rev() {
            lines[line as usize].splice(start as usize..end as usize, "tremor".encode_utf16());
        }
        let lines: Vec<String> = lines
            .iter()
            .map(|line| String::from_utf16(line).expect("whole"))
            .collect();
        lines.join("\n") + "\n"
    };
    let after = renamed("steps.protocol", library, &edit);
    assert_eq!(
        after,
        library
            .replace("reading shiver", "reading tremor")
            .replace("on shiver {", "on tremor {")
    );
    let after = renamed("p.protocol", text, &edit);
    assert_eq!(
        after,
        text.replace("keep shiver", "keep tremor")
            .replace("on shiver because", "on tremor because")
            .replace("at 0:00 shiver", "at 0:00 tremor")
            .replace("give shiver", "give tremor")
    );
    // A value in the heads of rungs and in a phase.
    let edit = rename("p.protocol", text, "high\n    lasts", "tremor").expect("renamed");
    let after = renamed("steps.protocol", library, &edit);
    assert_eq!(
        after,
        library
            .replace("let high ", "let tremor ")
            .replace("below high ", "below tremor ")
            .replace("above high ", "above tremor ")
    );

    // A name of the protocol is taken for the library too.
    for (path, shown, needle, new, why) in [
        (
            "steps.protocol",
            library,
            "shiver \"shiver",
            "high-phase",
            "taken",
        ),
        (
            "steps.protocol",
            library,
            "shiver \"shiver",
            "start",
            "built in",
        ),
        ("p.protocol", text, "high-phase", "high_phase", "lower-case"),
        ("p.protocol", text, "high-phase", "", "lower-case"),
    ] {
        let refused = rename(path, shown, needle, new).expect_err("refused");
        assert!(refused.contains(why), "{new}: {refused}");
    }
}

#[test]
fn no_name_is_renamed_while_a_line_that_has_it_cannot_be_read() {
    let text = "protocol p {\n  reading core \"Core\" temperature at bladder, shown to 0.1 °C\n  \
        limit core never blow 32.0 °C\n  let water = \"core\" 5\n}\n";
    let mut editor = Editor::start(MemoryLibrary::default());
    editor.open("p.protocol", text);
    let asked = json!({ "textDocument": { "uri": uri("p.protocol") }, "position": at(text, "core", 1), "newName": "heat" });
    let refused = editor
        .ask_raw("textDocument/rename", asked.clone())
        .expect_err("refused");
    assert!(refused.contains("p.protocol:3 cannot be read"), "{refused}");
    // In the other broken line the word stands in a text only.
    editor.change("p.protocol", &text.replacen("blow", "below", 1));
    assert!(editor.ask_raw("textDocument/rename", asked).is_ok());
}

#[test]
fn a_use_line_leads_to_its_file() {
    let (text, library) = flagship();
    let mut editor = Editor::start(library);
    editor.open("a.protocol", &text);
    let asked = place("a.protocol", at(&text, "use \"shared/shivering", 8));
    let found = editor.ask("textDocument/definition", asked);
    assert_eq!(found["uri"], uri("shared/shivering.protocol"));
    assert_eq!(
        found["range"]["start"],
        json!({ "line": 0, "character": 0 })
    );
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
