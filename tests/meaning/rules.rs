//! M13 to M16: when a rule fires, rests and is ready again; UNTIL; calls.

use crate::case::{HOLD, told};

fn hold(rest: &str) -> String {
    format!("{HOLD}\n  every 15 min record core, second\n{rest}")
}

#[test]
fn m13_an_overriding_rule_need_not_be_ready() {
    let body = hold(
        "rule sites-disagree {
           when core and second differ by more than 1.0 °C
           then do \"Check both probes\"
           overrides too-cold
         }
         rule too-cold {
           when core below 32.5 °C
           then do \"Look\"
         }",
    );
    let told = told(
        &body,
        "5:00 core 34.0, second 32.0; 5:15 core 32.0, second 34.0; 5:30 core 32.0, second 34.0; 5:45 core 32.0, second 32.0",
    );
    assert_eq!(told.fires("sites-disagree"), ["5:00"]);
    assert_eq!(told.times("rule `too-cold` is silent"), ["5:15"]);
    assert_eq!(told.fires("too-cold"), ["5:45"]);
}

#[test]
fn m13_an_overriding_rule_counts_only_in_its_own_phases() {
    let body = "
  phase one \"One\" {
    hold core at 33.0 °C within 0.5 °C
    lasts 1 h
  }
  phase two \"Two\" {
    hold core at 33.0 °C within 0.5 °C
    lasts 24 h
  }
  every 1 h record core
  rule over {
    when core below 33.0 °C during one
    then do \"A\"
    overrides under
  }
  rule under {
    when core below 32.5 °C
    then do \"B\"
  }";
    let told = told(body, "0:30 core 32.0; 1:30 core 32.0");
    assert_eq!(told.fires("over"), ["0:30"]);
    // The record of 0:30 stands and `over` is out of its phases from 1:00 on.
    assert_eq!(told.fires("under"), ["1:00"]);
}

#[test]
fn m14_again_after_and_ready_again() {
    let body = hold(
        "rule too-cold {
           when core below 32.5 °C
           then do \"Look\"
           ready again when core at or above 32.8 °C
           again after 1 h
         }",
    );
    let told = told(
        &body,
        "5:00 core 32.4; 5:30 core 32.6; 5:45 core 32.4; 6:00 core 32.4; 6:10 core 32.8; 6:15 core 32.4",
    );
    assert_eq!(told.fires("too-cold"), ["5:00", "6:00", "6:15"]);
    assert_eq!(
        told.times("rule `too-cold` is ready again"),
        ["6:00", "6:10"]
    );
}

/// No look and no record falls at 5:20: time alone makes it ready.
#[test]
fn m14_again_after_comes_between_two_looks() {
    let body = hold(
        "rule too-cold {
           when core below 32.5 °C
           then do \"Look\"
           again after 20 min
         }",
    );
    let told = told(&body, "5:00 core 32.4; 5:15 core 32.4; 5:30 core 32.8");
    assert_eq!(told.fires("too-cold"), ["5:00", "5:20"]);
}

#[test]
fn m14_without_ready_again_the_condition_must_be_decided_and_fail() {
    let body = hold("rule it { when core below 32.5 °C  then do \"Look\" }");
    // Unknown from 5:22:30 on: that releases nothing.
    assert_eq!(
        told(&body, "5:00 core 32.4; 6:00 core 32.4").fires("it"),
        ["5:00"]
    );
    assert_eq!(
        told(&body, "5:00 core 32.4; 5:15 core 32.5; 5:30 core 32.4").fires("it"),
        ["5:00", "5:30"]
    );
}

#[test]
fn m14_the_end_of_its_stretch_makes_it_ready() {
    let body = "
  phase one \"One\" {
    keep core 36.0 °C to 37.5 °C
    lasts 1 h
  }
  phase two \"Two\" {
    keep core 36.0 °C to 37.5 °C
    lasts 1 h
  }
  phase three \"Three\" {
    keep core 36.0 °C to 37.5 °C
    lasts 4 h
  }
  every 1 h record core
  rule it {
    when core above 38.0 °C during one, three
    then do \"Look\"
  }";
    assert_eq!(
        told(
            body,
            "0:30 core 38.1; 0:45 core 38.1; 1:30 core 38.1; 2:30 core 38.1; 2:45 core 38.1"
        )
        .fires("it"),
        ["0:30", "2:30"]
    );
}

#[test]
fn m14_being_ready_again_undoes_no_order() {
    let body = hold(
        "rule too-cold {
           when core below 32.5 °C
           then pause temperature control until core at or above 33.5 °C
         }",
    );
    let told = told(&body, "5:00 core 32.4; 5:15 core 33.0; 5:30 core 33.5");
    assert_eq!(told.times("rule `too-cold` is ready again"), ["5:15"]);
    assert_eq!(told.times("order over: pause"), ["5:30"]);
}

