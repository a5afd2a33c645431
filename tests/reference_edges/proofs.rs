//! M1, M29 and M31 to M35: what is decided about the text, before there is a case.

use crate::case::{HOLD, whole};
use tempwright::checks::{self, Context};
use tempwright::model::Protocol;
use tempwright::plan::{Case, Plan, Window};
use tempwright::quantity::Exact;
use tempwright::rules;
use tempwright::source::{FileId, SourceFile};
use tempwright::syntax;

/// Whether checking finds that, among all that such a sketch lacks.
fn finds(body: &str, finding: &str) -> bool {
    assert!(
        checks::explain::names().contains(&finding),
        "no such finding"
    );
    let loaded = whole(body, "");
    let (_, protocol) = loaded.protocols.first().expect("no errors");
    let context = Context::new(protocol, &loaded.sources);
    let report = checks::check(&context, Vec::new());
    report.findings.iter().any(|found| found.name == finding)
}

fn protocol(body: &str) -> Protocol {
    let mut loaded = whole(body, "");
    loaded.protocols.pop().expect("no errors").1
}

/// A hold with hourly looks and one rule of that condition.
fn with_rule(condition: &str) -> String {
    format!(
        "{HOLD}\n  every 1 h record core\n  rule it {{\n    when {condition}\n    then do \"Look\"\n  }}"
    )
}

#[test]
fn m1_a_connecting_word_is_no_name_and_every_other_word_may_be_one() {
    let read = |name: &str| {
        let text =
            format!("protocol p {{\n  phase {name} \"A\" {{\n    cool core to 33.0 °C\n  }}\n}}\n");
        let source = SourceFile::new("p.protocol", &text);
        syntax::parse(FileId::default(), &source).diagnostics.len()
    };
    for name in ["cool", "start-up", "target-2", "goal", "to-day", "h"] {
        assert_eq!(read(name), 0, "{name}");
    }
    for name in ["target", "of", "covers", "every"] {
        assert_eq!(read(name), 1, "{name}");
    }
}

#[test]
fn m29_bands_meet_on_tenths_of_a_kilogram() {
    let bands = |first: &str, second: &str| {
        format!(
            "{HOLD}\n  medication drug \"Drug\" {{\n    class other\n    dose 1 g iv over 10 min when weight {first}\n    dose 2 g iv over 10 min when weight {second}\n  }}"
        )
    };
    assert!(finds(
        &bands("below 50 kg", "at or above 50.1 kg"),
        "band-gap"
    ));
    assert!(!finds(
        &bands("below 50 kg", "at or above 50.0 kg"),
        "band-gap"
    ));
    assert!(!finds(
        &bands("at or below 50 kg", "at or above 50.1 kg"),
        "band-gap"
    ));
    assert!(finds(
        &bands("at or below 50 kg", "at or above 50.0 kg"),
        "band-overlap"
    ));
    assert!(!finds(
        &bands("below 50 kg", "at or above 50.0 kg"),
        "band-overlap"
    ));
}

#[test]
fn m31_the_shortest_and_the_longest_way_and_a_mark_within_its_start_within() {
    let body = "
  phase cool \"Cool\" {
    cool core to 33.0 °C
    never faster than 2.0 °C/h
    due within 4 h
  }
  phase guard \"Guard\" {
    keep core 32.0 °C to 37.7 °C
    ends 72 h after rosc
  }";
    let protocol = protocol(body);
    let plan = Plan::of(&protocol, &Case::default()).expect("a plan");
    let ends: Vec<Window> = plan.phases.iter().map(|placed| placed.end).collect();
    // From 37.5 °C it is 4.5 °C, 2 h 15 min at the cap; who arrives at 33.0 °C is there.
    assert_eq!(ends[0].earliest, Exact::ZERO);
    assert_eq!(ends[0].latest, Some(Exact::int(240)));
    assert_eq!(ends[1].earliest, Exact::int(66 * 60));
    assert_eq!(ends[1].latest, Some(Exact::int(72 * 60)));
    let warm = Case::default()
        .enter_arrival(&protocol, "core", "37.5 °C")
        .expect("allowed");
    let plan = Plan::of(&protocol, &warm).expect("a plan");
    assert_eq!(plan.phases[0].end.earliest, Exact::int(135));
    assert_eq!(plan.phases[0].end.latest, Some(Exact::int(240)));
}

