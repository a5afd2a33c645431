//! Files made to take all time or all memory, and numbers that nothing can hold: each is
//! answered within bounds that the operating system keeps.

#![cfg(target_os = "linux")]
#![allow(clippy::expect_used, clippy::panic)] // a test says so by panicking

use std::path::Path;
use std::process::{Command, Output, Stdio};
use std::time::Instant;

/// What any of them may take, in a debug build: more of either ends the program.
const SECONDS: u32 = 120;
const MEGABYTES: u32 = 1500;

const HEAD: &str = r#"protocol example {
  title "Example (invented, not for patient care)"
  unit "Saltmarsh District Hospital"
  version 1.0.0
  review 2027-06-30
  purpose fever-control
  patients adult, weight 40 kg to 140 kg, core 35.0 °C to 39.0 °C on arrival
  method surface feedback from core
  timezone "Europe/London"
  people { nurse "Bedside nurse" }
  reading core "Core temperature" temperature at bladder, continuous, shown to 0.1 °C, accurate to 0.2 °C
  phase guard "Prevent fever" {
    keep core 36.0 °C to 37.7 °C
    lasts 72 h
  }
  every 1 h record core
"#;

const TAIL: &str = r#"  rule too-warm {
    when core above 37.7 °C
    then do "Uncover, and cool the room"
  }
  rule too-cold {
    when core below 36.0 °C
    then do "Cover"
  }
}
"#;

fn protocol(body: &str) -> String {
    format!("{HEAD}{body}\n{TAIL}")
}

fn rule(name: &str, condition: &str, order: &str) -> String {
    format!("  rule {name} {{\n    when {condition}\n    then {order}\n  }}\n")
}

/// `p.protocol` in a project of its own.
fn folder(text: &str) -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a folder");
    std::fs::create_dir(folder.path().join(".git")).expect("made");
    std::fs::write(folder.path().join("p.protocol"), text).expect("written");
    folder
}

/// Runs within the bounds, and ends by itself.
fn bounded(folder: &Path, arguments: &[&str]) -> Output {
    let limits = format!(
        "ulimit -t {SECONDS} -v {}; exec \"$0\" \"$@\"",
        MEGABYTES * 1024
    );
    let began = Instant::now();
    let output = Command::new("bash")
        .args(["-c", &limits, env!("CARGO_BIN_EXE_tempwright")])
        .args(arguments)
        .current_dir(folder)
        .env("RUST_BACKTRACE", "0")
        .stdin(Stdio::null())
        .output()
        .expect("bash starts");
    let said = String::from_utf8_lossy(&output.stderr);
    let start: String = said.chars().take(500).collect();
    assert!(
        matches!(output.status.code(), Some(0..=2)),
        "{arguments:?} after {:?}: {:?}: {start}",
        began.elapsed(),
        output.status
    );
    assert!(
        !said.contains("a fault of the program itself"),
        "{arguments:?}: {start}"
    );
    output
}

fn check(text: &str) -> Vec<String> {
    let folder = folder(text);
    let output = bounded(
        folder.path(),
        &["check", "--format", "concise", "p.protocol"],
    );
    let said = String::from_utf8(output.stdout).expect("UTF-8");
    said.lines()
        .map(|line| line.replace('\u{a0}', " "))
        .collect()
}

/// The errors among what was found.
fn errors(text: &str) -> Vec<String> {
    check(text)
        .into_iter()
        .filter(|line| line.contains(": error["))
        .collect()
}

/// One error, at this line, of this name, that says this.
fn refused(text: &str, line: usize, name: &str, says: &str) {
    let found = errors(text);
    let [one] = found.as_slice() else {
        panic!("{} errors: {found:?}", found.len());
    };
    assert!(one.starts_with(&format!("p.protocol:{line}:")), "{one}");
    assert!(
        one.contains(&format!("error[{name}]")) && one.contains(says),
        "{one}"
    );
}

/// The line on which the body begins.
fn first() -> usize {
    HEAD.lines().count() + 1
}

#[test]
fn the_bounds_are_kept() {
    // Or the tests below would prove nothing.
    let mut limited = Command::new("bash");
    limited.args([
        "-c",
        &format!(
            "ulimit -v {}; exec python3 -c 'bytes(3 << 30)'",
            MEGABYTES * 1024
        ),
    ]);
    let Ok(output) = limited.output() else { return };
    assert!(!output.status.success(), "{output:?}");
    assert_eq!(
        errors(&protocol("")),
        Vec::<String>::new(),
        "the host is clean"
    );
}

