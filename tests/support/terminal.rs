//! The program on a terminal of its own.

#![allow(clippy::expect_used)] // shared by several tests

use std::io::Write as _;
use std::path::Path;
use std::process::{Command, Output, Stdio};

/// Runs it there; each answer is typed once it has asked. `None` where there is no Python to
/// make a terminal.
pub fn on_a_terminal(folder: &Path, arguments: &[&str], answers: &[&str]) -> Option<Output> {
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/outside/terminal.py");
    let child = Command::new("python3")
        .arg(script)
        .arg(env!("CARGO_BIN_EXE_tempwright"))
        .args(arguments)
        .current_dir(folder)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn();
    let mut child = match child {
        Ok(child) => child,
        Err(error) => {
            assert!(
                std::env::var_os("CI").is_none(),
                "python3 must run here: {error}"
            );
            eprintln!("SKIPPED: a terminal needs python3: {error}");
            return None;
        }
    };
    let mut stdin = child.stdin.take().expect("piped");
    stdin
        .write_all(answers.join("\n").as_bytes())
        .expect("written");
    drop(stdin);
    Some(child.wait_with_output().expect("it ends"))
}
