//! M26 to M30, and M16 for ladders: rungs, steps, rechecks, doses, ceilings.

use crate::case::{HOLD, protocol, told, told_of};
use tempwright::eval::Case;
use tempwright::quantity::Exact;

const RUNGS: &str = r#"
  ladder shivering-steps "Shivering" on shiver {
    rung 0 "None" {
      continue
    }
    rung 1 "Mild" {
      do "Warm the hands"
    }
    rung 2 to 3 "Severe" {
      do "Call for help"
      recheck in 30 min
    }
  }
"#;

fn rungs() -> String {
    format!("{HOLD}{RUNGS}  every 1 h score shiver then follow shivering-steps")
}

#[test]
fn m26_a_rung_is_chosen_by_the_value() {
    let told = told(&rungs(), "0:00 shiver 0; 1:00 shiver 1; 2:00 shiver 2");
    let chosen: Vec<&String> = told
        .lines
        .iter()
        .filter(|line| line.contains("rung \"") && line.contains("ladder `"))
        .collect();
    assert_eq!(
        chosen,
        [
            "0:00 ladder `shivering-steps`: rung \"None\"",
            "1:00 ladder `shivering-steps`: rung \"Mild\"",
            "2:00 ladder `shivering-steps`: rung \"Severe\"",
        ]
    );
}

#[test]
fn m26_a_recheck_is_answered_from_three_quarters_on() {
    let chosen = |records: &str| {
        told(&rungs(), records)
            .times("ladder `shivering-steps`: rung")
            .len()
    };
    assert_eq!(chosen("5:00 shiver 3; 5:22 shiver 1"), 1);
    assert_eq!(chosen("5:00 shiver 3; 5:22:29 shiver 1"), 1);
    assert_eq!(chosen("5:00 shiver 3; 5:22:30 shiver 1"), 2);
    assert_eq!(chosen("5:00 shiver 3; 5:23 shiver 1"), 2);
    let late = told(&rungs(), "5:00 shiver 3; 6:00 shiver 1");
    late.must_say("5:30 ladder `shivering-steps`: recheck due");
    late.must_say("6:00 ladder `shivering-steps`: recheck of 5:30 answered late");
}

#[test]
fn m26_a_record_that_answers_and_a_look_choose_once() {
    // At 6:00 the recheck of 5:30 and the hourly look are one score.
    let told = told(&rungs(), "5:00 shiver 3; 6:00 shiver 3");
    assert_eq!(
        told.times("ladder `shivering-steps`: rung"),
        ["5:00", "6:00"]
    );
    assert_eq!(told.times("order: do \"Call for help\""), ["5:00", "6:00"]);
}

const STEPS: &str = r#"
  reading pressure "Pressure" amount of mean-pressure in mmHg, shown to 1 mmHg, reads 10 mmHg to 200 mmHg
  ladder pressure-steps "Low pressure" on pressure until at or above 65 mmHg {
    step "Line" {
      do "Zero the line"
      recheck in 20 min
    }
    step "Fluid" {
      do "Fluid"
      recheck in 20 min
    }
    step "Call" {
      call doctor now
    }
  }
  every 1 h record pressure
  rule low { when pressure below 65 mmHg  then follow pressure-steps }
"#;

fn steps() -> String {
    format!("{HOLD}{STEPS}")
}

#[test]
fn m26_steps_go_on_until_the_goal_is_met() {
    let told = told(
        &steps(),
        "1:00 pressure 60; 1:20 pressure 61; 1:40 pressure 62; 2:40 pressure 60",
    );
    let done: Vec<&String> = told
        .lines
        .iter()
        .filter(|line| line.contains("step \"") && line.contains("ladder `"))
        .collect();
    assert_eq!(
        done,
        [
            "1:00 ladder `pressure-steps`: step \"Line\"",
            "1:20 ladder `pressure-steps`: step \"Fluid\"",
            "1:40 ladder `pressure-steps`: step \"Call\"",
        ]
    );
    assert_eq!(told.times("call `doctor`"), ["1:40"]);
}

