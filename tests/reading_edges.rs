//! What is refused when a protocol is read, at the edge: the last text that is taken, and the
//! first one that is not.

#![allow(clippy::expect_used, clippy::panic)] // a test says so by panicking

#[path = "support/small.rs"]
mod small;

use small::DAY;
use tempwright::diag::Level;
use tempwright::model::load;
use tempwright::quantity::Exact;
use tempwright::source::MemoryLibrary;

/// Names and titles of the errors of a small protocol with these lines and this phase.
fn errors(aim: &str, lines: &str, after: &str) -> Vec<String> {
    let inside =
        format!("  phase hold \"Hold\" {{\n    {aim}\n  }}\n  every 1 h record core\n{lines}");
    let text = small::text(&inside) + after;
    let loaded = small::read(&text);
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
fn an_area_is_in_the_unit_of_its_reading_times_hours() {
    let measure = |of: &str, goal: &str| {
        format!(
            "  reading sugar \"Sugar\" amount of glucose in mmol/L, shown to 0.1 mmol/L, reads 1.0 mmol/L to 30.0 mmol/L\n  \
             reading shiver \"Shivering\" score of shivering 0 to 3\n  \
             measure it \"It\" area of {of}, goal at most {goal}"
        )
    };
    for (of, good, bad) in [
        (
            "core above 37.7 °C",
            "2.0 °C h",
            ["2.0 °C", "2 h", "2.0 mmol/L h"],
        ),
        (
            "sugar above 10.0 mmol/L",
            "2.0 mmol/L h",
            ["2.0 mmol/L", "2 h", "2.0 mg/dL h"],
        ),
        ("shiver above 1", "6 h", ["6", "6 min", "6 °C h"]),
    ] {
        taken(&measure(of, good));
        for goal in bad {
            refused(&measure(of, goal), "unit-mismatch: ");
        }
    }
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
fn only_two_readings_of_one_kind_and_unit_are_compared() {
    let lines = |first: &str, second: &str, than: &str| {
        format!(
            r#"  reading second "Second" temperature at nasopharynx, shown to 0.1 °C, accurate to 0.2 °C
  reading shiver "Shivering" score of shivering 0 to 3
  reading sedation "Sedation" score of sedation 0 to 4
  reading potassium "Potassium" amount of potassium in mmol/L, shown to 0.1 mmol/L, reads 1.0 mmol/L to 10.0 mmol/L
  reading glucose "Glucose" amount of glucose in mmol/L, shown to 0.1 mmol/L, reads 1.0 mmol/L to 30.0 mmol/L
  reading lactate "Lactate" amount of lactate in mg/dL, shown to 1 mg/dL, reads 1 mg/dL to 300 mg/dL
  rule it {{
    when {first} and {second} differ by more than {than}
    then call doctor now
  }}"#
        )
    };
    for (first, second, than) in [
        ("core", "second", "1.0 °C"),
        ("shiver", "sedation", "1"),
        ("potassium", "glucose", "1.0 mmol/L"),
    ] {
        taken(&lines(first, second, than));
    }
    for (first, second, than) in [
        ("core", "core", "1.0 °C"),
        ("core", "shiver", "1.0 °C"),
        ("shiver", "core", "1"),
        ("potassium", "core", "1.0 mmol/L"),
        ("potassium", "lactate", "1.0 mmol/L"),
    ] {
        refused(
            &lines(first, second, than),
            &format!("unit-mismatch: `{first}` and `{second}` cannot be compared"),
        );
    }
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

#[test]
fn doses_and_pump_rates_are_rounded_and_nothing_else() {
    let medication = |step: &str| {
        format!(
            "  medication drug \"Drug\" {{\n    infuse 1 mg/h\n    concentration 1 mg/mL\n    \
             rounded to {step}\n    ceiling 40 mg per 24 h\n  }}"
        )
    };
    for step in ["0.1 mL/h", "1 mg", "1 mL"] {
        taken(&medication(step));
    }
    for step in ["1 mg/h", "1 kg", "1 mg/kg", "1 mg/mL", "1 h"] {
        refused(&medication(step), &format!("unit-mismatch: `{step}` is "));
    }
}

#[test]
fn each_range_of_patients_is_read_once() {
    let ranges = [
        "birth weight 1800 g to 6000 g",
        "age 0 h to 6 h",
        "gestation 36 weeks to 43 weeks",
        "weight 2 kg to 6 kg",
    ];
    let with = |ranges: &str| {
        let body = format!("{DAY}  every 1 h record core");
        let text = small::text(&body).replace("adult, weight 40 kg to 140 kg", ranges);
        small::read(&text)
    };
    let all = format!("newborn, {}", ranges.join(", "));
    let loaded = with(&all);
    assert!(!loaded.has_errors(), "{:#?}", loaded.diagnostics);
    let patients = &loaded.protocols[0].1.head.patients;
    let weight = patients.weight.as_ref().expect("a weight");
    let birth = patients.birth_weight.as_ref().expect("a birth weight");
    let age = patients.age.as_ref().expect("an age");
    let gestation = patients.gestation.as_ref().expect("a gestation");
    let week = Exact::int(7);
    assert_eq!(weight.low.value, Exact::int(2));
    assert_eq!(weight.high.value, Exact::int(6));
    assert_eq!(birth.low.value, Exact::ratio(9, 5));
    assert_eq!(birth.high.value, Exact::int(6));
    assert_eq!(age.low.value, Exact::ZERO);
    assert_eq!(age.high.value, Exact::ratio(1, 4));
    assert_eq!(gestation.low.value, week * Exact::int(36));
    assert_eq!(gestation.high.value, week * Exact::int(43));
    for range in ranges {
        let found: Vec<&str> = with(&format!("{all}, {range}"))
            .diagnostics
            .iter()
            .filter(|found| found.level == Level::Error)
            .map(|found| found.name)
            .collect();
        assert_eq!(found, ["stated-twice"], "{range}");
    }
}

#[test]
fn a_checklist_has_a_step() {
    let checklist = |steps: &str| format!("  checklist ending \"Ending\" at end {{\n{steps}  }}");
    taken(&checklist("    step \"Take the pads off\"\n"));
    refused(&checklist(""), "missing-statement");
    // A step that cannot be read is one error, not two.
    refused(
        &checklist("    stop \"Take the pads off\"\n"),
        "unknown-word",
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
    let text = small::text(&format!("{DAY}  every 1 h record core"));
    for word in [
        "title", "unit", "version", "review", "purpose", "patients", "method", "timezone",
    ] {
        let line = text
            .lines()
            .find(|line| line.trim_start().starts_with(word))
            .expect("a line");
        for (instead, name) in [("", "missing-statement"), ("  WORD what is this", "syntax")] {
            let broken = text.replace(line, &instead.replace("WORD", word));
            let loaded = small::read(&broken);
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

/// What was written there, in words, and what the place takes.
#[test]
fn a_number_in_the_wrong_place_is_named() {
    for (value, is) in [
        ("5 °C", "a temperature"),
        ("0.5 °C/h", "a rate of change"),
        ("5 mg", "a mass"),
        ("5 mmol", "a dose"),
        ("5 mg/kg", "a dose for each kilogram"),
        ("5 mg/h", "an infusion rate"),
        ("5 mg/kg/h", "an infusion rate for each kilogram"),
        ("5 mg/mL", "a concentration"),
        ("5 mmHg", "an amount"),
    ] {
        refused(
            &format!("  every {value} record core"),
            &format!("unit-mismatch: `{value}` is {is}, "),
        );
    }
    refused(
        "  rule it {\n    when core above 5 h\n    then call doctor now\n  }",
        "unit-mismatch: `5 h` is a duration, ",
    );
}

/// A reason is told with what it stands in, so that a committee finds it again.
#[test]
fn a_reason_names_what_it_stands_in() {
    let text = small::text(
        r#"  mark awake "Awake" because "The ward asks for it."
  phase cool "Cool" {
    cool core to 35.0 °C
    at least 0.5 °C/h because "The device can do that."
  }
  phase warm "Warm" {
    warm core from 35.0 °C to 36.5 °C at 0.25 °C/h
    target moves every 1 h in steps of 0.1 °C because "The device knows no less."
  }
  every 1 h record core
  rule fever {
    when core above 38.0 °C
    then follow fever-steps
    ready again when core below 37.5 °C because "One degree is enough."
    again after 2 h because "It works by then."
    overrides cold because "Fever matters more."
  }
  rule cold {
    when core below 35.0 °C
    then call doctor now
  }
  ladder fever-steps "Fever" on core until at or below 37.5 °C {
    step "First" {
      give paracetamol
      recheck in 30 min because "It works by then."
    }
  }
  medication paracetamol "Paracetamol" {
    class         antipyretic because "It is given for fever."
    dose          1 g iv over 15 min, not again within 6 h
    concentration 10 mg/mL because "It comes so."
    rounded to    1 mL because "The pump knows no less."
    ceiling       4 g per 24 h
  }"#,
    )
    .replace(
        "{ doctor \"Doctor on duty\" }",
        "{\n    doctor \"Doctor on duty\" because \"Nights too.\"\n  }",
    )
    .replace("2027-06-30", "2027-06-30 because \"Two years.\"");
    let loaded = small::read(&text);
    assert!(!loaded.has_errors(), "{:#?}", loaded.diagnostics);
    let told: Vec<String> = loaded.protocols[0]
        .1
        .reasons
        .iter()
        .map(|one| {
            let part = one.part.as_ref().map(|part| part.markdown.as_str());
            [
                one.block.as_str(),
                one.name.as_deref().unwrap_or("-"),
                part.unwrap_or("-"),
                one.statement.as_str(),
            ]
            .join(" | ")
        })
        .collect();
    assert_eq!(
        told,
        [
            "protocol | - | - | review",
            "protocol | awake | - | mark",
            "people | doctor | - | role",
            "phase | cool | - | at least",
            "phase | warm | - | target moves",
            "rule | fever | - | ready again",
            "rule | fever | - | again after",
            "rule | fever | - | overrides",
            "ladder | fever-steps | First | recheck",
            "medication | paracetamol | - | class",
            "medication | paracetamol | - | concentration",
            "medication | paracetamol | - | rounded to",
        ]
    );
}

/// A file that begins as a protocol does and is none: its scenarios belong to the protocol that
/// they name, whichever of the two is asked for first.
#[test]
fn scenarios_below_a_broken_head_are_those_of_the_protocol_they_name() {
    let broken = "protocol {\n}\n\nscenario \"Warm\" for example {\n  \
                  at 1:00 core 36.0 °C\n  expect target 36.0 °C at 1:00\n}\n";
    let library = MemoryLibrary::default()
        .with(
            "example.protocol",
            &small::text(&format!("{DAY}  every 1 h record core\n")),
        )
        .with("broken.protocol", broken);
    for paths in [
        ["example.protocol", "broken.protocol"],
        ["broken.protocol", "example.protocol"],
    ] {
        let loaded = load(&library, &paths).expect("both can be read");
        let [(_, protocol)] = loaded.protocols.as_slice() else {
            panic!("{paths:?}: {:#?}", loaded.diagnostics);
        };
        assert_eq!(protocol.scenarios.len(), 1, "{paths:?}");
        let errors = loaded.diagnostics.iter();
        let errors = errors.filter(|found| found.level == Level::Error);
        let names: Vec<&str> = errors.map(|found| found.name).collect();
        assert_eq!(names, ["syntax"], "{paths:?}: {:#?}", loaded.diagnostics);
    }
}
