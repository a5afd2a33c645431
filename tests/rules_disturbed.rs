//! Findings whose first record is spoilt by another rule: it begins another phase or
//! moves the target before the moment. They must be found all the same, or be said to
//! be undecided; never dropped.

#![allow(clippy::expect_used)]

mod rules;

use rules::{DEMOS, demo_library, load_text, rule_findings, shown};
use tempwright::checks::example;
use tempwright::model::load;
use tempwright::solve::{Goal, Question, Solver};

/// Names and text of what is found in an example.
fn found(text: &str) -> (Vec<&'static str>, String) {
    let text = example::complete(text).expect("a host");
    let loaded = load_text(&text);
    assert!(!loaded.protocols.is_empty(), "{:#?}", loaded.diagnostics);
    let (findings, replays) = rule_findings(&loaded);
    assert!(replays.wrong.is_empty(), "{:#?}", replays.wrong);
    let names = findings.iter().map(|finding| finding.name).collect();
    (names, shown(&loaded, &findings))
}

/// `leave` must stay silent for an hour, so core has to be cooler than planned.
const CONTRADICTION_BEHIND_A_BEGIN: &str = "\
rule leave {
  when second above 33.3 °C and core above 32.8 °C during hold
  then begin rewarm
  then call doctor within 15 min
  again after 1 h
}
rule up {
  when second above 33.3 °C for 2 h during hold
  then set target 33.2 °C
  then call doctor within 30 min
  again after 2 h
  overrides too-cold
}
rule down {
  when second above 33.4 °C for 2 h during hold
  then set target 32.8 °C
  then call doctor within 30 min
  again after 2 h
  overrides too-cold
}
";

#[test]
fn a_rule_that_begins_another_phase_hides_no_contradiction() {
    let (names, text) = found(CONTRADICTION_BEHIND_A_BEGIN);
    assert_eq!(names, ["contradiction"], "{text}");
    assert!(text.contains("core 32.8 °C"), "{text}");
}

#[test]
fn what_another_rule_makes_impossible_is_not_found() {
    // Now `leave` speaks whatever core shows, so nobody is in the phase for two hours.
    let text = CONTRADICTION_BEHIND_A_BEGIN.replace(" and core above 32.8 °C", "");
    let (names, text) = found(&text);
    assert!(!names.contains(&"contradiction"), "{text}");
    assert!(!names.contains(&"not-proved"), "{text}");
    assert!(names.contains(&"never-fires"), "{text}");
}

#[test]
fn a_target_that_was_moved_before_makes_two_orders_opposite() {
    // From 33.0 °C both lead to 33.4 °C; once `lower` has fired they part.
    let text = "\
rule lower {
  when second above 33.4 °C during hold
  then lower target by 0.2 °C, at least 32.8 °C
  then call doctor within 30 min
  again after 2 h
  overrides too-cold
}
rule by-steps {
  when second below 32.4 °C for 1 h during hold
  then raise target by 0.4 °C, at most 33.4 °C
  then call doctor within 30 min
  again after 2 h
  overrides too-cold, lower
}
rule at-once {
  when second below 32.3 °C for 1 h during hold
  then set target 33.4 °C
  then call doctor within 30 min
  again after 2 h
  overrides too-cold, lower
}
";
    let (names, text) = found(text);
    assert_eq!(names, ["contradiction"], "{text}");
    assert!(text.contains("`at-once`"), "{text}");
}

/// Ten temperatures of nine values, no two alike: impossible, and too long to find out.
fn pigeons() -> (String, String) {
    let names: Vec<String> = (0..10).map(|at| format!("t{at}")).collect();
    let readings = names.iter().map(|name| {
        format!(
            "reading {name} \"Place {name}\" temperature at rectum, continuous, shown to 0.1 °C, accurate to 0.1 °C, \
             reads 30.0 °C to 30.8 °C\n"
        )
    });
    let mut apart = Vec::new();
    for (at, a) in names.iter().enumerate() {
        for b in names.iter().skip(at + 1) {
            apart.push(format!("{a} and {b} differ by more than 0.05 °C"));
        }
    }
    let looks = format!("every 1 h record {}\n", names.join(", "));
    (readings.collect::<String>() + &looks, apart.join(" and "))
}

#[test]
fn what_an_order_may_bring_about_and_takes_too_long_is_not_called_impossible() {
    let (readings, apart) = pigeons();
    // Not with the target at 33.0 °C; with it moved, who knows.
    let text = format!(
        "{readings}rule moves {{\n  when core above 32.0 °C during hold\n  then raise target by 0.5 °C, at most 34.5 °C\n  \
         again after 4 h\n}}\nrule tangled {{\n  when core below target by more than 1.0 °C and core above 32.5 °C and {apart} \
         during hold\n  then call doctor within 30 min\n  again after 4 h\n}}\n"
    );
    let (names, shown) = found(&text);
    assert!(names.contains(&"not-proved"), "{names:?} {shown}");
    assert!(!shown.contains("`tangled` never fires"), "{shown}");
    assert!(!names.contains(&"never-fires"), "{names:?}");
}

#[test]
fn a_contradiction_behind_a_course_that_was_held_up_is_found() {
    // By plan rewarming arrives after 14 h. `warming-too-fast` of the host keeps the target for
    // an hour, so the phase can run on, at values that would else have ended it.
    let text = "\
rule slower {
  when rewarm lasts longer than 15 h and core above 36.1 °C during rewarm
  then set target 36.2 °C
  then call doctor within 30 min
  again after 6 h
  overrides off-course, warming-too-fast
}
rule quicker {
  when rewarm lasts longer than 15 h and core above 36.2 °C during rewarm
  then set target 36.4 °C
  then call doctor within 30 min
  again after 6 h
  overrides off-course, warming-too-fast
}
";
    let (names, text) = found(text);
    assert_eq!(names, ["contradiction"], "{text}");
    assert!(text.contains("39:15  rewarm  core 36.3 °C"), "{text}");
    assert!(
        text.contains("24:15  rewarm  core 32.6 °C\n          25:15  rewarm  core 33.2 °C"),
        "{text}"
    );
}

/// Rules that cannot change a record are left out where nobody is shown it: the answer is the
/// same as with them.
#[test]
fn a_record_that_nobody_is_shown_comes_to_the_same() {
    let library = demo_library();
    let demos = DEMOS.iter().map(|demo| {
        let path = format!("{demo}.protocol");
        load(&library, &[&path]).expect("the demo")
    });
    let example = example::complete(CONTRADICTION_BEHIND_A_BEGIN).expect("a host");
    let all: Vec<_> = demos.chain([load_text(&example)]).collect();
    let mut shown = 0;
    for (_, protocol) in all.iter().flat_map(|loaded| &loaded.protocols) {
        let (whole, quiet) = (Solver::new(protocol), Solver::new(protocol));
        for (_, rule) in protocol.rules() {
            for (phase, stated) in protocol.phases() {
                for holds in [true, false] {
                    let question = Question::new(phase, vec![Goal::rule(rule, holds)]);
                    let expected = whole.ask(&question);
                    assert_eq!(
                        quiet.ask(&question.unshown()),
                        expected,
                        "{} in {}",
                        rule.name.name,
                        stated.name.name
                    );
                    shown += u32::from(expected.found().is_some());
                }
            }
        }
    }
    assert!(shown > 500, "{shown}");
}
