//! What tests of the checks share: texts in memory, and what a family finds in them.

#![allow(dead_code, clippy::expect_used, clippy::panic)]

use std::path::Path;
use tempwright::checks::{self, Context, Family};
use tempwright::diag::Diagnostic;
use tempwright::diag::render::{Style, human};
use tempwright::model::{Loaded, load};
use tempwright::solve::Found;
use tempwright::source::MemoryLibrary;

/// The six demo protocols.
pub const DEMOS: &[&str] = &[
    "accidental-hypothermia",
    "adult-arrest-33",
    "adult-arrest-normothermia",
    "heat-stroke",
    "newborn-cooling",
    "theatre-warmth",
];

/// Every file of `protocols/`, by its path there.
pub fn demo_library() -> MemoryLibrary {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("protocols");
    let mut library = MemoryLibrary::default();
    for folder in ["", "shared"] {
        let mut paths: Vec<_> = std::fs::read_dir(root.join(folder))
            .expect("the demo protocols")
            .map(|entry| entry.expect("a file").path())
            .filter(|path| path.extension().is_some_and(|ext| ext == "protocol"))
            .collect();
        paths.sort();
        for path in paths {
            let name = path.strip_prefix(&root).expect("below the root");
            let text = std::fs::read_to_string(&path).expect("UTF-8");
            library = library.with(&name.to_string_lossy(), &text);
        }
    }
    library
}

pub fn load_text(text: &str) -> Loaded {
    let library = MemoryLibrary::default().with("test.protocol", text);
    load(&library, &["test.protocol"]).expect("the text is in memory")
}

/// The names of the checks of the rules family.
pub fn rule_checks() -> Vec<&'static str> {
    checks::all()
        .filter(|check| check.family == Family::Rules)
        .map(|check| check.name)
        .chain(["too-complex"])
        .collect()
}

#[derive(Debug, Default)]
pub struct Replays {
    pub made: u32,
    pub wrong: Vec<Found>,
}

/// What the checks of the rules find, and how many witnesses were replayed and did
/// not show what they should.
pub fn rule_findings(loaded: &Loaded) -> (Vec<Diagnostic>, Replays) {
    let names = rule_checks();
    let mut found = Vec::new();
    let mut replays = Replays::default();
    for (_, protocol) in &loaded.protocols {
        let context = Context::new(protocol, &loaded.sources);
        found.extend(
            checks::all()
                .filter(|check| check.family == Family::Rules)
                .filter_map(|check| match check.run {
                    checks::Run::Over(run) => Some(run(&context)),
                    checks::Run::Reading | checks::Run::Accepting => None,
                })
                .flatten()
                .filter(|finding| names.contains(&finding.name)),
        );
        replays.made += context.solver.replays();
        replays.wrong.extend(context.solver.not_reproduced());
    }
    (found, replays)
}

pub fn shown(loaded: &Loaded, findings: &[Diagnostic]) -> String {
    findings
        .iter()
        .map(|finding| human(finding, &loaded.sources, Style::default()))
        .collect::<Vec<_>>()
        .join("\n")
}