#[test]
fn numbers_that_nothing_can_hold() {
    let ten_to_30 = format!("1{}", "0".repeat(30));
    let decimals = format!("41.{}1", "0".repeat(39));
    for (line, name, says) in [
        (
            format!("  limit core never above {ten_to_30} °C"),
            "bad-number",
            ten_to_30.as_str(),
        ),
        (
            format!("  limit core never above {decimals} °C"),
            "bad-number",
            decimals.as_str(),
        ),
        (
            format!("  limit core never above 1/{} °C", "9".repeat(40)),
            "bad-number",
            "9999",
        ),
        (
            format!("  every {ten_to_30} h record core"),
            "bad-number",
            ten_to_30.as_str(),
        ),
        (
            "  every 1000000000 h record core".to_owned(),
            "bad-number",
            "1000000000",
        ),
        (
            format!("  workload {ten_to_30} entries per hour"),
            "bad-number",
            "workload",
        ),
        (
            "  reading s \"S\" score 0 to 999999999".to_owned(),
            "bad-number",
            "1000",
        ),
        (
            format!("  reading s \"S\" score 0 to {ten_to_30}"),
            "bad-number",
            "1000",
        ),
        (
            "  reading s \"S\" score 3 to 0".to_owned(),
            "range-reversed",
            "lower to a higher",
        ),
    ] {
        refused(&protocol(&line), first(), name, says);
    }
    let version =
        |number: &str| protocol("").replace("version 1.0.0", &format!("version {number}"));
    refused(&version("99999999999999.0.0"), 4, "bad-number", "version");
    refused(
        &version(&format!("1.0.{}", "9".repeat(400))),
        4,
        "bad-number",
        "version",
    );
    let review = |day: &str| protocol("").replace("2027-06-30", day);
    refused(&review("9999-99-99"), 5, "bad-date", "9999-99-99");
    assert_eq!(errors(&review("9999-12-31")), Vec::<String>::new());
    let lasts = |time: &str| protocol("").replace("lasts 72 h", &format!("lasts {time}"));
    refused(
        &lasts("999999999 years"),
        14,
        "unit-mismatch",
        "999999999 years",
    );
}

#[test]
fn targets_off_the_scale_and_steps_without_a_course() {
    let keep = |range: &str| {
        protocol("").replace(
            "keep core 36.0 °C to 37.7 °C",
            &format!("keep core {range}"),
        )
    };
    for range in [
        "36.0 °C to 45.1 °C",
        "36.0 °C to 99.0 °C",
        "19.9 °C to 37.7 °C",
        "2.0 °C to 37.7 °C",
    ] {
        refused(&keep(range), 13, "off-scale", "off the scale");
    }
    let course = |aim: &str| {
        let phase = format!(
            "  phase warm \"Warm\" {{\n    {aim}\n    target moves every 1 h in steps of 0.1 °C\n  }}"
        );
        errors(&protocol(&phase))
    };
    let found = course("warm core to 36.5 °C");
    assert!(
        found
            .iter()
            .any(|one| one.contains("error[misplaced-statement]")
                && one.contains("no rate is planned")),
        "{found:?}"
    );
    let found = course("warm core to 36.5 °C at 0.2 °C/h");
    assert!(
        !found.iter().any(|one| one.contains("misplaced-statement")),
        "{found:?}"
    );
}

/// What fits is worked out, in time and memory that do not follow the number.
#[test]
fn durations_of_a_hundred_thousand_years() {
    let long = "999999999 h";
    let text = protocol(&format!(
        "{}{}",
        rule(
            "slow",
            &format!("core above 37.7 °C for {long}"),
            "do \"Uncover\""
        ),
        rule(
            "drift",
            &format!("core rises more than 0.1 °C in {long}"),
            "do \"Look\""
        ),
    ))
    .replace("lasts 72 h", &format!("lasts {long}"))
    .replace("every 1 h", &format!("every {long}"));
    let folder = folder(&text);
    for arguments in [
        &["check", "p.protocol"][..],
        &["timeline", "p.protocol"],
        &["sheet", "p.protocol", "-o", "p.pdf"],
        &["build", "p.protocol"],
        &[
            "forecast",
            "p.protocol",
            "--weight",
            "82 kg",
            "--from",
            "36.4 °C",
        ],
        &["compare", "p.protocol", "p.protocol"],
    ] {
        bounded(folder.path(), arguments);
    }
    // The same course, but looked at every minute: refused in words, or short.
    let often = text.replace(&format!("every {long}"), "every 1 min");
    std::fs::write(folder.path().join("p.protocol"), often).expect("written");
    for arguments in [
        &["check", "p.protocol"][..],
        &["timeline", "p.protocol"],
        &["sheet", "p.protocol", "-o", "p.pdf"],
        &["build", "p.protocol"],
    ] {
        let output = bounded(folder.path(), arguments);
        let length = output.stdout.len() + output.stderr.len();
        assert!(length < 200_000, "{arguments:?}: {length} bytes");
    }
}

