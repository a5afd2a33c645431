//! Parts of the solver, asked directly: what a whole question would hide.

#![allow(clippy::expect_used)] // a test says so by panicking

#[path = "support/small.rs"]
mod small;

use small::protocol;
use tempwright::model::{PhaseId, RuleId};
use tempwright::quantity::Exact;
use tempwright::solve::Solver;

const PHASES: &str = r#"  phase settle "Settle" {
    keep core 36.0 °C to 37.0 °C
    lasts 1 h
  }
  phase middle "Middle" {
    keep core 36.0 °C to 37.0 °C
    lasts 2 h
  }
  phase hold "Hold" {
    hold core at 36.0 °C within 0.5 °C
    lasts 24 h
  }
  every 1 h record core
"#;

fn rule(name: &str, during: &str) -> String {
    format!(
        "  rule {name} {{\n    when core above 37.0 °C{during}\n    then call doctor now\n  }}\n"
    )
}

#[test]
fn a_stretch_goes_back_over_the_phases_of_a_rule_without_a_break() {
    let rules = rule("always", "")
        + &rule("last", " during hold")
        + &rule("both", " during middle, hold")
        + &rule("broken", " during settle, hold");
    let protocol = protocol(&(PHASES.to_owned() + &rules));
    let solver = Solver::new(&protocol);
    let frame = solver.frame(PhaseId(2)).expect("a record leads there");
    let during = |rule: u32| &protocol[RuleId(rule)].during;
    let stretches: Vec<Exact> = (0..4).map(|rule| frame.stretch(during(rule))).collect();
    assert_eq!(stretches, [0, 180, 60, 180].map(Exact::int));
    // At 0:30 the first runs, at 1:00 and 1:30 the second, at 3:20 the third.
    for (at, wanted) in [
        (30, [Some(0), None, None, Some(0)]),
        (60, [Some(0), None, Some(60), None]),
        (90, [Some(0), None, Some(60), None]),
        (200, [Some(0), Some(180), Some(60), Some(180)]),
    ] {
        let found: Vec<Option<Exact>> = (0..4)
            .map(|rule| frame.stretch_at(during(rule), Exact::int(at)))
            .collect();
        assert_eq!(found, wanted.map(|since| since.map(Exact::int)), "{at}");
    }
}
