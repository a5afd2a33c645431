//! M17 to M25, M31: phases, targets, courses and the plan.

use crate::case::{HOLD, does, whole};
use tempwright::model::MarkRef;
use tempwright::plan::{Case, Plan};
use tempwright::quantity::Exact;

/// Cool, hold for a day, rewarm on a course, guard until 72 h after the arrest.
const COURSE: &str = "
  phase cool \"Cool\" {
    cool core to 33.0 °C
    never faster than 2.0 °C/h
    due within 4 h
  }
  phase hold \"Hold\" {
    hold core at 33.0 °C within 0.5 °C
    lasts 24 h
  }
  phase rewarm \"Rewarm\" {
    warm core from 33.0 °C to 36.5 °C within 0.2 °C at 0.25 °C/h
  }
  phase guard \"Guard\" {
    keep core 36.0 °C to 37.7 °C
    ends 72 h after rosc
  }
  every 1 h record core
  rule late {
    when cool is overdue
    then call doctor within 15 min
  }
  rule back {
    when core above 37.7 °C during guard
    then begin cool
  }";

#[test]
fn m17_and_m18_phases_end_by_arriving() {
    does(
        COURSE,
        "at 2:59 core 33.1 °C\nat 3:00 core 33.0 °C
                  expect phase cool at 2:59\nexpect phase hold at 3:00",
    );
    // Rewarming begins at 27:00, and its course arrives at 41:00.
    let until = |last: &str| {
        format!(
            "at 3:00 core 33.0 °C\nat 40:00 core 36.6 °C\nat 41:00 core {last} °C
                 expect phase rewarm at 27:00\nexpect phase rewarm at 40:00\n"
        )
    };
    does(
        COURSE,
        &format!("{}expect phase guard at 41:00", until("36.3")),
    );
    does(
        COURSE,
        &format!("{}expect phase rewarm at 41:00", until("36.2")),
    );
}

#[test]
fn m19_an_end_that_is_already_past_makes_the_phase_empty() {
    // 72 h after an arrest 4 h before the start is 68:00.
    let ends = |time: &str| {
        format!(
            "given rosc 4 h before start
             at 3:00 core 33.0 °C
             at {time} core 38.0 °C\n"
        )
    };
    does(COURSE, &format!("{}expect back at 67:59", ends("67:59")));
    does(
        COURSE,
        &format!(
            "{}expect phase rewarm at 69:59\nexpect no back",
            ends("70:00")
        ),
    );
}

#[test]
fn m20_the_target_of_a_course_and_without_one() {
    does(
        COURSE,
        "at 3:00 core 33.0 °C\nexpect target 33.0 °C at 2:00
                  expect target 33.5 °C at 29:00\nexpect target 34.0 °C at 31:00",
    );
    let glides = COURSE.replace(" at 0.25 °C/h", "");
    does(
        &glides,
        "at 3:00 core 33.0 °C\nexpect target 36.5 °C at 27:00",
    );
}

#[test]
fn m21_a_course_in_steps_stands_on_the_slower_side() {
    let steps = |rate: &str, step: &str| {
        format!(
            "
  phase rewarm \"Rewarm\" {{
    warm core from 33.0 °C to 36.5 °C at {rate}
    target moves every 1 h in steps of {step}
  }}
  every 1 h record core"
        )
    };
    does(
        &steps("0.25 °C/h", "0.1 °C"),
        "at 0:00 core 33.0 °C
          expect target 33.0 °C at 0:59\nexpect target 33.2 °C at 1:00
          expect target 33.5 °C at 2:00\nexpect target 33.7 °C at 3:00
          expect target 34.0 °C at 4:00\nexpect target 36.2 °C at 13:59
          expect target 36.5 °C at 14:00",
    );
    does(
        &steps("0.3 °C/h", "0.2 °C"),
        "at 0:00 core 33.0 °C
          expect target 36.2 °C at 11:00\nexpect target 36.2 °C at 11:59
          expect target 36.5 °C at 12:00",
    );
}

#[test]
fn m22_moving_the_target_and_beginning_anew_after_a_pause() {
    let body = HOLD.replace("33.0", "35.8")
        + "
  every 1 h record core
  rule it {
    when core above 36.5 °C
    then raise target by 0.5 °C, at most 36.0 °C
  }";
    does(&body, "at 1:00 core 36.6 °C\nexpect target 36.0 °C at 1:00");
    let paused = "
  phase rewarm \"Rewarm\" {
    warm core from 33.0 °C to 36.5 °C at 0.25 °C/h
  }
  every 1 h record core
  rule it {
    when core above 37.0 °C
    then pause temperature control for 1 h
  }";
    // 14 h as planned, and the hour of the pause.
    does(
        paused,
        "at 0:00 core 33.0 °C\nat 4:00 core 37.1 °C\nat 8:00 core 35.0 °C
                  expect target 34.0 °C at 5:00\nexpect target 34.75 °C at 8:00",
    );
}

#[test]
fn m23_a_pause_does_not_lengthen_a_timed_phase() {
    let body = "
  phase hold \"Hold\" {
    hold core at 33.0 °C within 0.5 °C
    lasts 24 h
  }
  phase guard \"Guard\" {
    keep core at or below 37.7 °C
    lasts 24 h
  }
  every 1 h record core
  rule it {
    when core below 32.5 °C
    then pause temperature control for 2 h
  }";
    does(
        body,
        "at 5:00 core 32.0 °C\nexpect it\nexpect phase hold at 23:59
                expect phase guard at 24:00",
    );
}

#[test]
fn m24_due_unless_the_record_of_that_moment_ends_the_phase() {
    does(
        COURSE,
        "at 3:59 core 34.0 °C\nat 4:30 core 33.5 °C\nexpect late at 4:00",
    );
    does(
        COURSE,
        "at 4:00 core 33.0 °C\nat 5:00 core 33.0 °C\nexpect no late",
    );
}

#[test]
fn m25_begin_goes_on_in_the_written_order() {
    does(
        COURSE,
        "at 3:00 core 33.0 °C\nat 41:00 core 36.5 °C\nat 42:00 core 38.0 °C
                  at 45:00 core 33.0 °C
                  expect phase cool at 42:00\nexpect phase hold at 45:00
                  expect phase rewarm at 69:00",
    );
}

#[test]
fn m31_the_plan_runs_over_all_patients_and_a_case_narrows_it() {
    let loaded = whole(COURSE, "");
    let (_, protocol) = loaded.protocols.first().expect("no errors");
    let plan = Plan::of(protocol, &Case::default()).expect("numbers that fit");
    let minutes = |hours: i64| Exact::int(hours * 60);
    let ends = plan.end();
    assert_eq!(
        (ends.earliest, ends.latest),
        (minutes(66), Some(minutes(72)))
    );
    let (rosc, _) = protocol.marks().next().expect("a mark");
    let rosc = plan.mark(MarkRef::Named(rosc)).expect("bound by the start");
    assert_eq!(
        (rosc.earliest, rosc.latest),
        (minutes(-6), Some(minutes(0)))
    );
    let (core, _) = protocol.readings().next().expect("a reading");
    let case = Case::default()
        .enter_arrival(protocol, "core", "37.5")
        .expect("allowed");
    assert!(case.arrival.contains_key(&core));
    let plan = Plan::of(protocol, &case).expect("numbers that fit");
    let cool = plan.phases.first().expect("a phase").end;
    assert_eq!(
        (cool.earliest, cool.latest),
        (Exact::int(135), Some(minutes(4)))
    );
}