#[test]
fn m26_the_goal_met_it_rests_and_followed_again_it_begins_anew() {
    let told = told(
        &steps(),
        "1:00 pressure 60; 1:20 pressure 65; 2:00 pressure 60",
    );
    assert_eq!(
        told.times("ladder `pressure-steps` rests: its goal is met"),
        ["1:20"]
    );
    assert_eq!(
        told.times("ladder `pressure-steps`: step \"Line\""),
        ["1:00", "2:00"]
    );
}

#[test]
fn m26_followed_again_meanwhile_it_goes_on_where_it_is() {
    let body = format!(
        "{}\n  rule very-low {{ when pressure below 50 mmHg  then follow pressure-steps }}",
        steps()
    );
    let told = told(
        &body,
        "1:00 pressure 60; 1:10 pressure 49; 1:20 pressure 49",
    );
    assert_eq!(told.fires("very-low"), ["1:10"]);
    assert_eq!(
        told.times("ladder `pressure-steps`: step \"Line\""),
        ["1:00"]
    );
    assert_eq!(
        told.times("ladder `pressure-steps`: step \"Fluid\""),
        ["1:20"]
    );
}

#[test]
fn m26_of_steps_the_first_is_not_done_where_the_goal_is_met() {
    let body = format!(
        "{HOLD}{STEPS}  every 1 h record core\n  rule cold {{ when core below 32.0 °C  then follow pressure-steps }}"
    );
    let told = told(&body, "1:00 core 31.0, pressure 65");
    assert!(told.times("ladder `pressure-steps`: step").is_empty());
    assert_eq!(
        told.times("ladder `pressure-steps` rests: its goal is met"),
        ["1:00"]
    );
}

#[test]
fn m16_following_asks_for_the_reading_unless_it_was_just_recorded() {
    let body = format!(
        "{HOLD}{RUNGS}  every 1 h record core\n  rule cold {{ when core below 32.0 °C  then follow shivering-steps }}"
    );
    let asked = told(&body, "1:00 core 31.0; 1:05 shiver 1; 1:10 shiver 3");
    assert_eq!(asked.times("asked: score shiver at 1:00"), ["1:00"]);
    assert_eq!(
        asked.times("ladder `shivering-steps`: rung \"Mild\""),
        ["1:05"]
    );
    // At rest by then: nobody follows it.
    assert!(
        asked
            .times("ladder `shivering-steps`: rung \"Severe\"")
            .is_empty()
    );
    let recorded = told(&body, "1:00 core 31.0, shiver 1");
    assert!(recorded.times("asked: score shiver").is_empty());
    assert_eq!(
        recorded.times("ladder `shivering-steps`: rung \"Mild\""),
        ["1:00"]
    );
}

/// Gives `salts` (or what `order` says) at each core below 32 °C.
fn giving(medication: &str, order: &str) -> String {
    format!(
        "{HOLD}
  every 1 h record core, water
  {medication}
  rule it {{ when core below 32.0 °C  then {order} otherwise call doctor now }}
  rule hold-back {{ when water below 10.0 °C  then withhold salts for 2 h }}"
    )
}

const SALTS: &str = r#"medication salts "Salts" {
    dose 1 g iv over 30 min, not again within 6 h
    ceiling 4 g per 24 h
  }"#;

#[test]
fn m27_too_soon_and_then_otherwise_is_done() {
    let body = giving(SALTS, "give salts");
    let last = |at: &str| {
        told(
            &body,
            &format!("2:00 core 31.9; 2:10 core 33.0; {at} core 31.9"),
        )
    };
    let soon = last("7:59");
    assert_eq!(soon.times("`salts`: dose 1000 mg"), ["2:00"]);
    assert_eq!(
        soon.times("`salts` not given: too soon, not before 8:00"),
        ["7:59"]
    );
    assert_eq!(
        soon.times("order: call doctor now (`salts` cannot be given)"),
        ["7:59"]
    );
    let in_time = last("8:00");
    assert_eq!(in_time.times("`salts`: dose 1000 mg"), ["2:00", "8:00"]);
    assert!(in_time.times("order: call doctor").is_empty());
}

