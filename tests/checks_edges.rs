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

/// Of few rules one way into a phase is run for all questions, of many one without those that only
/// call somebody: the findings are the same.
#[test]
fn many_more_rules_change_no_finding_of_the_others() {
    let planted = "
rule planted-never {
  when core above 37.0 °C and core below 35.0 °C during guard
  then call doctor within 30 min
}
rule planted-always {
  when core above 36.0 °C or core at or below 36.0 °C during guard
  then call doctor within 40 min
  again after 2 h
}
rule planted-shadowed {
  when core above 38.5 °C during guard
  then call doctor within 30 min
  again after 2 h
}
";
    let found = |more: usize| {
        let others = (0..more).map(|at| {
            let tenths = 386 + at;
            format!(
                "rule more-{at} {{\n  when core above {}.{} °C during guard\n  then do \"More {at}\"\n  again after 2 h\n}}\n",
                tenths / 10,
                tenths % 10
            )
        });
        let text = planted.to_owned() + &others.collect::<String>();
        let of_planted = |(_, title): &(&str, String)| title.contains("planted-");
        let mut found: Vec<_> = findings(&text).into_iter().filter(of_planted).collect();
        found.sort();
        found
    };
    let few = found(0);
    let names: Vec<&str> = few.iter().map(|(name, _)| *name).collect();
    for name in ["never-fires", "always-fires", "shadowed"] {
        assert!(names.contains(&name), "{few:#?}");
    }
    assert_eq!(few, found(60));
}
