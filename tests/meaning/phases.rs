//! M17 to M19 and M23 to M25: phases, their ends, pauses, `begin`.

use crate::case::{protocol, targets, told, told_of};
use tempwright::eval::Case;
use tempwright::quantity::Exact;

pub const THREE: &str = r#"
  phase cool "Cool" {
    cool core to 33.0 °C
    due within 4 h
  }
  phase hold "Hold" {
    hold core at 33.0 °C within 0.5 °C
    lasts 24 h
  }
  phase rewarm "Rewarm" {
    warm core from 33.0 °C to 36.5 °C within 0.2 °C at 0.25 °C/h
  }
  every 1 h record core
"#;

#[test]
fn m17_the_record_that_ends_a_phase_belongs_to_both() {
    let body = format!(
        "{THREE}
  rule at-hold {{ when core below 33.1 °C during hold  then do \"Look\" }}"
    );
    let told = told(&body, "3:00 core 33.0; until 3:30");
    told.must_say("0:00 phase `cool` begins");
    told.must_say("3:00 phase `cool` ends: arrived");
    told.must_say("3:00 phase `hold` begins");
    assert_eq!(told.fires("at-hold"), ["3:00"]);
}

#[test]
fn m17_the_case_ends_with_the_last_phase() {
    let body = r#"
  phase hold "Hold" {
    hold core at 33.0 °C within 0.5 °C
    lasts 2 h
  }
  every 1 h record core
"#;
    let told = told(body, "2:30 core 33.0");
    assert_eq!(told.times("the case ends"), ["2:00"]);
    told.must_say("2:30 not counted: core 33.0 °C at 2:30, after the end of the case");
}

#[test]
fn m18_arriving_needs_the_course_and_the_reading() {
    // `rewarm` begins at 27:00; its course arrives at 41:00.
    let ends = |records: &str| {
        told(THREE, &format!("3:00 core 33.0; {records}"))
            .times("the case ends")
            .len()
    };
    assert_eq!(ends("40:00 core 36.6"), 0);
    assert_eq!(ends("41:00 core 36.3"), 1);
    assert_eq!(ends("41:00 core 36.2"), 0);
    // Known past its end when the course arrives: that ends it without a record.
    assert_eq!(ends("40:00 core 36.6; until 41:00"), 1);
    assert_eq!(ends("40:00 core 36.6; until 40:59"), 0);
    // No longer known by then.
    assert_eq!(ends("39:29 core 36.6; until 42:00"), 0);
}

#[test]
fn m18_short_of_the_end_by_within_at_most() {
    let body = |within: &str| {
        format!("phase cool \"Cool\" {{\n cool core to 33.0 °C{within}\n}}\n every 1 h record core")
    };
    let ends = |within: &str, value: &str| {
        told(&body(within), &format!("1:00 core {value}"))
            .times("the case ends")
            .len()
    };
    assert_eq!(ends("", "33.1"), 0);
    assert_eq!(ends("", "33.0"), 1);
    assert_eq!(ends(" within 0.3 °C", "33.3"), 1);
    assert_eq!(ends(" within 0.3 °C", "33.4"), 0);
}

fn guard_after_rosc() -> &'static str {
    r#"
  phase rewarm "Rewarm" {
    warm core to 36.5 °C
  }
  phase guard "Guard" {
    keep core 36.0 °C to 37.7 °C
    ends 72 h after rosc
  }
  every 1 h record core
"#
}

#[test]
fn m19_an_end_that_is_past_makes_the_phase_empty() {
    let body = guard_after_rosc();
    let rosc = |hours: i64| {
        let protocol = protocol(body);
        Case {
            marks: vec![(
                crate::case::mark(&protocol, "rosc"),
                Exact::int(-60 * hours),
            )],
            ..Case::default()
        }
    };
    let empty = told_of(body, &rosc(4), "70:00 core 36.5");
    empty.must_say("70:00 phase `guard` begins");
    empty.must_say("70:00 phase `guard` ends: its time is over");
    empty.must_say("70:00 the case ends");
    let not_empty = told_of(body, &rosc(4), "67:59 core 36.5; until 80:00");
    assert_eq!(not_empty.times("the case ends"), ["68:00"]);
}

#[test]
fn m19_at_least_and_at_most_bound_a_mark_and_a_condition() {
    let body = r#"
  phase wake "Wake" {
    keep core 36.0 °C to 37.5 °C
    ends at awake-and-clear, plan for 24 h, at least 12 h, at most 72 h
  }
"#;
    let ends = |records: &str| {
        let told = told(body, records);
        told.lines
            .iter()
            .filter(|line| line.contains("`wake` ends"))
            .cloned()
            .collect::<Vec<_>>()
    };
    assert_eq!(
        ends("5:00 awake-and-clear; until 90:00"),
        ["12:00 phase `wake` ends: its mark was made"]
    );
    assert_eq!(
        ends("13:00 awake-and-clear; until 90:00"),
        ["13:00 phase `wake` ends: its mark was made"]
    );
    assert_eq!(
        ends("until 90:00"),
        ["72:00 phase `wake` ends: its longest time is over"]
    );
    let condition = r#"
  phase low "Low" {
    hold core at 34.0 °C within 0.5 °C
    ends when water below 20.0 °C for 1 h, plan for 4 h, at least 3 h
  }
  every 1 h record water
"#;
    // It holds at 2:00, 1 h too early, and is decided anew at 3:00.
    let told = told(
        condition,
        "1:00 water 19.0; 2:00 water 19.0; 3:00 water 19.0",
    );
    assert_eq!(
        told.times("phase `low` ends: its condition holds"),
        ["3:00"]
    );
    let broken = crate::case::told(
        condition,
        "2:00 water 19.0; 3:00 water 20.0; 4:00 water 19.0; 5:00 water 19.0",
    );
    assert_eq!(broken.times("phase `low` ends"), ["5:00"]);
}

#[test]
fn m19_entered_by_begin_a_phase_waits_for_its_mark_anew() {
    let body = r#"
  phase wait "Wait" {
    keep core 36.0 °C to 37.5 °C
    ends at awake-and-clear, plan for 24 h
  }
  phase guard "Guard" {
    keep core 36.0 °C to 37.5 °C
    lasts 24 h
  }
  every 1 h record core
  rule again { when core above 38.0 °C during guard  then begin wait }
"#;
    let told = told(
        body,
        "1:00 awake-and-clear; 2:00 core 38.1; 3:00 core 37.0; 4:00 awake-and-clear",
    );
    assert_eq!(told.times("phase `wait` begins"), ["0:00", "2:00"]);
    assert_eq!(told.times("phase `wait` ends: its mark"), ["1:00", "4:00"]);
}

#[test]
fn m19_before_a_start_lies_where_the_plan_puts_it() {
    let body = format!("{THREE}\n at 4 h before rewarm.start do \"Stop potassium\"");
    assert_eq!(
        told(&body, "3:00 core 33.0; until 30:00").times("order: do \"Stop potassium\""),
        ["23:00"]
    );
    let late = format!("{THREE}\n at 30 h before rewarm.start do \"Stop potassium\"");
    // The plan of 0:00 has it in the past already: at once.
    assert_eq!(
        told(&late, "3:00 core 33.0; until 30:00").times("order: do \"Stop potassium\""),
        ["0:00"]
    );
}

#[test]
fn m19_a_reach_is_planned_to_its_due_time_as_the_sheet_prints_it() {
    let body = format!("{THREE}\n at 1 h before hold.start do \"Get ready\"");
    let ready = |records: &str| {
        told(&body, records)
            .times("order: do \"Get ready\"")
            .join(" ")
    };
    // Due within 4 h: planned for 4:00.
    assert_eq!(ready("until 5:00"), "3:00");
    // It comes sooner than planned: at once.
    assert_eq!(ready("2:00 core 33.0; until 5:00"), "2:00");
    // Each time that the phase begins anew.
    let again =
        format!("{body}\n rule again {{ when core above 34.0 °C during hold  then begin cool }}");
    let told = told(
        &again,
        "2:00 core 33.0; 3:00 core 34.1; 8:00 core 33.0; until 9:00",
    );
    assert_eq!(told.times("order: do \"Get ready\""), ["2:00", "6:00"]);
}

#[test]
fn m19_an_at_is_done_at_its_mark_and_a_time_after_it() {
    let body = format!(
        "{THREE}
  at rosc do \"At rosc\"
  at 20 min after rosc do \"After rosc\"
  at hold.start score shiver"
    );
    let told = told(&body, "1:00 rosc; 3:00 core 33.0; until 4:00");
    assert_eq!(told.times("order: do \"At rosc\""), ["1:00"]);
    assert_eq!(told.times("order: do \"After rosc\""), ["1:20"]);
    assert_eq!(told.times("asked: score shiver at 3:00"), ["3:00"]);
}

#[test]
fn m23_ends_go_on_while_paused_and_a_pause_outlives_the_phase() {
    let body = r#"
  phase one "One" {
    hold core at 33.0 °C within 0.5 °C
    lasts 24 h
  }
  phase two "Two" {
    warm core from 33.0 °C to 36.0 °C at 0.5 °C/h
  }
  every 1 h record core
  rule it { when core below 32.0 °C  then pause temperature control for 2 h }
"#;
    let told = told(body, "23:00 core 31.9; until 26:00");
    assert_eq!(told.times("phase `one` ends"), ["24:00"]);
    assert_eq!(told.times("order over: pause"), ["25:00"]);
    assert_eq!(
        targets(body, "23:00 core 31.9", &["24:30", "25:00", "26:00"]),
        ["target 33.0 °C", "target 33.0 °C", "target 33.5 °C"]
    );
}

#[test]
fn m23_after_stop_only_begin_starts_control_again() {
    let body = r#"
  phase one "One" {
    hold core at 33.0 °C within 0.5 °C
    lasts 4 h
  }
  phase two "Two" {
    hold core at 34.0 °C within 0.5 °C
    lasts 4 h
  }
  every 1 h record core
  rule end-it { when core below 32.0 °C  then stop temperature control }
  rule go-on { when core above 35.0 °C  then begin two }
"#;
    let told = told(
        body,
        "1:00 core 31.9; 9:00 core 33.0; 10:00 core 35.1; until 15:00",
    );
    assert!(told.times("phase `one` ends: its time").is_empty());
    assert_eq!(told.times("asked: record core").first(), Some(&"0:00"));
    assert_eq!(told.times("phase `two` begins by order"), ["10:00"]);
    assert_eq!(told.times("the case ends"), ["14:00"]);
}

#[test]
fn m24_due_counts_from_the_start_or_from_a_mark() {
    let body = |due: &str| {
        format!(
            "phase cool \"Cool\" {{
    cool core to 33.0 °C
    due within {due}
  }}
  every 1 h record core"
        )
    };
    assert_eq!(
        told(&body("4 h"), "until 5:00").times("phase `cool` is overdue"),
        ["4:00"]
    );
    assert!(
        told(&body("4 h"), "4:00 core 33.0; until 5:00")
            .times("phase `cool` is overdue")
            .is_empty()
    );
    assert_eq!(
        told(&body("4 h of rosc"), "1:00 rosc; until 6:00").times("phase `cool` is overdue"),
        ["5:00"]
    );
    assert!(
        told(&body("4 h of rosc"), "until 6:00")
            .times("phase `cool` is overdue")
            .is_empty()
    );
}

