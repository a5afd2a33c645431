//! What a run says, where one sign in it decides: late or in time, missed or not, on which
//! records a rule fired, and which two orders are one.

use crate::case::{HOLD, protocol, told};
use tempwright::eval::same::Closeness;
use tempwright::eval::{self, Case, Entry, wording};
use tempwright::model::{Cond, Order, Protocol, ReadingId};
use tempwright::quantity::Exact;

#[test]
fn what_an_order_asks_for_is_late_after_a_quarter_of_its_time() {
    let body = format!("{HOLD}rule it {{ when water below 10.0 °C  then record core in 1 h }}");
    let at = |time: &str| told(&body, &format!("0:00 water 9.0; {time} core 33.0"));
    at("0:45").must_say("0:45 made: record core at 1:00");
    at("1:15").must_say("1:15 made: record core at 1:00");
    at("1:16").must_say("1:16 made late: record core at 1:00");
}

#[test]
fn a_box_whose_phase_is_over_before_its_quarter_is_not_missed() {
    let body = r#"
  phase one "One" {
    hold core at 33.0 °C within 0.5 °C
    lasts 10 min
  }
  phase two "Two" {
    hold core at 33.0 °C within 0.5 °C
    lasts 4 h
  }
  every 1 h record core during one
  every 30 min test water during two
"#;
    let told = told(body, "0:10 water 20.0; 0:40 water 20.0; until 0:45");
    assert_eq!(told.times("asked: record core"), ["0:00"]);
    assert_eq!(told.times("missed"), [""; 0]);
    // What is tested is not called recorded.
    assert_eq!(told.times("made: test water"), ["0:10", "0:40"]);
}

#[test]
fn a_rule_says_the_first_and_the_last_record_of_its_time() {
    let body = format!(
        "{HOLD}every 1 h record core\nrule it {{ when core below 32.0 °C for 2 h  then do \"Look\" }}"
    );
    let told = told(
        &body,
        "0:00 core 31.0; 1:00 core 31.1; 2:00 core 31.2; until 2:00",
    );
    let fired: Vec<&String> = told
        .lines
        .iter()
        .filter(|line| line.contains("fires"))
        .collect();
    assert_eq!(
        fired,
        [
            "2:00 rule `it` fires: `core below 32.0 °C for 2 h` holds (0:00: core 31.0 °C, 2:00: core 31.2 °C)"
        ]
    );
}

#[test]
fn an_entry_of_a_reading_that_is_not_there_is_said_not_to_count() {
    let protocol = protocol(HOLD);
    let entry = Entry::record(Exact::ZERO, ReadingId(99), Exact::int(33));
    let events = eval::run(&protocol, &Case::default(), vec![entry], Exact::ZERO);
    let told: Vec<String> = events
        .iter()
        .map(|event| wording::event(&protocol, event))
        .filter(|line| line.starts_with("not counted"))
        .collect();
    assert_eq!(told.len(), 1, "{told:?}");
    assert!(
        told[0].starts_with("not counted: an entry at 0:00"),
        "{told:?}"
    );
}

/// The conditions of the rules of a protocol, in order.
fn conditions(tests: &[&str]) -> (Protocol, Vec<Cond>) {
    let rules: String = tests
        .iter()
        .enumerate()
        .map(|(at, test)| format!("rule r{at} {{ when {test}  then do \"Look {at}\" }}\n"))
        .collect();
    let body = format!(
        r#"
  phase cool "Cool" {{
    cool core to 33.0 °C
    due within 4 h
  }}
  phase warm "Warm" {{
    warm core to 36.0 °C
    due within 8 h
  }}
  every 1 h record core, water
  {rules}"#
    );
    let protocol = protocol(&body);
    let conds = protocol
        .rules()
        .map(|(_, rule)| rule.when.clone())
        .collect();
    (protocol, conds)
}

/// Each test beside all that differ from it in one thing. Of two orders with the same condition
/// one is enough (M3, M14); with another one, both are given.
#[test]
fn a_condition_is_the_same_only_where_every_part_of_it_is() {
    let all = [
        "core above 36.0 °C",
        "core at or above 36.0 °C",
        "core above 36.1 °C",
        "water above 36.0 °C",
        "core above 36.0 °C for 1 h",
        "core above 36.0 °C for 2 h",
        "core outside 32.0 °C to 34.0 °C",
        "core outside 32.0 °C to 35.0 °C",
        "core outside 31.0 °C to 34.0 °C",
        "awake is alert",
        "awake is verbal",
        "core above target by more than 0.5 °C",
        "core above target by more than 0.6 °C",
        "core below target by more than 0.5 °C",
        "core within 0.5 °C of target",
        "core within 0.6 °C of target",
        "core and second differ by more than 0.5 °C",
        "core and second differ by more than 0.6 °C",
        "core and second differ by less than 0.5 °C",
        "core rises more than 0.5 °C in 1 h",
        "core falls more than 0.5 °C in 1 h",
        "core rises less than 0.5 °C in 1 h",
        "core rises more than 0.6 °C in 1 h",
        "core rises more than 0.5 °C in 2 h",
        "core not recorded for 2 h",
        "core not recorded for 3 h",
        "paused longer than 2 h",
        "paused longer than 3 h",
        "cool lasts longer than 2 h",
        "cool lasts longer than 3 h",
        "warm lasts longer than 2 h",
        "cool is overdue",
        "warm is overdue",
        "core above 36.0 °C and water below 10.0 °C",
        "core above 36.0 °C or water below 10.0 °C",
        "core above 36.0 °C and water below 11.0 °C",
        "core above 36.0 °C and water below 10.0 °C and second above 36.0 °C",
    ];
    let (_, one) = conditions(&all);
    let (_, other) = conditions(&all);
    assert_eq!(one.len(), all.len());
    for (a, first) in all.iter().zip(&one) {
        for (b, second) in all.iter().zip(&other) {
            assert_eq!(
                eval::same::same_cond(first, second),
                a == b,
                "`{a}` and `{b}`"
            );
        }
    }
}

