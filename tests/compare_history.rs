//! Each commit of a small real history, as the reviewer with two minutes reads it.

#![allow(clippy::expect_used)] // a test says so by panicking

#[path = "compare/history.rs"]
mod history;

use history::{COMMITS, FLAGSHIP, repository};
use std::path::Path;
use std::process::{Command, Output};

fn tempwright(folder: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_tempwright"))
        .current_dir(folder)
        .args(arguments)
        .output()
        .expect("the program runs")
}

fn pairs() -> Vec<(&'static str, &'static str)> {
    let mut before = "start";
    COMMITS
        .iter()
        .map(|commit| (std::mem::replace(&mut before, commit.name), commit.name))
        .collect()
}

#[test]
fn every_commit_reads_right_at_a_glance() {
    let folder = repository("history");
    for (old, new) in pairs() {
        let output = tempwright(
            &folder.0,
            &[
                "compare",
                &format!("{old}:{FLAGSHIP}"),
                &format!("{new}:{FLAGSHIP}"),
            ],
        );
        let code = output.status.code();
        assert_eq!(
            code,
            Some(if new == "reformat" { 0 } else { 1 }),
            "{new}: {}",
            String::from_utf8_lossy(&output.stderr)
        );
        let text = String::from_utf8(output.stdout).expect("text");
        // How many lines of the sheet differ hangs on how it is set out, not on this.
        let (sheet, text): (Vec<&str>, Vec<&str>) = text
            .lines()
            .partition(|line| line.starts_with("Parts of the sheet that change: "));
        assert_eq!(sheet.is_empty(), new == "reformat", "{new}");
        let text = text.join("\n").replace("\n\n\n", "\n\n");
        insta::assert_snapshot!(format!("compare_{new}"), text);
    }
}

/// `TEMPWRIGHT_KEEP=folder cargo test --test compare_history -- --ignored` leaves the
/// repository there, for whoever wants to read the reports in a real one.
#[test]
#[ignore = "makes a repository to look at"]
fn keep_the_repository() {
    let Some(folder) = std::env::var_os("TEMPWRIGHT_KEEP") else {
        return;
    };
    let made = repository("kept");
    std::fs::rename(&made.0, folder).expect("moved");
}
