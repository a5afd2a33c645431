//! M2 to M12, M36: time, looks, and what a test is decided on.

use crate::case::{HOLD, does, rule, tries, whole};
use tempwright::plan::{Clock, Round};
use tempwright::quantity::Exact;
use tempwright::rehearse::rehearse;

#[test]
fn m2_the_night_when_clocks_go_back() {
    let clock = Clock::parse("Europe/London", "2026-10-25T00:30").expect("shown once");
    let at = |hours: i64| {
        clock
            .at(Exact::int(hours * 60), Round::Down)
            .expect("in the calendar")
    };
    assert_eq!(at(1).time(), "01:30 (+01:00)");
    assert_eq!(at(2).time(), "01:30 (+00:00)");
    assert_eq!(
        (at(24).time().as_str(), at(24).date().to_string().as_str()),
        ("23:30", "2026-10-25")
    );
}

#[test]
fn m3_the_record_that_ends_a_phase_decides_the_rules_of_the_next_with_the_old_target() {
    let body = "
  phase rewarm \"Rewarm\" {
    warm core to 36.5 °C
  }
  phase guard \"Guard\" {
    hold core at 36.5 °C within 0.5 °C
    lasts 24 h
  }
  every 1 h record core
  rule lower {
    when core above 36.0 °C during guard
    then set target 36.0 °C
  }
  rule off {
    when core above target by more than 0.2 °C during guard
    then do \"Look\"
  }";
    does(
        body,
        "at 39:00 core 36.0 °C\nat 40:00 core 36.5 °C\nat 41:00 core 36.4 °C
                expect lower at 40:00\nexpect target 36.0 °C at 40:00\nexpect off at 41:00",
    );
    does(
        body,
        "at 40:00 core 36.5 °C\nexpect lower at 40:00\nexpect no off",
    );
}

#[test]
fn m4_values_off_the_grid_are_errors() {
    let can_be = |value: &str| {
        let scenario =
            format!("scenario \"Edge\" for example {{\n at 1:00 core {value}\n expect no it\n}}\n");
        let loaded = whole(&rule("core below 20.0 °C"), &scenario);
        let (_, protocol) = loaded.protocols.first().expect("no errors");
        rehearse(protocol, &loaded.sources).passed()
    };
    assert_eq!(
        ["33.1 °C", "45.0 °C", "33.05 °C", "45.1 °C"].map(can_be),
        [true, true, false, false]
    );
}

#[test]
fn m6_an_hourly_value_is_good_for_an_hour_and_a_half() {
    tries(
        "core below 32.0 °C and water below 10 °C",
        "at 4:00 core 31.0 °C\nat 5:30 water 9.0 °C\nexpect it at 5:30",
        "at 4:00 core 31.0 °C\nat 5:31 water 9.0 °C",
    );
    // A phase that asks every 15 min begins at 4:10: good up to 4:22:30.
    let body = "
  phase one \"One\" {
    hold core at 33.0 °C within 0.5 °C
    lasts 250 min
  }
  phase two \"Two\" {
    hold core at 33.0 °C within 0.5 °C
    lasts 10 h
  }
  every 1 h record core, water
  every 15 min record core during two
  rule it {
    when core below 32.0 °C and water below 10 °C
    then do \"Look\"
  }";
    does(
        body,
        "at 4:00 core 31.0 °C\nat 4:22 water 9.0 °C\nexpect it at 4:22",
    );
    does(
        body,
        "at 4:00 core 31.0 °C\nat 4:23 water 9.0 °C\nexpect no it",
    );
}

#[test]
fn m7_edges_are_left_out_or_taken_in() {
    tries(
        "core above 37.7 °C",
        "at 1:00 core 37.8 °C\nexpect it at 1:00",
        "at 1:00 core 37.7 °C",
    );
    tries(
        "core at or above 37.7 °C",
        "at 1:00 core 37.7 °C\nexpect it",
        "at 1:00 core 37.6 °C",
    );
    let outside = "core outside 32.5 °C to 33.5 °C";
    tries(
        outside,
        "at 1:00 core 33.6 °C\nexpect it",
        "at 1:00 core 33.5 °C",
    );
    tries(
        outside,
        "at 1:00 core 32.4 °C\nexpect it",
        "at 1:00 core 32.5 °C",
    );
    tries(
        "core and second differ by more than 1.0 °C",
        "at 1:00 core 34.1 °C, second 33.0 °C\nexpect it",
        "at 1:00 core 34.0 °C, second 33.0 °C",
    );
}

