//! Files made to take all time or all memory, and numbers that nothing can hold: each is
//! answered within bounds that the operating system keeps.

#![cfg(target_os = "linux")]
#![allow(clippy::expect_used, clippy::panic)] // a test says so by panicking

#[path = "support/bounded.rs"]
mod bounded;

use bounded::{MEGABYTES, bounded, errors, first, folder, protocol, refused, rule};
use std::path::Path;
use std::process::Command;

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
