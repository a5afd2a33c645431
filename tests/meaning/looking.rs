//! M5 to M7: looks, how long a value is good, and what a test is decided on.

use crate::case::{HOLD, it_fires, told};

pub fn hold(rest: &str) -> String {
    format!("{HOLD}{rest}")
}

/// A rule that fires whenever its condition holds anew.
pub fn rule(cond: &str) -> String {
    format!("rule it {{ when {cond}  then do \"Look\" }}")
}

#[test]
fn m5_every_asks_at_the_beginning_of_the_stretch_and_each_interval_after() {
    let two = r#"
  phase cool "Cool" { cool core to 33.0 °C }
  phase hold "Hold" { hold core at 33.0 °C within 0.5 °C  lasts 2 h }
  every 1 h record core during hold
"#;
    let told = told(
        &two.replace("  lasts", "\n lasts"),
        "3:40 core 33.0; until 5:50",
    );
    assert_eq!(told.times("asked: record core"), ["3:40", "4:40"]);
    told.must_say("3:40 made: record core at 3:40");
}

#[test]
fn m5_the_shortest_every_of_the_phase_is_in_force() {
    // Asked hourly throughout and every 15 min in the second phase, a value of that
    // phase is good for 22 min 30 s.
    let body = r#"
  phase one "One" {
    hold core at 33.0 °C within 0.5 °C
    lasts 4 h
  }
  phase two "Two" {
    hold core at 33.0 °C within 0.5 °C
    lasts 4 h
  }
  every 1 h record core
  every 15 min record core during two
  every 1 h score shiver
  rule it {
    when core below 32.0 °C and shiver above 1 during two
    then do "Look"
  }
"#;
    let at = |time: &str| {
        told(body, &format!("4:05 core 31.0; {time} shiver 2"))
            .fires("it")
            .len()
    };
    assert_eq!(at("4:27:30"), 1);
    assert_eq!(at("4:27:31"), 0);
}

/// A run that ends just when the next box can be filled.
#[test]
fn m5_a_box_is_missed_at_that_very_moment() {
    let body = format!("{HOLD}\n  every 1 h record core");
    assert_eq!(
        told(&body, "0:00 core 33.0; until 1:44").times("missed"),
        [""; 0]
    );
    assert_eq!(
        told(&body, "0:00 core 33.0; until 1:45").times("missed"),
        ["1:45"]
    );
}

#[test]
fn m5_boxes_are_in_time_late_or_missed() {
    let body = hold("every 1 h record core");
    let told = told(
        &body,
        "0:00 core 33.0; 0:45 core 33.0; 2:15 core 33.0; 3:16 core 33.0; until 5:00",
    );
    told.must_say("1:00 made: record core at 1:00");
    told.must_say("2:15 made: record core at 2:00");
    told.must_say("3:16 made late: record core at 3:00");
    told.must_say("4:45 missed: record core at 4:00");
    assert_eq!(told.times("missed"), ["4:45"]);
}

#[test]
fn m5_one_box_for_each_reading_and_time() {
    let body = hold("every 1 h record core\n  every 15 min record core");
    let told = told(&body, "0:00 core 33.0; until 1:00");
    assert_eq!(
        told.times("asked: record core"),
        ["0:00", "0:15", "0:30", "0:45", "1:00"]
    );
}

#[test]
fn m5_a_checklist_for_each_shift() {
    let list = "checklist turning \"Turning\" at each-shift {\n step \"Turn\"\n }";
    let told = told(&hold(list), "until 23:59");
    assert_eq!(told.times("checklist due: turning"), ["0:00", "12:00"]);
    let by_clock = hold(&format!("shifts 07:30, 19:30\n{list}"));
    let clock = tempwright::plan::Clock::parse("UTC", "2026-11-24T08:00").expect("a start");
    let case = tempwright::eval::Case {
        clock: Some(clock),
        ..tempwright::eval::Case::default()
    };
    let told = crate::case::told_of(&by_clock, &case, "until 23:59");
    assert_eq!(told.times("checklist due: turning"), ["11:30", "23:30"]);
    // Without a clock nobody knows when a shift begins.
    assert!(
        crate::case::told(&by_clock, "until 23:59")
            .times("checklist")
            .is_empty()
    );
}

#[test]
fn m5_a_checklist_for_each_shift_of_control() {
    let body = r#"
  phase hold "Hold" {
    hold core at 33.0 °C within 0.5 °C
    lasts 13 h
  }
  phase watch "Watch" {
    keep core 33.0 °C to 37.7 °C
    by passive
    lasts 24 h
  }
  checklist device "Device" at each-shift-of-control {
    step "Water flows"
  }
  checklist turning "Turning" at each-shift {
    step "Turn"
  }
"#;
    let told = told(body, "until 36:59");
    assert_eq!(told.times("checklist due: device"), ["0:00", "12:00"]);
    assert_eq!(
        told.times("checklist due: turning"),
        ["0:00", "12:00", "24:00", "36:00"]
    );
}

