//! The timeline, by the numbers of the language's meaning.

use super::testing::*;
use super::*;
use crate::model::MarkRef;
use crate::quantity::Exact;

fn number(text: &str) -> Exact {
    Exact::parse(text).expect("a number")
}

#[test]
fn m17_and_m31_each_phase_begins_when_the_one_before_ends() {
    let protocol = protocol(ARREST);
    let plan = blank(&protocol);
    assert_eq!(
        ends(&plan),
        ["0 to 4", "24 to 28", "38 to 42", "66 to 72"],
        "arrival may be at 33.0 °C already"
    );
    for pair in plan.phases.windows(2) {
        let [before, after] = pair else {
            panic!("pairs")
        };
        assert_eq!(before.end, after.start);
    }
    assert_eq!(plan.end(), Window::between(hours("66"), hours("72")));
}

#[test]
fn m31_a_case_narrows_the_plan() {
    let protocol = protocol(ARREST);
    let case = case_of(&protocol, Some("37.5"), Some("4 h before start"));
    let plan = Plan::of(&protocol, &case).expect("a plan");
    assert_eq!(
        ends(&plan),
        ["2.25 to 4", "26.25 to 28", "40.25 to 42", "68"]
    );
}

#[test]
fn m31_within_ends_a_phase_sooner_and_at_least_bounds_it() {
    let protocol = protocol(
        r#"phase cool "Cool" {
             cool core to 33.0 °C within 0.5 °C
             never faster than 2.0 °C/h
             at least 0.5 °C/h
             due within 10 h
           }"#,
    );
    // From 37.5 °C to 33.5 °C are 4.0 °C: 2 h at 2.0 °C/h, 8 h at 0.5 °C/h.
    let case = case_of(&protocol, Some("37.5"), None);
    assert_eq!(
        ends(&Plan::of(&protocol, &case).expect("a plan")),
        ["2 to 8"]
    );
    assert_eq!(ends(&blank(&protocol)), ["0 to 8"]);
}

#[test]
fn m31_warming_without_a_rate_goes_from_the_farthest_to_within_its_end() {
    let protocol = protocol(
        r#"phase hold "Hold" {
             keep core 33.0 °C to 35.0 °C
             lasts 10 h
           }
           phase warm-up "Warm" {
             warm core to 36.5 °C within 0.5 °C
             never faster than 0.5 °C/h
             at least 0.25 °C/h
           }"#,
    );
    // 35.0 °C to 36.0 °C at 0.5 °C/h: 2 h. 33.0 °C to 36.0 °C at 0.25 °C/h: 12 h.
    assert_eq!(ends(&blank(&protocol)), ["10", "12 to 22"]);
}

#[test]
fn m31_without_due_and_at_least_it_is_open() {
    let protocol = protocol(
        r#"phase cool "Cool" { cool core to 33.0 °C }
           phase hold "Hold" {
             hold core at 33.0 °C within 0.5 °C
             lasts 24 h
           }"#,
    );
    let plan = blank(&protocol);
    assert_eq!(ends(&plan), ["0 to ?, open", "24 to ?, open"]);
    assert_eq!(plan.phases[0].unplaced, Some(Unplaced::NoLongest));
    assert_eq!(plan.phases[1].unplaced, None);
}

#[test]
fn m24_due_of_a_mark_counts_from_the_mark() {
    let protocol = protocol(
        r#"phase cool "Cool" {
             cool core to 33.0 °C
             never faster than 2.0 °C/h
             due within 8 h of rosc
           }"#,
    );
    assert_eq!(ends(&blank(&protocol)), ["0 to 8"]);
    let case = case_of(&protocol, Some("37.5"), Some("5 h before start"));
    assert_eq!(
        ends(&Plan::of(&protocol, &case).expect("a plan")),
        ["2.25 to 3"]
    );
    // Due sooner than the cap allows: the cap is what is kept.
    let late = case_of(&protocol, Some("37.5"), Some("6 h before start"));
    assert_eq!(ends(&Plan::of(&protocol, &late).expect("a plan")), ["2.25"]);
}

