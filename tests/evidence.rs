//! Every row of the evidence table that has a value: just inside and just outside.
//!
//! The source stands beside each case. An example is put into a small host
//! protocol (`checks::example`), and only the row in question is looked at.

#![allow(clippy::expect_used, clippy::panic)] // a test says so by panicking

#[path = "evidence/after_arrest.rs"]
mod after_arrest;
#[path = "evidence/elsewhere.rs"]
mod elsewhere;
#[path = "evidence/newborn_and_child.rs"]
mod newborn_and_child;
#[path = "evidence/skin_and_monitoring.rs"]
mod skin_and_monitoring;

use std::collections::BTreeSet;
use tempwright::checks::{self, Context, evidence, example};
use tempwright::diag::{Diagnostic, Level};
use tempwright::model::load;
use tempwright::source::MemoryLibrary;

/// A row, an example inside its limit, one outside, and the level outside.
pub struct Case {
    pub row: &'static str,
    pub inside: &'static str,
    pub outside: &'static str,
    pub level: Level,
}

pub const fn case(
    row: &'static str,
    level: Level,
    inside: &'static str,
    outside: &'static str,
) -> Case {
    Case {
        row,
        inside,
        outside,
        level,
    }
}

fn cases() -> impl Iterator<Item = &'static Case> {
    after_arrest::CASES
        .iter()
        .chain(newborn_and_child::CASES)
        .chain(elsewhere::CASES)
        .chain(skin_and_monitoring::CASES)
}

fn findings(row: &str, text: &str) -> Vec<Diagnostic> {
    let whole = example::complete(text).unwrap_or_else(|| panic!("{row}: no such host"));
    let library = MemoryLibrary::default().with("example.protocol", &whole);
    let loaded = load(&library, &["example.protocol"]).expect("the text is in memory");
    let Some((_, protocol)) = loaded.protocols.first() else {
        let titles: Vec<&str> = loaded
            .diagnostics
            .iter()
            .map(|d| d.title.as_str())
            .collect();
        panic!("{row}: not a whole protocol: {titles:#?}\n{text}");
    };
    let context = Context::new(protocol, &loaded.sources);
    checks::check(&context, Vec::new())
        .findings
        .into_iter()
        .filter(|finding| finding.name == row)
        .collect()
}

#[test]
fn just_inside_says_nothing_and_just_outside_speaks() {
    let mut wrong = Vec::new();
    for case in cases() {
        let inside = findings(case.row, case.inside);
        if !inside.is_empty() {
            let titles: Vec<_> = inside.iter().map(|finding| finding.title.clone()).collect();
            wrong.push(format!("{} speaks inside: {titles:?}", case.row));
        }
        let outside = findings(case.row, case.outside);
        let levels: Vec<Level> = outside.iter().map(|finding| finding.level).collect();
        if levels.iter().min() != Some(&case.level) {
            wrong.push(format!(
                "{} outside: {levels:?}\n{}",
                case.row, case.outside
            ));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn every_row_that_can_fire_has_a_case() {
    let tested: BTreeSet<&str> = cases().map(|case| case.row).collect();
    let missing: Vec<&str> = evidence::rows()
        .filter(|row| matches!(row.decision, evidence::Decision::Fires { .. }))
        .map(|row| row.id)
        .filter(|id| !tested.contains(id))
        .collect();
    assert!(missing.is_empty(), "{missing:?}");
}

/// The rows that only report or define stand in the table and never fire.
#[test]
fn rows_that_never_fire_are_explained() {
    for id in [
        "pa-duration-no-gain-72",
        "rewarm-cap-slow-equal",
        "overshoot-frequency",
        "arrhythmia-33-vs-normothermia",
        "stroke-fever-prevention",
        "fever-burden-definition",
        "ncs-2017",
        "mg-low-shiver",
        "bsas-reliability",
        "map-trials",
        "k-disagreement",
        "neo-low-resource",
        "neo-normothermia-control",
        "acc-definition",
        "acc-arrest-drugs",
        "peri-definition",
        "peri-comfort",
        "peri-drop",
        "heat-threshold",
        "skin-heating-device",
        "thermo-edition",
        "acc-wms-stages",
        "acc-swiss-later",
        "acc-swiss-revised-2021",
    ] {
        let row = evidence::row(id).unwrap_or_else(|| panic!("no row {id}"));
        assert!(matches!(row.decision, evidence::Decision::Never(_)), "{id}");
        let page = checks::explain(id).expect("a page").to_string();
        assert!(page.contains("Never reported"), "{page}");
    }
}

#[test]
fn an_unconfirmed_row_is_never_an_error() {
    for row in evidence::rows() {
        if row.standing == evidence::Standing::Memory {
            assert!(row.level != Level::Error, "{}", row.id);
        }
    }
    for case in cases() {
        let row = evidence::row(case.row).expect("a row");
        for finding in findings(case.row, case.outside) {
            let unconfirmed = row.standing == evidence::Standing::Memory;
            assert!(
                !(unconfirmed && finding.level == Level::Error),
                "{}",
                row.id
            );
            assert!(
                finding.level >= row.level,
                "{} is graver than its row",
                row.id
            );
        }
    }
}

/// A finding names its source and how it was confirmed, and shows the `accept`
/// that would let it stand.
#[test]
fn a_finding_names_its_source_and_its_accept() {
    for case in cases() {
        for finding in findings(case.row, case.outside) {
            let source = finding.source.clone().unwrap_or_default();
            assert!(
                [
                    "seen in the source",
                    "seen in a page that reports it",
                    "from memory, unconfirmed"
                ]
                .iter()
                .any(|standing| source.contains(standing)),
                "{source}"
            );
            let about = finding.about.clone().unwrap_or_default();
            assert!(
                finding
                    .help
                    .iter()
                    .any(|help| help.contains(&format!("accept {} on {about} because", case.row))),
                "{:?}",
                finding.help
            );
        }
    }
}

/// A published limit can be accepted even where it is an error; the exception is
/// then used, and nothing of that row is left.
#[test]
fn a_published_limit_can_be_accepted() {
    let text = "\
rule potassium-low {
  when potassium below 2.9 mmol/L
  then call doctor within 30 min
  again after 4 h
}
accept k-low on potassium because \"agreed with the laboratory\" by \"Committee\" until 2027-01-01
";
    assert!(findings("k-low", text).is_empty());
    assert!(findings("exception-unused", text).is_empty());
}
