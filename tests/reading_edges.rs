//! What is refused when a protocol is read, at the edge: the last text that is taken, and the
//! first one that is not.

#![allow(clippy::expect_used)] // a test says so by panicking

use tempwright::diag::Level;
use tempwright::model::load;
use tempwright::source::MemoryLibrary;

/// Names and titles of the errors of a small protocol with these lines and this phase.
fn errors(aim: &str, lines: &str, after: &str) -> Vec<String> {
    let text = format!(
        r#"protocol example {{
  title    "Example (invented, not for patient care)"
  unit     "Saltmarsh District Hospital"
  version  1.0.0
  review   2027-06-30
  purpose  fever-control after stroke
  patients adult, weight 40 kg to 140 kg
  method   surface feedback from core
  timezone "Europe/London"
  people {{ doctor "Doctor on duty" }}
  reading core "Core temperature" temperature at bladder, continuous, shown to 0.1 °C, accurate to 0.2 °C, reads 25.0 °C to 42.0 °C
  phase hold "Hold" {{
    {aim}
  }}
  every 1 h record core
{lines}
}}
{after}
"#
    );
    let library = MemoryLibrary::default().with("example.protocol", &text);
    let loaded = load(&library, &["example.protocol"]).expect("it can be read");
    let errors: Vec<String> = loaded
        .diagnostics
        .iter()
        .filter(|found| found.level == Level::Error)
        .map(|found| format!("{}: {}", found.name, found.title))
        .collect();
    // Without an error there is a protocol: none is left out without a word.
    assert_eq!(loaded.protocols.is_empty(), !errors.is_empty(), "{text}");
    errors
}

const HOLD: &str = "hold core at 36.0 °C within 0.5 °C\n    lasts 24 h";

fn taken(lines: &str) {
    assert_eq!(errors(HOLD, lines, ""), [""; 0], "{lines}");
}

fn refused(lines: &str, with: &str) {
    let errors = errors(HOLD, lines, "");
    assert_eq!(errors.len(), 1, "{lines}: {errors:?}");
    assert!(errors[0].starts_with(with), "{lines}: {errors:?}");
}

/// Such a protocol once vanished without a word: `check` found nothing in it, and nothing else
/// was looked at.
#[test]
fn a_medication_counted_in_ml_alone_is_taken() {
    for lines in [
        "dose 2 mL/kg iv over 30 min",
        "infuse 100 mL/h",
        "infuse 1 mL/h to 20 mL/h, steps of 1 mL/h every 10 min\n    ceiling 500 mL per 24 h",
    ] {
        taken(&format!(
            "  medication fluid \"Fluid\" {{\n    {lines}\n  }}"
        ));
    }
    refused(
        "  medication fluid \"Fluid\" {\n    dose 2 mg iv\n    ceiling 3 mmol per 24 h\n  }",
        "unit-mismatch: `fluid` is counted in two kinds of unit",
    );
}

#[test]
fn an_aim_lies_on_the_scale_of_its_reading() {
    let aim = |value: &str| {
        errors(
            &format!("hold core at {value} within 0.5 °C\n    lasts 24 h"),
            "",
            "",
        )
    };
    assert_eq!(aim("25.0 °C"), [""; 0]);
    assert_eq!(aim("42.0 °C"), [""; 0]);
    assert_eq!(
        aim("24.9 °C"),
        ["off-scale: `24.9\u{a0}°C` is off the scale of its reading"]
    );
    assert_eq!(
        aim("42.1 °C"),
        ["off-scale: `42.1\u{a0}°C` is off the scale of its reading"]
    );
    assert_eq!(
        aim("50.0 °C"),
        ["off-scale: `50.0\u{a0}°C` is off the scale of its reading"]
    );
}

#[test]
fn a_share_goes_to_all_of_the_time() {
    let measure = |goal: &str| {
        format!(
            "  measure good \"Good\" share of time when core within 0.5 °C of target, goal at least {goal}"
        )
    };
    taken(&measure("99.9 %"));
    taken(&measure("100 %"));
    refused(&measure("100.1 %"), "off-scale: no share is `100.1");
}

#[test]
fn a_step_of_the_target_is_above_zero_and_a_distance_from_it_may_be_zero() {
    let rule =
        |when: &str, then: &str| format!("  rule it {{\n    when {when}\n    then {then}\n  }}");
    taken(&rule(
        "core above target by more than 0.0 °C",
        "call doctor now",
    ));
    taken(&rule(
        "core above 37.0 °C",
        "lower target by 0.1 °C, at least 35.0 °C",
    ));
    refused(
        &rule(
            "core above 37.0 °C",
            "lower target by 0.0 °C, at least 35.0 °C",
        ),
        "not-positive",
    );
}

#[test]
fn steps_of_the_target_need_a_rate() {
    let steps = "target moves every 1 h in steps of 0.1 °C";
    assert_eq!(
        errors(
            &format!("warm core from 35.0 °C to 36.5 °C at 0.25 °C/h\n    {steps}"),
            "",
            ""
        ),
        [""; 0]
    );
    assert_eq!(
        errors(&format!("warm core to 36.5 °C\n    {steps}"), "", ""),
        ["misplaced-statement: the target moves in steps, but no rate is planned"]
    );
}

#[test]
fn a_scenario_that_expects_nothing_is_refused() {
    let scenario = |expect: &str| {
        errors(
            HOLD,
            "",
            &format!("scenario \"One\" for example {{\n  at 0:00 core 36.0 °C\n  {expect}\n}}"),
        )
    };
    assert_eq!(scenario("expect no call doctor now"), [""; 0]);
    assert_eq!(
        scenario(""),
        ["missing-statement: the scenario expects nothing"]
    );
}

/// What the broken line declares is not unknown besides, whatever signs its name has.
#[test]
fn a_broken_line_is_one_error() {
    refused(
        "  reading core-two \"Second\" temprature at nasopharynx, shown to 0.1 °C\n  \
         rule it {\n    when core-two above 37.0 °C\n    then call doctor now\n  }",
        "syntax",
    );
}

#[test]
fn what_every_protocol_states_is_asked_for() {
    let text = r#"protocol example {
  title    "Example (invented, not for patient care)"
  unit     "Saltmarsh District Hospital"
  version  1.0.0
  review   2027-06-30
  purpose  fever-control after stroke
  patients adult, weight 40 kg to 140 kg
  method   surface feedback from core
  timezone "Europe/London"
  reading core "Core temperature" temperature at bladder, continuous, shown to 0.1 °C, accurate to 0.2 °C
  phase hold "Hold" {
    hold core at 36.0 °C within 0.5 °C
    lasts 24 h
  }
  every 1 h record core
}
"#;
    for word in [
        "title", "unit", "version", "review", "purpose", "patients", "method", "timezone",
    ] {
        let line = text
            .lines()
            .find(|line| line.trim_start().starts_with(word))
            .expect("a line");
        for (instead, name) in [("", "missing-statement"), ("  WORD what is this", "syntax")] {
            let broken = text.replace(line, &instead.replace("WORD", word));
            let library = MemoryLibrary::default().with("example.protocol", &broken);
            let loaded = load(&library, &["example.protocol"]).expect("it can be read");
            let errors: Vec<&str> = loaded
                .diagnostics
                .iter()
                .filter(|found| found.level == Level::Error)
                .map(|found| found.name)
                .collect();
            assert_eq!(errors, [name], "{broken}");
            assert!(loaded.protocols.is_empty());
        }
    }
}
