//! M20 to M22: the target, its course, and what orders make of both.

use crate::case::{minutes, protocol, targets, told};
use crate::phases::THREE;
use tempwright::eval::Case;
use tempwright::model::PhaseId;
use tempwright::quantity::Exact;

#[test]
fn m20_the_target_of_each_aim() {
    assert_eq!(
        targets(THREE, "3:00 core 33.0", &["1:00", "3:00", "29:00"]),
        ["target 33.0 °C", "target 33.0 °C", "target 33.5 °C"]
    );
    let no_rate = "phase w \"W\" {\n warm core from 33.0 °C to 36.5 °C\n}";
    assert_eq!(
        targets(no_rate, "", &["0:00", "2:00"]),
        ["target 36.5 °C", "target 36.5 °C"]
    );
    let range = "phase k \"K\" {\n keep core at or below 37.7 °C\n lasts 24 h\n}";
    assert_eq!(targets(range, "", &["1:00"]), ["range up to 37.7 °C"]);
}

#[test]
fn m20_an_order_on_a_range_is_not_done() {
    let body = r#"
  phase k "K" {
    keep core 36.0 °C to 37.7 °C
    lasts 24 h
  }
  every 1 h record core
  rule it { when core above 38.0 °C  then set target 36.0 °C }
"#;
    let told = told(body, "1:00 core 38.1");
    assert_eq!(
        told.times("order not done: set target 36.0 °C (rule `it`): there is no target"),
        ["1:00"]
    );
    assert!(told.times("order:").is_empty());
}

#[test]
fn m20_what_orders_changed_ends_with_the_phase() {
    let body = r#"
  phase one "One" {
    hold core at 34.0 °C within 0.5 °C
    lasts 2 h
  }
  phase two "Two" {
    hold core at 33.0 °C within 0.5 °C
    lasts 2 h
  }
  every 1 h record core
  rule it { when core below 33.0 °C during one  then raise target by 0.5 °C, at most 36.0 °C }
"#;
    assert_eq!(
        targets(body, "1:00 core 32.9", &["0:30", "1:00", "2:00"]),
        ["target 34.0 °C", "target 34.5 °C", "target 33.0 °C"]
    );
}

#[test]
fn m21_a_stepped_course_stands_on_the_slower_side() {
    let body = r#"
  phase rewarm "Rewarm" {
    warm core from 33.0 °C to 36.5 °C at 0.25 °C/h
    target moves every 1 h in steps of 0.1 °C
  }
  every 1 h record core
"#;
    assert_eq!(
        targets(body, "", &["0:59", "1:00", "2:00", "3:00", "4:00", "14:00"]),
        [
            "target 33.0 °C",
            "target 33.2 °C",
            "target 33.5 °C",
            "target 33.7 °C",
            "target 34.0 °C",
            "target 36.5 °C"
        ]
    );
    let told = told(body, "until 4:00");
    assert_eq!(
        told.times("target"),
        ["0:00", "1:00", "2:00", "3:00", "4:00"]
    );
}

#[test]
fn m21_without_from_a_course_begins_at_the_reading_as_soon_as_it_is_known() {
    let body = r#"
  phase rewarm "Rewarm" {
    warm core to 36.5 °C at 0.5 °C/h
  }
  every 1 h record core
"#;
    assert_eq!(
        targets(
            body,
            "0:30 core 32.0; 1:30 core 32.9",
            &["0:00", "0:30", "1:30", "2:30"]
        ),
        [
            "no target",
            "target 32.0 °C",
            "target 32.5 °C",
            "target 33.0 °C"
        ]
    );
}

#[test]
fn m21_after_begin_it_begins_at_the_reading_where_that_is_past_from() {
    let body = |value: &str| {
        let body = r#"
  phase guard "Guard" {
    keep core 36.0 °C to 37.5 °C
    lasts 24 h
  }
  phase rewarm "Rewarm" {
    warm core from 33.0 °C to 36.5 °C at 0.5 °C/h
  }
  every 1 h record core
  rule cold { when core below 36.0 °C during guard  then begin rewarm }
"#;
        targets(body, &format!("1:00 core {value}"), &["1:00", "2:00"])
    };
    assert_eq!(body("34.0"), ["target 34.0 °C", "target 34.5 °C"]);
    assert_eq!(body("32.0"), ["target 33.0 °C", "target 33.5 °C"]);
}

