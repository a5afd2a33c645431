//! Going to a name, and renaming it.

use crate::editor::{Editor, at, flagship, place, uri};
use serde_json::{Value, json};
use tempwright::source::MemoryLibrary;

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
