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
use tempwright::checks::{self, Context};
use tempwright::model::{Aim, Protocol, load};
use tempwright::plan::{Case, PhasePlan, Plan};
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

fn placed(protocol: &Protocol, phase: &str) -> PhasePlan {
    let plan = Plan::of(protocol, &Case::default()).expect("numbers that fit");
    let (id, _) = protocol
        .phases()
        .find(|(_, written)| written.name.name == phase)
        .unwrap_or_else(|| panic!("no phase `{phase}`"));
    plan.phase(id).expect("every phase is in the plan").clone()
}

/// What the plan makes of an expectation: from the earliest to the time that the
/// sheet prints, which is the slow side of what the protocol counts on.
fn computed(protocol: &Protocol, expectation: &Expectation) -> (Exact, Option<Exact>) {
    let placed = placed(protocol, &expectation.phase);
    let hour = Exact::int(60);
    let (earliest, planned) = (placed.end.earliest, placed.end.planned);
    let begins = match expectation.what {
        What::Ends => (Exact::ZERO, Some(Exact::ZERO)),
        What::Lasts => (placed.start.earliest, placed.start.planned),
    };
    let planned = planned
        .zip(begins.1)
        .map(|(end, start)| (end - start) / hour);
    ((earliest - begins.0) / hour, planned)
}

#[test]
fn the_timeline_of_every_trial_is_what_its_source_states() {
    let mut compared = 0;
    let mut wrong = Vec::new();
    for trial in trials() {
        let protocol = protocol(&trial);
        for expectation in &trial.expectations {
            let (earliest, planned) = computed(&protocol, expectation);
            let first = expectation.earliest.is_none_or(|wanted| wanted == earliest);
            let last = expectation
                .latest
                .is_none_or(|wanted| planned == Some(wanted));
            if !(first && last) {
                wrong.push(format!(
                    "{}: {earliest} h to {planned:?} h, but {expectation:?}",
                    trial.name
                ));
            }
            compared += 1;
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert!(compared >= 60, "only {compared} compared");
}

#[test]
fn a_faithful_copy_of_the_trial_of_2002_breaks_the_later_cap() {
    let trial = trials()
        .into_iter()
        .find(|trial| trial.name == "bernard2002");
    let protocol = protocol(&trial.expect("it is among the trials"));
    let (_, rewarm) = protocol.phases().last().expect("phases");
    let Aim::Reach {
        rate: Some(rate),
        from: Some(from),
        to,
        ..
    } = &rewarm.aim
    else {
        panic!("rewarming follows a course");
    };
    // 33 °C to 37 °C in 6 h: the rate is not bent to fit the cap of 0.5 °C/h.
    assert_eq!(rate.faster().value, Exact::ratio(2, 3));
    assert_eq!((to.value - from.value) / rate.faster().value, Exact::int(6));
    let cap = rewarm
        .never_faster
        .as_ref()
        .expect("the later cap is written down");
    assert_eq!(cap.value, Exact::ratio(1, 2));
    assert!(rate.faster().value > cap.value);

    // And the checker says so: by the protocol's own cap, and by the published one.
    let found = findings("bernard2002");
    assert!(found.contains(&"plan-faster-than-cap"), "{found:?}");
    assert!(found.contains(&"rewarm-cap-adult"), "{found:?}");
    for later in ["ttm2013-33", "ttm2-33", "hyperion-33", "capital-chill-34"] {
        let found = findings(later);
        assert!(
            !found.contains(&"plan-faster-than-cap"),
            "{later}: {found:?}"
        );
        assert!(!found.contains(&"rewarm-cap-adult"), "{later}: {found:?}");
    }
}

/// The names of all that is found wrong with a trial as a protocol for a ward.
fn findings(name: &str) -> Vec<&'static str> {
    let trial = trials().into_iter().find(|trial| trial.name == name);
    let trial = trial.expect("it is among the trials");
    let path = format!("{name}.protocol");
    let library = MemoryLibrary::default().with(&path, &trial.text);
    let loaded = load(&library, &[&path]).expect("held in memory");
    let (_, protocol) = loaded.protocols.first().expect("no errors");
    let context = Context::new(protocol, &loaded.sources);
    let report = checks::check(&context, loaded.diagnostics.clone());
    report.findings.iter().map(|finding| finding.name).collect()
}

#[test]
fn a_pair_of_rates_gives_both_lengths_and_prints_the_slower() {
    let by_name = |name: &str| {
        let trial = trials().into_iter().find(|trial| trial.name == name);
        placed(&protocol(&trial.expect("it is among the trials")), "rewarm")
    };
    let (slow, fast, both) = (
        by_name("hyperion-33-slow"),
        by_name("hyperion-33-fast"),
        by_name("hyperion-33"),
    );
    assert_eq!(both.end.earliest, fast.end.earliest);
    assert_eq!(both.end.latest, slow.end.latest);
    assert_eq!(both.course, slow.course);
    assert_ne!(both.course, fast.course);
}
