//! `new` asks on a terminal, and takes what it is told elsewhere.

#![allow(clippy::expect_used, clippy::panic)] // a test says so by panicking

#[path = "support/terminal.rs"]
mod terminal;

use std::process::{Command, Stdio};
use terminal::on_a_terminal;

const PROGRAM: &str = env!("CARGO_BIN_EXE_tempwright");

#[test]
fn it_asks_until_the_answer_can_be_used() {
    let folder = tempfile::tempdir().expect("a folder");
    let answers = [
        "cooling",
        "therapeutic-hypothermia",
        "adult, weight 50 kg to 120 kg",
        "by air",
        "esophageal",
        "33 kg",
        "33.5 °C",
        "",
        "1/3 °C/h",
    ];
    let Some(output) = on_a_terminal(folder.path(), &["new", "first"], &answers) else {
        return;
    };
    let said = String::from_utf8(output.stdout).expect("UTF-8");
    assert_eq!(output.status.code(), Some(0), "{said}");
    for part in [
        "What is it for: fever-control, therapeutic-hypothermia, newborn-cooling, accidental-hypothermia, heat-stroke or perioperative-warmth? [fever-control]",
        "there is no starter for `cooling`",
        "there is no starter for the route `by air`",
        "`33 kg`",
        "How long at target? [24 h]",
        "wrote first.protocol",
        "still to be decided",
    ] {
        assert!(said.contains(part), "{part}: {said}");
    }
    let written = std::fs::read_to_string(folder.path().join("first.protocol")).expect("written");
    for part in [
        "purpose therapeutic-hypothermia",
        "patients adult, weight 50 kg to 120 kg, core",
        "method esophageal",
        "33.5 °C",
        "lasts 24 h",
        "1/3 °C/h",
    ] {
        assert!(written.contains(part), "{part}: {written}");
    }
}

#[test]
fn what_was_told_is_not_asked_and_a_terminal_that_goes_leaves_nothing() {
    let folder = tempfile::tempdir().expect("a folder");
    let told = [
        "new",
        "told",
        "--purpose",
        "fever-control",
        "--patients",
        "adult, weight 45 kg to 130 kg",
        "--route",
        "intravascular",
    ];
    let Some(output) = on_a_terminal(folder.path(), &told, &[]) else {
        return;
    };
    let said = String::from_utf8(output.stdout).expect("UTF-8");
    assert_eq!(output.status.code(), Some(0), "{said}");
    assert!(!said.contains('?'), "{said}");
    // The end of the answers (Ctrl-D).
    let output = on_a_terminal(folder.path(), &["new", "gone"], &["fever-control", "\u{4}"])
        .expect("a terminal");
    assert_eq!(output.status.code(), Some(2));
    assert!(!folder.path().join("gone.protocol").exists());
}

#[test]
fn elsewhere_the_usual_is_taken_and_what_is_undecided_is_told() {
    let folder = tempfile::tempdir().expect("a folder");
    let run = |arguments: &[&str]| {
        Command::new(PROGRAM)
            .args(arguments)
            .current_dir(folder.path())
            .stdin(Stdio::null())
            .output()
            .expect("ran")
    };
    assert_eq!(run(&["new", "usual"]).status.code(), Some(0));
    let checked = run(&["check", "usual.protocol", "--format", "concise"]);
    let said = String::from_utf8(checked.stdout).expect("UTF-8");
    assert_eq!(checked.status.code(), Some(0), "{said}");
    let text = std::fs::read_to_string(folder.path().join("usual.protocol")).expect("written");
    let open = text.matches("# decide:").count();
    assert!(open >= 10);
    assert_eq!(
        said.matches("note[undecided]: still to be decided: ")
            .count(),
        open,
        "{said}"
    );
    // Decided ones are not told any more.
    let (first, rest) = text
        .split_once("  # decide: your time zone\n")
        .expect("there");
    std::fs::write(
        folder.path().join("usual.protocol"),
        format!("{first}{rest}"),
    )
    .expect("written");
    let checked = run(&["check", "usual.protocol", "--format", "concise"]);
    let said = String::from_utf8(checked.stdout).expect("UTF-8");
    assert_eq!(said.matches("note[undecided]").count(), open - 1, "{said}");
}