#[test]
fn m21_the_plan_of_a_ramp_is_as_long_as_its_course() {
    let pair = protocol(
        r#"phase rewarm "Rewarm" { warm core from 33.0 °C to 37.0 °C at 0.25 °C/h to 0.5 °C/h }"#,
    );
    assert_eq!(ends(&blank(&pair)), ["8 to 16"]);
    let placed = &blank(&pair).phases[0];
    let course = placed.course.as_ref().expect("a course");
    assert_eq!(course.rate, number("0.25"), "the sheet prints the slower");
    let case = Case::default()
        .enter_rate(&pair, "rewarm", "0.5 °C/h")
        .expect("a rate");
    let plan = Plan::of(&pair, &case).expect("a plan");
    assert_eq!(ends(&plan), ["8"]);
    assert_eq!(
        plan.target_in(&pair, phase(&pair, "rewarm"), hours("2")),
        Some(number("34"))
    );

    let stepped = protocol(
        r#"phase rewarm "Rewarm" {
             warm core from 33.0 °C to 36.5 °C at 0.3 °C/h
             target moves every 1 h in steps of 0.2 °C
           }"#,
    );
    assert_eq!(ends(&blank(&stepped)), ["12"]);

    let thirds =
        protocol(r#"phase rewarm "Rewarm" { warm core from 33.0 °C to 37.0 °C at 1/3 °C/h }"#);
    assert_eq!(ends(&blank(&thirds)), ["12"]);
}

#[test]
fn m21_without_from_a_course_begins_where_the_phase_before_can_end() {
    let protocol = protocol(
        r#"phase hold "Hold" {
             keep core 34.0 °C to 35.0 °C
             lasts 72 h
           }
           phase rewarm "Rewarm" { warm core to 37.0 °C at 0.5 °C/h }"#,
    );
    let plan = blank(&protocol);
    assert_eq!(ends(&plan), ["72", "76 to 78"]);
    assert_eq!(plan.phases[1].course, None, "nobody knows where it begins");
    assert_eq!(
        plan.phases[1].start_values,
        ValueWindow::between(number("34"), number("35"))
    );
}

#[test]
fn m19_an_end_that_is_past_makes_the_phase_empty() {
    let fixed = |end: &str| {
        protocol(&format!(
            r#"phase hold "Hold" {{
                 hold core at 33.0 °C within 0.5 °C
                 lasts 70 h
               }}
               phase guard "Guard" {{
                 keep core 36.0 °C to 37.7 °C
                 ends {end}
               }}"#
        ))
    };
    let empty = |end: &str| {
        let plan = blank(&fixed(end));
        let guard = &plan.phases[1];
        (guard.empty, in_hours(guard.end))
    };
    assert_eq!(
        empty("72 h after rosc"),
        (Empty::Possibly, "70 to 72".to_owned())
    );
    assert_eq!(empty("60 h after rosc"), (Empty::Always, "70".to_owned()));
    assert_eq!(
        empty("70 h after start"),
        (Empty::Always, "70".to_owned()),
        "it begins and ends at one moment"
    );
    assert_eq!(empty("76 h after rosc"), (Empty::No, "70 to 76".to_owned()));
    assert_eq!(empty("80 h after rosc"), (Empty::No, "74 to 80".to_owned()));
    let protocol = fixed("72 h after rosc");
    let case = case_of(&protocol, None, Some("4 h before start"));
    let plan = Plan::of(&protocol, &case).expect("a plan");
    assert_eq!(plan.phases[1].empty, Empty::Always);
    assert_eq!(plan.phases[1].fixed_end, Some(Window::exactly(hours("68"))));
    assert_eq!(plan.end(), Window::exactly(hours("70")));
    assert_eq!(
        plan.phases[1].end_values,
        ValueWindow::between(number("32.5"), number("33.5")),
        "an empty phase changes nothing"
    );
}

#[test]
fn a_fixed_end_on_a_mark_that_nothing_places_is_said() {
    let protocol = protocol(
        r#"phase guard "Guard" {
             keep core 36.0 °C to 37.7 °C
             ends 72 h after awake
           }"#,
    );
    let plan = blank(&protocol);
    let awake = MarkRef::Named(mark(&protocol, "awake"));
    assert_eq!(ends(&plan), ["0 to ?, open"]);
    assert_eq!(plan.phases[0].unplaced, Some(Unplaced::NoMark(awake)));
}

