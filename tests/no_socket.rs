//! No command opens a socket, by the system's own record of what it was asked for.

#![cfg(target_os = "linux")]
#![allow(clippy::expect_used, clippy::panic)] // a test says so by panicking

use serde_json::{Value, json};
use std::collections::BTreeSet;
use std::io::Write as _;
use std::path::Path;
use std::process::{Command, Stdio};

const PROGRAM: &str = env!("CARGO_BIN_EXE_tempwright");

const HOST: &str = "src/checks/hosts/fever.protocol";

/// A repository with a protocol in two versions, one of them approved, and a log.
fn project(folder: &Path) {
    let git = |arguments: &[&str]| {
        let done = Command::new("git")
            .current_dir(folder)
            .args(["-c", "user.name=A", "-c", "user.email=a@example.org"])
            .args(arguments)
            .status();
        assert!(done.expect("git starts").success(), "{arguments:?}");
    };
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    git(&["init", "-q"]);
    std::fs::copy(root.join(HOST), folder.join("p.protocol")).expect("copied");
    std::fs::write(folder.join("case.csv"), "time,core\n0:00,37.0\n1:00,37.1\n").expect("written");
    git(&["add", "."]);
    git(&["commit", "-qm", "one"]);
}

/// What an editor says from its start to its end.
fn editor(folder: &Path) -> Vec<u8> {
    let uri = format!("file://{}/p.protocol", folder.display());
    let text = std::fs::read_to_string(folder.join("p.protocol")).expect("a protocol");
    let document = json!({"uri": uri});
    let messages = [
        json!({"id": 1, "method": "initialize", "params": {"capabilities": {}, "rootUri": format!("file://{}", folder.display())}}),
        json!({"method": "initialized", "params": {}}),
        json!({"method": "textDocument/didOpen", "params": {
            "textDocument": {"uri": uri, "languageId": "tempwright", "version": 1, "text": text},
        }}),
        json!({"id": 2, "method": "textDocument/hover", "params": {
            "textDocument": document, "position": {"line": 3, "character": 3},
        }}),
        json!({"id": 3, "method": "textDocument/formatting", "params": {
            "textDocument": document, "options": {"tabSize": 2, "insertSpaces": true},
        }}),
        json!({"id": 4, "method": "shutdown"}),
        json!({"method": "exit"}),
    ];
    let mut all = Vec::new();
    for mut message in messages {
        message["jsonrpc"] = json!("2.0");
        let body = message.to_string();
        all.extend(format!("Content-Length: {}\r\n\r\n{body}", body.len()).into_bytes());
    }
    all
}

/// Runs it under the tracer; gives its exit code, what it printed, and what it asked of the network.
fn traced(folder: &Path, arguments: &[&str], input: &[u8]) -> (Option<i32>, String, Vec<String>) {
    let trace = folder.join("trace");
    let mut child = Command::new("strace")
        .args(["-f", "-qq", "-e", "trace=network,execve", "-o"])
        .arg(&trace)
        .args(arguments)
        .current_dir(folder)
        .env("GIT_CONFIG_GLOBAL", "/dev/null")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .expect("strace starts");
    let mut stdin = child.stdin.take().expect("piped");
    // Who reads nothing leaves before it is written.
    let _ = stdin.write_all(input);
    drop(stdin);
    let output = child.wait_with_output().expect("it ends");
    let calls = std::fs::read_to_string(&trace).expect("the trace");
    assert!(
        calls.contains("execve("),
        "{arguments:?}: nothing was traced"
    );
    let network = calls
        .lines()
        // The start of a program, and the end of one that was asked (git).
        .filter(|line| !line.contains("execve(") && !line.contains(" --- SIG"))
        .map(str::to_owned)
        .collect();
    let said = String::from_utf8_lossy(&output.stdout).into_owned();
    (output.status.code(), said, network)
}

/// All that `--help` names.
fn commands() -> BTreeSet<String> {
    let output = Command::new(PROGRAM).arg("--help").output().expect("help");
    let help = String::from_utf8(output.stdout).expect("UTF-8");
    let found: BTreeSet<String> = help
        .lines()
        .skip_while(|line| *line != "Commands:")
        .skip(1)
        .map_while(|line| line.split_whitespace().next())
        .map(str::to_owned)
        .collect();
    assert!(found.contains("check") && found.len() >= 19, "{help}");
    found
}

#[test]
fn no_command_opens_a_socket() {
    if Command::new("strace").arg("-V").output().is_err() {
        assert!(
            std::env::var_os("CI").is_none(),
            "strace must be here: apt-get install strace"
        );
        eprintln!("SKIPPED: no strace on this machine");
        return;
    }
    let folder = tempfile::tempdir().expect("a folder");
    let folder = folder.path();
    project(folder);
    let mut left = commands();
    let said = editor(folder);
    for arguments in [
        &["check"][..],
        &["build", "--quiet"],
        &["sheet", "p.protocol", "-o", "sheet.pdf"],
        &["timeline", "p.protocol"],
        &["rehearse"],
        &["fmt", "--check", "p.protocol"],
        &["explain", "contradiction"],
        &["schema"],
        &["compare", "p.protocol", "p.protocol"],
        &["compare", "HEAD"],
        &["forecast", "p.protocol"],
        &["audit", "p.protocol", "case.csv"],
        &["kit", "-o", "kit.html"],
        &["new", "next"],
        &["approve", "p.protocol", "--by", "Dr A <a@example.org>"],
        &["history", "p.protocol"],
        &["verify", "sheet.pdf"],
        &["lsp"],
        &["completions", "bash"],
        &["man"],
        &["help"],
    ] {
        left.remove(arguments[0]);
        let input: &[u8] = if arguments == ["lsp"] { &said } else { b"" };
        let all: Vec<&str> = [PROGRAM]
            .into_iter()
            .chain(arguments.iter().copied())
            .collect();
        let (code, printed, network) = traced(folder, &all, input);
        assert!(
            matches!(code, Some(0 | 1)),
            "{arguments:?}: {code:?} {printed}"
        );
        assert!(network.is_empty(), "{arguments:?}: {network:?}");
        if arguments == ["lsp"] {
            answered(&printed);
        }
    }
    assert!(left.is_empty(), "not tried: {left:?}");
    // The tracer does see one, or the test would prove nothing.
    let (_, _, network) = traced(folder, &["bash", "-c", "exec 3<>/dev/tcp/127.0.0.1/9"], b"");
    assert!(
        network.iter().any(|line| line.contains("socket(")),
        "{network:?}"
    );
}

/// The editor was served: its questions have answers, and it was told what is wrong.
fn answered(printed: &str) {
    let messages: Vec<Value> = printed
        .split("Content-Length: ")
        .filter_map(|one| serde_json::from_str(one.split_once("\r\n\r\n")?.1).ok())
        .collect();
    for id in 1..=4 {
        assert!(
            messages
                .iter()
                .any(|one| one["id"] == id && one.get("result").is_some()),
            "{id}: {printed}"
        );
    }
    assert!(
        messages
            .iter()
            .any(|one| one["method"] == "textDocument/publishDiagnostics"),
        "{printed}"
    );
}
