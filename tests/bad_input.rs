//! Bad input through the binary: one clear error, exit 1 (the protocol is at fault)
//! or 2 (the program could not run), never a panic, never a half-written file.

#![allow(clippy::expect_used, clippy::panic)] // a test says so by panicking

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::atomic::{AtomicU32, Ordering};
use std::time::{Duration, Instant};

/// A folder of its own, which goes away with it.
struct Folder(PathBuf);

impl Folder {
    fn new() -> Folder {
        static SERIAL: AtomicU32 = AtomicU32::new(0);
        let serial = SERIAL.fetch_add(1, Ordering::Relaxed);
        let name = format!("tempwright-bad-input-{}-{serial}", std::process::id());
        let path = std::env::temp_dir().join(name);
        fs::create_dir_all(&path).expect("a folder for the test");
        Folder(path)
    }

    /// A folder with one file `p.protocol`.
    fn with(text: impl AsRef<[u8]>) -> Folder {
        Folder::new().file("p.protocol", text)
    }

    fn file(self, path: &str, text: impl AsRef<[u8]>) -> Folder {
        let full = self.0.join(path);
        fs::create_dir_all(full.parent().expect("inside the folder")).expect("a folder");
        fs::write(full, text).expect("a file for the test");
        self
    }

    /// Runs the program in this folder. A run of more than a minute is a failure.
    fn run(&self, arguments: &[&str]) -> Outcome {
        self.run_to(arguments, Stdio::piped())
    }

    fn run_to(&self, arguments: &[&str], stdout: Stdio) -> Outcome {
        let began = Instant::now();
        let child = Command::new(env!("CARGO_BIN_EXE_tempwright"))
            .args(arguments)
            .current_dir(&self.0)
            .env("RUST_BACKTRACE", "0")
            .env_remove("SOURCE_DATE_EPOCH")
            .stdin(Stdio::null())
            .stdout(stdout)
            .stderr(Stdio::piped())
            .spawn()
            .expect("the program starts");
        let output = child.wait_with_output().expect("the program ends");
        let outcome = Outcome {
            code: output.status.code(),
            stdout: plain(output.stdout),
            stderr: plain(output.stderr),
        };
        assert!(
            began.elapsed() < Duration::from_secs(60),
            "too slow: {outcome:?}"
        );
        assert!(!outcome.stderr.contains("panicked"), "{outcome:?}");
        outcome
    }

    /// Runs the program with standard output on a disk that is full.
    #[cfg(target_os = "linux")]
    fn run_on_full_disk(&self, arguments: &[&str]) -> Outcome {
        let full = fs::OpenOptions::new()
            .write(true)
            .open("/dev/full")
            .expect("Linux has it");
        self.run_to(arguments, full.into())
    }

    /// Every file below the folder, sorted.
    fn listed(&self) -> Vec<String> {
        let mut found = Vec::new();
        let mut open = vec![self.0.clone()];
        while let Some(folder) = open.pop() {
            for entry in fs::read_dir(folder).expect("listed") {
                let path = entry.expect("an entry").path();
                if path.is_dir() && !path.is_symlink() {
                    open.push(path);
                } else {
                    let inside = path.strip_prefix(&self.0).expect("inside");
                    found.push(inside.to_string_lossy().into_owned());
                }
            }
        }
        found.sort();
        found
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        // It lies in the folder for temporary files, whose owner clears it anyway.
        let _ = fs::remove_dir_all(&self.0);
    }
}

/// What was said, with plain spaces between numbers and units.
fn plain(bytes: Vec<u8>) -> String {
    String::from_utf8(bytes)
        .expect("UTF-8")
        .replace('\u{a0}', " ")
}

#[derive(Debug)]
struct Outcome {
    code: Option<i32>,
    stdout: String,
    stderr: String,
}

impl Outcome {
    /// The program could not run: one error on standard error that says all of these.
    fn cannot_run(&self, says: &[&str]) {
        assert_eq!(self.code, Some(2), "{self:?}");
        assert_eq!(self.stdout, "", "{self:?}");
        let mut lines = self.stderr.trim_end().lines();
        assert!(
            lines
                .next()
                .is_some_and(|line| line.starts_with("tempwright: ")),
            "{self:?}"
        );
        assert!(
            lines.all(|line| line.starts_with("  why: ") || line.starts_with("  help: ")),
            "{self:?}"
        );
        for part in says {
            assert!(self.stderr.contains(part), "`{part}` is missing: {self:?}");
        }
    }

