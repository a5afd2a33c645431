//! The sentences against the meanings that they must say.

use super::*;
use crate::model::load;
use crate::source::MemoryLibrary;

fn protocol(statements: &str) -> Protocol {
    let text = format!(
        r#"protocol demo {{
  title    "Invented example, not for patient care"
  unit     "Saltmarsh District Hospital"
  version  1.0.0
  review   2027-06-30
  purpose  therapeutic-hypothermia after cardiac-arrest
  patients adult, weight 40 kg to 140 kg, core 33.0 °C to 37.5 °C on arrival
  method   surface feedback from core
  timezone "Europe/London"
  people {{
    doctor "Doctor on duty" if no reply in 10 min then consultant
    consultant "Consultant"
  }}
  reading core "Core temperature" temperature at bladder, continuous, shown to 0.1 °C, accurate to 0.2 °C
  reading second "Second site" temperature at nasopharynx, continuous, shown to 0.1 °C, accurate to 0.2 °C
  reading water "Exchanger water" temperature of water, shown to 0.1 °C, accurate to 0.3 °C
  phase hold "Hold at target" {{
    hold core at 33.0 °C within 0.5 °C
    lasts 24 h
  }}
  phase rewarm "Rewarm slowly" {{
    warm core from 33.0 °C to 36.5 °C at 0.25 °C/h
    never faster than 0.5 °C/h
  }}
  phase guard "Prevent fever" {{
    keep core 36.0 °C to 37.7 °C
    lasts 24 h
  }}
  every 1 h record core, water, second during hold, guard
  every 15 min record core during rewarm
  every 30 min record second during rewarm
  {statements}
}}"#
    );
    let library = MemoryLibrary::default().with("demo.protocol", &text);
    let loaded = load(&library, &["demo.protocol"]).expect("it can be read");
    match loaded.protocols.into_iter().next() {
        Some((_, protocol)) => protocol,
        None => panic!("{:#?}", loaded.diagnostics),
    }
}

/// The condition of one rule, without the no-break spaces.
fn said(when: &str) -> String {
    let rule = format!("rule one {{\n when {when}\n then call doctor now\n }}");
    let protocol = protocol(&rule);
    let rule = protocol.rules.first().expect("a rule");
    let during: Vec<PhaseId> = rule.during.iter().map(|at| at.value).collect();
    Words::of(&protocol)
        .condition(&rule.when, &during)
        .replace('\u{a0}', " ")
}

#[test]
fn for_an_hour_is_two_hourly_boxes_or_five_quarter_hourly_ones() {
    assert_eq!(
        said("water below 10.0 °C for 1 h during hold"),
        "**Exchanger water** below 10.0 °C in two hourly boxes in a row (1 h)"
    );
    assert_eq!(
        said("core below 36.0 °C for 1 h during rewarm"),
        "**Core temperature** below 36.0 °C in five 15-min boxes in a row (1 h)"
    );
    assert_eq!(
        said("core above 37.7 °C for 4 h during guard"),
        "**Core temperature** above 37.7 °C in five hourly boxes in a row (4 h)"
    );
    assert_eq!(
        said("core above 37.7 °C for 1 h"),
        "**Core temperature** above 37.7 °C for 1 h: in two hourly boxes in a row \
         (in phases 1 and 3) or five 15-min boxes in a row (in phase 2 Rewarm slowly)"
    );
}

#[test]
fn less_than_an_interval_is_still_two_boxes() {
    assert_eq!(
        said("water below 10.0 °C for 20 min during hold"),
        "**Exchanger water** below 10.0 °C in two hourly boxes in a row (20 min)"
    );
}

#[test]
fn a_rise_is_compared_with_the_boxes_before() {
    assert_eq!(
        said("core rises more than 0.5 °C in 1 h during rewarm"),
        "**Core temperature** more than 0.5 °C higher than any of the four boxes before it (1 h)"
    );
    assert_eq!(
        said("core rises less than 0.3 °C in 1 h during rewarm"),
        "**Core temperature** less than 0.3 °C higher than the box four back (1 h before)"
    );
    assert_eq!(
        said("core falls more than 1.0 °C in 1 h during guard"),
        "**Core temperature** more than 1.0 °C lower than the box before it (1 h)"
    );
}

#[test]
fn a_range_has_limits_instead_of_a_target() {
    assert_eq!(
        said("core above target by more than 0.3 °C during guard"),
        "**Core temperature** more than 0.3 °C above the upper limit"
    );
    assert_eq!(
        said("core below target by more than 0.3 °C during rewarm, guard"),
        "**Core temperature** more than 0.3 °C below the target (where a range is kept, its lower limit)"
    );
}

#[test]
fn and_beside_or_keeps_its_parentheses() {
    assert_eq!(
        said("core below 32.5 °C and (water below 10.0 °C or water above 40.0 °C) during hold"),
        "**Core temperature** below 32.5 °C **and** (**Exchanger water** below 10.0 °C **or** \
         **Exchanger water** above 40.0 °C)"
    );
}

#[test]
fn orders_begin_with_their_verb() {
    let protocol = protocol(
        "rule one {
           when core below 32.5 °C during hold
           then pause temperature control until core at or above 32.8 °C
           then call doctor within 15 min
           then record core, water in 30 min
         }",
    );
    let words = Words::of(&protocol);
    let rule = protocol.rules.first().expect("a rule");
    let orders: Vec<String> = rule
        .then
        .iter()
        .map(|action| words.order(action, &[PhaseId(0)]).replace('\u{a0}', " "))
        .collect();
    assert_eq!(
        orders,
        [
            "**pause temperature control** until **Core temperature** at or above 32.8 °C",
            "**call Doctor on duty within 15 min**",
            "record **Core temperature** and **Exchanger water** in 30 min",
        ]
    );
}

#[test]
fn amounts_are_said_in_the_unit_that_was_written() {
    assert_eq!(amount_in(Exact::ratio(4, 100), "mcg"), "40\u{a0}mcg");
    assert_eq!(shown(Exact::ratio(1, 3), 2), "0.33…");
    assert_eq!(minutes(Exact::int(90)), "1\u{a0}h 30\u{a0}min");
    assert_eq!(rhythm(Exact::int(240)), "4-hourly");
}

/// Two titles with a backtick each are two titles, with what stands between them.
#[test]
fn a_title_does_not_reach_into_the_next() {
    let protocol = protocol(
        "reading inlet \"In ` let\" temperature of air, shown to 0.1 °C
  reading outlet \"Out ` let\" temperature of air, shown to 0.1 °C
  every 1 h record inlet, outlet during hold
  rule one {
    when inlet above 30.0 °C and outlet above 30.0 °C during hold
    then record inlet, outlet now
  }",
    );
    let rule = protocol.rules.first().expect("a rule");
    let words = Words::of(&protocol);
    for said in [
        words.condition(&rule.when, &[]),
        words.order(rule.then.first().expect("an order"), &[]),
    ] {
        let plain = crate::document::text::inline(&said).plain();
        assert!(!plain.contains('*'), "{plain}");
        assert!(
            plain.contains("In ` let") && plain.contains("Out ` let"),
            "{plain}"
        );
    }
    for (title, said) in [
        ("a `b` c", "a `b` c"),
        ("a ` b", "a \\` b"),
        ("a \\` b", "a \\` b"),
        ("a ``b`` c", "a ``b`` c"),
    ] {
        assert_eq!(whole(title), said);
    }
}