#[test]
fn m21_of_two_rates_the_slower_unless_the_case_names_one() {
    let body =
        "phase rewarm \"Rewarm\" {\n warm core from 33.0 °C to 36.5 °C at 0.5 °C/h to 0.25 °C/h\n}";
    assert_eq!(targets(body, "", &["2:00"]), ["target 33.5 °C"]);
    let protocol = protocol(body);
    let case = Case {
        rates: [(PhaseId(0), Exact::ratio(1, 2))].into(),
        ..Case::default()
    };
    let mut run = tempwright::eval::Run::new(&protocol, &case);
    run.advance(minutes("2:00"));
    assert_eq!(
        run.aimed(minutes("2:00")),
        tempwright::eval::Aimed::Value(Exact::int(34))
    );
}

fn rewarm_with(rule: &str) -> String {
    format!(
        "phase rewarm \"Rewarm\" {{
    warm core from 33.0 °C to 36.0 °C at 0.5 °C/h
  }}
  every 1 h record core, water
  rule it {{ when water above 30.0 °C  then {rule} }}"
    )
}

#[test]
fn m22_set_raise_and_lower_are_bounded() {
    let after = |rule: &str| targets(&rewarm_with(rule), "5:00 water 31.0", &["5:00", "5:30"]);
    // At 5:00 the course stands at 35.5 °C.
    assert_eq!(
        after("raise target by 0.2 °C, at most 35.6 °C"),
        ["target 35.6 °C", "target 35.85 °C"]
    );
    assert_eq!(
        after("raise target by 2.0 °C, at most 37.0 °C"),
        ["target 36.0 °C", "target 36.0 °C"]
    );
    assert_eq!(
        after("set target 37.0 °C"),
        ["target 36.0 °C", "target 36.0 °C"]
    );
    assert_eq!(
        after("set target 34.0 °C"),
        ["target 34.0 °C", "target 34.25 °C"]
    );
    assert_eq!(
        after("lower target by 1.0 °C, at least 35.0 °C"),
        ["target 35.0 °C", "target 35.25 °C"]
    );
    // A raise never lowers: the target is past its bound already.
    assert_eq!(
        after("raise target by 0.5 °C, at most 35.0 °C"),
        ["target 35.5 °C", "target 35.75 °C"]
    );
    assert_eq!(
        after("set rate 1.0 °C/h"),
        ["target 35.5 °C", "target 36.0 °C"]
    );
}

#[test]
fn m22_without_a_rate_the_end_moves_too() {
    let body = r#"
  phase cool "Cool" {
    cool core to 33.0 °C
  }
  every 1 h record core
  rule it { when core below 35.0 °C  then set target 34.0 °C }
"#;
    let told = told(body, "1:00 core 34.9; 2:00 core 34.1; 3:00 core 34.0");
    assert_eq!(told.times("the case ends"), ["3:00"]);
}

#[test]
fn m22_keep_target_here_stops_the_course_until_it_ends() {
    let rule = "keep target here for 1 h";
    assert_eq!(
        targets(
            &rewarm_with(rule),
            "2:00 water 31.0",
            &["2:00", "3:00", "4:00"]
        ),
        ["target 34.0 °C", "target 34.0 °C", "target 34.5 °C"]
    );
}

#[test]
fn m22_after_a_pause_the_course_arrives_as_much_later() {
    let rule = "pause temperature control for 1 h";
    let body = rewarm_with(rule);
    let ends = |records: &str| told(&body, records).times("the case ends").len();
    assert_eq!(ends("6:00 core 36.0"), 1);
    assert_eq!(ends("2:00 water 31.0; 6:59 core 36.0"), 0);
    assert_eq!(ends("2:00 water 31.0; 7:00 core 36.0"), 1);
}