/// `(a or b) and (c or d) and …`: up to two to the thirtieth ways to hold.
fn tangled(pairs: usize, test: impl Fn(usize) -> (String, String)) -> String {
    let parts: Vec<String> = (0..pairs)
        .map(|at| {
            let (one, other) = test(at);
            format!("({one} or {other})")
        })
        .collect();
    parts.join(" and ")
}

fn readings() -> String {
    (0..60)
        .map(|at| {
            format!(
                "  reading w{at} \"W{at}\" temperature of water, shown to 0.1 °C, accurate to 0.2 °C\n  \
                 every 1 h record w{at}\n"
            )
        })
        .collect()
}

#[test]
fn conditions_that_hold_in_a_billion_ways() {
    let of = |pairs: usize, words: &dyn Fn(usize, bool) -> String| {
        tangled(pairs, |at| (words(2 * at, true), words(2 * at + 1, false)))
    };
    let plain = of(30, &|at, up| match up {
        true => format!("w{at} above 30.{} °C", at % 10),
        false => format!("w{at} below 20.{} °C", at % 10),
    });
    let lasting = of(12, &|at, up| match up {
        true => format!("w{at} above 30.0 °C for {} h", at + 1),
        false => format!("w{at} below 20.0 °C for {} h", at + 1),
    });
    let trends = of(6, &|at, up| match up {
        true => format!("w{at} rises more than 1.5 °C in {} h", at + 1),
        false => format!("w{at} falls more than 1.5 °C in {} h", at + 1),
    });
    let one_reading = tangled(30, |at| {
        (
            format!("core above 37.{} °C", at % 7),
            format!("core below 36.{} °C", at % 7),
        )
    });
    for condition in [&plain, &lasting, &trends, &one_reading] {
        let body = |order: &str| {
            let again = rule("b", condition, "lower target by 0.5 °C, at least 36.0 °C");
            protocol(&format!(
                "{}{}{again}",
                readings(),
                rule("a", condition, order)
            ))
        };
        let order = "raise target by 0.5 °C, at most 37.5 °C";
        let folder = folder(&body(order));
        let other = body(order)
            .replace("30.", "31.")
            .replace("1.5 °C", "1.6 °C")
            .replace("37.3 °C", "37.4 °C");
        assert_ne!(other, body(order));
        std::fs::write(folder.path().join("q.protocol"), other).expect("written");
        let output = bounded(folder.path(), &["check", "p.protocol"]);
        let said = String::from_utf8(output.stdout).expect("UTF-8");
        // Two equal conditions with opposite orders: found, or said to be beyond proof.
        assert!(
            said.contains("error[contradiction]") || said.contains("error[not-proved]"),
            "{said}"
        );
        // Those over long times have a test of their own.
        if condition.contains(" for ") {
            continue;
        }
        let output = bounded(folder.path(), &["compare", "p.protocol", "q.protocol"]);
        assert_eq!(output.status.code(), Some(1));
        let said = String::from_utf8(output.stdout).expect("UTF-8");
        assert!(
            said.contains("rule `a`") && said.contains("rule `b`"),
            "{said}"
        );
    }
    // Without the contradiction it is printed and rehearsed.
    let scenario = "scenario \"warm\" for example {\n  at 0:00 core 38.5 °C\n  at 1:00 core 38.6 °C\n  end 3:00\n}\n";
    let text = protocol(&format!(
        "{}{}",
        readings(),
        rule("a", &lasting, "do \"Look\"")
    ));
    let folder = folder(&format!("{text}{scenario}"));
    for arguments in [
        &["sheet", "p.protocol", "-o", "p.pdf"][..],
        &["build", "p.protocol"],
        &["rehearse", "p.protocol"],
        &["rehearse", "p.protocol", "--suggest"],
    ] {
        bounded(folder.path(), arguments);
    }
}