#[test]
fn m24_entered_by_begin_due_counts_from_the_phase() {
    let body = r#"
  phase cool "Cool" {
    cool core to 33.0 °C
    due within 4 h of rosc
  }
  phase hold "Hold" {
    hold core at 33.0 °C within 0.5 °C
    lasts 24 h
  }
  every 1 h record core
  rule again { when core above 34.0 °C during hold  then begin cool }
"#;
    let told = told(
        body,
        "0:00 rosc; 3:00 core 33.0; 10:00 core 34.1; until 15:00",
    );
    assert_eq!(told.times("phase `cool` is overdue"), ["14:00"]);
}

#[test]
fn m25_from_a_begun_phase_the_written_order_goes_on() {
    let body = format!(
        "{THREE}
  rule again {{ when core above 34.0 °C during hold  then begin cool }}"
    );
    let told = told(
        &body,
        "3:00 core 33.0; 4:00 core 34.1; 5:00 core 33.0; until 30:00",
    );
    assert_eq!(told.times("phase `hold` ends: by order"), ["4:00"]);
    assert_eq!(told.times("phase `cool` begins"), ["0:00", "4:00"]);
    // `hold` counts its 24 h anew.
    assert_eq!(told.times("phase `rewarm` begins"), ["29:00"]);
}

#[test]
fn m25_a_begun_phase_is_decided_on_the_record_that_begins_it() {
    let body = format!(
        "{THREE}
  rule again {{ when core above 34.0 °C during hold  then begin cool }}
  rule hot {{ when core above 34.0 °C during cool  then do \"Look\" }}"
    );
    assert_eq!(
        told(&body, "3:00 core 33.0; 4:00 core 34.1").fires("hot"),
        ["4:00"]
    );
}

#[test]
fn m25_phases_that_lead_round_at_one_moment_come_to_an_end() {
    let body = r#"
  phase one "One" {
    hold core at 33.0 °C within 0.5 °C
    lasts 24 h
  }
  phase two "Two" {
    hold core at 34.0 °C within 0.5 °C
    lasts 24 h
  }
  every 1 h record core
  rule a { when core above 34.0 °C during one  then begin two }
  rule b { when core above 34.0 °C during two  then begin one }
"#;
    let told = told(body, "1:00 core 34.1; 2:00 core 34.1");
    told.must_say("1:00 phase `two` begins by order");
    told.must_say("1:00 phase `one` begins by order");
    assert_eq!(
        told.times("order not done: begin two (rule `a`): the phases lead round"),
        ["1:00"]
    );
}
