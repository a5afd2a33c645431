//! The values that a display can show, as the solver counts them and as the evaluator
//! takes them: in °C and in °F the same.

#![allow(clippy::expect_used)]

mod rules;

use rules::{load_text, rule_findings};
use tempwright::checks::example;
use tempwright::eval::entry::refused_value;
use tempwright::quantity::Exact;

fn with_step(step: &str) -> tempwright::model::Loaded {
    let reading = format!(
        "reading core \"Core temperature\" temperature at esophagus, continuous, shown to {step}, accurate to 0.2 °C\n"
    );
    load_text(&example::complete(&reading).expect("a host"))
}

#[test]
fn every_value_that_is_counted_can_be_recorded() {
    for step in [
        "0.1 °C", "0.5 °C", "1 °C", "0.1 °F", "0.2 °F", "0.5 °F", "1 °F",
    ] {
        let loaded = with_step(step);
        let (_, protocol) = loaded.protocols.first().expect("a whole protocol");
        let (_, core) = protocol.readings().next().expect("the first reading");
        let grid = core.grid().expect("it says what it shows");
        let mut value = grid.low;
        let mut count = 0;
        while value <= grid.high {
            assert_eq!(refused_value(core, value), None, "{step}: {value}");
            value = value + grid.step;
            count += 1;
        }
        assert!(count > 10, "{step}");
        let between = grid.low + grid.step / Exact::int(2);
        assert!(refused_value(core, between).is_some(), "{step}");
    }
}

#[test]
fn a_step_that_misses_the_freezing_point_is_refused() {
    let loaded = with_step("0.3 °F");
    assert!(loaded.protocols.is_empty());
    let titles: Vec<&str> = loaded
        .diagnostics
        .iter()
        .map(|found| found.title.as_str())
        .collect();
    assert!(
        titles.iter().any(|title| title.contains("32 °F")),
        "{titles:?}"
    );
}

#[test]
fn a_record_is_shown_as_the_display_shows_it() {
    let text = "reading core \"Core temperature\" temperature at esophagus, continuous, shown to 0.1 °F, accurate to 0.2 °C\n\
        rule high-fever {\n  when core above 38.5 °C during guard\n  then call doctor within 30 min\n  again after 2 h\n}\n";
    let loaded = load_text(&example::complete(text).expect("a host"));
    let (findings, _) = rule_findings(&loaded);
    let shown: Vec<&str> = findings
        .iter()
        .filter_map(|found| found.witness.as_ref())
        .flat_map(|witness| &witness.moments)
        .flat_map(|moment| &moment.records)
        .filter(|(reading, _)| reading == "core")
        .map(|(_, value)| value.as_str())
        .collect();
    // 101.4 °F is the first step of that display above 38.5 °C, which is 101.3 °F.
    assert!(
        shown
            .iter()
            .any(|value| value.replace('\u{a0}', " ") == "101.4 °F"),
        "{shown:?}"
    );
    assert!(shown.iter().all(|value| value.ends_with("°F")), "{shown:?}");
}
