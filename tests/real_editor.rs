//! The language server with a real editor: what it shows after what is typed.

#![allow(clippy::expect_used, clippy::panic)] // a test says so by panicking

use std::path::Path;
use std::process::Command;

#[test]
fn an_editor_is_told_what_is_wrong_and_where() {
    let editor = Command::new("nvim").arg("--version").output();
    if !editor.is_ok_and(|output| output.status.success()) {
        assert!(std::env::var_os("CI").is_none(), "nvim must run here");
        eprintln!("SKIPPED: this needs nvim");
        return;
    }
    let folder = tempfile::tempdir().expect("a folder");
    let readme = include_str!("../README.md");
    let (_, sketch) = readme.split_once("```protocol\n").expect("the example");
    let sketch = sketch.split_once("```").expect("its end").0;
    let file = folder.path().join("small.protocol");
    std::fs::write(&file, sketch).expect("written");
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/outside/editor.lua");
    let output = Command::new("nvim")
        .args(["--headless", "-u", "NONE", "-i", "NONE", "-n", "-c"])
        .arg(format!("luafile {}", script.display()))
        .current_dir(folder.path())
        .env("HOME", folder.path())
        .env("XDG_STATE_HOME", folder.path())
        .env("FILE", &file)
        .env("PROGRAM", env!("CARGO_BIN_EXE_tempwright"))
        .output()
        .expect("ran");
    let said = format!(
        "{}{}",
        String::from_utf8_lossy(&output.stdout),
        String::from_utf8_lossy(&output.stderr)
    );
    assert!(output.status.success() && said.contains("ok\n"), "{said}");
}
