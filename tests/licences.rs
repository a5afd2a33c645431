//! What the program is made of may be passed on with it: the licence of every crate that goes
//! into it is one of a short list, and the fonts' licence lies beside them.

#![allow(clippy::expect_used, clippy::panic)] // a test says so by panicking

use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::process::Command;

/// Those that ask for no more than their text to be kept.
const ALLOWED: &[&str] = &[
    "0BSD",
    "Apache-2.0",
    "Apache-2.0 WITH LLVM-exception",
    "BSD-3-Clause",
    "MIT",
    "Unicode-3.0",
    "Unlicense",
    "Zlib",
];

/// Whether a licence expression can be met by those of the list: `OR` and the older `/`
/// between choices, `AND` between what is asked for together.
fn is_allowed(expression: &str) -> bool {
    let plain = expression.replace('/', " OR ").replace(['(', ')'], "");
    // The one expression with both has its choice in brackets: `(A OR B) AND C`.
    plain
        .split(" AND ")
        .all(|part| part.split(" OR ").any(|one| ALLOWED.contains(&one.trim())))
}

fn metadata() -> Value {
    let version = Command::new("rustc").arg("-vV").output().expect("rustc");
    let version = String::from_utf8(version.stdout).expect("UTF-8");
    let host = version
        .lines()
        .find_map(|line| line.strip_prefix("host: "))
        .expect("a host");
    let output = Command::new(env!("CARGO"))
        .args(["metadata", "--offline", "--locked", "--format-version", "1"])
        // Crates for other systems were never fetched.
        .args(["--filter-platform", host])
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .expect("cargo starts");
    assert!(
        output.status.success(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    serde_json::from_slice(&output.stdout).expect("JSON")
}

/// The licences of all crates that the program needs, to run or to be built, on this system.
fn licences(all: &Value) -> BTreeMap<String, String> {
    let text = |value: &Value| value.as_str().unwrap_or_default().to_owned();
    let list = |value: &Value| value.as_array().cloned().unwrap_or_default();
    let packages: BTreeMap<String, Value> = list(&all["packages"])
        .into_iter()
        .map(|package| (text(&package["id"]), package))
        .collect();
    let nodes: BTreeMap<String, Value> = list(&all["resolve"]["nodes"])
        .into_iter()
        .map(|node| (text(&node["id"]), node))
        .collect();
    let mut open = vec![text(&all["resolve"]["root"])];
    let mut seen = BTreeSet::new();
    while let Some(id) = open.pop() {
        if !seen.insert(id.clone()) {
            continue;
        }
        for needed in list(&nodes[&id]["deps"]) {
            let for_tests_only = list(&needed["dep_kinds"])
                .iter()
                .all(|kind| kind["kind"] == "dev");
            if !for_tests_only {
                open.push(text(&needed["pkg"]));
            }
        }
    }
    seen.iter()
        .map(|id| {
            let package = &packages[id];
            (text(&package["name"]), text(&package["license"]))
        })
        .collect()
}

#[test]
fn every_crate_in_the_program_may_be_passed_on_with_it() {
    let licences = licences(&metadata());
    assert!(licences.len() > 100, "{}", licences.len());
    let wrong: Vec<_> = licences
        .iter()
        .filter(|(_, licence)| !is_allowed(licence))
        .collect();
    assert!(wrong.is_empty(), "look at these licences: {wrong:?}");
}

#[test]
fn a_licence_that_asks_for_more_is_seen() {
    for wrong in ["GPL-3.0-only", "MIT AND GPL-2.0", "", "MPL-2.0 OR LGPL-3.0"] {
        assert!(!is_allowed(wrong), "{wrong}");
    }
    for right in [
        "MIT OR Apache-2.0",
        "BSD-3-Clause/MIT",
        "(MIT OR Apache-2.0) AND Unicode-3.0",
        "GPL-3.0-only OR MIT",
    ] {
        assert!(is_allowed(right), "{right}");
    }
}

#[test]
fn the_fonts_have_their_licence_beside_them() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/document/fonts");
    let licence = std::fs::read_to_string(folder.join("LICENSE-OFL.txt")).expect("the licence");
    assert!(licence.contains("SIL Open Font License, Version 1.1"));
    let fonts = std::fs::read_dir(&folder)
        .expect("the fonts")
        .filter(|entry| {
            let name = entry.as_ref().expect("an entry").file_name();
            name.to_string_lossy().ends_with(".ttf")
        })
        .count();
    assert_eq!(fonts, 2, "another font needs its licence too");
}
