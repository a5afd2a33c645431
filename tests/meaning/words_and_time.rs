//! M2 to M4: time, moments, and what can be written down.

use crate::case::{HOLD, targets, told};

#[test]
fn m2_a_day_is_24_h_and_a_mark_made_again_has_its_new_time() {
    let body = r#"
  phase guard "Guard" {
    keep core 36.0 °C to 37.5 °C
    ends 1 days after rosc
  }
"#;
    assert_eq!(
        told(body, "1:00 rosc; until 30:00").times("the case ends"),
        ["25:00"]
    );
    assert_eq!(
        told(body, "1:00 rosc; 2:30 rosc; until 30:00").times("the case ends"),
        ["26:30"]
    );
}

#[test]
fn m3_phases_settle_before_conditions_and_orders_count_from_the_next_moment() {
    let body = r#"
  phase rewarm "Rewarm" {
    warm core to 36.5 °C
  }
  phase guard "Guard" {
    hold core at 36.5 °C within 0.5 °C
    lasts 24 h
  }
  every 1 h record core
  rule up {
    when core at or above 36.5 °C during guard
    then set target 36.0 °C
  }
  rule off {
    when core above target by more than 0.2 °C during guard
    then do "Look"
  }
  rule last-of-rewarm {
    when core at or above 36.5 °C during rewarm
    then do "Never: rewarm is over by then"
  }
"#;
    let told = told(body, "40:00 core 36.6; 41:00 core 36.6");
    told.must_say("40:00 phase `rewarm` ends: arrived");
    told.must_say("40:00 phase `guard` begins");
    assert_eq!(told.fires("up"), ["40:00"]);
    // At 40:00 the target is still 36.5; at 41:00 it is 36.0.
    assert_eq!(told.fires("off"), ["41:00"]);
    assert!(told.fires("last-of-rewarm").is_empty());
}

#[test]
fn m3_equal_orders_are_given_once() {
    let body = format!(
        "{HOLD}
  every 1 h record core
  rule a {{ when core below 32.0 °C  then do \"Look\" }}
  rule b {{ when core below 32.5 °C  then do \"Look\" }}"
    );
    let told = told(&body, "1:00 core 31.0");
    assert_eq!(
        told.times("order: do \"Look\" (rule `a` and rule `b`)"),
        ["1:00"]
    );
    assert_eq!(told.times("order:").len(), 1);
}

#[test]
fn m4_what_cannot_be_written_down() {
    let body = format!("{HOLD}\n  every 1 h record core, water, shiver");
    let told = told(
        &body,
        "1:00 core 33.1, water 100.0, shiver 3; 2:00 core 33.05, shiver 4; 3:00 core 45.0; 4:00 core 45.1, water 100.1",
    );
    let refused: Vec<&String> = told
        .lines
        .iter()
        .filter(|line| line.contains("not counted"))
        .collect();
    assert_eq!(
        refused,
        [
            "2:00 not counted: core 33.05 °C at 2:00, between two steps of the display",
            "2:00 not counted: shiver 4 at 2:00, outside what can be read",
            "4:00 not counted: core 45.1 °C at 4:00, outside what can be read",
            "4:00 not counted: water 100.1 °C at 4:00, outside what can be read",
        ]
    );
    told.must_say("3:00 recorded: core 45.0 °C");
}

#[test]
fn m4_a_refused_record_decides_nothing() {
    let body = format!(
        "{HOLD}\n  every 1 h record core\n  rule it {{ when core below 32.0 °C  then do \"Look\" }}"
    );
    assert!(told(&body, "1:00 core 19.9").fires("it").is_empty());
    assert_eq!(told(&body, "1:00 core 20.0").fires("it"), ["1:00"]);
}

#[test]
fn records_out_of_order_are_said_and_not_counted() {
    let body = format!("{HOLD}\n  every 1 h record core");
    let told = told(&body, "2:00 core 33.0; 1:00 core 31.0; 3:00 core 33.0");
    assert_eq!(
        told.times("not counted: core 31.0 °C at 1:00, earlier")
            .len(),
        1
    );
    assert_eq!(targets(&body, "", &["0:00"]), ["target 33.0 °C"]);
}
