//! The engine that is committed is of the sources that are committed.

use sha2::{Digest as _, Sha256};
use std::path::Path;

const MEND: &str = "run `.ci/engine` and commit src/kit/engine.wasm with src/kit/engine.sha256";

/// Whether the page can be expected to say what the sources say.
pub fn stale() -> Option<String> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let written = std::fs::read_to_string(root.join("src/kit/engine.sha256")).expect("the list");
    let listed: Vec<(&str, &str)> = written
        .lines()
        .filter(|line| !line.starts_with('#'))
        .filter_map(|line| line.split_once("  "))
        .collect();
    assert!(listed.len() > 60, "the list is whole");
    let changed: Vec<&str> = listed
        .iter()
        .filter(|(hash, path)| {
            let now = std::fs::read(root.join(path)).unwrap_or_default();
            let now: String = Sha256::digest(&now)
                .iter()
                .map(|byte| format!("{byte:02x}"))
                .collect();
            now != *hash
        })
        .map(|(_, path)| *path)
        .collect();
    (!changed.is_empty()).then(|| {
        format!(
            "the print kit's engine is not of these sources; {MEND}\nchanged since: {}",
            changed.join(", ")
        )
    })
}

#[test]
fn the_committed_engine_is_of_the_committed_sources() {
    if let Some(stale) = stale() {
        panic!("{stale}");
    }
}
