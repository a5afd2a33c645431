//! The values that a display can show, as the solver counts them and as the evaluator
//! takes them: in °C and in °F the same.

#![allow(clippy::expect_used)]

mod rules;

use rules::load_text;
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
