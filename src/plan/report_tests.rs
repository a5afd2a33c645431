//! What people and machines read of a timeline.

use super::report::{hours_and_minutes, text, timeline};
use super::testing::*;
use super::*;
use crate::model::Protocol;
use crate::quantity::Exact;

fn shown(protocol: &Protocol, case: &Case) -> String {
    text(protocol, case, &Plan::of(protocol, case).expect("a plan"))
}

#[test]
fn minutes_are_shown_as_hours_and_minutes() {
    let shown = |minutes: Exact, round| hours_and_minutes(minutes, round);
    assert_eq!(shown(Exact::int(135), Round::Down), "2:15");
    assert_eq!(shown(Exact::int(6000), Round::Down), "100:00");
    assert_eq!(shown(Exact::int(-90), Round::Down), "-1:30");
    assert_eq!(shown(Exact::ratio(-1, 2), Round::Down), "-0:01");
    assert_eq!(shown(Exact::ratio(-1, 2), Round::Up), "0:00");
    assert_eq!(shown(Exact::ratio(3, 2), Round::Up), "0:02");
    assert_eq!(shown(Exact::OVERFLOW, Round::Up), "(too large)");
}

#[test]
fn the_blank_form_has_elapsed_times() {
    insta::assert_snapshot!(shown(&protocol(ARREST), &Case::default()), @r"
    demo 1.0.0, times since the start

    phase   begins          ends            aim
    cool    0:00            0:00 to 4:00    cool core to 33.0 °C
    hold    0:00 to 4:00    24:00 to 28:00  hold core at 33.0 °C within 0.5 °C
    rewarm  24:00 to 28:00  38:00 to 42:00  warm core from 33.0 °C to 36.5 °C at 0.25 °C/h
    guard   38:00 to 42:00  66:00 to 72:00  keep core 36.0 °C to 37.7 °C

    note: `rosc` lies up to 6:00 before the start
    ");
}

#[test]
fn a_case_has_clock_times_across_a_change_of_summer_time() {
    let protocol = protocol(ARREST);
    let case = Case::starting(&protocol, "2027-03-27T14:30")
        .and_then(|case| case.enter_mark(&protocol, "rosc", "10:30"))
        .and_then(|case| case.enter_arrival(&protocol, "core", "36.9"))
        .expect("a case");
    insta::assert_snapshot!(shown(&protocol, &case), @r"
    demo 1.0.0, times since the start
    start Sat 27 Mar 2027 14:30, Europe/London

    phase   begins          ends            ends, by the clock         aim
    cool    0:00            1:57 to 4:00    Sat 27 Mar 16:27 to 18:30  cool core to 33.0 °C
    hold    1:57 to 4:00    25:57 to 28:00  Sun 28 Mar 17:27 to 19:30  hold core at 33.0 °C within 0.5 °C
    rewarm  25:57 to 28:00  39:57 to 42:00  Mon 29 Mar 07:27 to 09:30  warm core from 33.0 °C to 36.5 °C at 0.25 °C/h
    guard   39:57 to 42:00  68:00           Tue 30 Mar 11:30           keep core 36.0 °C to 37.7 °C

    note: `rosc` lies 4:00 before the start
    ");
    let case = case.enter_reached(&protocol, "17:40").expect("over");
    insta::assert_snapshot!(shown(&protocol, &case), @r"
    demo 1.0.0, times since the start
    start Sat 27 Mar 2027 14:30, Europe/London

    phase   begins  ends   ends, by the clock  aim
    cool    0:00    3:10   Sat 27 Mar 17:40    cool core to 33.0 °C
    hold    3:10    27:10  Sun 28 Mar 18:40    hold core at 33.0 °C within 0.5 °C
    rewarm  27:10   41:10  Mon 29 Mar 08:40    warm core from 33.0 °C to 36.5 °C at 0.25 °C/h
    guard   41:10   68:00  Tue 30 Mar 11:30    keep core 36.0 °C to 37.7 °C

    note: `rosc` lies 4:00 before the start
    note: `cool` was over at 3:10
    ");
}

#[test]
fn what_cannot_be_placed_is_said() {
    let protocol = protocol(
        r#"phase cool "Cool" {
             cool core to 34.0 °C
             never faster than 1.7 °C/h
           }
           phase hold "Hold" {
             keep core at or above 33.0 °C
             ends 12 h after start
           }
           phase rewarm "Rewarm" {
             warm core to 36.5 °C at 0.25 °C/h to 0.5 °C/h
             due within 6 h
           }
           phase guard "Guard" {
             keep core 36.0 °C to 37.7 °C
             ends at awake, plan for 6 h to 12 h, at most 24 h
           }
           phase last "Last" {
             keep core at or below 37.7 °C
             ends 5 h after start
           }"#,
    );
    insta::assert_snapshot!(shown(&protocol, &Case::default()), @r"
    demo 1.0.0, times since the start

    phase   begins          ends            aim
    cool    0:00            0:00 or later   cool core to 34.0 °C
    hold    0:00 or later   12:00 or later  keep core at or above 33.0 °C
    rewarm  12:00 or later  12:00 or later  warm core to 36.5 °C at 0.25 °C/h
    guard   12:00 or later  18:00 or later  keep core 36.0 °C to 37.7 °C
    last    18:00 or later  18:00 or later  keep core at or below 37.7 °C

    note: `rosc` lies up to 6:00 before the start
    note: `awake` lies at 18:00 or later
    note: `cool` has no latest end: it has neither `due within` nor `at least`
    note: `hold` can be over before it begins: it ends at 12:00
    note: `rewarm` may go at 0.25 °C/h to 0.5 °C/h; what is printed is the slower
    note: `last` is empty: its end, 5:00, is past when it begins
    ");
}

#[test]
fn a_course_that_arrives_after_it_is_due_is_said() {
    let due = |within: &str| {
        let protocol = protocol(&format!(
            r#"phase rewarm "Rewarm" {{
                 warm core from 33.0 °C to 36.5 °C at 0.25 °C/h
                 due within {within}
               }}"#
        ));
        let plan = blank(&protocol);
        super::report::notes(&protocol, &Case::default(), &plan)
    };
    assert_eq!(
        due("13 h").last().map(String::as_str),
        Some("`rewarm` is due at 13:00, before its course arrives")
    );
    assert_eq!(due("14 h").len(), 1, "only where the mark lies");
}

#[test]
fn json_has_exact_times_and_clock_times() {
    let protocol = protocol(ARREST);
    let case = Case::starting(&protocol, "2026-10-24T22:00")
        .and_then(|case| case.enter_mark(&protocol, "rosc", "21:20"))
        .and_then(|case| case.enter_arrival(&protocol, "core", "36.9"))
        .expect("a case");
    let plan = Plan::of(&protocol, &case).expect("a plan");
    let json = serde_json::to_string_pretty(&timeline(&protocol, &case, &plan)).expect("JSON");
    insta::assert_snapshot!(json, @r#"
    {
      "format_version": 1,
      "protocol": "demo",
      "version": "1.0.0",
      "timezone": "Europe/London",
      "start": "2026-10-24T22:00:00+01:00",
      "marks": [
        {
          "name": "rosc",
          "at": {
            "earliest_h": "-2/3",
            "planned_h": "-2/3",
            "latest_h": "-2/3",
            "earliest_clock": "2026-10-24T21:20:00+01:00",
            "planned_clock": "2026-10-24T21:20:00+01:00",
            "latest_clock": "2026-10-24T21:20:00+01:00"
          }
        }
      ],
      "phases": [
        {
          "name": "cool",
          "begins": {
            "earliest_h": "0",
            "planned_h": "0",
            "latest_h": "0",
            "earliest_clock": "2026-10-24T22:00:00+01:00",
            "planned_clock": "2026-10-24T22:00:00+01:00",
            "latest_clock": "2026-10-24T22:00:00+01:00"
          },
          "ends": {
            "earliest_h": "1.95",
            "planned_h": "4",
            "latest_h": "4",
            "earliest_clock": "2026-10-24T23:57:00+01:00",
            "planned_clock": "2026-10-25T01:00:00+00:00",
            "latest_clock": "2026-10-25T01:00:00+00:00"
          },
          "empty": "no",
          "over": false,
          "reading": "core",
          "value_at_begin": {
            "lowest": "36.9",
            "highest": "36.9"
          },
          "value_at_end": {
            "lowest": "33",
            "highest": "33"
          }
        },
        {
          "name": "hold",
          "begins": {
            "earliest_h": "1.95",
            "planned_h": "4",
            "latest_h": "4",
            "earliest_clock": "2026-10-24T23:57:00+01:00",
            "planned_clock": "2026-10-25T01:00:00+00:00",
            "latest_clock": "2026-10-25T01:00:00+00:00"
          },
          "ends": {
            "earliest_h": "25.95",
            "planned_h": "28",
            "latest_h": "28",
            "earliest_clock": "2026-10-25T22:57:00+00:00",
            "planned_clock": "2026-10-26T01:00:00+00:00",
            "latest_clock": "2026-10-26T01:00:00+00:00"
          },
          "empty": "no",
          "over": false,
          "reading": "core",
          "value_at_begin": {
            "lowest": "33",
            "highest": "33"
          },
          "value_at_end": {
            "lowest": "32.5",
            "highest": "33.5"
          }
        },
        {
          "name": "rewarm",
          "begins": {
            "earliest_h": "25.95",
            "planned_h": "28",
            "latest_h": "28",
            "earliest_clock": "2026-10-25T22:57:00+00:00",
            "planned_clock": "2026-10-26T01:00:00+00:00",
            "latest_clock": "2026-10-26T01:00:00+00:00"
          },
          "ends": {
            "earliest_h": "39.95",
            "planned_h": "42",
            "latest_h": "42",
            "earliest_clock": "2026-10-26T12:57:00+00:00",
            "planned_clock": "2026-10-26T15:00:00+00:00",
            "latest_clock": "2026-10-26T15:00:00+00:00"
          },
          "empty": "no",
          "over": false,
          "reading": "core",
          "value_at_begin": {
            "lowest": "32.5",
            "highest": "33.5"
          },
          "value_at_end": {
            "lowest": "36.3",
            "highest": "36.7"
          },
          "course": {
            "from_celsius": "33",
            "to_celsius": "36.5",
            "celsius_per_h": "0.25",
            "moves_every_h": "1",
            "steps_celsius": "0.1",
            "arrives_after_h": "14"
          }
        },
        {
          "name": "guard",
          "begins": {
            "earliest_h": "39.95",
            "planned_h": "42",
            "latest_h": "42",
            "earliest_clock": "2026-10-26T12:57:00+00:00",
            "planned_clock": "2026-10-26T15:00:00+00:00",
            "latest_clock": "2026-10-26T15:00:00+00:00"
          },
          "ends": {
            "earliest_h": "214/3",
            "planned_h": "214/3",
            "latest_h": "214/3",
            "earliest_clock": "2026-10-27T20:20:00+00:00",
            "planned_clock": "2026-10-27T20:20:00+00:00",
            "latest_clock": "2026-10-27T20:20:00+00:00"
          },
          "empty": "no",
          "over": false,
          "reading": "core",
          "value_at_begin": {
            "lowest": "36.3",
            "highest": "36.7"
          },
          "value_at_end": {
            "lowest": "36",
            "highest": "37.7"
          }
        }
      ],
      "notes": [
        "`rosc` lies 0:40 before the start"
      ]
    }
    "#);
}
