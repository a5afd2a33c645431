//! The examples near the edge that the language reference gives with M1 to M36,
//! each tried as it stands there, as scenarios on the whole program. What is worked
//! out without a case stands in `arithmetic.rs`; what only the checks see, with them.

#![allow(clippy::expect_used, clippy::panic)] // a test says so by panicking

mod case;
mod looking;
mod medications;
mod phases;
mod proofs;
mod rules;

/// A definition without a test of its own name would be one that nobody tries.
#[test]
fn every_definition_has_a_test() {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("tests");
    let mut tried = std::collections::BTreeSet::new();
    for name in ["meaning", "reference_edges"] {
        for entry in std::fs::read_dir(folder.join(name)).expect("a folder") {
            let path = entry.expect("an entry").path();
            if path.extension().is_none_or(|ending| ending != "rs") {
                continue;
            }
            let text = std::fs::read_to_string(&path).expect("text");
            for after in text.split("#[test]\nfn m").skip(1) {
                let digits: String = after.chars().take_while(char::is_ascii_digit).collect();
                tried.extend(digits.parse::<u32>());
            }
        }
    }
    let reference = include_str!("../../grammar/LANGUAGE.md");
    let defined: Vec<u32> = reference
        .split("\n- **M")
        .skip(1)
        .filter_map(|after| after.split(' ').next()?.parse().ok())
        .collect();
    assert_eq!(defined, (1..=36).collect::<Vec<u32>>());
    for number in defined {
        assert!(tried.contains(&number), "M{number} has no test");
    }
}
