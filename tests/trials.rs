//! The schedules of published trials, worked out from their protocols and compared
//! with what the sources state.
//!
//! Each file of `tests/trials/` names its source, its time zero, and what is
//! expected, in comments. The standing of each expectation is one of three: stated
//! by the source, computed from its fields (an exact consequence of what it
//! states), or from memory (not confirmed). Volume and page numbers of the
//! citations are mostly from memory. Two trials of which too little is known for a
//! schedule are left out: one of newborns at 33.5 °C or 32.0 °C for 72 h or 120 h,
//! and one of adults in septic shock at 32 °C to 34 °C for 24 h.

#![allow(clippy::expect_used, clippy::panic)] // a test says so by panicking

use std::path::Path;
use tempwright::model::{Protocol, load};
use tempwright::quantity::Exact;
use tempwright::source::MemoryLibrary;

/// One `# expect` line: `rewarm lasts 8 h to 16 h | computed from its fields`.
#[derive(Debug)]
struct Expectation {
    phase: String,
    what: What,
    /// In hours; either end may be open.
    earliest: Option<Exact>,
    latest: Option<Exact>,
    standing: Standing,
}

#[derive(Debug, PartialEq, Eq)]
enum What {
    Lasts,
    Ends,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Standing {
    Stated,
    Computed,
    Memory,
}

struct Trial {
    name: String,
    text: String,
    expectations: Vec<Expectation>,
}

fn hours(text: &str) -> Exact {
    text.strip_suffix(" h")
        .and_then(Exact::parse)
        .unwrap_or_else(|| panic!("hours: `{text}`"))
}

fn expectation(line: &str) -> Expectation {
    let (claim, standing) = line
        .split_once('|')
        .unwrap_or_else(|| panic!("standing: `{line}`"));
    let standing = match standing.trim() {
        text if text.starts_with("stated by the source") => Standing::Stated,
        text if text.starts_with("computed from its fields") => Standing::Computed,
        text if text.starts_with("from memory") => Standing::Memory,
        text => panic!("standing: `{text}`"),
    };
    let mut words = claim.trim().splitn(3, ' ');
    let mut word = || {
        words
            .next()
            .unwrap_or_else(|| panic!("too short: `{line}`"))
    };
    let phase = word().to_owned();
    let what = match word() {
        "lasts" => What::Lasts,
        "ends" => What::Ends,
        other => panic!("`{other}` in `{line}`"),
    };
    let time = word();
    let (earliest, latest) = if let Some(time) = time.strip_suffix(" at the earliest") {
        (Some(hours(time)), None)
    } else if let Some(time) = time.strip_suffix(" at the latest") {
        (None, Some(hours(time)))
    } else if let Some((first, last)) = time.split_once(" to ") {
        (Some(hours(first)), Some(hours(last)))
    } else {
        (Some(hours(time)), Some(hours(time)))
    };
    Expectation {
        phase,
        what,
        earliest,
        latest,
        standing,
    }
}

/// All trials, by name.
fn trials() -> Vec<Trial> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/trials");
    let mut trials: Vec<Trial> = std::fs::read_dir(folder)
        .expect("the folder of trials")
        .map(|entry| {
            let path = entry.expect("a file").path();
            let text = std::fs::read_to_string(&path).expect("UTF-8");
            let expectations = text
                .lines()
                .filter_map(|line| line.strip_prefix("# expect "))
                .map(expectation)
                .collect();
            let name = path
                .file_stem()
                .expect("a name")
                .to_string_lossy()
                .into_owned();
            Trial {
                name,
                text,
                expectations,
            }
        })
        .collect();
    trials.sort_by(|a, b| a.name.cmp(&b.name));
    trials
}

fn protocol(trial: &Trial) -> Protocol {
    let path = format!("{}.protocol", trial.name);
    let library = MemoryLibrary::default().with(&path, &trial.text);
    let mut loaded = load(&library, &[&path]).expect("held in memory");
    assert_eq!(loaded.diagnostics, Vec::new(), "{path}");
    loaded
        .protocols
        .pop()
        .expect("one protocol without errors")
        .1
}

#[test]
fn every_trial_names_its_source_its_zero_and_what_is_expected() {
    let trials = trials();
    assert_eq!(trials.len(), 20);
    let mut standings = std::collections::BTreeMap::<Standing, usize>::new();
    for trial in &trials {
        assert!(trial.text.starts_with("# Source: "), "{}", trial.name);
        assert!(trial.text.contains("\n# Time zero: "), "{}", trial.name);
        assert!(
            trial.text.contains("not for patient care"),
            "{}",
            trial.name
        );
        assert!(!trial.expectations.is_empty(), "{}", trial.name);
        for expectation in &trial.expectations {
            let declared = format!("\n  phase {} \"", expectation.phase);
            assert!(
                trial.text.contains(&declared),
                "{}: {expectation:?}",
                trial.name
            );
            if let (Some(earliest), Some(latest)) = (expectation.earliest, expectation.latest) {
                assert!(earliest <= latest, "{}: {expectation:?}", trial.name);
            }
            *standings.entry(expectation.standing).or_default() += 1;
            // What is from memory is said so in the words above, too.
            if expectation.standing == Standing::Memory {
                assert!(
                    trial.text.to_lowercase().contains("from memory"),
                    "{}",
                    trial.name
                );
            }
        }
    }
    assert_eq!(standings.len(), 3, "{standings:?}");
}

#[test]
fn every_trial_is_read_without_a_fault() {
    for trial in trials() {
        protocol(&trial);
    }
}