#[test]
fn m27_withheld() {
    let body = giving(SALTS, "give salts");
    let told = told(
        &body,
        "1:00 water 9.0; 2:59 core 31.9; 3:30 core 33.0; 4:00 core 31.9",
    );
    assert_eq!(told.times("`salts` not given: withheld"), ["2:59"]);
    assert_eq!(told.times("`salts`: dose"), ["4:00"]);
}

#[test]
fn m27_only_with_a_running_one() {
    let body = format!(
        "{HOLD}
  every 1 h record core, water
  medication calm \"Calm\" {{
    infuse 10 mg/h
    ceiling 1 g per 24 h
  }}
  medication block \"Block\" {{
    dose 50 mg iv over 1 min
    only with calm
    ceiling 300 mg per 24 h
  }}
  rule a {{ when core below 32.0 °C  then give block otherwise call doctor now }}
  rule b {{ when water below 10.0 °C  then give calm }}
  rule c {{ when water above 20.0 °C  then stop calm }}"
    );
    let told = told(
        &body,
        "1:00 core 31.9, water 9.0; 2:00 core 33.0; 2:10 core 31.9; 3:00 core 33.0, water 21.0; 3:10 core 31.9",
    );
    // At 1:00 both are ordered; what that changes counts from the next moment.
    assert_eq!(
        told.times("`block` not given: none that it goes only with"),
        ["1:00", "3:10"]
    );
    assert_eq!(told.times("`block`: dose 50 mg"), ["2:10"]);
}

#[test]
fn m28_the_ceiling_counts_by_the_hour_and_never_by_the_day() {
    let six_hourly = r#"medication salts "Salts" {
    dose 1 g iv over 10 min
    ceiling 4 g per 24 h
  }"#;
    let body = giving(six_hourly, "give salts").replace("lasts 24 h", "lasts 48 h");
    let doses = "0:00 core 31.9; 0:30 core 33.0; 6:00 core 31.9; 6:30 core 33.0; 12:00 core 31.9; 12:30 core 33.0; 18:00 core 31.9; 18:30 core 33.0";
    let at = |time: &str| told(&body, &format!("{doses}; {time} core 31.9"));
    let before = at("23:59");
    assert_eq!(before.times("`salts`: dose").len(), 4);
    assert_eq!(
        before.times("`salts` not given: it would come to 5000 mg"),
        ["23:59"]
    );
    assert_eq!(at("24:00").times("`salts`: dose").len(), 5);
}

#[test]
fn m28_what_an_infusion_ran_in_counts() {
    let body = format!(
        "{HOLD}
  every 1 h record core
  medication drip \"Drip\" {{
    infuse 10 mg/h to 30 mg/h, steps of 10 mg/h every 30 min
    ceiling 40 mg per 24 h
  }}
  rule a {{ when core above 36.0 °C  then give drip }}
  rule b {{ when core below 32.0 °C  then raise drip otherwise call doctor now }}"
    );
    // 10 mg/h from 0:00: 39 mg have run in by 3:54, 40 mg by 4:00.
    let at = |time: &str| told(&body, &format!("0:00 core 36.1; {time} core 31.9"));
    assert_eq!(at("3:54").times("`drip`: runs at 20 mg/h").len(), 1);
    assert_eq!(
        at("4:00")
            .times("`drip` not given: it would come to 40 mg")
            .len(),
        1
    );
}

#[test]
fn m29_per_kilogram_then_at_most_then_rounded_down() {
    let body = giving(
        r#"medication salts "Salts" {
    dose 30 mg/kg iv over 30 min, at most 2 g
    rounded to 100 mg
    ceiling 4 g per 24 h
  }"#,
        "give salts",
    );
    let dose = |kg: Exact| {
        let case = Case {
            weight: Some(kg),
            ..Case::default()
        };
        let told = told_of(&body, &case, "1:00 core 31.9");
        told.lines.into_iter().find(|line| line.contains("`salts`"))
    };
    assert_eq!(
        dose(Exact::ratio(649, 10)).as_deref(),
        Some("1:00 `salts`: dose 1900 mg")
    );
    assert_eq!(
        dose(Exact::int(70)).as_deref(),
        Some("1:00 `salts`: dose 2000 mg")
    );
    // Without a weight there is no dose, and `otherwise` stands in.
    let unknown = told(&body, "1:00 core 31.9");
    assert_eq!(
        unknown.times("`salts` not given: no dose can be worked out"),
        ["1:00"]
    );
    assert_eq!(unknown.times("order: call doctor now"), ["1:00"]);
}

