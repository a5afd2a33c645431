//! Whatever stands in a file, reading it ends in findings, never in a panic; and
//! whatever can be read can be planned, rehearsed and formatted without one.

#![allow(clippy::expect_used, clippy::panic)] // a test says so by panicking

use proptest::prelude::*;
use proptest::test_runner::RngSeed;
use std::path::Path;
use tempwright::diag::{Level, render};
use tempwright::format::format;
use tempwright::model::load;
use tempwright::plan::{Case, Plan};
use tempwright::rehearse::rehearse;
use tempwright::source::MemoryLibrary;

/// Reads the text as a file and does with it all that can be done.
fn survives(library: &MemoryLibrary, path: &str) {
    let loaded = load(library, &[path]).expect("held in memory");
    for found in &loaded.diagnostics {
        for label in std::iter::once(&found.place).chain(&found.others) {
            let file = loaded
                .sources
                .get(label.span.file)
                .expect("a file that was read");
            assert!(file.text.get(label.span.range()).is_some(), "{found:?}");
        }
        assert!(!render::human(found, &loaded.sources, render::Style::default()).is_empty());
    }
    // What it is formatted to, or why it is not, is tested where the formatter is.
    let text = library.files.get(path).map_or("", String::as_str);
    let _ = format(text);
    assert!(loaded.has_errors() || !loaded.protocols.is_empty() || is_no_protocol(library, path));
    for (_, protocol) in &loaded.protocols {
        match Plan::of(protocol, &Case::default()) {
            Ok(plan) => assert_eq!(plan.phases.len(), protocol.phases.len()),
            Err(refused) => assert!(!refused.to_string().is_empty()),
        }
        rehearse(protocol, &loaded.sources);
    }
}

/// Libraries and scenarios are read, and nothing comes of them by themselves.
fn is_no_protocol(library: &MemoryLibrary, path: &str) -> bool {
    let text = library.files.get(path).map_or("", String::as_str);
    !text
        .lines()
        .any(|line| line.trim_start().starts_with("protocol"))
}

/// The protocols that ship, their libraries, and the trials.
fn real_files() -> MemoryLibrary {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut library = MemoryLibrary::default();
    for folder in ["protocols", "protocols/shared", "tests/trials"] {
        for entry in std::fs::read_dir(root.join(folder)).expect("a folder of the project") {
            let path = entry.expect("an entry").path();
            if path.extension().is_some_and(|end| end == "protocol") {
                let name = path
                    .file_name()
                    .expect("a name")
                    .to_string_lossy()
                    .into_owned();
                let text = std::fs::read_to_string(&path).expect("UTF-8");
                library.files.insert(format!("{folder}/{name}"), text);
            }
        }
    }
    library
}