#[test]
fn m6_a_record_is_good_for_one_and_a_half_intervals() {
    let body = hold(&format!(
        "every 1 h record core, water\n{}",
        rule("core below 32.0 °C and water below 10.0 °C")
    ));
    let at = |time: &str| {
        told(&body, &format!("4:00 core 31.0; {time} water 9.0"))
            .fires("it")
            .len()
    };
    assert_eq!(at("5:30"), 1);
    assert_eq!(at("5:31"), 0);
}

#[test]
fn m6_a_shorter_interval_that_comes_into_force_counts_from_the_record() {
    let body = r#"
  phase one "One" {
    hold core at 33.0 °C within 0.5 °C
    lasts 250 min
  }
  phase two "Two" {
    hold core at 33.0 °C within 0.5 °C
    lasts 4 h
  }
  every 1 h record core, water
  every 15 min record core during two
  rule it {
    when core below 32.0 °C and water below 10.0 °C
    then do "Look"
  }
"#;
    let at = |time: &str| {
        told(body, &format!("4:00 core 31.0; {time} water 9.0"))
            .fires("it")
            .len()
    };
    // Phase two begins at 4:10.
    assert_eq!(at("4:22:30"), 1);
    assert_eq!(at("4:22:31"), 0);
}

#[test]
fn m6_good_for_replaces_it_and_unasked_is_good_at_its_moment_only() {
    let with = |good: &str| {
        hold(&format!(
            "reading k \"K\" amount of potassium in mmol/L, shown to 0.1 mmol/L, reads 1.0 mmol/L to 9.0 mmol/L{good}
             every 1 h record core
             {}",
            rule("k below 3.5 mmol/L and core below 32.0 °C")
        ))
    };
    let good = with(", good for 6 h");
    it_fires(&good, "0:00 k 3.0; 6:00 core 31.0", &["6:00"]);
    it_fires(&good, "0:00 k 3.0; 6:01 core 31.0", &[]);
    let bare = with("");
    it_fires(&bare, "1:00 k 3.0, core 31.0", &["1:00"]);
    it_fires(&bare, "1:00 k 3.0; 1:01 core 31.0", &[]);
}

#[test]
fn m7_edges_are_left_out_or_taken_in() {
    let fires = |cond: &str, value: &str| {
        let body = hold(&format!("every 1 h record core, second\n{}", rule(cond)));
        !told(&body, &format!("1:00 {value}")).fires("it").is_empty()
    };
    assert!(!fires("core above 37.7 °C", "core 37.7"));
    assert!(fires("core above 37.7 °C", "core 37.8"));
    assert!(fires("core at or above 37.7 °C", "core 37.7"));
    assert!(!fires("core at or above 37.7 °C", "core 37.6"));
    assert!(!fires("core below 32.5 °C", "core 32.5"));
    assert!(fires("core at or below 32.5 °C", "core 32.5"));
    assert!(!fires("core outside 32.5 °C to 33.5 °C", "core 32.5"));
    assert!(!fires("core outside 32.5 °C to 33.5 °C", "core 33.5"));
    assert!(fires("core outside 32.5 °C to 33.5 °C", "core 33.6"));
    assert!(fires("core outside 32.5 °C to 33.5 °C", "core 32.4"));
    let differ = "core and second differ by more than 1.0 °C";
    assert!(!fires(differ, "core 34.0, second 33.0"));
    assert!(fires(differ, "core 34.0, second 32.9"));
    assert!(fires(differ, "core 32.9, second 34.0"));
    assert!(!fires("core within 0.3 °C of target", "core 33.4"));
    assert!(fires("core within 0.3 °C of target", "core 33.3"));
}

#[test]
fn m7_a_word_of_a_choice() {
    let body = hold(&format!(
        "every 1 h record awake\n{}",
        rule("awake is verbal")
    ));
    it_fires(&body, "1:00 awake alert", &[]);
    it_fires(&body, "1:00 awake alert; 2:00 awake verbal", &["2:00"]);
}

#[test]
fn m7_a_test_of_two_readings_is_decided_when_both_are_known() {
    let body = hold(&format!(
        "every 1 h record core, second\n{}",
        rule("core and second differ by more than 1.0 °C")
    ));
    it_fires(&body, "1:00 core 33.0; 1:20 second 35.0", &["1:20"]);
    // The first one is unknown by then.
    it_fires(&body, "1:00 core 33.0; 2:31 second 35.0", &[]);
}

#[test]
fn m7_and_and_or() {
    let body = |cond: &str| hold(&format!("every 1 h record core, water\n{}", rule(cond)));
    let and = body("core below 32.0 °C and water below 10.0 °C");
    let or = body("core below 32.0 °C or water below 10.0 °C");
    // One part is unknown: `or` holds on the other one, `and` does not.
    it_fires(&or, "1:00 core 31.0", &["1:00"]);
    it_fires(&and, "1:00 core 31.0", &[]);
    it_fires(&and, "1:00 core 31.0, water 9.0", &["1:00"]);
}