#[test]
fn m29_the_band_of_the_weight() {
    let body = giving(
        r#"medication salts "Salts" {
    dose 1 g iv over 30 min when weight below 50 kg
    dose 2 g iv over 30 min when weight at or above 50 kg
    ceiling 4 g per 24 h
  }"#,
        "give salts",
    );
    for (tenths, dose) in [(499, "1000 mg"), (500, "2000 mg")] {
        let case = Case {
            weight: Some(Exact::ratio(tenths, 10)),
            ..Case::default()
        };
        told_of(&body, &case, "1:00 core 31.9").must_say(&format!("1:00 `salts`: dose {dose}"));
    }
}

const DRIP: &str = r#"medication salts "Salts" {
    infuse 2 mg/h to 7 mg/h, steps of 1 mg/h every 30 min, for at most 24 h
    ceiling 1 g per 24 h
  }"#;

fn drip() -> String {
    format!(
        "{}\n  rule start-it {{ when core above 36.0 °C  then give salts }}
  rule down {{ when water above 30.0 °C  then lower salts otherwise call senior now }}",
        giving(DRIP, "raise salts")
    )
    .replace("lasts 24 h", "lasts 48 h")
}

#[test]
fn m30_raise_goes_step_by_step_to_the_top_rate() {
    let mut records = "0:00 core 36.1".to_owned();
    for step in 1..=6 {
        records.push_str(&format!("; {}:00 core 31.9; {}:30 core 33.0", step, step));
    }
    let told = told(&drip(), &records);
    told.must_say("0:00 `salts`: runs at 2 mg/h");
    told.must_say("5:00 `salts`: runs at 7 mg/h");
    assert_eq!(told.times("`salts`: runs at").len(), 6);
    assert_eq!(told.times("`salts` not given: at its top rate"), ["6:00"]);
    assert_eq!(told.times("order: call doctor now"), ["6:00"]);
}

#[test]
fn m27_a_step_waits_for_its_every_and_an_infusion_for_its_start() {
    let body = drip();
    let not_running = told(&body, "1:00 core 31.9");
    assert_eq!(
        not_running.times("`salts` not given: it does not run"),
        ["1:00"]
    );
    let soon = told(&body, "0:00 core 36.1; 0:29 core 31.9");
    assert_eq!(
        soon.times("`salts` not given: too soon, not before 0:30"),
        ["0:29"]
    );
    let in_time = told(&body, "0:00 core 36.1; 0:30 core 31.9");
    in_time.must_say("0:30 `salts`: runs at 3 mg/h");
}

#[test]
fn m27_at_its_longest_time_an_infusion_ends() {
    let told = told(&drip(), "0:00 core 36.1; 24:00 core 31.9; until 25:00");
    assert_eq!(told.times("`salts`: its longest time is over"), ["24:00"]);
    assert_eq!(
        told.times("`salts` not given: it has run for its longest time"),
        ["24:00"]
    );
}

#[test]
fn m30_lower_goes_down_to_the_lowest_rate() {
    let told = told(
        &drip(),
        "0:00 core 36.1; 1:00 core 31.9; 2:00 water 31.0; 2:30 water 20.0; 3:00 water 31.0",
    );
    told.must_say("1:00 `salts`: runs at 3 mg/h");
    told.must_say("2:00 `salts`: runs at 2 mg/h");
    assert_eq!(
        told.times("`salts` not given: at its lowest rate"),
        ["3:00"]
    );
    assert_eq!(told.times("order: call senior now"), ["3:00"]);
}

#[test]
fn m30_give_gives_the_dose_and_starts_the_infusion() {
    let body = giving(
        r#"medication salts "Salts" {
    dose 5 mg iv over 1 min
    infuse 2 mg/h
    ceiling 1 g per 24 h
  }"#,
        "give salts",
    );
    let told = told(&body, "1:00 core 31.9");
    told.must_say("1:00 `salts`: dose 5 mg");
    told.must_say("1:00 `salts`: runs at 2 mg/h");
}

