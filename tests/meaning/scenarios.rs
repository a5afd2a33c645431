//! M36: scenarios, what they expect, and what is said when it does not happen.

use crate::case::load;
use tempwright::rehearse::{Rehearsal, rehearse, report};

const BODY: &str = r#"
  phase cool "Cool to target" {
    cool core to 33.0 °C
  }
  phase hold "Hold" {
    hold core at 33.0 °C within 0.5 °C
    lasts 24 h
  }
  phase guard "Guard" {
    keep core 36.0 °C to 37.5 °C
    lasts 24 h
  }
  every 30 min record core, water
  every 1 h score shiver then follow shivering-steps
  ladder shivering-steps "Shivering" on shiver {
    rung 0 to 1 "None or mild" {
      continue
    }
    rung 2 to 3 "Severe" {
      call doctor within 15 min
    }
  }
  rule cold-water { when water below 10.0 °C for 1 h during hold  then follow shivering-steps }
  rule too-cold { when core below 32.5 °C during hold  then pause temperature control until core at or above 32.8 °C }
  rule sites { when core and second differ by more than 1.0 °C  then do "Check"
    overrides too-cold
  }
"#;

fn tried(scenario: &str) -> Rehearsal {
    let loaded = load(BODY, scenario);
    let protocol = &loaded.protocols[0].1;
    rehearse(protocol, &loaded.sources)
}

fn met(expectation: &str) -> bool {
    let rehearsal = tried(&format!(
        r#"scenario "Water stays cold" for trial {{
  given weight 82 kg
  given rosc 2 h before start
  at 0:00                          core 36.4 °C
  at 3:00                          core 33.0 °C, water 14.0 °C
  from 4:00 to 6:00 every 30 min   core 33.0 °C, water 9.0 °C
  at 5:00                          shiver 3
  at 6:30                          core 32.0 °C
  expect {expectation}
}}"#
    ));
    assert_eq!(rehearsal.trials.len(), 1);
    rehearsal.passed()
}

#[test]
fn m36_what_is_expected_and_happens() {
    for expectation in [
        "phase cool at 2:59",
        "phase hold at 3:00",
        "target 33.0 °C at 3:00",
        "cold-water at 5:00",
        "cold-water",
        "no cold-water at 4:30",
        "call doctor within 15 min at 5:00",
        // Without its UNTIL.
        "pause temperature control at 6:30",
        "too-cold at 6:30",
        "no sites",
    ] {
        assert!(met(expectation), "{expectation}");
    }
}

#[test]
fn m36_what_is_expected_and_does_not_happen() {
    for expectation in [
        "phase hold at 2:59",
        "phase guard at 3:00",
        "target 33.1 °C at 3:00",
        "cold-water at 4:30",
        "no cold-water",
        "no cold-water at 5:00",
        "call doctor within 30 min at 5:00",
        "call doctor within 15 min at 4:00",
        "no pause temperature control",
        "sites",
        "stop temperature control",
    ] {
        assert!(!met(expectation), "{expectation}");
    }
}

#[test]
fn m36_from_to_takes_both_ends_in_and_times_go_past_24_h() {
    let rehearsal = tried(
        r#"scenario "Ends" for trial {
  at 0:00 core 33.0 °C
  from 4:00 to 5:00 every 30 min water 9.0 °C
  expect no cold-water at 4:30
  expect cold-water at 5:00
  expect phase hold at 23:59
  expect phase guard at 24:00
  expect phase guard at 27:30
}"#,
    );
    assert!(rehearsal.passed(), "{}", report(&[rehearsal]));
}

#[test]
fn no_scenario_is_a_failure() {
    let rehearsal = tried("");
    assert!(!rehearsal.passed());
    assert!(report(&[rehearsal]).contains("nothing has been tried"));
    assert!(report(&[]).contains("FAIL"));
}

#[test]
fn a_record_that_cannot_be_is_a_failure() {
    let rehearsal = tried(
        r#"scenario "Off the scale" for trial {
  at 0:00 core 33.05 °C
  expect no too-cold
}"#,
    );
    assert!(!rehearsal.passed());
}

#[test]
fn a_failure_says_the_record_what_happened_and_which_rule_decided() {
    let rehearsal = tried(
        r#"scenario "Too cold, but the sites disagree" for trial {
  at 0:00   core 33.0 °C, second 33.0 °C
  at 1:00   core 32.4 °C, second 34.0 °C
  expect too-cold at 1:00
}
scenario "The water was warm for a moment" for trial {
  at 0:00   core 33.0 °C, water 9.0 °C, shiver 0
  at 1:00   core 33.0 °C, water 10.0 °C
  at 1:30   core 32.4 °C, water 9.0 °C
  expect cold-water at 1:00
  expect no pause temperature control
  expect call doctor within 15 min
  expect phase guard at 1:30
  expect target 34.0 °C at 1:30
}
scenario "All is well" for trial {
  at 0:00   core 33.0 °C
  expect no too-cold
}"#,
    );
    insta::assert_snapshot!(report(&[rehearsal]));
}

#[test]
fn a_failure_is_told_in_few_lines_and_what_is_left_out_is_counted() {
    let rehearsal = tried(
        r#"scenario "Long the same" for trial {
  from 0:00 to 6:00 every 30 min   core 34.0 °C, water 14.0 °C
  from 6:30 to 13:30 every 1 h     core 34.1 °C
  from 7:00 to 13:00 every 1 h     core 34.0 °C
  expect phase hold at 6:00
  expect phase hold at 13:30
}"#,
    );
    let told = report(&[rehearsal]);
    for wanted in [
        "decided by  phase `cool`, since 0:00: cool Core temperature to 33.0 °C; ends when the target is reached, latest 6:00: core 34.0 °C",
        "step        0:30 to 6:00 recorded: core 34.0 °C, 12 times",
        // The first record, the phase that begins, the run and fifteen that go up and down.
        "step        … 6 earlier, not shown",
        "step        13:30 recorded: core 34.1 °C",
    ] {
        assert!(told.contains(wanted), "{wanted} in\n{told}");
    }
}