#[test]
fn a_phase_may_count_from_its_own_beginning() {
    let protocol = protocol(
        r#"phase cool "Cool" {
             cool core to 33.0 °C
             due within 4 h of cool.start
           }
           phase hold "Hold" {
             hold core at 33.0 °C within 0.5 °C
             ends 24 h after hold.start
           }
           phase guard "Guard" {
             keep core 32.0 °C to 37.7 °C
             ends 48 h after cool.end
           }"#,
    );
    let plan = blank(&protocol);
    assert_eq!(ends(&plan), ["0 to 4", "24 to 28", "48 to 52"]);
    assert!(plan.phases.iter().all(|placed| placed.unplaced.is_none()));
}

#[test]
fn over_sooner_than_the_plan_allows_is_said() {
    let protocol = protocol(ARREST);
    let case = case_of(&protocol, Some("37.5"), None)
        .enter_reached(&protocol, "1 h after start")
        .expect("over");
    let plan = Plan::of(&protocol, &case).expect("a plan");
    assert_eq!(plan.phases[0].sooner_than, Some(hours("2.25")));
    assert_eq!(
        super::report::notes(&protocol, &case, &plan)[1],
        "`cool` was over at 1:00, sooner than the plan allows, 2:15: check that time"
    );
}

#[test]
fn the_target_of_any_minute_is_that_of_what_is_printed() {
    let protocol = protocol(ARREST);
    let plan = blank(&protocol);
    let target = |at: &str| plan.target_at(&protocol, hours(at));
    assert_eq!(target("0"), Some(number("33")));
    assert_eq!(target("27.99"), Some(number("33")));
    assert_eq!(target("29"), Some(number("33.2")));
    assert_eq!(target("41.99"), Some(number("36.2")));
    assert_eq!(target("42"), None, "a range is kept");
    assert_eq!(target("72"), None, "the case is over");
}

#[test]
fn m31_an_awaited_end_is_placed_by_its_plan() {
    let protocol = protocol(
        r#"phase hold "Hold" {
             hold core at 33.0 °C within 0.5 °C
             ends when core above 34.0 °C for 1 h, plan for 48 h, at least 48 h
           }
           phase guard "Guard" {
             keep core 36.0 °C to 37.5 °C
             ends at awake, plan for 6 h to 12 h, at least 4 h, at most 20 h
           }
           phase later "Later" {
             keep core 36.0 °C to 37.5 °C
             ends 24 h after awake
           }"#,
    );
    let plan = blank(&protocol);
    assert_eq!(
        ends(&plan),
        ["48 to 48, open", "54 to 60, open", "78 to 84, open"]
    );
    let case = Case::default()
        .enter_reached(&protocol, "hold=50 h after start")
        .expect("over");
    let plan = Plan::of(&protocol, &case).expect("a plan");
    assert_eq!(
        ends(&plan),
        ["50", "56 to 62, at most 70", "80 to 86, open"]
    );
}

#[test]
fn m19_a_mark_that_has_come_ends_the_phase_within_its_bounds() {
    let protocol = protocol(
        r#"phase guard "Guard" {
             keep core 36.0 °C to 37.5 °C
             ends at awake, plan for 24 h, at least 12 h, at most 72 h
           }"#,
    );
    let end = |awake: &str| {
        let case = Case::default()
            .enter_mark(&protocol, "awake", awake)
            .expect("a mark");
        ends(&Plan::of(&protocol, &case).expect("a plan")).concat()
    };
    assert_eq!(end("30 h after start"), "30");
    assert_eq!(end("2 h after start"), "12");
    assert_eq!(end("90 h after start"), "72");
    assert_eq!(end("1 h before start"), "12");
    let case = Case::default()
        .enter_mark(&protocol, "awake", "1 h before start")
        .expect("a mark");
    let plan = Plan::of(&protocol, &case).expect("a plan");
    assert_eq!(plan.phases[0].empty, Empty::No, "it lasts 12 h at least");
}