#[test]
fn m32_regular_records_have_any_value_and_come_when_they_are_asked_for() {
    // 20.0 °C and an hour later 45.0 °C is a record like any other; more there is not.
    assert!(!finds(
        &with_rule("core rises more than 24.9 °C in 1 h"),
        "never-fires"
    ));
    assert!(finds(
        &with_rule("core rises more than 25.0 °C in 1 h"),
        "never-fires"
    ));
    // Two hourly looks lie 60 min apart: in 45 min and a quarter of an hour, not in 44.
    assert!(!finds(
        &with_rule("core rises more than 1.0 °C in 45 min"),
        "never-fires"
    ));
    assert!(finds(
        &with_rule("core rises more than 1.0 °C in 44 min"),
        "never-fires"
    ));
    // Whether it is recorded in time is free.
    assert!(!finds(
        &with_rule("core not recorded for 30 h"),
        "never-fires"
    ));
}

#[test]
fn m32_a_phase_that_is_held_up_can_last_longer_than_its_course() {
    let body = |hold_up: &str, late: &str| {
        format!(
            "phase rewarm \"Rewarm\" {{
                warm core from 33.0 °C to 36.0 °C within 0.2 °C at 0.5 °C/h
            }}
            every 1 h record core
            {hold_up}
            rule late {{
                when rewarm lasts longer than 8 h and {late}
                then do \"Look\"
            }}"
        )
    };
    let keep = "rule cold {
        when core below 33.5 °C
        then keep target here for 3 h
        again after 24 h
    }";
    // The course arrives after 6 h, and at 36.0 °C the phase is then over.
    assert!(finds(&body("", "core above 35.9 °C"), "never-fires"));
    assert!(!finds(&body(keep, "core above 35.9 °C"), "never-fires"));
    // However long it lasts.
    assert!(finds(
        &body(keep, "core above 35.9 °C and core below 35.0 °C"),
        "never-fires"
    ));
}

#[test]
fn m33_at_one_value_both_conditions_hold_and_between_two_steps_none() {
    let two = |first: &str, second: &str| {
        format!(
            "{HOLD}\n  every 1 h record core\n  rule up {{\n    when core {first}\n    then set target 33.5 °C\n  }}\n  rule down {{\n    when core {second}\n    then set target 32.5 °C\n  }}"
        )
    };
    let contradicts = |first, second| finds(&two(first, second), "contradiction");
    assert!(contradicts("at or above 34.0 °C", "at or below 34.0 °C"));
    assert!(!contradicts("above 34.0 °C", "at or below 34.0 °C"));
    assert!(!contradicts("above 34.0 °C", "below 34.1 °C"));
    assert!(contradicts("above 34.0 °C", "below 34.2 °C"));
}

#[test]
fn m34_a_limit_binds_aims_and_orders_and_allows_its_own_value() {
    let body = |limit: &str, order: &str| {
        format!(
            "{HOLD}\n  limit core never {limit}\n  every 1 h record core\n  rule it {{\n    when core above 33.5 °C\n    then {order}\n  }}"
        )
    };
    let nothing = "do \"Look\"";
    let past = |limit, order| finds(&body(limit, order), "past-limit");
    assert!(!past("below 33.0 °C", nothing));
    assert!(past("below 33.1 °C", nothing));
    assert!(!past("above 33.0 °C", nothing));
    assert!(past("above 32.9 °C", nothing));
    assert!(!past(
        "below 30.0 °C",
        "lower target by 0.5 °C, at least 30.0 °C"
    ));
    assert!(past(
        "below 30.0 °C",
        "lower target by 0.5 °C, at least 29.9 °C"
    ));
    assert!(!past(
        "above 36.0 °C",
        "raise target by 0.5 °C, at most 36.0 °C"
    ));
    assert!(past(
        "above 36.0 °C",
        "raise target by 0.5 °C, at most 36.1 °C"
    ));
    assert!(!past("above 36.0 °C", "set target 36.0 °C"));
    assert!(past("above 36.0 °C", "set target 36.1 °C"));
    // Of another reading it is no limit of the target.
    let water = body("below 30.0 °C", "set target 33.5 °C").replace("limit core", "limit water");
    assert!(!finds(&water, "past-limit"));
}

#[test]
fn m34_an_approval_is_for_the_meaning_and_not_for_the_comments() {
    let print = |body: &str| rules::fingerprint(&protocol(body));
    let of = print(HOLD);
    assert_eq!(of, print(&format!("{HOLD}\n  # another word")));
    assert_ne!(of, print(&HOLD.replace("33.0", "33.1")));
    // The same value, otherwise written, is printed otherwise.
    assert_ne!(of, print(&HOLD.replace("33.0", "33")));
    assert_ne!(
        of,
        print(&format!("{HOLD}\n  limit core never below 30.0 °C"))
    );
}
