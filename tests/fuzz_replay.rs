//! What a fuzzer found worth keeping, tried again: the smallest inputs that reach each
//! part of the code, and every input that once broke something (`broke-…`).

#![allow(clippy::expect_used, clippy::panic)] // a test says so by panicking

use std::path::Path;

#[path = "fuzz/targets.rs"]
mod targets;

fn replay(name: &str, target: fn(&[u8])) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/fuzz/corpus")
        .join(name);
    let mut paths: Vec<_> = std::fs::read_dir(folder)
        .expect("the corpus")
        .map(|entry| entry.expect("an entry").path())
        .collect();
    paths.sort();
    assert!(paths.len() >= 10, "{name}: the corpus is gone");
    for path in paths {
        let data = std::fs::read(&path).expect("readable");
        // Which one it was stands above the panic.
        eprintln!("{}", path.display());
        target(&data);
    }
}

#[test]
fn parser() {
    replay("parser", targets::parser);
}

#[test]
fn formatter() {
    replay("formatter", targets::formatter);
}

#[test]
fn checker() {
    replay("checker", targets::checker);
}

#[test]
fn rule_file() {
    replay("rule_file", targets::rule_file);
}

#[test]
fn log() {
    replay("log", targets::log);
}

#[test]
fn sheet() {
    replay("sheet", targets::sheet);
}

/// `TEMPWRIGHT_INPUT=file cargo test --test fuzz_replay show -- --ignored --nocapture`
#[test]
#[ignore = "shows which protocol the slips of one input come to"]
fn show() {
    let path = std::env::var_os("TEMPWRIGHT_INPUT").expect("TEMPWRIGHT_INPUT names a file");
    let data = std::fs::read(path).expect("readable");
    println!("{}", targets::given_or_made(&data).unwrap_or_default());
}
