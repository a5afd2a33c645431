//! `check --watch` checks again when a file changes, and only then.

#![allow(clippy::expect_used, clippy::panic)] // a test says so by panicking

#[path = "support/terminal.rs"]
mod terminal;

use std::io::{BufRead as _, BufReader, Lines};
use std::path::Path;
use std::process::{Child, ChildStdout, Command, Stdio};

struct Watching {
    child: Child,
    lines: Lines<BufReader<ChildStdout>>,
}

impl Watching {
    fn start(folder: &Path) -> Watching {
        let mut child = Command::new(env!("CARGO_BIN_EXE_tempwright"))
            .args(["check", "--watch", "--format", "concise", "small.protocol"])
            .current_dir(folder)
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .spawn()
            .expect("it starts");
        let lines = BufReader::new(child.stdout.take().expect("piped")).lines();
        Watching { child, lines }
    }

    /// What one run says.
    fn next(&mut self) -> String {
        let mut said = String::new();
        for line in self.lines.by_ref() {
            let line = line.expect("UTF-8");
            if line.starts_with("waiting for changes") {
                return said;
            }
            said.push_str(&line);
            said.push('\n');
        }
        panic!("it ended: {said}");
    }
}

impl Drop for Watching {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// The example of the README.
fn sketch() -> &'static str {
    let readme = include_str!("../README.md");
    let (_, sketch) = readme.split_once("```protocol\n").expect("the example");
    sketch.split_once("```").expect("its end").0
}

#[test]
fn a_change_is_checked_by_itself() {
    let folder = tempfile::tempdir().expect("a folder");
    let sketch = sketch();
    let file = folder.path().join("small.protocol");
    std::fs::write(&file, sketch).expect("written");
    let mut watching = Watching::start(folder.path());
    let first = watching.next();
    assert!(first.contains("error[contradiction]"), "{first}");

    let faulty = sketch.replacen("lasts 24 h", "lasts 24 °C", 1);
    assert_ne!(faulty, sketch);
    std::fs::write(&file, faulty).expect("written");
    let second = watching.next();
    assert!(second.contains("error[unit-mismatch]"), "{second}");

    std::fs::write(&file, sketch).expect("written");
    assert_eq!(watching.next().trim_start(), first);
}

#[test]
fn a_library_that_comes_later_and_a_file_that_goes_are_seen() {
    let folder = tempfile::tempdir().expect("a folder");
    let sketch = sketch();
    let uses = sketch.replacen("{\n", "{\n  use \"shared/more.protocol\"\n", 1);
    let file = folder.path().join("small.protocol");
    std::fs::write(&file, &uses).expect("written");
    // The folder is there and nothing in it was read.
    std::fs::create_dir(folder.path().join("shared")).expect("made");
    let mut watching = Watching::start(folder.path());
    let first = watching.next();
    assert!(first.contains("error[use-unreadable]"), "{first}");

    let library = "library more {\n  title \"More\"\n  version 1.0.0\n  review 2030-01-01\n}\n";
    std::fs::write(folder.path().join("shared/more.protocol"), library).expect("written");
    let second = watching.next();
    assert!(!second.contains("use-unreadable"), "{second}");
    assert!(second.contains("error[contradiction]"), "{second}");

    // Gone for a moment, empty for a moment, no text at all: told, and gone on.
    std::fs::remove_file(&file).expect("removed");
    let gone = watching.next();
    assert!(!gone.contains("contradiction"), "{gone}");
    std::fs::write(&file, "").expect("written");
    let empty = watching.next();
    assert!(empty.contains("error[empty-file]"), "{empty}");
    std::fs::write(&file, b"protocol \xff").expect("written");
    watching.next();
    std::fs::write(&file, &uses).expect("written");
    assert_eq!(watching.next().trim_start(), second.trim_start());
}

#[test]
fn what_was_never_there_is_not_waited_for() {
    let folder = tempfile::tempdir().expect("a folder");
    let output = Command::new(env!("CARGO_BIN_EXE_tempwright"))
        .args(["check", "--watch", "absent.protocol"])
        .current_dir(folder.path())
        .output()
        .expect("it ends");
    assert_eq!(output.status.code(), Some(2));
}

fn said_on_a_terminal(folder: &Path, arguments: &[&str]) -> Option<String> {
    let output = terminal::on_a_terminal(folder, arguments, &[])?;
    Some(String::from_utf8(output.stdout).expect("UTF-8"))
}

#[test]
fn how_many_of_several_are_done_is_shown_on_a_terminal_and_nowhere_else() {
    let folder = tempfile::tempdir().expect("a folder");
    let sketch = sketch();
    for name in ["first.protocol", "second.protocol"] {
        std::fs::write(folder.path().join(name), sketch).expect("written");
    }
    let both = [
        "check",
        "--format",
        "concise",
        "first.protocol",
        "second.protocol",
    ];
    let Some(said) = said_on_a_terminal(folder.path(), &both) else {
        return;
    };
    // Whichever is ready first.
    let first = said
        .find("[##########..........]  50 %  ")
        .expect("the first");
    let second = said
        .find("[####################] 100 %  ")
        .expect("the second");
    // Taken away before anything is said.
    let away = said.find("\r\x1b[K").expect("taken away");
    let finding = said.find("error[contradiction]").expect("a finding");
    assert!(
        first < second && second < away && away < finding,
        "{said:?}"
    );

    // One alone has no progress, and what is read by a program has none.
    let one = said_on_a_terminal(folder.path(), &both[..4]).expect("a terminal");
    assert!(!one.contains(" %  "), "{one:?}");
    let output = Command::new(env!("CARGO_BIN_EXE_tempwright"))
        .args(both)
        .current_dir(folder.path())
        .output()
        .expect("it ends");
    assert!(
        output.stderr.is_empty(),
        "{:?}",
        String::from_utf8_lossy(&output.stderr)
    );
    assert!(!String::from_utf8_lossy(&output.stdout).contains(" %  "));
}
