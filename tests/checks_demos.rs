//! The checks over protocols that others wrote: nothing may be invented there.

#![allow(clippy::expect_used, clippy::panic)] // a test says so by panicking

use tempwright::checks::{self, Context};
use tempwright::diag::Level;
use tempwright::model::load;
use tempwright::source::{Library, ReadError};

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
