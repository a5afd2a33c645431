//! The scenarios of the demo protocols, each tried on the evaluator.

#![allow(clippy::expect_used, clippy::panic)] // a test says so by panicking

use std::fs;
use std::path::Path;
use tempwright::model;
use tempwright::rehearse::{rehearse, report};
use tempwright::source::MemoryLibrary;

fn demos() -> (MemoryLibrary, Vec<String>) {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("protocols");
    let mut library = MemoryLibrary::default();
    let mut paths = Vec::new();
    for folder in ["", "shared/"] {
        for entry in fs::read_dir(root.join(folder)).expect("the demo protocols are there") {
            let path = entry.expect("an entry").path();
            if path
                .extension()
                .is_none_or(|extension| extension != "protocol")
            {
                continue;
            }
            let name = path
                .file_name()
                .and_then(|name| name.to_str())
                .expect("a name");
            let text = fs::read_to_string(&path).expect("a text");
            library = library.with(&format!("protocols/{folder}{name}"), &text);
            if folder.is_empty() {
                paths.push(format!("protocols/{name}"));
            }
        }
    }
    paths.sort();
    (library, paths)
}

#[test]
fn every_demo_has_scenarios_and_all_of_them_pass() {
    let (library, paths) = demos();
    assert_eq!(paths.len(), 6);
    for path in &paths {
        let loaded = model::load(&library, &[path]).expect("it is there");
        let (_, protocol) = loaded.protocols.first().expect("it is whole");
        let rehearsal = rehearse(protocol, &loaded.sources);
        assert!(
            rehearsal.passed(),
            "{path}\n{}",
            report(std::slice::from_ref(&rehearsal))
        );
    }
}

/// Turned round, every expectation fails: none of them is met by nothing.
#[test]
fn every_expectation_of_the_demos_can_fail() {
    let (library, paths) = demos();
    for path in &paths {
        let loaded = model::load(&library, &[path]).expect("it is there");
        let (_, protocol) = loaded.protocols.first().expect("it is whole");
        let mut turned = protocol.clone();
        for scenario in &mut turned.scenarios {
            for expect in &mut scenario.expects {
                expect.absent = !expect.absent;
            }
        }
        for trial in rehearse(&turned, &loaded.sources).trials {
            assert_eq!(
                trial.failures.len(),
                trial.expectations,
                "{path}: {}",
                trial.title
            );
        }
    }
}
