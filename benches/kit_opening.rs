//! How long the print kit's page takes from the disk to its list of protocols, in headless
//! Chromium: `cargo bench --bench kit_opening`. It needs the npm line of `.ci/run`.

#![allow(clippy::expect_used)] // a bench says so by panicking

use std::io::Write as _;
use std::path::Path;
use std::process::{Command, Stdio};

fn main() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let page = std::env::temp_dir().join(format!("tempwright-{}", std::process::id()));
    std::fs::create_dir_all(&page).expect("a folder");
    let page = page.join("kit.html");
    let made = Command::new(env!("CARGO_BIN_EXE_tempwright"))
        .args(["kit", "protocols", "-o"])
        .arg(&page)
        .current_dir(root)
        .status()
        .expect("the program runs");
    assert!(made.success());
    let mut child = Command::new("node")
        .arg(root.join("tests/outside/kit.js"))
        .env("NODE_PATH", root.join("target/outside/node_modules"))
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("node is there");
    let mut stdin = child.stdin.take().expect("piped");
    write!(stdin, "{{\"page\": {page:?}, \"openings\": 11}}").expect("it reads");
    drop(stdin);
    let output = child.wait_with_output().expect("it ends");
    let seen: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
    let mut times: Vec<u64> = seen["openings"]
        .as_array()
        .expect("a list")
        .iter()
        .filter_map(serde_json::Value::as_u64)
        .collect();
    times.sort_unstable();
    let size = std::fs::metadata(&page).map_or(0, |about| about.len());
    println!("{size} bytes; opened in {times:?} ms, each with a new profile");
}