#[test]
fn reached_pins_the_end_and_bounds_what_was_before() {
    let protocol = protocol(ARREST);
    let case = case_of(&protocol, None, Some("4 h before start"));
    let cooled = case
        .clone()
        .enter_reached(&protocol, "3 h after start")
        .expect("over");
    let plan = Plan::of(&protocol, &cooled).expect("a plan");
    assert_eq!(ends(&plan), ["3", "27", "41", "68"]);
    assert!(plan.phases[0].over);

    let warm = case
        .clone()
        .enter_reached(&protocol, "rewarm=39 h after start")
        .expect("over");
    let plan = Plan::of(&protocol, &warm).expect("a plan");
    assert_eq!(ends(&plan), ["0 to 4", "24 to 28", "39", "68"]);

    let too_soon = case
        .clone()
        .enter_reached(&protocol, "rewarm=20 h after start");
    insta::assert_snapshot!(too_soon.expect_err("too soon"), @r"
    `rewarm` cannot be over before it begins
      why: it begins 24 h after the start at the earliest, and is entered as over after 20 h
      help: check the time; write the date too where it lies on a later day
    ");
    let by_clock = case.enter_reached(&protocol, "hold=20 h after start");
    insta::assert_snapshot!(by_clock.expect_err("by the clock"), @r"
    `hold` ends by the clock, not by being reached
      why: its end follows from the protocol and from when it began
      help: enter when the phase before it was over, or the mark that it counts from
    ");
}

#[test]
fn an_open_phase_is_bounded_by_a_later_one_that_is_over() {
    let protocol = protocol(
        r#"phase cool "Cool" { cool core to 33.0 °C }
           phase hold "Hold" {
             hold core at 33.0 °C within 0.5 °C
             ends at awake, plan for 24 h
           }
           phase rewarm "Rewarm" { warm core from 33.0 °C to 36.5 °C at 0.25 °C/h }"#,
    );
    let case = Case::default()
        .enter_reached(&protocol, "rewarm=60 h after start")
        .expect("over");
    let plan = Plan::of(&protocol, &case).expect("a plan");
    assert_eq!(ends(&plan), ["0 to 60", "24 to 60", "60"]);
    assert_eq!(plan.phases[2].start.latest, Some(hours("60")));
}

#[test]
fn values_are_those_on_arrival_and_then_those_of_the_phase_before() {
    let plan = blank(&protocol(ARREST));
    let window = |low: &str, high: &str| ValueWindow::between(number(low), number(high));
    let all: Vec<(ValueWindow, ValueWindow)> = plan
        .phases
        .iter()
        .map(|placed| (placed.start_values, placed.end_values))
        .collect();
    assert_eq!(
        all,
        [
            (window("33", "37.5"), window("33", "33")),
            (window("33", "33"), window("32.5", "33.5")),
            (window("32.5", "33.5"), window("36.3", "36.7")),
            (window("36.3", "36.7"), window("36", "37.7")),
        ]
    );
}

#[test]
fn a_patient_already_past_the_end_stays_where_he_was() {
    let plan = blank(&protocol(
        r#"phase cool "Cool" {
             cool core to 34.0 °C
             due within 4 h
           }"#,
    ));
    assert_eq!(
        plan.phases[0].end_values,
        ValueWindow::between(number("33"), number("34"))
    );
}

#[test]
fn m20_the_target_of_each_kind_of_phase() {
    let protocol = protocol(ARREST);
    let plan = blank(&protocol);
    let target =
        |name: &str, at: &str| plan.target_in(&protocol, phase(&protocol, name), hours(at));
    assert_eq!(target("cool", "0"), Some(number("33")));
    assert_eq!(target("hold", "20"), Some(number("33")));
    assert_eq!(target("rewarm", "3"), Some(number("33.7")));
    assert_eq!(target("guard", "1"), None);
}

#[test]
fn a_number_that_does_not_fit_is_an_error_and_never_a_time() {
    let protocol = protocol(
        r#"phase rewarm "Rewarm" {
             warm core from 33.000000001 °C to 36.999999999 °C at 1/999999937 °C/h
             target moves every 999999937/999999929 h in steps of 0.000000001 °C
           }
           phase again "Again" {
             cool core from 36.999999998 °C to 33.000000007 °C at 1/999999929 °C/h
             target moves every 999999893/999999883 h in steps of 1/999999883 °C
           }
           phase more "More" {
             warm core from 33.000000007 °C to 36.9 °C at 1/999999797 °C/h
             target moves every 999999761/999999757 h in steps of 1/999999757 °C
           }
           phase last "Last" {
             cool core from 36.9 °C to 33.000000007 °C at 1/999999677 °C/h
             target moves every 999999667/999999613 h in steps of 1/999999613 °C
           }"#,
    );
    let error = Plan::of(&protocol, &Case::default()).expect_err("too large");
    let PlanError::TooLarge(finding) = error else {
        panic!("{error:?}")
    };
    assert_eq!(finding.name, "number-too-large");
}