/// Many long conditions: what a comparison may take is counted, and what it leaves open is said.
#[test]
fn a_comparison_of_conditions_over_long_times_ends_and_says_what_is_open() {
    let lasting = tangled(20, |at| {
        (
            format!("w{} above 30.0 °C for {} h", 2 * at, 2 * at + 1),
            format!("w{} below 20.0 °C for {} h", 2 * at + 1, 2 * at + 2),
        )
    });
    let all = rule("a", &lasting, "raise target by 0.5 °C, at most 37.5 °C")
        + &rule("b", &lasting, "lower target by 0.5 °C, at least 36.0 °C");
    let old = protocol(&format!("{}{all}", readings()));
    let folder = folder(&old);
    std::fs::write(
        folder.path().join("q.protocol"),
        old.replace("30.0", "31.0"),
    )
    .expect("written");
    let compared = |old: &str, new: &str| {
        let output = bounded(folder.path(), &["compare", old, new]);
        assert_eq!(output.status.code(), Some(1));
        String::from_utf8(output.stdout).expect("UTF-8")
    };
    let said = compared("p.protocol", "q.protocol");
    assert!(said.contains("NOT COMPARED TO THE END"), "{said}");
    for name in ["a", "b"] {
        assert!(
            said.contains(&format!("rule `{name}`, condition: changed")),
            "{name}: {said}"
        );
    }
    // What was not found out is not claimed.
    assert!(
        said.contains("could not be decided") || said.contains("no record is shown, because"),
        "{said}"
    );
    assert!(!said.contains("acts on the same records"), "{said}");
    // A small one is compared to its end.
    std::fs::write(folder.path().join("r.protocol"), protocol("")).expect("written");
    let small = protocol("").replace("above 37.7 °C", "above 37.8 °C");
    std::fs::write(folder.path().join("s.protocol"), small).expect("written");
    assert!(!compared("r.protocol", "s.protocol").contains("NOT COMPARED"));
}

#[test]
fn nesting_beyond_all_reason() {
    let when = |condition: &str| protocol(&rule("r", condition, "continue"));
    let deep = |open: &str, close: &str, times: usize| {
        when(&format!(
            "{}core above 37.7 °C{}",
            open.repeat(times),
            close.repeat(times)
        ))
    };
    refused(
        &deep("(", ")", 100_000),
        first() + 1,
        "nested-too-deep",
        "parentheses",
    );
    refused(&deep("not ", "", 100_000), first() + 1, "syntax", "`not`");
    assert!(errors(&deep("(", ")", 30)).is_empty());
    let turn = "(core above 37.0 °C or (core above 36.9 °C and ";
    assert!(errors(&deep(turn, "))", 15)).is_empty());
    assert!(!errors(&"{".repeat(1_000_000)).is_empty());
    assert!(
        !errors(&format!(
            "protocol p {{\n{}",
            "phase a \"x\" {\n".repeat(100_000)
        ))
        .is_empty()
    );
    let lots = format!(
        "core above 37.7 °C{}",
        " or core above 37.7 °C".repeat(2000)
    );
    assert!(errors(&when(&lots)).is_empty());
    // Markdown that a reader nests, in a text.
    for text in [
        "> ".repeat(5000),
        "[".repeat(20_000),
        "*a **".repeat(20_000),
        "`".repeat(30_000),
    ] {
        let folder = folder(&protocol(&format!("  caution \"{text}x\"")));
        bounded(folder.path(), &["check", "p.protocol"]);
        bounded(folder.path(), &["sheet", "p.protocol", "-o", "p.html"]);
    }
}

fn library(name: &str, uses: &str) -> String {
    format!("library {name} {{\n  title \"L\"\n  version 1.0.0\n  review 2027-06-30\n{uses}}}\n")
}

#[test]
fn rows_and_fans_of_libraries() {
    let uses = |at: usize| format!("  use \"c{at}.protocol\"\n");
    let long = folder(&protocol("  use \"c0.protocol\""));
    let fan = folder(&protocol("  use \"c0.protocol\""));
    for at in 0..200 {
        let next = if at < 199 {
            uses(at + 1)
        } else {
            String::new()
        };
        std::fs::write(
            long.path().join(format!("c{at}.protocol")),
            library(&format!("c{at}"), &next),
        )
        .expect("written");
    }
    // Each uses all that come after it: two to the thirtieth ways through them.
    for at in 0..31 {
        let all: String = (at + 1..31).map(uses).collect();
        std::fs::write(
            fan.path().join(format!("c{at}.protocol")),
            library(&format!("c{at}"), &all),
        )
        .expect("written");
    }
    let output = bounded(long.path(), &["check", "--format", "concise", "p.protocol"]);
    let said = String::from_utf8(output.stdout).expect("UTF-8");
    let found: Vec<&str> = said
        .lines()
        .filter(|line| line.contains("error["))
        .collect();
    assert_eq!(found.len(), 1, "{said}");
    // No round: none of them uses one that uses it.
    assert!(
        found
            .iter()
            .all(|line| line.contains("error[nested-too-deep]")),
        "{said}"
    );
    let output = bounded(fan.path(), &["check", "--format", "concise", "p.protocol"]);
    let said = String::from_utf8(output.stdout).expect("UTF-8");
    assert!(!said.contains("error["), "{said}");
}

