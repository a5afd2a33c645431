//! What can be done about a finding.

use crate::editor::{Editor, at, flagship, place, sketch, uri, with};
use serde_json::json;
use tempwright::source::MemoryLibrary;

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
fn a_word_that_is_nearly_right_is_mended_in_every_statement() {
    let text = "protocol p {\n  show °C und °F\n  measure m \"µ\" share of time when core above 37.0 °C, goal at leest 90 %\n}\n";
    let mut editor = Editor::start(MemoryLibrary::default());
    editor.open("p.protocol", text);
    for (wrong, right) in [("und", "and"), ("leest", "least")] {
        let position = at(text, wrong, 1);
        // Asked twice: what was checked for the first answer serves the second.
        for _ in 0..2 {
            let actions = editor.actions("p.protocol", &position);
            let mend = actions
                .iter()
                .find(|action| action["title"] == format!("write `{right}`"));
            let mend = mend.unwrap_or_else(|| panic!("{wrong}: {actions:?}"));
            let edit = &mend["edit"]["changes"][uri("p.protocol")][0];
            assert_eq!(edit["range"]["start"], at(text, wrong, 0));
            assert_eq!(edit["range"]["end"], at(text, wrong, wrong.len()));
        }
    }
    // After a change it is the new text that is checked.
    editor.change("p.protocol", &text.replacen("und", "and", 1));
    let actions = editor.actions("p.protocol", &at(text, "und", 1));
    assert!(
        actions
            .iter()
            .all(|action| action["title"] != "write `and`"),
        "{actions:?}"
    );
}
