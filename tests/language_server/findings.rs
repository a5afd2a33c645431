//! Findings while typing, and formatting.

use crate::editor::{Editor, at, flagship, place, sketch, uri};
use serde_json::json;
use tempwright::source::MemoryLibrary;

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