#[test]
fn m15_until_ends_at_the_first_later_record() {
    let body = hold(
        "rule too-cold {
           when core below 32.5 °C
           then pause temperature control until core at or above 32.8 °C
         }
         rule off {
           when paused longer than 1 min
           then do \"Look\"
         }",
    );
    let told = told(
        &body,
        "4:45 core 32.9; 5:00 core 32.4; 5:15 core 32.7; 5:20 core 32.8",
    );
    assert_eq!(told.times("order over"), ["5:20"]);
}

#[test]
fn m15_of_several_pauses_the_last_to_end_counts() {
    let body = hold(
        "rule too-cold {
           when core below 32.5 °C
           then pause temperature control until core at or above 32.8 °C
         }
         rule far-too-cold {
           when second below 31.0 °C
           then pause temperature control for 30 min
         }
         rule off {
           when paused longer than 40 min
           then do \"Off from 5:00 to 5:40, and not from 5:10\"
         }
         rule long-off {
           when paused longer than 41 min
           then do \"Never\"
         }",
    );
    let told = told(
        &body,
        "5:00 core 32.4; 5:10 second 30.9; 5:20 core 32.9; until 6:00",
    );
    assert_eq!(told.times("order over: pause"), ["5:20", "5:40"]);
    // The pause is over at 5:40 before the rules are decided.
    assert!(told.fires("off").is_empty());
    assert!(told.fires("long-off").is_empty());
}

#[test]
fn m15_the_stretch_of_until_begins_with_the_order() {
    let body = hold(
        "rule too-fast {
           when core rises more than 0.5 °C in 30 min
           then pause temperature control until core rises less than 0.3 °C in 30 min
         }",
    );
    // The record of the order itself begins the stretch and counts.
    let told = told(
        &body,
        "5:00 core 33.0; 5:30 core 33.6; 5:45 core 33.7; 6:00 core 33.8",
    );
    assert_eq!(told.fires("too-fast"), ["5:30"]);
    assert_eq!(told.times("order over"), ["6:00"]);
}

#[test]
fn m15_until_a_mark_and_for_a_time() {
    let body = hold(
        "rule a { when core below 32.5 °C  then pause temperature control until rosc }
         rule b { when core below 31.0 °C  then withhold salts for 6 h }
         medication salts \"Salts\" { dose 1 g iv over 10 min }",
    );
    // A mark of before does not end it.
    let told = told(
        &body,
        "4:00 rosc; 5:00 core 32.4; 5:15 core 30.9; 5:30 rosc; until 12:00",
    );
    assert_eq!(told.times("order over: pause"), ["5:30"]);
    assert_eq!(told.times("order over: withhold"), ["11:15"]);
}

#[test]
fn m16_of_several_calls_of_one_role_the_one_due_first_stands() {
    let body = hold(
        "rule a { when core below 32.5 °C  then call doctor within 30 min }
         rule b { when core below 32.5 °C  then call doctor within 15 min }
         rule c { when core below 32.0 °C  then call doctor within 30 min }
         rule d { when core below 31.0 °C  then call senior now }",
    );
    let told = told(
        &body,
        "5:00 core 32.4; 5:10 core 31.9; 5:30 core 32.4; 5:45 core 31.9; 6:00 core 30.9",
    );
    let calls: Vec<&String> = told
        .lines
        .iter()
        .filter(|line| line.contains(" call `"))
        .collect();
    assert_eq!(
        calls,
        [
            "5:00 call `doctor` by 5:15, no reply by 5:25 then `senior`",
            // The order of 5:10 is done with the call of 5:15; that of 5:45 is a new one.
            "5:45 call `doctor` by 6:15, no reply by 6:25 then `senior`",
            "6:00 call `senior` by 6:00, no reply by 6:05 then `doctor`",
        ]
    );
}

#[test]
fn m3_an_entry_that_is_missed_makes_no_moment() {
    // The box of 0:00 is missed at 0:45, when that of 1:00 can be filled. The rule is
    // ready again and still holds, so it fires at each moment, and only at those.
    let body = "
  phase watch \"Watch\" {
    hold core at 33.0 °C within 0.5 °C
    lasts 24 h
  }
  every 1 h record core, second
  rule warm {
    when core above 35.0 °C
    then do \"Look\"
    ready again when core above 34.0 °C
  }";
    let told = told(body, "0:00 core 36.0; 0:50 core 36.0; until 1:10");
    assert_eq!(told.times("missed"), ["0:45"], "{:#?}", told.lines);
    assert_eq!(told.fires("warm"), ["0:00", "0:50", "1:00"]);
}

/// Choice of the evaluator: what releases a rule counts from the next moment on, even
/// where it held already when the rule fired.
#[test]
fn m14_ready_again_that_holds_already_releases_at_the_next_moment() {
    let body = hold(
        "rule cold {
           when core below 33.0 °C
           then do \"Look\"
           ready again when core below 34.0 °C
         }",
    );
    let told = told(&body, "5:00 core 32.5; 5:15 core 32.5; 5:30 core 33.5");
    assert_eq!(told.fires("cold"), ["5:00", "5:15"]);
    assert_eq!(told.times("rule `cold` is ready again"), ["5:15", "5:30"]);
}