#[test]
fn a_look_gives_a_medication_at_its_times() {
    let body = format!("{HOLD}  {SALTS}\n  every 6 h give salts");
    assert_eq!(
        told(&body, "until 13:00").times("`salts`: dose"),
        ["0:00", "6:00", "12:00"]
    );
}

#[test]
fn m33_orders_that_contradict_are_not_given_and_it_says_so() {
    let body = format!(
        "{HOLD}
  every 1 h record core
  rule a {{ when core below 32.0 °C  then raise target by 0.5 °C, at most 36.0 °C }}
  rule b {{ when core below 32.0 °C  then pause temperature control for 1 h }}
  rule c {{ when core below 32.0 °C  then do \"Look\" }}"
    );
    let told = told(&body, "1:00 core 31.9");
    assert_eq!(
        told.times("orders contradict, none is given: raise target by 0.5 °C, at most 36.0 °C (rule `a`); pause temperature control for 1 h (rule `b`)"),
        ["1:00"]
    );
    assert_eq!(told.times("order:"), ["1:00"]);
    assert_eq!(told.times("order: do \"Look\""), ["1:00"]);
}

#[test]
fn m33_each_pair_of_orders() {
    let contradicts = |a: &str, b: &str| {
        let body = format!(
            "{HOLD}
  phase next \"Next\" {{
    hold core at 34.0 °C within 0.5 °C
    lasts 24 h
  }}
  phase third \"Third\" {{
    hold core at 35.0 °C within 0.5 °C
    lasts 24 h
  }}
  every 1 h record core
  {DRIP}
  rule start-it {{ when core above 36.0 °C  then give salts }}
  rule a {{ when core below 32.0 °C  then {a} }}
  rule b {{ when core below 32.0 °C  then {b} }}"
        );
        let one = told(&body, "0:00 core 36.1; 1:00 core 31.9");
        let swapped = told(
            &body.replace("rule a", "rule z"),
            "0:00 core 36.1; 1:00 core 31.9",
        );
        assert_eq!(
            one.times("orders contradict").len(),
            swapped.times("orders contradict").len()
        );
        !one.times("orders contradict").is_empty()
    };
    assert!(contradicts("set target 34.0 °C", "set target 35.0 °C"));
    assert!(!contradicts("set target 34.0 °C", "set target 34.0 °C"));
    assert!(contradicts(
        "raise target by 0.1 °C, at most 34.0 °C",
        "lower target by 0.1 °C, at least 32.0 °C"
    ));
    assert!(contradicts(
        "set target 34.0 °C",
        "stop temperature control"
    ));
    assert!(contradicts(
        "set target 34.0 °C",
        "keep target here for 1 h"
    ));
    assert!(contradicts("begin next", "begin third"));
    assert!(contradicts("begin next", "stop temperature control"));
    assert!(contradicts("raise salts", "withhold salts for 1 h"));
    assert!(contradicts("raise salts", "stop salts"));
    assert!(contradicts("give salts", "stop salts"));
    assert!(!contradicts("raise salts", "give salts"));
    assert!(!contradicts(
        "pause temperature control for 1 h",
        "keep target here for 1 h"
    ));
    assert!(!contradicts("call doctor now", "continue"));
}

#[test]
fn m34_a_record_past_a_limit_is_said() {
    let body = format!("{HOLD}  limit core never below 30.0 °C\n  every 1 h record core");
    let told = told(&body, "1:00 core 30.0; 2:00 core 29.9");
    assert_eq!(told.times("limit passed"), ["2:00"]);
    let above = format!("{HOLD}  limit core never above 35.0 °C\n  every 1 h record core");
    let told = self::told(
        &above,
        "1:00 core 35.0; 2:00 core 35.1; 3:00 core 36.0; 4:00 core 29.0",
    );
    assert_eq!(told.times("limit passed"), ["2:00", "3:00"]);
    assert_eq!(protocol(&body).limits.len(), 1);
}
