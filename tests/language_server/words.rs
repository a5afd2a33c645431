//! Hover, completion, hints: what a word means and what could follow.

use crate::editor::{Editor, at, flagship, place};
use serde_json::json;
use tempwright::source::MemoryLibrary;

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