/// The orders of the rules of a protocol, in order.
fn orders(texts: &[&str]) -> Vec<Order> {
    let rules: String = texts
        .iter()
        .enumerate()
        .map(|(at, text)| format!("rule r{at} {{ when core above 36.0 °C  then {text} }}\n"))
        .collect();
    let medication = |name: &str| {
        format!(
            "medication {name} \"Medicine\" {{\n class antipyretic\n dose 1 g iv over 1 min\n \
             infuse 1 mg/h to 9 mg/h, steps of 1 mg/h every 10 min\n concentration 1 mg/mL\n}}\n"
        )
    };
    let ladder = |name: &str| {
        format!(
            "ladder {name} \"Ladder\" on shiver until at or below 1 {{\n \
             step \"Call\" {{ call doctor now }}\n}}\n"
        )
    };
    let list =
        |name: &str| format!("checklist {name} \"List\" at trouble {{\n step \"Look\"\n}}\n");
    let protocol = protocol(&format!(
        r#"
  phase cool "Cool" {{
    cool core to 33.0 °C
    due within 4 h
  }}
  phase warm "Warm" {{
    warm core to 36.0 °C
    due within 8 h
  }}
  every 1 h record core, water
  {}{}{}{}{}{}{rules}"#,
        medication("one"),
        medication("other"),
        ladder("steps"),
        ladder("others"),
        list("first"),
        list("next"),
    ));
    protocol
        .rules()
        .map(|(_, rule)| rule.then[0].order.clone())
        .collect()
}

#[test]
fn an_order_is_the_same_only_where_every_part_of_it_is() {
    let all = [
        "record core now",
        "test core now",
        "record water now",
        "record core, water now",
        "record core in 1 h",
        "record core in 2 h",
        "follow steps",
        "follow others",
        "follow first",
        "follow next",
        "call doctor now",
        "call senior now",
        "call doctor within 10 min",
        "do \"Look\"",
        "do \"Look again\"",
        "continue",
        "begin cool",
        "begin warm",
        "set target 33.0 °C",
        "set target 34.0 °C",
        "raise target by 0.5 °C, at most 35.0 °C",
        "raise target by 0.6 °C, at most 35.0 °C",
        "raise target by 0.5 °C, at most 36.0 °C",
        "lower target by 0.5 °C, at least 35.0 °C",
        "lower target by 0.6 °C, at least 35.0 °C",
        "lower target by 0.5 °C, at least 34.0 °C",
        "keep target here for 1 h",
        "keep target here for 2 h",
        "pause temperature control for 1 h",
        "pause temperature control for 2 h",
        "pause temperature control until core above 35.0 °C",
        "pause temperature control until core above 36.0 °C",
        "pause temperature control until rosc",
        "pause temperature control until awake-and-clear",
        "set rate 0.25 °C/h",
        "set rate 0.5 °C/h",
        "stop temperature control",
        "give one",
        "give other",
        "raise one",
        "raise other",
        "lower one",
        "lower other",
        "stop one",
        "stop other",
        "withhold one for 1 h",
        "withhold one for 2 h",
        "withhold other for 1 h",
        "withhold other for 2 h",
    ];
    // Without what ends them.
    let begins = |text: &str| {
        let ends = [
            "keep target here",
            "pause temperature control",
            "withhold one",
            "withhold other",
        ];
        let found = ends
            .into_iter()
            .find(|beginning| text.starts_with(beginning));
        found.unwrap_or(text).to_owned()
    };
    let (one, other) = (orders(&all), orders(&all));
    assert_eq!(one.len(), all.len());
    for (a, first) in all.iter().zip(&one) {
        for (b, second) in all.iter().zip(&other) {
            let whole = eval::same::same_order(first, second, Closeness::Whole);
            assert_eq!(whole, a == b, "`{a}` and `{b}`");
            let without = eval::same::same_order(first, second, Closeness::WithoutUntil);
            assert_eq!(without, begins(a) == begins(b), "`{a}` and `{b}`");
        }
    }
    // However it is put when it cannot be given, it is one dose.
    let dose = orders(&["give one", "give one otherwise call doctor now"]);
    assert!(eval::same::same_order(&dose[0], &dose[1], Closeness::Whole));
}

/// One that ends and one that begins at that moment are one pause.
#[test]
fn a_pause_that_is_ordered_anew_as_it_ends_goes_on() {
    let body = format!(
        "{HOLD}every 30 min score shiver\n\
         rule again {{ when shiver above 0  then pause temperature control for 1 h\n again after 1 h }}\n\
         rule long {{ when paused longer than 90 min  then call doctor now }}"
    );
    let at = |second: &str| {
        told(
            &body,
            &format!("0:00 shiver 1; 0:30 shiver {second}; 1:00 shiver {second}; 1:30 shiver 0; until 3:00"),
        )
        .fires("long")
        .len()
    };
    assert_eq!(at("1"), 1);
    assert_eq!(at("0"), 0);
}
