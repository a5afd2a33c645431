//! Runs of the program within bounds that the operating system keeps, on a small protocol that a
//! body is put into.

#![allow(clippy::expect_used, clippy::panic, dead_code)] // shared by several tests

use std::path::Path;
use std::process::{Command, Output, Stdio};
use std::time::Instant;

/// What any of them may take, in a debug build: more of either ends the program.
pub const SECONDS: u32 = 120;
pub const MEGABYTES: u32 = 1500;

pub const HEAD: &str = r#"protocol example {
  title "Example (invented, not for patient care)"
  unit "Saltmarsh District Hospital"
  version 1.0.0
  review 2027-06-30
  purpose fever-control
  patients adult, weight 40 kg to 140 kg, core 35.0 °C to 39.0 °C on arrival
  method surface feedback from core
  timezone "Europe/London"
  people { nurse "Bedside nurse" }
  reading core "Core temperature" temperature at bladder, continuous, shown to 0.1 °C, accurate to 0.2 °C
  phase guard "Prevent fever" {
    keep core 36.0 °C to 37.7 °C
    lasts 72 h
  }
  every 1 h record core
"#;

pub const TAIL: &str = r#"  rule too-warm {
    when core above 37.7 °C
    then do "Uncover, and cool the room"
  }
  rule too-cold {
    when core below 36.0 °C
    then do "Cover"
  }
}
"#;

pub fn protocol(body: &str) -> String {
    format!("{HEAD}{body}\n{TAIL}")
}

pub fn rule(name: &str, condition: &str, order: &str) -> String {
    format!("  rule {name} {{\n    when {condition}\n    then {order}\n  }}\n")
}

/// `p.protocol` in a project of its own.
pub fn folder(text: &str) -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a folder");
    std::fs::create_dir(folder.path().join(".git")).expect("made");
    std::fs::write(folder.path().join("p.protocol"), text).expect("written");
    folder
}

/// Runs within the bounds, and ends by itself.
pub fn bounded(folder: &Path, arguments: &[&str]) -> Output {
    let limits = format!(
        "ulimit -t {SECONDS} -v {}; exec \"$0\" \"$@\"",
        MEGABYTES * 1024
    );
    let began = Instant::now();
    let output = Command::new("bash")
        .args(["-c", &limits, env!("CARGO_BIN_EXE_tempwright")])
        .args(arguments)
        .current_dir(folder)
        .env("RUST_BACKTRACE", "0")
        .stdin(Stdio::null())
        .output()
        .expect("bash starts");
    let said = String::from_utf8_lossy(&output.stderr);
    let start: String = said.chars().take(500).collect();
    assert!(
        matches!(output.status.code(), Some(0..=2)),
        "{arguments:?} after {:?}: {:?}: {start}",
        began.elapsed(),
        output.status
    );
    assert!(
        !said.contains("a fault of the program itself"),
        "{arguments:?}: {start}"
    );
    output
}

pub fn check(text: &str) -> Vec<String> {
    let folder = folder(text);
    let output = bounded(
        folder.path(),
        &["check", "--format", "concise", "p.protocol"],
    );
    let said = String::from_utf8(output.stdout).expect("UTF-8");
    said.lines()
        .map(|line| line.replace('\u{a0}', " "))
        .collect()
}

/// The errors among what was found.
pub fn errors(text: &str) -> Vec<String> {
    check(text)
        .into_iter()
        .filter(|line| line.contains(": error["))
        .collect()
}

/// One error, at this line, of this name, that says this.
pub fn refused(text: &str, line: usize, name: &str, says: &str) {
    let found = errors(text);
    let [one] = found.as_slice() else {
        panic!("{} errors: {found:?}", found.len());
    };
    assert!(one.starts_with(&format!("p.protocol:{line}:")), "{one}");
    assert!(
        one.contains(&format!("error[{name}]")) && one.contains(says),
        "{one}"
    );
}

/// The line on which the body begins.
pub fn first() -> usize {
    HEAD.lines().count() + 1
}
