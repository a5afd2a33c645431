//! Names of files, and what is typed, that would steer a terminal: shown, never sent.

#![cfg(unix)]
#![allow(clippy::expect_used, clippy::panic)] // a test says so by panicking

use std::path::Path;
use std::process::{Command, Output};

/// Turns the text red, renames the window, goes back, turns the direction of reading.
const STEERING: &str = "a\u{1b}[31mred\u{1b}]0;own\u{7}\u{8}\u{202e}b\u{9b}c";

const LOG: &str = "time,core (°C)\n0:00,37.0\n1:00,38.5\n2:00,99.9\nnever,37.1\n";

fn ran(folder: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_tempwright"))
        .current_dir(folder)
        .args(arguments)
        .env("SOURCE_DATE_EPOCH", "1795435200")
        .output()
        .expect("the program starts")
}

/// Neither stream holds what a terminal would obey; gives both.
fn harmless(folder: &Path, arguments: &[&str]) -> (Option<i32>, String) {
    let output = ran(folder, arguments);
    let mut all = String::new();
    for bytes in [&output.stdout, &output.stderr] {
        let said = String::from_utf8(bytes.clone())
            .expect("UTF-8")
            .replace("\r\n", "\n");
        let steers = said.chars().find(|&one| {
            (one.is_control() && !matches!(one, '\n' | '\t'))
                || ('\u{202a}'..='\u{202e}').contains(&one)
        });
        assert_eq!(steers, None, "{arguments:?}: {said:?}");
        all.push_str(&said);
    }
    assert!(
        matches!(output.status.code(), Some(0..=2)),
        "{arguments:?}: {all}"
    );
    (output.status.code(), all)
}

/// A project in git with a protocol, a changed copy, a broken one, a rule file and logs, each
/// with a name that steers.
struct Project {
    folder: tempfile::TempDir,
    protocol: String,
}

fn project() -> Project {
    let folder = tempfile::tempdir().expect("a folder");
    let trial = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/trials/haca2002.protocol");
    let text = std::fs::read_to_string(trial).expect("a protocol");
    let write = |name: &str, text: &str| {
        let path = folder.path().join(name);
        std::fs::create_dir_all(path.parent().expect("a folder")).expect("made");
        std::fs::write(path, text).expect("written");
    };
    let protocol = format!("protocols/{STEERING}.protocol");
    write(&protocol, &text);
    let other = text.replacen("ends 24 h after", "ends  23 h after", 1);
    assert_ne!(text, other);
    write(&format!("new/{STEERING}.protocol"), &other);
    write(&format!("broken/{STEERING}.protocol"), "protocol p {\n");
    write(&format!("bad/{STEERING}.json"), "{}");
    write(&format!("cases/{STEERING}.csv"), LOG);
    for arguments in [
        &["init", "-q"][..],
        &["add", "."],
        &[
            "-c",
            "user.name=A",
            "-c",
            "user.email=a@example.org",
            "commit",
            "-qm",
            "one",
        ],
    ] {
        let done = Command::new("git")
            .current_dir(folder.path())
            .args(arguments)
            .status();
        assert!(done.expect("git starts").success());
    }
    Project { folder, protocol }
}

#[test]
fn no_command_sends_the_name_of_a_file_to_the_terminal() {
    let Project { folder, protocol } = project();
    let here = folder.path();
    let new = format!("new/{STEERING}.protocol");
    let broken = format!("broken/{STEERING}.protocol");
    let bad = format!("bad/{STEERING}.json");
    let log = format!("cases/{STEERING}.csv");
    let missing = format!("no/{STEERING}.protocol");
    let mut named = 0;
    for arguments in [
        &["check"][..],
        &["check", &protocol, "--format", "concise"],
        &["check", &protocol, "--format", "github"],
        &["check", &protocol, "--format", "json"],
        &["check", &protocol, "--format", "sarif"],
        &["check", &bad],
        &["check", &missing],
        &["fmt", "--check", &new],
        &["fmt", "--diff", &new],
        &["fmt", &broken],
        &["fmt", &new],
        &["compare", &protocol, &new],
        &["compare", &protocol, &new, "--format", "markdown"],
        &["compare", "HEAD"],
        &["compare", &format!("HEAD:{protocol}"), &new],
        &["compare", &missing, &new],
        &["compare", STEERING],
        &["history", &protocol],
        &["timeline", &protocol],
        &["timeline", &broken],
        &["forecast", &protocol],
        &["rehearse", &protocol],
        &["rehearse", &broken],
        &["rehearse", &protocol, "--suggest"],
        &["audit", &protocol, &log],
        &["audit", &protocol, "cases"],
        &["audit", &protocol, &log, "--form", "lines"],
        &["audit", &protocol, &log, "--form", "json"],
        &["audit", &protocol, &log, "--form", "csv"],
        &["audit", &protocol, &missing],
        &["audit", &protocol, &log, "-o", &format!("{STEERING}.html")],
        &["sheet", &protocol, "--log", &log, "-o", "sheet.md"],
        &["sheet", &protocol, "-o", &format!("{STEERING}.md")],
        &["sheet", &protocol, "-o", STEERING],
        &["sheet", &broken],
        &["verify", &protocol],
        &["verify", &format!("{STEERING}.md")],
        &["verify", STEERING],
        &["approve", &protocol, "--by", STEERING],
        &["approve", &broken, "--by", "A"],
        &["approve", &protocol, "--by", "Dr A <a@example.org>"],
        &["kit", &protocol, "-o", &format!("{STEERING}.kit.html")],
        &["kit", &broken],
        &["build", &protocol, "--out", STEERING],
        &["new", STEERING],
        &["new", "next", "-o", &protocol],
        &["explain", STEERING],
        &["schema", STEERING],
        &[STEERING],
        &["check", "--on", STEERING],
        &["sheet", &protocol, "--weight", STEERING],
        &["sheet", &protocol, "--start", STEERING],
        &["sheet", &protocol, "--reading", STEERING],
        &["sheet", &protocol, "--mark", STEERING],
    ] {
        let (_, said) = harmless(here, arguments);
        // Where the name is shown, its signs stand as letters.
        named += usize::from(
            said.contains("u{1b}") || said.contains("\\u001b") || said.contains('\u{fffd}'),
        );
    }
    assert!(named >= 20, "only {named} of them show the name at all");
}

/// A patient's name is asked for nowhere: no option, no column, no field has a place for one.
#[test]
fn no_option_asks_who_the_patient_is() {
    let folder = tempfile::tempdir().expect("a folder");
    let (_, help) = harmless(folder.path(), &["--help"]);
    let commands: Vec<&str> = help
        .lines()
        .skip_while(|line| *line != "Commands:")
        .skip(1)
        .map_while(|line| line.split_whitespace().next())
        .filter(|word| *word != "help")
        .collect();
    assert!(commands.len() >= 18, "{help}");
    for command in commands {
        let (_, help) = harmless(folder.path(), &[command, "--help"]);
        for option in help
            .split_whitespace()
            .filter(|word| word.starts_with("--"))
        {
            let asks = ["name", "patient", "birth", "born", "mrn", "nhs", "hospital"]
                .iter()
                .any(|word| option.split(['-', '=']).any(|part| part == *word));
            assert!(!asks, "`{command}` has `{option}`");
        }
    }
}