    /// The protocol is at fault: that one error, at that line, that says all of these.
    fn one_error(&self, name: &str, line: usize, says: &[&str]) {
        let errors: Vec<&str> = self
            .stdout
            .lines()
            .filter(|l| l.starts_with("error["))
            .collect();
        assert_eq!(self.code, Some(1), "{self:?}");
        assert_eq!(self.stderr, "", "{self:?}");
        assert_eq!(errors.len(), 1, "{self:?}");
        assert!(
            errors
                .iter()
                .all(|error| error.starts_with(&format!("error[{name}]"))),
            "{self:?}"
        );
        let place = format!("p.protocol:{line}:");
        assert!(self.stdout.contains(&place), "not at line {line}: {self:?}");
        for part in says.iter().chain(&["why:", "help:"]) {
            assert!(self.stdout.contains(part), "`{part}` is missing: {self:?}");
        }
    }
}

/// A protocol without errors; `line` is put in as its line 20.
fn protocol_with(line: &str) -> String {
    let text = format!(
        r#"protocol example {{
  title "Example (invented, not for patient care)"
  unit "Saltmarsh District Hospital"
  version 1.0.0
  review 2027-06-30
  purpose fever-control
  patients adult, weight 40 kg to 140 kg, core 35.0 °C to 39.0 °C on arrival
  method surface feedback from core
  timezone "Europe/London"
  people {{
    nurse "Bedside nurse"
  }}
  reading core "Core temperature" temperature at bladder, continuous, shown to 0.1 °C, accurate to 0.2 °C
  phase guard "Prevent fever" {{
    keep core 36.0 °C to 37.7 °C
    lasts 72 h
  }}
  every 1 h record core
  # The line under test:
{line}
  every 2 h do "Look at the skin under the pads" covers skin-inspection
  rule too-warm {{
    when core above 37.7 °C
    then do "Uncover, and cool the room"
  }}
  rule too-cold {{
    when core below 36.0 °C
    then do "Cover"
  }}
}}
"#
    );
    assert_eq!(text.lines().nth(19), line.lines().next());
    text
}

#[test]
fn the_protocol_that_the_cases_start_from_has_no_error() {
    let outcome = Folder::with(protocol_with("  # nothing")).run(&["check", "p.protocol"]);
    assert!(!outcome.stdout.contains("error["), "{outcome:?}");
}

#[test]
fn files_that_cannot_be_read() {
    let folder = Folder::with(b"protocol example {\n  title \"caf\xe9\"\n}\n");
    folder
        .run(&["check", "missing.protocol"])
        .cannot_run(&["no file", "`missing.protocol`"]);
    folder
        .run(&["check", "p.protocol"])
        .cannot_run(&["`p.protocol`", "UTF-8", "byte 31"]);
    let folder = Folder::new();
    folder
        .run(&["check", "."])
        .cannot_run(&["no `.protocol` file"]);
    folder.run(&["check"]).cannot_run(&["no `.protocol` file"]);
    let folder = Folder::new().file("p.protocol/inside", "");
    folder
        .run(&["check", "p.protocol"])
        .cannot_run(&["no `.protocol` file"]);
}

#[test]
fn arguments_that_make_no_sense() {
    let folder = Folder::with(protocol_with("  # nothing"));
    for arguments in [
        &["check", "--no-such-option"][..],
        &["chekc", "p.protocol"],
        &[],
    ] {
        let outcome = folder.run(arguments);
        assert_eq!(outcome.code, Some(2), "{outcome:?}");
        assert_eq!(outcome.stdout, "", "{outcome:?}");
    }
}

#[test]
fn files_that_hold_nothing() {
    for text in ["", "\n", "# only a comment\n", "\u{feff}", "   \t\r\n"] {
        Folder::with(text).run(&["check", "p.protocol"]).one_error(
            "empty-file",
            1,
            &["no protocol, library or scenario"],
        );
    }
}

#[test]
fn files_that_are_far_too_large() {
    let folder = Folder::with("{".repeat(100 << 20));
    folder
        .run(&["check", "p.protocol"])
        .cannot_run(&["`p.protocol`", "larger than 16 MiB"]);
}

#[test]
fn large_files_of_nonsense_give_a_short_answer() {
    for piece in [
        "{",
        "}",
        "(",
        "\"",
        "#",
        "a\n",
        "{\n",
        "}\n",
        "protocol p {",
        "\u{0}",
        "\r",
        ",",
        "é",
    ] {
        let text = piece.repeat((2 << 20) / piece.len());
        let outcome = Folder::with(&text).run(&["check", "p.protocol"]);
        assert_eq!(outcome.code, Some(1), "{piece:?}: {}", outcome.stderr);
        let length = outcome.stdout.len();
        assert!(
            length < 200_000,
            "{piece:?}: {length} bytes are more than anybody reads"
        );
    }
}

