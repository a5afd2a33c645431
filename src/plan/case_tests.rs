//! What people type about a case, and what they are told when it cannot be used.

use super::case_text::named;
use super::testing::*;
use super::*;
use crate::model::Protocol;
use crate::quantity::Exact;

fn started(protocol: &Protocol, start: &str) -> Case {
    Case::starting(protocol, start).expect("a start")
}

fn told(result: Result<Case, CaseError>) -> String {
    result.expect_err("it cannot be used").to_string()
}

#[test]
fn a_weight_has_its_unit_and_lies_in_the_range() {
    let protocol = protocol(ARREST);
    let weight = |text: &str| {
        Case::default()
            .enter_weight(&protocol, text)
            .map(|case| case.weight.map(|weight| (weight.value, weight.to_string())))
    };
    let kilograms = |value: &str| Exact::parse(value).expect("a number");
    for (text, value, shown) in [
        ("82kg", "82", "82\u{a0}kg"),
        ("82 kg", "82", "82\u{a0}kg"),
        ("82.5 kg", "82.5", "82.5\u{a0}kg"),
        ("64500 g", "64.5", "64500\u{a0}g"),
        ("40 kg", "40", "40\u{a0}kg"),
    ] {
        assert_eq!(
            weight(text),
            Ok(Some((kilograms(value), shown.to_owned()))),
            "{text}"
        );
    }
    for bad in [
        "",
        "kg",
        "82,5 kg",
        "82 mg",
        "-82 kg",
        "0 kg",
        "82 kgs",
        "eighty kg",
        "1e2 kg",
    ] {
        assert!(weight(bad).is_err(), "{bad}");
    }
    let enter = |text: &str| told(Case::default().enter_weight(&protocol, text));
    insta::assert_snapshot!(enter("180 lb"), @r"
    pounds are not read
      why: a weight in pounds taken for kilograms more than doubles every dose
      help: weigh in kilograms, or have a second person convert the weight
    ");
    assert_eq!(enter("180lbs"), enter("180 Pounds"));
    insta::assert_snapshot!(enter("82"), @r"
    `82` has no unit
      why: a weight in pounds taken for kilograms more than doubles every dose
      help: write the weight with its unit, such as 82 kg or 2400 g
    ");
    insta::assert_snapshot!(enter("39.9 kg"), @r"
    the weight, 39.9 kg, is outside the range of this protocol, 40 kg to 140 kg
      why: its doses have not been checked for this weight
      help: check the weight, or use another protocol, one for this weight
    ");
}

#[test]
fn a_mark_by_the_clock_lies_before_the_start() {
    let protocol = protocol(ARREST);
    let at = |start: &str, text: &str| {
        started(&protocol, start)
            .enter_mark(&protocol, "rosc", text)
            .map(|case| case.marks.values().copied().collect::<Vec<_>>())
    };
    let minutes = |value: i64| Ok(vec![Exact::int(value)]);
    assert_eq!(at("2027-03-28T14:30", "13:05"), minutes(-85));
    assert_eq!(at("2027-03-28T14:30", "14:30"), minutes(0));
    assert_eq!(
        at("2027-03-28T00:30", "23:50"),
        minutes(-40),
        "the day before"
    );
    assert_eq!(
        at("2027-01-01T00:30", "23:50"),
        minutes(-40),
        "the year before"
    );
    assert_eq!(
        at("2027-03-28T03:30", "00:30"),
        minutes(-120),
        "an hour is left out"
    );
    assert_eq!(
        at("2026-10-25T03:30", "00:30"),
        minutes(-240),
        "an hour occurs twice"
    );
    assert_eq!(
        at("2026-10-25T03:30", "2026-10-25T01:30+00:00"),
        minutes(-120)
    );
    assert_eq!(at("2027-03-28T14:30", "25 min before start"), minutes(-25));
    assert_eq!(at("2027-03-28T14:30", "1.5h before start"), minutes(-90));
    assert!(
        at("2026-10-25T03:30", "01:30").is_err(),
        "which of the two?"
    );
    insta::assert_snapshot!(at("2027-03-28T14:30", "06:05").expect_err("too late"), @r"
    the start is later than 6 h after `rosc`
      why: this protocol is for patients who are started by then
      help: check both times; write the date too where they lie on different days
    ");
    insta::assert_snapshot!(at("2027-03-28T14:30", "2027-03-28T15:00").expect_err("after"), @r"
    `rosc` lies after the start
      why: this protocol starts within 6 h of `rosc`, so `rosc` comes first
      help: check both times; write the date too where they lie on different days
    ");
    insta::assert_snapshot!(at("2027-03-28T14:30", "half past one").expect_err("words"), @r"
    `half past one` is not a time
      help: write 13:05 by the 24-hour clock, 2027-03-28T13:05, or 25 min before start
    ");
    insta::assert_snapshot!(
        told(Case::default().enter_mark(&protocol, "rosc", "13:05")),
        @r"
    a clock time needs the time of the start
      help: give the start with its date too, or write how long before or after the start it was, such as 25 min before start
    "
    );
    insta::assert_snapshot!(
        told(Case::default().enter_mark(&protocol, "rsoc", "1 h before start")),
        @r"
    this protocol has no mark `rsoc`
      help: it has `rosc`, `awake`
    "
    );
}

#[test]
fn a_mark_that_may_come_later_needs_its_date() {
    let protocol = protocol(ARREST);
    let at = |text: &str| {
        started(&protocol, "2027-03-28T14:30")
            .enter_mark(&protocol, "awake", text)
            .map(|case| case.marks.values().copied().collect::<Vec<_>>())
    };
    assert_eq!(at("2027-03-30T15:00"), Ok(vec![Exact::int(48 * 60 + 30)]));
    assert_eq!(at("2027-03-30 15:00"), Ok(vec![Exact::int(48 * 60 + 30)]));
    insta::assert_snapshot!(at("15:00").expect_err("which day?"), @r"
    `awake` at that time can be on the day of the start or on the day before
      help: write the date too, such as 2027-03-28T13:05
    ");
}

#[test]
fn a_reading_on_arrival_is_one_that_the_thermometer_shows() {
    let protocol = protocol(ARREST);
    let at = |name: &str, text: &str| {
        Case::default()
            .enter_arrival(&protocol, name, text)
            .map(|case| {
                case.arrival
                    .values()
                    .map(|value| value.value)
                    .collect::<Vec<_>>()
            })
    };
    let value = |text: &str| Ok(vec![Exact::parse(text).expect("a number")]);
    assert_eq!(at("core", "35.4"), value("35.4"));
    assert_eq!(at("core", "35.4 °C"), value("35.4"));
    assert_eq!(at("core", "35.4C"), value("35.4"));
    assert_eq!(at("core", "95.9 °F"), value("35.5"));
    assert_eq!(
        at("second", "29.0"),
        value("29"),
        "no range on arrival is stated for it"
    );
    assert_eq!(at("shiver", "2"), value("2"));
    for (name, bad) in [
        ("core", "35,4"),
        ("core", "35.4 °C/h"),
        ("core", "36.6 mmol/L"),
        ("shiver", "4"),
        ("shiver", "1.5"),
        ("shiver", "2 °C"),
        ("cor", "35.4"),
    ] {
        assert!(at(name, bad).is_err(), "{name} {bad}");
    }
    insta::assert_snapshot!(at("core", "35.45").expect_err("off the grid"), @r"
    `core` cannot read 35.45 °C
      why: it shows 20 °C to 45 °C in steps of 0.1 °C
      help: write the value as it was read off
    ");
    insta::assert_snapshot!(at("core", "30.4").expect_err("out of range"), @r"
    `core` on arrival, 30.4 °C, is outside the range of this protocol, 33.0 °C to 37.5 °C
      why: the times of its phases have not been worked out for this patient
      help: check the reading, or use another protocol, one for this temperature
    ");
    insta::assert_snapshot!(at("core", "cold").expect_err("no number"), @r"
    `cold` is not a value of `core`
      help: write the value as it was read off, in °C
    ");
}

#[test]
fn in_a_unit_that_works_in_fahrenheit_a_bare_number_is_fahrenheit() {
    let protocol = protocol(
        r#"reading ear "Ear" temperature at ear, shown to 0.1 °F, accurate to 0.4 °F
           phase cool "Cool" { cool ear to 100.4 °F }"#,
    );
    let case = Case::default()
        .enter_arrival(&protocol, "ear", "104.0")
        .expect("a reading");
    let value = case.arrival.values().next().expect("one");
    assert_eq!(value.value, Exact::int(40));
    assert_eq!(value.to_string(), "104.0\u{a0}°F");
}

#[test]
fn reached_by_the_clock_is_the_first_such_time_that_can_be_meant() {
    let protocol = protocol(ARREST);
    let at = |start: &str, text: &str| {
        started(&protocol, start)
            .enter_reached(&protocol, text)
            .map(|case| {
                case.reached
                    .into_iter()
                    .map(|(phase, at)| (protocol[phase].name.name.clone(), at))
                    .collect::<Vec<_>>()
            })
    };
    let cool = |minutes: i64| Ok(vec![("cool".to_owned(), Exact::int(minutes))]);
    assert_eq!(at("2027-03-27T14:30", "17:40"), cool(190));
    assert_eq!(
        at("2027-03-27T23:30", "02:40"),
        cool(130),
        "past midnight, an hour left out"
    );
    assert_eq!(
        at("2026-10-24T23:30", "02:40"),
        cool(250),
        "past midnight, an hour twice"
    );
    assert_eq!(
        at("2027-03-27T14:30", "cool=21:30"),
        cool(420),
        "late, but no other day"
    );
    assert_eq!(at("2027-03-27T14:30", "cool = 3 h after start"), cool(180));
    assert!(
        at("2026-10-24T23:30", "01:30").is_err(),
        "which of the two?"
    );
    assert!(
        at("2027-03-27T14:30", "cool=2027-03-27T14:00").is_err(),
        "before it began"
    );
    assert_eq!(
        at("2027-03-27T14:30", "14:30"),
        cool(0),
        "cold enough on arrival"
    );
    // Rewarming may begin 24 h to 28 h and end 38 h to 42 h after the start.
    assert_eq!(
        at("2027-03-27T14:30", "rewarm=2027-03-29T06:30"),
        Ok(vec![("rewarm".to_owned(), Exact::int(39 * 60))])
    );
    insta::assert_snapshot!(at("2027-03-27T14:30", "thaw=17:40").expect_err("no phase"), @r"
    this protocol has no phase `thaw`
      help: it has `cool`, `hold`, `rewarm`, `guard`
    ");
}

#[test]
fn reached_by_the_clock_on_one_of_two_days_is_refused() {
    let protocol = protocol(
        r#"phase cool "Cool" { cool core to 33.0 °C due within 30 h }"#
            .replace(" due", "\n due")
            .as_str(),
    );
    let enter = |text: &str| started(&protocol, "2027-06-01T14:30").enter_reached(&protocol, text);
    insta::assert_snapshot!(told(enter("17:40")), @r"
    `cool` can have been over at that time on more than one day
      help: write the date too, such as 2027-03-28T17:40
    ");
    assert!(enter("22:40").is_ok(), "30 h later it is 20:30");
    assert!(enter("2027-06-02T17:40").is_ok());
}

#[test]
fn a_rate_is_one_that_the_phase_allows() {
    let protocol = protocol(
        r#"phase rewarm "Rewarm" { warm core from 33.0 °C to 37.0 °C at 0.5 °C/h to 0.25 °C/h }
           phase hold "Hold" {
             hold core at 37.0 °C within 0.5 °C
             lasts 24 h
           }"#,
    );
    let enter = |phase: &str, text: &str| Case::default().enter_rate(&protocol, phase, text);
    for good in ["0.25 °C/h", "0.5 °C/h", "1/3 °C/h", "0.3C/h"] {
        assert!(enter("rewarm", good).is_ok(), "{good}");
    }
    for bad in ["0.25", "0.25 °C", "0 °C/h", "fast"] {
        assert!(enter("rewarm", bad).is_err(), "{bad}");
    }
    insta::assert_snapshot!(told(enter("rewarm", "0.6 °C/h")), @r"
    0.6 °C/h is not a rate that `rewarm` allows
      why: it goes at 0.25 °C/h to 0.5 °C/h
      help: choose a rate between the two
    ");
    insta::assert_snapshot!(told(enter("hold", "0.25 °C/h")), @r"
    `hold` has no rate to choose
      help: choose a rate only for a phase that names two, such as `at 0.25 °C/h to 0.5 °C/h`
    ");
}

#[test]
fn a_name_and_a_value_are_joined_by_an_equals_sign() {
    assert_eq!(named("rosc=13:05"), Ok(("rosc", "13:05")));
    assert_eq!(named("core = 30.4 °C"), Ok(("core", "30.4 °C")));
    for bad in ["rosc", "rosc=", "=13:05", ""] {
        assert!(named(bad).is_err(), "{bad}");
    }
}

#[test]
fn a_scenario_gives_its_case() {
    let text = r#"
}
scenario "One" for demo {
  given weight 70 kg
  given start 2026-10-25 00:30
  given rosc 1 h before start
  at 0:00 core 36.0 °C
  expect no late
"#;
    let protocol = protocol(&format!(
        "{ARREST} rule late {{\n when cool is overdue\n then do \"x\"\n}}{text}"
    ));
    let scenario = protocol.scenarios.first().expect("one");
    let case = Case::of_scenario(&protocol, scenario).expect("a case");
    assert_eq!(
        case.marks.values().copied().collect::<Vec<_>>(),
        [Exact::int(-60)]
    );
    assert!(case.weight.is_some());
    let shown = case
        .clock
        .and_then(|clock| clock.at(Exact::int(120), Round::Down));
    assert_eq!(
        shown.map(|time| time.time()).as_deref(),
        Some("01:30 (+00:00)")
    );
}

#[test]
fn a_time_just_before_the_phase_is_not_taken_for_the_day_after() {
    let protocol = protocol(ARREST);
    let refused = started(&protocol, "2026-11-24T14:30")
        .enter_reached(&protocol, "13:00")
        .expect_err("refused");
    assert!(refused.title.contains("should be over before"), "{refused}");
    assert!(refused.help.contains("the date"), "{refused}");
}
