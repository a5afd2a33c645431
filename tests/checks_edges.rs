//! Edges of the checks: the value itself, and the first one beside it.
//!
//! Each example is put into a host protocol; a `fires` one must have the finding,
//! a `passes` one must not. What else is found in them is no matter here.

#![allow(clippy::expect_used, clippy::panic)] // a test says so by panicking

#[path = "edges/dose_words.rs"]
mod dose_words;
#[path = "edges/orders_and_plan.rs"]
mod orders_and_plan;
#[path = "edges/steps_doses_words.rs"]
mod steps_doses_words;
#[path = "edges/times_and_looks.rs"]
mod times_and_looks;

use tempwright::checks::{self, Context, example};
use tempwright::model::load;
use tempwright::source::MemoryLibrary;

/// The name and the title of each finding.
fn findings(text: &str) -> Vec<(&'static str, String)> {
    let whole = example::complete(text).unwrap_or_else(|| panic!("no host: {text}"));
    let library = MemoryLibrary::default().with("example.protocol", &whole);
    let loaded = load(&library, &["example.protocol"]).expect("the text is in memory");
    let Some((_, protocol)) = loaded.protocols.first() else {
        let titles: Vec<&str> = loaded
            .diagnostics
            .iter()
            .map(|d| d.title.as_str())
            .collect();
        panic!("not a whole protocol: {titles:#?}\n{text}");
    };
    let context = Context::new(protocol, &loaded.sources).on(example::day(text));
    checks::check(&context, loaded.diagnostics.clone())
        .findings
        .iter()
        .map(|finding| (finding.name, finding.title.clone()))
        .collect()
}

fn names(text: &str) -> Vec<&'static str> {
    findings(text).into_iter().map(|(name, _)| name).collect()
}

/// The titles of one check's findings, with plain blanks.
fn said(check: &str, text: &str) -> Vec<String> {
    findings(text)
        .into_iter()
        .filter(|(name, _)| *name == check)
        .map(|(_, title)| title.replace('\u{a0}', " "))
        .collect()
}

fn fires(check: &str, times: usize, text: &str) {
    let names = names(text);
    let count = names.iter().filter(|name| **name == check).count();
    assert_eq!(count, times, "{check} in {names:?}\n{text}");
}

fn passes(check: &str, text: &str) {
    fires(check, 0, text);
}
