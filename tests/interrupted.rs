//! The program is stopped at any moment, or runs twice at once: what was there stays whole.

#![cfg(target_os = "linux")]
#![allow(clippy::expect_used, clippy::panic)] // a test says so by panicking

use std::collections::BTreeMap;
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::Instant;

const PROGRAM: &str = env!("CARGO_BIN_EXE_tempwright");

/// The smallest demo protocol, with and without a change that shows in most outputs.
fn project(folder: &Path) {
    let from = Path::new(env!("CARGO_MANIFEST_DIR")).join("protocols");
    std::fs::create_dir_all(folder.join("protocols/shared")).expect("a folder");
    for entry in std::fs::read_dir(from.join("shared")).expect("the libraries") {
        let path = entry.expect("an entry").path();
        let name = path.file_name().expect("a name");
        std::fs::copy(&path, folder.join("protocols/shared").join(name)).expect("copied");
    }
    version(folder, "Old words");
}

fn version(folder: &Path, words: &str) {
    let from = Path::new(env!("CARGO_MANIFEST_DIR")).join("protocols/theatre-warmth.protocol");
    let text = std::fs::read_to_string(from).expect("a demo protocol");
    let changed = text.replacen("  title \"", &format!("  title \"{words}: "), 1);
    assert_ne!(text, changed);
    std::fs::write(folder.join("protocols/theatre-warmth.protocol"), changed).expect("written");
}

fn build(folder: &Path) -> Child {
    Command::new(PROGRAM)
        .args(["build", "--quiet"])
        .current_dir(folder)
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program starts")
}

fn build_whole(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let output = build(folder).wait_with_output().expect("it ends");
    assert!(output.status.success(), "{output:?}");
    outputs(folder).0
}

/// The outputs by name, and how many unfinished files lie beside them.
fn outputs(folder: &Path) -> (BTreeMap<String, Vec<u8>>, usize) {
    let mut whole = BTreeMap::new();
    let mut unfinished = 0;
    for entry in std::fs::read_dir(folder.join("out/theatre-warmth")).expect("outputs") {
        let path = entry.expect("an entry").path();
        let name = path
            .file_name()
            .expect("a name")
            .to_string_lossy()
            .into_owned();
        if name.starts_with('.') {
            unfinished += 1;
        } else {
            whole.insert(name, std::fs::read(&path).expect("readable"));
        }
    }
    (whole, unfinished)
}

#[test]
fn a_build_that_is_killed_leaves_each_output_old_or_new() {
    let folder = tempfile::tempdir().expect("a folder");
    let folder = folder.path();
    project(folder);
    let old = build_whole(folder);
    version(folder, "New words");
    let began = Instant::now();
    let new = build_whole(folder);
    let lasts = began.elapsed();
    assert!(old.keys().eq(new.keys()));
    let differ = old
        .iter()
        .filter(|(name, bytes)| new.get(*name) != Some(*bytes));
    assert!(differ.count() >= 4, "sheets and rule file hold the title");
    let (mut killed, mut mixed) = (0, 0);
    let rounds: u32 = std::env::var("TEMPWRIGHT_KILLS")
        .ok()
        .and_then(|count| count.parse().ok())
        .unwrap_or(24);
    // Mostly around the end, where the files are written.
    for round in 0..rounds {
        version(
            folder,
            if round % 2 == 0 {
                "Old words"
            } else {
                "New words"
            },
        );
        let share = if round % 4 == 0 {
            1000 * round / rounds
        } else {
            600 + 400 * round / rounds
        };
        let mut child = build(folder);
        std::thread::sleep(lasts * share / 1000);
        killed += u32::from(child.try_wait().expect("asked").is_none());
        let _ = child.kill();
        child.wait().expect("it is gone");
        let (found, _) = outputs(folder);
        assert_eq!(found.len(), old.len(), "round {round}: a file is missing");
        let mut kinds = [0, 0];
        for (name, bytes) in &found {
            let is_old = old.get(name) == Some(bytes);
            let is_new = new.get(name) == Some(bytes);
            assert!(
                is_old || is_new,
                "round {round}: {name} is neither the old nor the new one"
            );
            // The title is not in the schedule: it is the same in both.
            if is_old != is_new {
                kinds[usize::from(is_new)] += 1;
            }
        }
        mixed += u32::from(!kinds.contains(&0));
    }
    assert!(killed > 0, "none was stopped before its end");
    eprintln!("{killed} of {rounds} stopped before the end; {mixed} between two files");
    // What was left unfinished does not hinder the next one.
    version(folder, "New words");
    assert_eq!(build_whole(folder), new);
}

#[test]
fn builds_at_once_into_one_folder_leave_whole_files() {
    let folder = tempfile::tempdir().expect("a folder");
    let folder = folder.path();
    project(folder);
    let alone = build_whole(folder);
    let many: Vec<Child> = (0..6).map(|_| build(folder)).collect();
    for child in many {
        let output = child.wait_with_output().expect("it ends");
        assert!(output.status.success(), "{output:?}");
    }
    assert_eq!(outputs(folder), (alone, 0));
}

/// As on a disk that fills up: no file may grow past a few kilobytes.
#[test]
fn a_disk_that_fills_up_keeps_what_was_there() {
    let folder = tempfile::tempdir().expect("a folder");
    let folder = folder.path();
    project(folder);
    let old = build_whole(folder);
    version(folder, "New words");
    let output = Command::new("bash")
        .args([
            "-c",
            "trap '' XFSZ; ulimit -f 8; exec \"$0\" build --quiet",
            PROGRAM,
        ])
        .current_dir(folder)
        .output()
        .expect("bash starts");
    let said = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(2), "{said}");
    assert!(said.contains("cannot be written"), "{said}");
    assert!(said.contains("nothing of it was changed"), "{said}");
    // Each is the old one whole, and nothing unfinished lies beside it.
    assert_eq!(outputs(folder), (old, 0));
}
