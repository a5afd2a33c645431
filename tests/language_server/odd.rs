//! Odd texts and odd requests: the server answers them all and goes on.

use crate::editor::{Editor, at, flagship, uri};
use serde_json::{Value, json};
use tempwright::source::MemoryLibrary;

const REQUESTS: [&str; 9] = [
    "textDocument/hover",
    "textDocument/definition",
    "textDocument/references",
    "textDocument/completion",
    "textDocument/prepareRename",
    "textDocument/documentSymbol",
    "textDocument/formatting",
    "textDocument/inlayHint",
    "textDocument/codeAction",
];

impl Editor {
    /// Every request at a place; a refusal is an answer too.
    fn ask_all(&mut self, path: &str, line: u64, character: u64) {
        let here = json!({ "line": line, "character": character });
        for method in REQUESTS {
            let asked = json!({
                "textDocument": { "uri": uri(path) },
                "position": here,
                "range": { "start": here, "end": here },
                "context": { "diagnostics": [], "includeDeclaration": true },
                "options": { "tabSize": 2, "insertSpaces": true },
            });
            let _ = self.ask_raw(method, asked);
        }
        let asked =
            json!({ "textDocument": { "uri": uri(path) }, "position": here, "newName": "other" });
        let _ = self.ask_raw("textDocument/rename", asked);
    }
}

#[test]
fn odd_texts_are_answered() {
    let mut editor = Editor::start(MemoryLibrary::default());
    let long = format!("protocol p {{\n  title \"{}\"\n}}\n", "µ°🥶".repeat(20_000));
    let deep = "{".repeat(500);
    for (number, text) in [
        "",
        "\u{feff}",
        "\r\n\r\n",
        "protocol p {\r\n  title \"A µ °C 🥶\"\r\n  show °C and °F\r\n}\r\n",
        "protocol p {\n  use \"odd.protocol\"\n  use \"../../../etc/passwd\"\n  use \"\"\n}\n",
        "protocol p {\n  title \"never closed\n  caution \"\"\"\n never",
        "protocol p {\0}\u{1}\u{202e}",
        "}}}} )))) \"\" \"\"\" #",
        "protocol 🥶 {\n  🥶 🥶\n  measure 🥶 \"🥶\", goal at least 90 🥶\n  accept\n}",
        "protocol p { phase p \"P\" { hold p at p within p } rule p { when p is p } }",
        "\u{feff}protocol p {\n  let a = 1/0 °C\n  let b = 99999999999999999999 °C/h\n}\n",
        &long,
        &deep,
    ]
    .into_iter()
    .enumerate()
    {
        if number == 0 {
            editor.open("odd.protocol", text);
        } else {
            editor.change("odd.protocol", text);
        }
        for line in 0..4 {
            for character in [0, 1, 2, 3, 9, 17, 18, 19, u64::from(u32::MAX)] {
                editor.ask_all("odd.protocol", line, character);
            }
        }
        editor.ask_all("odd.protocol", u64::from(u32::MAX), u64::from(u32::MAX));
        // It is still there.
        editor.findings("odd.protocol");
    }
}

#[test]
fn odd_messages_are_answered() {
    let (text, library) = flagship();
    let mut editor = Editor::start(library);
    let change = |range: Value, new: &str| {
        json!({
            "textDocument": { "uri": uri("a.protocol"), "version": 2 },
            "contentChanges": [{ "range": range, "text": new }],
        })
    };
    let place = |line: u64, character: u64| json!({ "line": line, "character": character });
    let all = json!({ "start": place(0, 0), "end": place(u64::from(u32::MAX), 0) });
    // Before it is open, after it is closed, and of what is no file below the root.
    editor.tell("textDocument/didChange", change(all.clone(), "x"));
    editor.tell(
        "textDocument/didClose",
        json!({ "textDocument": { "uri": uri("a.protocol") } }),
    );
    for strange in [
        "untitled:Untitled-1",
        "file:///elsewhere/a.protocol",
        "file:///work%2",
        "file:///work%20place/",
    ] {
        editor.tell(
            "textDocument/didOpen",
            json!({ "textDocument": { "uri": strange, "languageId": "protocol", "version": 1, "text": text } }),
        );
        let answer = editor.ask_raw(
            "textDocument/hover",
            json!({ "textDocument": { "uri": strange }, "position": place(1, 1) }),
        );
        assert!(answer.map_or(true, |answer| answer.is_null()), "{strange}");
    }
    // Without findings such a file would look clean.
    for (strange, is_told) in [
        ("untitled:Untitled-1", true),
        ("file:///elsewhere/a.protocol", true),
        (uri("a.protocol").as_str(), false),
    ] {
        let told = editor.published.get(strange).map(Value::to_string);
        let said = told.is_some_and(|told| told.contains("this file is not checked"));
        assert_eq!(said, is_told, "{strange}");
    }
    editor.tell(
        "textDocument/didClose",
        json!({ "textDocument": { "uri": "untitled:Untitled-1" } }),
    );
    editor.open("a.protocol", &text);
    editor.findings("a.protocol");
    assert_eq!(editor.published["untitled:Untitled-1"], json!([]));
    // Backwards, in the middle of an emoji, past every end.
    editor.tell(
        "textDocument/didChange",
        change(json!({ "start": place(3, 4), "end": place(1, 2) }), "🥶"),
    );
    editor.tell(
        "textDocument/didChange",
        change(json!({ "start": place(3, 5), "end": place(3, 5) }), "x"),
    );
    editor.ask_all("a.protocol", 3, 5);
    editor.tell("textDocument/didChange", change(all, &text));
    assert_eq!(editor.findings("a.protocol"), Vec::<String>::new());
    // Notifications that are nothing, and one that nobody knows.
    editor.tell("textDocument/didChange", json!({ "no": 1 }));
    editor.tell("textDocument/didOpen", Value::Null);
    editor.tell("$/setTrace", json!({ "value": "off" }));
    editor.tell(
        "workspace/didChangeConfiguration",
        json!({ "settings": {} }),
    );
    let hover = editor.hover("a.protocol", at(&text, "phase hold", 8));
    assert!(hover.contains("starts"), "{hover}");
}

/// What is mended in a file with the line ends of another system has them still.
#[test]
fn line_ends_of_another_system_stay_where_nothing_is_mended() {
    let text = "protocol p {\r\n  people {\r\n    doctor \"D\"\r\n  }\r\n  rule r {\r\n    then call docter now\r\n  }\r\n}\r\n";
    let mut editor = Editor::start(MemoryLibrary::default());
    editor.open("p.protocol", text);
    let position = at(text, "docter", 2);
    let actions = editor.actions("p.protocol", &position);
    let edit = &actions[0]["edit"]["changes"][uri("p.protocol")][0];
    assert_eq!(edit["newText"], "doctor");
    assert_eq!(edit["range"]["start"], at(text, "docter", 0));
    assert_eq!(edit["range"]["end"], at(text, "docter", 6));
}