#[test]
fn parentheses_beyond_all_reason() {
    let deep = format!(
        "  rule deep {{\n    when {}core above 37.7 °C{}\n    then continue\n  }}",
        "(".repeat(10_000),
        ")".repeat(10_000)
    );
    let outcome = Folder::with(protocol_with(&deep)).run(&["check", "p.protocol"]);
    outcome.one_error("nested-too-deep", 21, &["parentheses"]);
    // As many as anybody would write are read.
    let deep = deep
        .replace(&"(".repeat(10_000), "((((")
        .replace(&")".repeat(10_000), "))))");
    let outcome = Folder::with(protocol_with(&deep)).run(&["check", "p.protocol"]);
    assert!(!outcome.stdout.contains("error["), "{outcome:?}");
}

#[test]
fn units_that_are_unknown_or_in_the_wrong_place() {
    let check = |line: &str| Folder::with(protocol_with(line)).run(&["check", "p.protocol"]);
    check("  limit core never above 41.0 °K").one_error("unknown-unit", 20, &["`°K`"]);
    check("  limit core never above 41.0 °C/h").one_error(
        "unit-mismatch",
        20,
        &["`41.0 °C/h`", "rate", "temperature"],
    );
    check("  limit core never above 41.0").one_error("unit-mismatch", 20, &["`41.0`"]);
    check("  limit core never above 41.0 °F °C").one_error("syntax", 20, &["`limit`"]);
    check("  every 30 °C record core").one_error("unit-mismatch", 20, &["`30 °C`"]);
}

#[test]
fn libraries_that_lead_astray() {
    let check = |folder: Folder| folder.file(".git/HEAD", "").run(&["check", "p.protocol"]);
    for path in [
        "../outside.protocol",
        "/etc/hostname",
        "a/../../outside.protocol",
        "C:/x",
        "..\\x",
    ] {
        let line = format!("  use \"{path}\"");
        check(Folder::with(protocol_with(&line))).one_error("use-outside-root", 20, &[path]);
    }
    let missing = Folder::with(protocol_with("  use \"shared/missing.protocol\""));
    check(missing).one_error("use-unreadable", 20, &["`shared/missing.protocol`"]);
    let itself = Folder::with(protocol_with("  use \"p.protocol\""));
    check(itself).one_error("use-cycle", 20, &["`p.protocol`"]);
    let round = Folder::with(protocol_with("  use \"a.protocol\""))
        .file("a.protocol", "library a {\n  use \"b.protocol\"\n}\n")
        .file("b.protocol", "library b {\n  use \"a.protocol\"\n}\n");
    let outcome = check(round);
    assert_eq!(outcome.code, Some(1), "{outcome:?}");
    assert_eq!(
        outcome.stdout.matches("error[use-cycle]").count(),
        1,
        "{outcome:?}"
    );
    let other = Folder::with(protocol_with("  use \"other.protocol\""))
        .file("other.protocol", protocol_with("  # nothing"));
    check(other).one_error("use-not-library", 20, &["`other.protocol`"]);
}

#[cfg(unix)]
#[test]
fn links_that_lead_out_of_the_project() {
    let outside = Folder::new().file("library.protocol", "library a {\n}\n");
    let folder = Folder::with(protocol_with("  use \"a.protocol\"")).file(".git/HEAD", "");
    std::os::unix::fs::symlink(
        outside.0.join("library.protocol"),
        folder.0.join("a.protocol"),
    )
    .expect("a link");
    folder
        .run(&["check", "p.protocol"])
        .one_error("use-outside-root", 20, &["a.protocol"]);
}

#[test]
fn broken_structure_is_told_once_and_where_it_is() {
    let whole = protocol_with("  # nothing");
    let check = |text: &str| Folder::with(text).run(&["check", "p.protocol"]);
    let unclosed = whole.replace("    lasts 72 h\n  }\n", "    lasts 72 h\n");
    check(&unclosed).one_error("missing-brace", 14, &["`phase guard \"Prevent fever\"`"]);
    let open_text = whole.replace("\"Bedside nurse\"", "\"Bedside nurse");
    check(&open_text).one_error("unclosed-text", 11, &[]);
    let twice = format!("{whole}{whole}");
    let outcome = check(&twice);
    assert_eq!(outcome.code, Some(1), "{outcome:?}");
    assert_eq!(outcome.stdout.matches("error[").count(), 1, "{outcome:?}");
}