#[test]
fn m8_a_stretch_goes_on_through_its_phases() {
    let body = |during: &str| {
        format!(
            "
  phase cool \"Cool\" {{
    cool core to 33.0 °C
  }}{HOLD}
  every 1 h record core
  rule it {{
    when core below 34.0 °C for 1 h during {during}
    then do \"Look\"
  }}"
        )
    };
    let records = "at 2:00 core 33.9 °C\nat 3:00 core 33.0 °C\nat 4:00 core 33.0 °C\n";
    does(&body("cool, hold"), &format!("{records}expect it at 3:00"));
    does(
        &body("hold"),
        &format!("{records}expect no it at 3:00\nexpect it at 4:00"),
    );
    // 5 min before a phase begins is before its stretch.
    let timed = body("hold").replace(
        "phase cool \"Cool\" {\n    cool core to 33.0 °C",
        "phase cool \"Cool\" {\n    hold core at 33.0 °C within 1.0 °C\n    lasts 3 h",
    );
    does(
        &timed,
        "at 2:55 core 33.0 °C\nat 3:50 core 33.0 °C\nexpect no it",
    );
    does(
        &timed,
        "at 3:00 core 33.0 °C\nat 3:45 core 33.0 °C\nexpect it at 3:45",
    );
}

#[test]
fn m9_two_hourly_boxes_in_a_row() {
    tries(
        "water below 10 °C for 1 h",
        "at 4:05 water 9.0 °C\nat 4:50 water 9.0 °C\nexpect it at 4:50",
        "at 4:05 water 9.0 °C\nat 4:49 water 9.0 °C",
    );
}

#[test]
fn m10_rising_over_an_hour_give_or_take_the_slack() {
    let more = "core rises more than 0.5 °C in 1 h";
    tries(
        more,
        "at 10:00 core 33.0 °C\nat 11:15 core 33.6 °C\nexpect it at 11:15",
        "at 10:00 core 33.0 °C\nat 11:16 core 33.6 °C",
    );
    tries(
        more,
        "at 10:00 core 33.0 °C\nat 11:00 core 33.6 °C\nexpect it at 11:00",
        "at 10:00 core 33.0 °C\nat 11:00 core 33.5 °C",
    );
    let less = "core rises less than 0.3 °C in 1 h";
    for (before, fires) in [
        ("10:45", true),
        ("11:15", true),
        ("10:44", false),
        ("11:16", false),
    ] {
        let records = format!("at {before} core 33.0 °C\nat 12:00 core 33.2 °C\n");
        let expected = if fires {
            "expect it at 12:00"
        } else {
            "expect no it"
        };
        does(&rule(less), &format!("{records}{expected}"));
    }
}

#[test]
fn m11_the_target_of_a_range_is_its_limit() {
    let body = rule("core above target by more than 0.3 °C").replace(
        "hold core at 33.0 °C within 0.5 °C",
        "keep core 36.0 °C to 37.5 °C",
    );
    does(&body, "at 1:00 core 37.9 °C\nexpect it at 1:00");
    does(&body, "at 1:00 core 37.8 °C\nexpect no it");
}

#[test]
fn m12_not_recorded_is_true_by_the_clock() {
    let condition = "core not recorded for 2 h";
    does(
        &rule(condition),
        "at 1:00 core 33.0 °C\nat 2:00 core 33.0 °C\nat 5:00 water 14.0 °C
                            expect no it at 3:59\nexpect it at 4:00",
    );
    does(
        &rule(condition),
        "from 0:00 to 10:00 every 2 h core 33.0 °C\nexpect no it",
    );
}

#[test]
fn m36_from_and_to_are_taken_in_and_an_order_needs_no_until() {
    let body = rule("water below 10 °C for 2 h").replace(
        "then do \"Look\"",
        "then pause temperature control until water at or above 12 °C",
    );
    let body = body.replace("every 1 h", "every 30 min");
    does(
        &body,
        "from 4:00 to 6:00 every 30 min water 9.0 °C
                 expect pause temperature control at 6:00\nexpect no it at 5:30",
    );
    does(
        &body,
        "from 25:00 to 27:00 every 30 min water 9.0 °C\nexpect it at 27:00",
    );
}
