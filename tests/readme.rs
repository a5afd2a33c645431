//! What the README shows is what the program says.

#![allow(clippy::expect_used, clippy::panic)] // a test says so by panicking

use std::process::Command;

const README: &str = include_str!("../README.md");

/// The text of the first fenced block with that info string.
fn block(info: &str) -> &'static str {
    let (_, rest) = README
        .split_once(&format!("```{info}\n"))
        .expect("the block");
    rest.split_once("```").expect("its end").0
}

#[test]
fn the_example_gives_the_finding_that_is_shown() {
    let folder = std::env::temp_dir().join(format!("tempwright-readme-{}", std::process::id()));
    std::fs::create_dir_all(&folder).expect("a folder");
    let file = folder.join("small.protocol");
    std::fs::write(&file, block("protocol")).expect("written");
    let output = Command::new(env!("CARGO_BIN_EXE_tempwright"))
        .arg("check")
        .arg(&file)
        .output()
        .expect("ran");
    std::fs::remove_dir_all(&folder).expect("removed");
    assert_eq!(output.status.code(), Some(1));
    let said = String::from_utf8(output.stdout).expect("text");
    assert!(said.contains(block("text")), "{said}");
}

#[test]
fn the_sheet_line_that_is_shown_is_in_the_sheet() {
    let shown = README
        .lines()
        .find_map(|line| line.strip_prefix("> | **23** "))
        .expect("the rule");
    let sheet = std::fs::read_to_string(
        std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("out/adult-arrest-33/sheet.md"),
    )
    .expect("the sheet");
    assert!(sheet.contains(shown), "{shown}");
}

#[test]
fn every_command_that_is_shown_is_one() {
    for line in README
        .lines()
        .filter_map(|line| line.strip_prefix("tempwright "))
    {
        let command = line.split_whitespace().next().expect("a command");
        let status = Command::new(env!("CARGO_BIN_EXE_tempwright"))
            .args([command, "--help"])
            .output()
            .expect("ran")
            .status;
        assert!(status.success(), "`{command}`");
    }
}

/// The committed outputs are what the protocols give now.
#[test]
fn what_is_committed_in_out_is_current() {
    let output = Command::new(env!("CARGO_BIN_EXE_tempwright"))
        .args(["build", "--check"])
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .expect("ran");
    let said = String::from_utf8_lossy(&output.stdout);
    assert_eq!(
        output.status.code(),
        Some(0),
        "run `cargo run --release -- build` and commit out/: {said}"
    );
}