/// One slip of the pen.
#[derive(Debug, Clone)]
enum Slip {
    DropLine(usize),
    RepeatLine(usize),
    SwapLines(usize, usize),
    /// The nth number becomes another.
    Number(usize, &'static str),
    /// The nth word becomes a word of the language, or another.
    Word(usize, &'static str),
    /// Everything after this is lost.
    Cut(usize),
    DropCharacter(usize),
    Insert(usize, &'static str),
}

const NUMBERS: &[&str] = &[
    "0",
    "0.1",
    "1",
    "33.0",
    "99999",
    "999999999",
    "1/3",
    "1/999999999",
    "0.000000001",
    ".5",
    "5.",
    "1/0",
    "12345678901234567890",
    "33,5",
];
const WORDS: &[&str] = &[
    "core",
    "target",
    "and",
    "or",
    "hold",
    "cool",
    "start",
    "rosc",
    "°C",
    "°F",
    "°C/h",
    "h",
    "min",
    "mg/kg",
    "mcg/kg/min",
    "{",
    "}",
    "(",
    ")",
    "\"",
    "\"\"\"",
    ",",
    "for",
    "during",
    "until",
    "begin",
    "stop",
    "every",
    "phase",
    "rung",
    "years",
    "%",
    "é",
    "\u{202e}",
    "\u{0}",
    "#",
];

fn slip() -> impl Strategy<Value = Slip> {
    let at = 0..5000usize;
    prop_oneof![
        at.clone().prop_map(Slip::DropLine),
        at.clone().prop_map(Slip::RepeatLine),
        (at.clone(), at.clone()).prop_map(|(a, b)| Slip::SwapLines(a, b)),
        (at.clone(), proptest::sample::select(NUMBERS)).prop_map(|(n, to)| Slip::Number(n, to)),
        (at.clone(), proptest::sample::select(WORDS)).prop_map(|(n, to)| Slip::Word(n, to)),
        (0..40_000usize).prop_map(Slip::Cut),
        (0..40_000usize).prop_map(Slip::DropCharacter),
        (0..40_000usize, proptest::sample::select(WORDS)).prop_map(|(n, w)| Slip::Insert(n, w)),
    ]
}

/// Replaces the nth (counted round) of the pieces that `is` picks out.
fn replace_nth(text: &str, nth: usize, to: &str, is: fn(&str) -> bool) -> String {
    let pieces: Vec<&str> = text.split_inclusive([' ', '\n']).collect();
    let picked: Vec<usize> = (0..pieces.len())
        .filter(|index| pieces.get(*index).is_some_and(|p| is(p.trim())))
        .collect();
    let Some(chosen) = picked.get(nth % picked.len().max(1)) else {
        return text.to_owned();
    };
    let mut out = String::new();
    for (index, piece) in pieces.iter().enumerate() {
        if index == *chosen {
            out.push_str(to);
            out.push_str(&piece[piece.trim_end().len()..]);
        } else {
            out.push_str(piece);
        }
    }
    out
}

fn slipped(text: &str, slip: &Slip) -> String {
    let mut lines: Vec<&str> = text.split_inclusive('\n').collect();
    let count = lines.len().max(1);
    let character = |nth: usize| {
        let count = text.chars().count().max(1);
        text.char_indices().nth(nth % count).map_or(0, |(at, _)| at)
    };
    match slip {
        Slip::DropLine(n) if !lines.is_empty() => {
            lines.remove(n % count);
            lines.concat()
        }
        Slip::RepeatLine(n) if !lines.is_empty() => {
            let line = lines.get(n % count).copied().unwrap_or("");
            lines.insert(n % count, line);
            lines.concat()
        }
        Slip::SwapLines(a, b) if !lines.is_empty() => {
            lines.swap(a % count, b % count);
            lines.concat()
        }
        Slip::Number(n, to) => replace_nth(text, *n, to, |word| {
            word.starts_with(|c: char| c.is_ascii_digit())
        }),
        Slip::Word(n, to) => replace_nth(text, *n, to, |word| !word.is_empty()),
        Slip::Cut(n) => text.get(..character(*n)).unwrap_or("").to_owned(),
        Slip::DropCharacter(n) => {
            let at = character(*n);
            let rest = text.get(at..).unwrap_or("");
            let length = rest.chars().next().map_or(0, char::len_utf8);
            format!(
                "{}{}",
                text.get(..at).unwrap_or(""),
                rest.get(length..).unwrap_or("")
            )
        }
        Slip::Insert(n, word) => {
            let at = character(*n);
            format!(
                "{}{word}{}",
                text.get(..at).unwrap_or(""),
                text.get(at..).unwrap_or("")
            )
        }
        Slip::DropLine(_) | Slip::RepeatLine(_) | Slip::SwapLines(..) => text.to_owned(),
    }
}

#[test]
fn the_real_files_survive_as_they_are() {
    let library = real_files();
    assert!(library.files.len() > 25);
    for path in library.files.keys() {
        survives(&library, path);
        let loaded = load(&library, &[path]).expect("held in memory");
        let errors = loaded
            .diagnostics
            .iter()
            .filter(|found| found.level == Level::Error)
            .count();
        assert_eq!(errors, 0, "{path}: {:#?}", loaded.diagnostics);
    }
}

/// The same few on each run; where `PROPTEST_CASES` says so, more and others.
fn config() -> ProptestConfig {
    let cases = std::env::var("PROPTEST_CASES")
        .ok()
        .and_then(|cases| cases.parse().ok());
    let seed = match cases {
        Some(_) => RngSeed::Random,
        None => RngSeed::Fixed(20_261_124),
    };
    ProptestConfig {
        cases: cases.unwrap_or(200),
        rng_seed: seed,
        failure_persistence: None,
        ..ProptestConfig::default()
    }
}

proptest! {
    #![proptest_config(config())]

    #[test]
    fn slips_of_the_pen_end_in_findings(
        file in 0..1000usize,
        slips in proptest::collection::vec(slip(), 1..6),
    ) {
        let mut library = real_files();
        let paths: Vec<String> = library.files.keys().cloned().collect();
        let path = paths.get(file % paths.len()).expect("counted round").clone();
        let mut text = library.files.get(&path).expect("it is there").clone();
        for slip in &slips {
            text = slipped(&text, slip);
        }
        library.files.insert(path.clone(), text);
        survives(&library, &path);
    }

    #[test]
    fn any_text_at_all_ends_in_findings(text in "\\PC{0,400}|[ -~\\n{}\"#(),]{0,400}") {
        survives(&MemoryLibrary::default().with("any.protocol", &text), "any.protocol");
    }
}
