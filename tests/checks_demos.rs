//! The checks over protocols that others wrote: nothing may be invented there.

#![allow(clippy::expect_used, clippy::panic)] // a test says so by panicking

use std::sync::Mutex;
use tempwright::checks::run::{check_all, check_each};
use tempwright::checks::{self, Context};
use tempwright::diag::Level;
use tempwright::model::{load, open};
use tempwright::source::{Library, MemoryLibrary, ReadError};

struct Disk;

impl Library for Disk {
    fn read(&self, path: &str) -> Result<String, ReadError> {
        std::fs::read_to_string(path).map_err(|error| ReadError::Other(error.to_string()))
    }
}

fn protocols(folder: &str) -> Vec<String> {
    let mut paths: Vec<String> = std::fs::read_dir(folder)
        .expect("a folder of protocols")
        .map(|entry| entry.expect("an entry").path())
        .filter(|path| {
            path.extension()
                .is_some_and(|extension| extension == "protocol")
        })
        .map(|path| path.to_string_lossy().replace('\\', "/"))
        .collect();
    paths.sort();
    paths
}

/// Names and levels of every finding in a file.
fn findings(path: &str) -> Vec<(&'static str, Level, String)> {
    let loaded = load(&Disk, &[path]).expect("the file is there");
    let (_, protocol) = loaded.protocols.first().expect("a whole protocol");
    let context = Context::new(protocol, &loaded.sources);
    checks::check(&context, loaded.diagnostics.clone())
        .findings
        .into_iter()
        .map(|finding| (finding.name, finding.level, finding.title))
        .collect()
}

/// What the committee of the invented hospital has written is printed, so nothing
/// in it may be an error.
#[test]
fn no_demo_protocol_has_an_error() {
    for path in protocols("protocols") {
        let errors: Vec<String> = findings(&path)
            .into_iter()
            .filter(|(_, level, _)| *level == Level::Error)
            .map(|(name, _, title)| format!("{name}: {title}"))
            .collect();
        assert!(errors.is_empty(), "{path}: {errors:#?}");
    }
}

fn names(path: &str) -> Vec<&'static str> {
    findings(path).into_iter().map(|(name, ..)| name).collect()
}

/// A faithful copy of Bernard 2002, 33 °C to 37 °C in 6 h, breaks the later cap.
#[test]
fn a_historic_trial_breaks_the_later_cap() {
    let names = names("tests/trials/bernard2002.protocol");
    assert!(names.contains(&"rewarm-cap-adult"), "{names:?}");
    assert!(names.contains(&"plan-faster-than-cap"), "{names:?}");
}

/// The rows about depth tell the two arms of CAPITAL CHILL apart.
#[test]
fn thirty_one_degrees_is_told_from_thirty_four() {
    let colder = names("tests/trials/capital-chill-31.protocol");
    let warmer = names("tests/trials/capital-chill-34.protocol");
    assert!(colder.contains(&"no-mild-hypothermia-31"), "{colder:?}");
    assert!(!warmer.contains(&"no-mild-hypothermia-31"), "{warmer:?}");
}

/// 1/3 °C/h, 0.25 °C/h and 0.5 °C/h keep the cap; schedules that were run are not
/// called impossible.
#[test]
fn schedules_that_were_run_are_possible() {
    for path in protocols("tests/trials") {
        for name in names(&path) {
            let allowed = path.contains("bernard2002");
            assert!(
                allowed
                    || !["plan-faster-than-cap", "due-impossible", "rewarm-cap-adult"]
                        .contains(&name),
                "{path}: {name}"
            );
            // POLAR's hold of up to 7 days leaves no time before the end of day 7.
            let late = path.contains("polar2018") && name == "ends-before-start";
            assert!(
                late || !["ends-before-start", "no-end"].contains(&name),
                "{path}: {name}"
            );
        }
    }
}

/// The demo protocols, each also with lines taken out; a library with a fault, a file of scenarios,
/// one for a protocol that is not there, and one that uses what is missing.
fn many() -> MemoryLibrary {
    let mut library = MemoryLibrary::default();
    for folder in ["protocols", "protocols/shared"] {
        for path in protocols(folder) {
            let text = Disk.read(&path).expect("a file of the project");
            library.files.insert(path, text);
        }
    }
    let whole: Vec<(String, String)> = library.files.clone().into_iter().collect();
    for (path, text) in whole.iter().filter(|(path, _)| !path.contains("/shared/")) {
        for without in [5, 11, 40, 71] {
            let mut lines: Vec<&str> = text.lines().collect();
            lines.remove(without);
            let name = path.replace(".protocol", &format!("-{without}.protocol"));
            library.files.insert(name, lines.join("\n"));
        }
    }
    let shared = whole.iter().find(|(path, _)| path.contains("/shared/"));
    let (path, text) = shared.expect("a library");
    let used = path.rsplit('/').next().expect("a name");
    let broken = text.replacen("\n    dose ", "\n    dsoe ", 1);
    assert_ne!(broken, *text);
    library
        .files
        .insert(path.replace(used, "broken.protocol"), broken);
    for (at, (path, text)) in whole.iter().enumerate() {
        if text.contains(used) && !path.contains("/shared/") {
            for with in ["broken.protocol", "missing.protocol"] {
                let name = format!("protocols/of-{at}-{with}");
                library.files.insert(name, text.replace(used, with));
            }
        }
    }
    let scenario = |of: &str| {
        format!("scenario \"Warm\" for {of} {{\n  at 1:00 core 36.0 °C\n  expect no nobody\n}}\n")
    };
    for (name, of) in [("loose", "heat-stroke"), ("lost", "nothing")] {
        library
            .files
            .insert(format!("protocols/{name}.protocol"), scenario(of));
    }
    library
}

/// `check` lets each protocol go when it has looked at it: the same is found as where all are kept.
#[test]
fn what_is_found_is_the_same_whether_protocols_are_kept_or_let_go() {
    let library = many();
    let paths: Vec<&str> = library.files.keys().map(String::as_str).collect();
    let kept = check_all(load(&library, &paths).expect("in memory"), None);
    let opened = open(&library, &paths).expect("in memory");
    let told = Mutex::new(Vec::new());
    let tell = |path: &str, _: usize, of: usize| {
        told.lock().expect("no panic").push((path.to_owned(), of));
    };
    let let_go = check_each(opened, None, &tell);
    assert_eq!(let_go.findings, kept.findings);
    assert_eq!(let_go.accepted, kept.accepted);
    assert!(let_go.protocols.is_empty() && kept.protocols.len() > 10);
    assert!(kept.accepted.len() > 1, "{:?}", kept.accepted);
    let titles: Vec<&str> = kept.findings.iter().map(|one| one.title.as_str()).collect();
    for wanted in [
        "this scenario is for a protocol that was not read",
        "missing.protocol",
        "dsoe",
        "nobody",
    ] {
        assert!(
            titles.iter().any(|title| title.contains(wanted)),
            "{wanted}: {titles:#?}"
        );
    }
    // Each file is told of once.
    let mut told = told.into_inner().expect("no panic");
    told.sort();
    let wanted: Vec<_> = paths
        .iter()
        .map(|path| ((*path).to_owned(), paths.len()))
        .collect();
    assert_eq!(told, wanted);
}
