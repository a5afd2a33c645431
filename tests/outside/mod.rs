//! Runs the outside programs that results are compared with.
//!
//! On a developer's machine without them the comparison is skipped, and says so.
//! Where `CI` is set that is a failure: there they are installed from
//! `requirements.txt`, and a comparison that never runs proves nothing.

#![allow(clippy::expect_used, clippy::panic)]

#[path = "../support/python.rs"]
mod python;

use std::path::Path;
use std::process::Command;

/// What the script of this folder prints for `input`, given that python knows
/// `module`; `None` when it is skipped.
pub fn python(script: &str, module: &str, arguments: &[&str], input: &str) -> Option<String> {
    let probe = Command::new("python3")
        .args(["-c", &format!("import {module}")])
        .output();
    let missing = match probe {
        Ok(output) if output.status.success() => None,
        Ok(output) => Some(String::from_utf8_lossy(&output.stderr).trim().to_owned()),
        Err(error) => Some(error.to_string()),
    };
    if let Some(why) = missing {
        assert!(
            std::env::var_os("CI").is_none(),
            "{script} must run here: python3 -m pip install -r tests/outside/requirements.txt\n{why}"
        );
        eprintln!(
            "SKIPPED: {script} needs `python3 -m pip install -r tests/outside/requirements.txt`"
        );
        return None;
    }
    let child = python::start(&format!("outside/{script}"), |command| {
        // Time zones from the pinned package, not from whatever the system has.
        command.args(arguments).env("PYTHONTZPATH", "");
    })?;
    let output = python::tell(child, input.to_owned());
    assert!(output.status.success(), "{script} failed");
    Some(String::from_utf8(output.stdout).expect("UTF-8"))
}

/// What a program of the system prints; `None` when it is not there and the comparison is skipped.
#[allow(dead_code)] // not every test needs one
pub fn program(name: &str, arguments: &[&str]) -> Option<String> {
    match Command::new(name).args(arguments).output() {
        Ok(output) => {
            assert!(
                output.status.success(),
                "{name} failed: {}{}",
                String::from_utf8_lossy(&output.stdout),
                String::from_utf8_lossy(&output.stderr)
            );
            Some(String::from_utf8_lossy(&output.stdout).into_owned())
        }
        Err(error) => {
            assert!(
                std::env::var_os("CI").is_none(),
                "{name} must run here: {error}"
            );
            eprintln!("SKIPPED: {name} is not installed");
            None
        }
    }
}

/// What a script of this folder prints in node, with the packages of `package.json`.
#[allow(dead_code)] // not every test needs one
pub fn node(script: &str, arguments: &[&str]) -> Option<String> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let modules = root.join("target/outside/node_modules");
    if !modules.join("playwright-core").is_dir() || !Path::new("/usr/bin/chromium").exists() {
        assert!(
            std::env::var_os("CI").is_none(),
            "{script} must run here: see the npm line of .ci/run"
        );
        eprintln!("SKIPPED: {script} needs chromium and the npm line of .ci/run");
        return None;
    }
    let output = Command::new("node")
        .arg(root.join("tests/outside").join(script))
        .args(arguments)
        .env("NODE_PATH", modules)
        .output()
        .expect("node is there");
    assert!(
        output.status.success(),
        "{script} failed: {}",
        String::from_utf8_lossy(&output.stderr)
    );
    Some(String::from_utf8(output.stdout).expect("UTF-8"))
}
