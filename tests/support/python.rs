//! A script of the tests, started by Python.

#![allow(clippy::expect_used, dead_code)] // shared by several tests

use std::path::Path;
use std::process::{Child, Command, Output, Stdio};

/// Starts it, its path from the folder of tests, with its input and output piped. `None` where
/// there is no Python; that fails where `CI` is set.
pub fn start(script: &str, set: impl FnOnce(&mut Command)) -> Option<Child> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests")
        .join(script);
    let mut command = Command::new("python3");
    command
        .arg(path)
        .env("PYTHONIOENCODING", "utf-8")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped());
    set(&mut command);
    match command.spawn() {
        Ok(child) => Some(child),
        Err(error) => {
            assert!(
                std::env::var_os("CI").is_none(),
                "python3 must run here: {error}"
            );
            eprintln!("SKIPPED: {script} needs python3: {error}");
            None
        }
    }
}

/// Gives it this, and waits until it ends.
pub fn tell(mut child: Child, input: String) -> Output {
    use std::io::Write as _;
    let mut stdin = child.stdin.take().expect("piped");
    // It answers while it is still being asked, so both must go on at once.
    let writer = std::thread::spawn(move || stdin.write_all(input.as_bytes()));
    let output = child.wait_with_output().expect("the script ends");
    writer
        .join()
        .expect("it goes on")
        .expect("the script reads");
    output
}