#[test]
fn checking_leaves_no_files_behind() {
    let folder = Folder::with(protocol_with("  # nothing"));
    folder.run(&["check", "p.protocol"]);
    assert_eq!(folder.listed(), ["p.protocol"]);
    assert!(Path::new(&folder.0).exists());
}

#[test]
fn characters_that_cannot_be_seen_are_named() {
    let check = |line: &str| Folder::with(protocol_with(line)).run(&["check", "p.protocol"]);
    for (character, code) in [
        ("\u{a0}", "U+00A0"),
        ("\u{202f}", "U+202F"),
        ("\u{200b}", "U+200B"),
        ("\u{202e}", "U+202E"),
        ("\u{feff}", "U+FEFF"),
    ] {
        let line = format!("  limit core never above 41.0{character}°C");
        check(&line).one_error("syntax", 20, &[code]);
    }
}

/// What a person may type about a case, and what the answer must say.
const CASES: &[(&[&str], &[&str])] = &[
    (
        &["--weight", "39.9 kg"],
        &["39.9 kg", "outside the range", "40 kg to 140 kg"],
    ),
    (&["--weight", "140.1 kg"], &["outside the range"]),
    (&["--weight", "82 lb"], &["pounds are not read", "why:"]),
    (&["--weight", "82"], &["`82` has no unit"]),
    (&["--weight", ".5 kg"], &["`.5 kg`"]),
    (&["--weight", "82,5 kg"], &["`82,5 kg`", "point"]),
    (
        &["--start", "2027-03-28T01:30"],
        &["Europe/London", "never show 2027-03-28 01:30"],
    ),
    (
        &["--start", "2026-10-25T01:30"],
        &["twice", "+01:00", "+00:00"],
    ),
    (
        &["--start", "2027-02-30T10:00"],
        &["`2027-02-30T10:00`", "24-hour"],
    ),
    (&["--start", "2026-11-24T24:30"], &["`2026-11-24T24:30`"]),
    (&["--start", "tomorrow"], &["`tomorrow`"]),
    (
        &["--reading", "core=50"],
        &["`core` cannot read 50", "20 °C to 45 °C"],
    ),
    (
        &["--reading", "core=36.45"],
        &["`core` cannot read 36.45", "steps of 0.1 °C"],
    ),
    (&["--reading", "core=39.5"], &["39.5", "35.0 °C to 39.0 °C"]),
    (
        &["--reading", "brain=36"],
        &["no reading `brain`", "`core`"],
    ),
    (&["--reading", "core"], &["`core`"]),
    (
        &["--reading", "core=36.4", "--reading", "core=36.0"],
        &["`core` is given twice", "36.4", "36.0"],
    ),
    (&["--mark", "rosc=13:05"], &["`rosc`"]),
    (&["--rate", "guard=0.5 °C/h"], &["`guard`"]),
];

#[test]
fn cases_that_cannot_be() {
    let folder = Folder::with(protocol_with("  # nothing"));
    for (typed, says) in CASES {
        for command in ["timeline", "sheet"] {
            let mut arguments = vec![command, "p.protocol"];
            arguments.extend_from_slice(typed);
            folder.run(&arguments).cannot_run(says);
        }
    }
    assert_eq!(folder.listed(), ["p.protocol"], "no sheet was begun");
}

#[test]
fn which_protocol_is_meant_is_never_guessed() {
    let folder = Folder::new()
        .file("all/a.protocol", protocol_with("  # nothing"))
        .file("all/b.protocol", protocol_with("  # nothing"));
    for command in ["timeline", "sheet"] {
        folder
            .run(&[command, "all"])
            .cannot_run(&["`all` is a folder", "name one"]);
        folder
            .run(&[command, "all/c.protocol"])
            .cannot_run(&["`all/c.protocol`"]);
    }
    assert_eq!(folder.listed(), ["all/a.protocol", "all/b.protocol"]);
}

#[test]
fn nothing_is_printed_from_a_protocol_with_errors() {
    let folder = Folder::with(protocol_with("  limit core never above 41.0 °C/h"));
    for arguments in [
        &["sheet", "p.protocol"][..],
        &["timeline", "p.protocol"],
        &["build", "p.protocol"],
        &["rehearse", "p.protocol"],
    ] {
        let outcome = folder.run(arguments);
        assert!(matches!(outcome.code, Some(1 | 2)), "{outcome:?}");
        let said = format!("{}{}", outcome.stdout, outcome.stderr);
        assert!(said.contains("unit-mismatch"), "{outcome:?}");
    }
    assert_eq!(folder.listed(), ["p.protocol"]);
}