#[test]
fn libraries_through_links_and_dots() {
    let folder = folder(&protocol(""));
    let at = |name: &str| folder.path().join(name);
    let outside = tempfile::tempdir().expect("a folder");
    std::fs::write(outside.path().join("out.protocol"), library("out", "")).expect("written");
    std::fs::create_dir(at("sub")).expect("made");
    std::fs::write(at("in.protocol"), library("inside", "")).expect("written");
    let link = |from: &Path, to: &str| std::os::unix::fs::symlink(from, at(to)).expect("a link");
    link(&outside.path().join("out.protocol"), "out.protocol");
    link(outside.path(), "away");
    link(Path::new("two.protocol"), "one.protocol");
    link(Path::new("one.protocol"), "two.protocol");
    link(Path::new("/dev/zero"), "zero.protocol");
    link(Path::new("../in.protocol"), "sub/in.protocol");
    link(Path::new("."), "self");
    assert!(
        Command::new("mkfifo")
            .arg(at("pipe.protocol"))
            .status()
            .expect("mkfifo")
            .success()
    );
    std::fs::create_dir(at("dir.protocol")).expect("made");
    for (path, name) in [
        ("out.protocol", "use-outside-root"),
        ("away/out.protocol", "use-outside-root"),
        ("zero.protocol", "use-outside-root"),
        ("../out.protocol", "use-outside-root"),
        ("sub/../../out.protocol", "use-outside-root"),
        ("/etc/passwd", "use-outside-root"),
        ("one.protocol", "use-unreadable"),
        ("pipe.protocol", "use-unreadable"),
        ("dir.protocol", "use-unreadable"),
        ("", "use-unreadable"),
    ] {
        std::fs::write(at("p.protocol"), protocol(&format!("  use \"{path}\""))).expect("written");
        for command in ["check", "timeline"] {
            let output = bounded(folder.path(), &[command, "p.protocol"]);
            let said = String::from_utf8(output.stdout).expect("UTF-8");
            assert!(said.contains(&format!("error[{name}]")), "{path}: {said}");
            assert!(!said.contains("root:"), "{path}: what lies there is shown");
        }
    }
    for path in [
        "in.protocol",
        "sub/in.protocol",
        "sub/../in.protocol",
        "self/self/self/in.protocol",
    ] {
        std::fs::write(at("p.protocol"), protocol(&format!("  use \"{path}\""))).expect("written");
        let output = bounded(
            folder.path(),
            &["check", "--format", "concise", "p.protocol"],
        );
        let said = String::from_utf8(output.stdout).expect("UTF-8");
        assert!(!said.contains("error["), "{path}: {said}");
    }
}

#[test]
fn signs_that_turn_the_text_and_letters_that_look_alike() {
    for sign in [
        "\u{202a}", "\u{202b}", "\u{202d}", "\u{202e}", "\u{2066}", "\u{2067}", "\u{2068}",
        "\u{200e}", "\u{200f}", "\u{61c}",
    ] {
        let code = format!("U+{:04X}", u32::from(sign.chars().next().expect("one")));
        for line in [
            format!("  caution \"Never {sign} cool\""),
            format!("  # a comment {sign} that turns"),
            format!("  every 2 h do \"Look{sign}\" because \"so\""),
        ] {
            refused(&protocol(&line), first(), "hidden-characters", &code);
        }
    }
    // Each looks like `paracetamol`, `core` or `10 mg`, and is not.
    for (line, code) in [
        ("  caution \"Give \u{440}aracetamol\"", "U+0440"),
        ("  caution \"Give p\u{3b1}racetamol\"", "U+03B1"),
        ("  caution \"Give 1\u{ff10} mg\"", "U+FF10"),
        ("  caution \"Give \u{661}0 mg\"", "U+0661"),
        ("  # see \u{441}ore", "U+0441"),
    ] {
        refused(&protocol(line), first(), "hidden-characters", code);
    }
    // A name: no reading of that name is there, and the letter is told.
    let folder = folder(&protocol(&rule(
        "r",
        "\u{441}ore above 37.7 °C",
        "continue",
    )));
    let output = bounded(folder.path(), &["check", "p.protocol"]);
    let said = String::from_utf8(output.stdout).expect("UTF-8");
    assert!(
        said.contains("error[syntax]") && said.contains("U+0441"),
        "{said}"
    );
}