#[test]
fn outputs_that_cannot_be_written_leave_nothing_behind() {
    let text = protocol_with("  # nothing");
    let folder = Folder::with(&text).file("taken", "a file");
    let sheet = |output: &str| folder.run(&["sheet", "p.protocol", "--output", output]);
    sheet("taken/sheet.pdf").cannot_run(&["`taken/sheet.pdf` cannot be written", "a folder"]);
    sheet("sheet.docx").cannot_run(&["`sheet.docx`", "--form"]);
    sheet("p.protocol").cannot_run(&["`p.protocol`", "replace"]);
    folder
        .run(&[
            "sheet",
            "p.protocol",
            "--form",
            "md",
            "--output",
            "p.protocol",
        ])
        .cannot_run(&["`p.protocol`", "replace"]);
    folder
        .run(&["new", "next", "--output", "taken"])
        .cannot_run(&["`taken` is there already"]);
    folder
        .run(&["new", "next", "--output", "taken/next.protocol"])
        .cannot_run(&["cannot be written"]);
    folder
        .run(&["new", "Not A Name"])
        .cannot_run(&["`Not A Name`"]);
    for (option, value) in [
        ("--target", "33 kg"),
        ("--hold", "24"),
        ("--rewarm", "9 °C"),
    ] {
        let wish = [
            "new",
            "next",
            "--purpose",
            "therapeutic-hypothermia",
            option,
            value,
        ];
        folder
            .run(&wish)
            .cannot_run(&["nothing was written", value]);
    }
    assert_eq!(folder.listed(), ["p.protocol", "taken"]);
    assert_eq!(
        fs::read_to_string(folder.0.join("p.protocol")).expect("still there"),
        text
    );
}

/// Under whichever name, what is read is not written over.
#[test]
fn what_is_read_is_not_written_over() {
    let text = protocol_with("  # nothing");
    let log = "time,core\n2026-11-24T14:30,36.0\n";
    let folder = Folder::with(&text)
        .file("q.protocol", &text)
        .file("old.txt", &text)
        .file("case.csv", log);
    let start = ["--log", "case.csv", "--start", "2026-11-24T14:30"];
    for output in [
        &["-o", "case.pdf", "--also", "csv"][..],
        &["-o", "case.csv"],
        &["-o", "./case.csv"],
    ] {
        let arguments = [&["sheet", "p.protocol"][..], output, &start].concat();
        folder
            .run(&arguments)
            .cannot_run(&["case.csv` is the log", "replaced"]);
    }
    for (logs, output) in [
        ("case.csv", "./case.csv"),
        (".", "case.csv"),
        ("case.csv", "q.protocol"),
    ] {
        folder
            .run(&["audit", "p.protocol", logs, "-o", output])
            .cannot_run(&["would be replaced"]);
    }
    for (output, says) in [
        ("p.protocol", "the name of a protocol"),
        ("next.protocol", "the name of a protocol"),
        ("old.txt", "one of the versions"),
        ("./old.txt", "one of the versions"),
    ] {
        folder
            .run(&["compare", "old.txt", "q.protocol", "-o", output])
            .cannot_run(&[says]);
    }
    assert_eq!(
        folder.listed(),
        ["case.csv", "old.txt", "p.protocol", "q.protocol"]
    );
    for (name, held) in [
        ("case.csv", log),
        ("old.txt", &text),
        ("p.protocol", &text),
        ("q.protocol", &text),
    ] {
        let now = fs::read_to_string(folder.0.join(name)).expect("still there");
        assert_eq!(now, held, "{name}");
    }
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_under_standard_output() {
    let folder = Folder::with(protocol_with("  # nothing"));
    for arguments in [
        &["check", "p.protocol"][..],
        &["timeline", "p.protocol"],
        &["sheet", "p.protocol", "--form", "md", "--output", "-"],
        &["new", "next", "--output", "-"],
        &["explain", "over-ceiling"],
        &["schema"],
    ] {
        let outcome = folder.run_on_full_disk(arguments);
        assert_eq!(outcome.code, Some(2), "{arguments:?}: {outcome:?}");
        assert!(outcome.stderr.starts_with("tempwright: "), "{outcome:?}");
    }
}
