//! Parts of the solver, asked directly: what a whole question would hide.

#![allow(clippy::expect_used, clippy::panic)] // a test says so by panicking

#[path = "support/small.rs"]
mod small;

use small::protocol;
use tempwright::eval::{Case, Entry, EntryWhat, RuleStanding, Run, Truth};
use tempwright::model::{MarkId, PhaseId, ReadingId, RuleId};
use tempwright::quantity::Exact;
use tempwright::solve::{Answer, Found, Goal, Question, Solver};

const PHASES: &str = r#"  phase settle "Settle" {
    keep core 36.0 °C to 37.0 °C
    lasts 1 h
  }
  phase middle "Middle" {
    keep core 36.0 °C to 37.0 °C
    lasts 2 h
  }
  phase hold "Hold" {
    hold core at 36.0 °C within 0.5 °C
    lasts 24 h
  }
  every 1 h record core
"#;

fn rule(name: &str, during: &str) -> String {
    format!(
        "  rule {name} {{\n    when core above 37.0 °C{during}\n    then call doctor now\n  }}\n"
    )
}

/// Whether the first rule holds then, by the evaluator.
fn holds(run: &Run, found: &Found) -> bool {
    matches!(
        run.rule(RuleId(0), found.at),
        RuleStanding::InPhase {
            truth: Truth::Holds,
            ..
        }
    )
}

#[test]
fn a_stretch_goes_back_over_the_phases_of_a_rule_without_a_break() {
    let rules = rule("always", "")
        + &rule("last", " during hold")
        + &rule("both", " during middle, hold")
        + &rule("broken", " during settle, hold");
    let protocol = protocol(&(PHASES.to_owned() + &rules));
    let solver = Solver::new(&protocol);
    let frame = solver.frame(PhaseId(2)).expect("a record leads there");
    let during = |rule: u32| &protocol[RuleId(rule)].during;
    let stretches: Vec<Exact> = (0..4).map(|rule| frame.stretch(during(rule))).collect();
    assert_eq!(stretches, [0, 180, 60, 180].map(Exact::int));
    // At 0:30 the first runs, at 1:00 and 1:30 the second, at 3:20 the third.
    for (at, wanted) in [
        (30, [Some(0), None, None, Some(0)]),
        (60, [Some(0), None, Some(60), None]),
        (90, [Some(0), None, Some(60), None]),
        (200, [Some(0), Some(180), Some(60), Some(180)]),
    ] {
        let found: Vec<Option<Exact>> = (0..4)
            .map(|rule| frame.stretch_at(during(rule), Exact::int(at)))
            .collect();
        assert_eq!(found, wanted.map(|since| since.map(Exact::int)), "{at}");
    }
}

/// Only 36.2 °C lets the third rule lower the target, since at less the fourth is before it; on
/// the lowered target 36.2 °C is more than 0.1 °C above.
#[test]
fn an_order_that_another_rule_overrides_has_not_come_before() {
    let rules = |fourth: &str| {
        format!(
            r#"  rule asked {{
    when core above target by more than 0.1 °C
    then call doctor now
  }}
  rule third {{
    when core at or above 36.1 °C during hold
    then lower target by 0.1 °C, at least 36.0 °C
  }}
  rule fourth {{
    when core at or below 36.1 °C {fourth}
    then call doctor now
    overrides third
  }}"#
        )
    };
    let phases = r#"  phase settle "Settle" {
    keep core 36.0 °C to 36.2 °C
    lasts 1 h
  }
  phase hold "Hold" {
    hold core at 36.1 °C within 0.1 °C
    lasts 24 h
  }
  every 1 h record core
"#;
    // In its own phases alone: in the other one 36.1 °C is enough.
    for (during, least) in [("", 362), ("during hold", 362), ("during settle", 361)] {
        let text = small::text(&(phases.to_owned() + &rules(during)))
            .replace("25.0 °C to 42.0 °C", "36.0 °C to 36.2 °C");
        let mut loaded = small::read(&text);
        assert!(!loaded.has_errors(), "{:#?}", loaded.diagnostics);
        let protocol = loaded.protocols.remove(0).1;
        let solver = Solver::new(&protocol);
        let goals = vec![Goal::rule(&protocol[RuleId(0)], true)];
        let answer = solver.ask(&Question::new(PhaseId(1), goals));
        let Answer::Found(found) = answer else {
            panic!("{during}: {answer:?}");
        };
        let (rule, at) = found.first.expect("an order comes before");
        assert_eq!(rule, RuleId(1));
        let recorded = found.entries.iter().find_map(|entry| match entry.what {
            EntryWhat::Record { value, .. } if entry.at == at => Some(value),
            _ => None,
        });
        assert_eq!(
            recorded,
            Some(Exact::ratio(least, 10)),
            "{during}: {found:?}"
        );
        assert!(solver.reproduces(&found, |replay| holds(&replay.run, &found)));
    }
}

/// The rule leads out of the phase as soon as it fires. That it has not fired before says
/// nothing of the moment itself, at which it fires for the first time.
#[test]
fn a_rule_that_leaves_the_phase_fires_at_the_moment_and_not_before() {
    let protocol = protocol(
        r#"  phase hold "Hold" {
    hold core at 36.0 °C within 0.5 °C
    lasts 24 h
  }
  phase last "Last" {
    keep core 36.0 °C to 37.0 °C
    lasts 4 h
  }
  every 1 h record core
  rule leaves {
    when core above 35.9 °C for 1 h during hold
    then begin last
  }"#,
    );
    let solver = Solver::new(&protocol);
    let goals = vec![Goal::rule(&protocol[RuleId(0)], true)];
    let mut question = Question::new(PhaseId(0), goals);
    question.not_before = Exact::int(90);
    let answer = solver.ask(&question);
    let Answer::Found(found) = answer else {
        panic!("{answer:?}");
    };
    // On plan from 1:00 on; who is so from 0:00 on has left at 1:00.
    assert_eq!(found.at, Exact::int(120), "{found:?}");
}

/// The pause of an hour must begin late: its rule could have fired at once.
#[test]
fn an_order_that_comes_before_need_not_come_first() {
    let protocol = protocol(
        r#"  phase hold "Hold" {
    hold core at 36.0 °C within 0.5 °C
    lasts 24 h
  }
  every 1 h record core
  rule asked {
    when paused longer than 30 min and hold lasts longer than 3 h
    then call doctor now
  }
  rule pauses {
    when core above 36.5 °C during hold
    then pause temperature control for 1 h
  }"#,
    );
    let solver = Solver::new(&protocol);
    let goals = vec![Goal::rule(&protocol[RuleId(0)], true)];
    let answer = solver.ask(&Question::new(PhaseId(0), goals));
    let Answer::Found(found) = answer else {
        panic!("{answer:?}");
    };
    let (rule, at) = found.first.expect("an order comes before");
    assert_eq!(rule, RuleId(1));
    assert!(
        at > Exact::int(120) && found.at > Exact::int(180) - Exact::ONE,
        "{found:?}"
    );
    assert!(solver.reproduces(&found, |replay| holds(&replay.run, &found)));
}

/// The rule that lowers the target has fired in the phase ahead and is at rest: that it fires
/// once more is asked of the evaluator, and not claimed without it.
#[test]
fn what_the_evaluator_does_not_show_is_not_claimed() {
    let text = small::text(
        r#"  phase settle "Settle" {
    keep core 36.0 °C to 36.2 °C
    lasts 1 h
  }
  phase hold "Hold" {
    hold core at 36.1 °C within 0.1 °C
    lasts 24 h
  }
  every 1 h record core
  rule asked {
    when core above target by more than 0.1 °C
    then call doctor now
  }
  rule third {
    when core at or above 36.1 °C
    then lower target by 0.1 °C, at least 36.0 °C
  }
  rule fourth {
    when core at or below 36.1 °C during hold
    then call doctor now
    overrides third
  }
  rule fifth {
    when core above 36.1 °C during hold
    then call doctor now
  }
  rule sixth {
    when core above 36.1 °C during hold
    then call doctor now
    overrides fifth
  }"#,
    )
    .replace("25.0 °C to 42.0 °C", "36.0 °C to 36.2 °C");
    let mut loaded = small::read(&text);
    assert!(!loaded.has_errors(), "{:#?}", loaded.diagnostics);
    let protocol = loaded.protocols.remove(0).1;
    let solver = Solver::new(&protocol);
    let goals = vec![Goal::rule(&protocol[RuleId(0)], true)];
    match solver.ask(&Question::new(PhaseId(1), goals)) {
        Answer::Found(found) => {
            assert!(
                solver.reproduces(&found, |replay| holds(&replay.run, &found)),
                "{found:?}"
            );
        }
        Answer::NotShown(_) => {}
        answer => panic!("it can be so: {answer:?}"),
    }
}

#[test]
fn a_rule_that_is_overridden_holds_and_one_beside_it_does_not() {
    let rule = |name: &str, when: &str, more: &str| {
        format!("  rule {name} {{\n    when core {when}\n    then call doctor now\n{more}  }}\n")
    };
    let rules = rule("under", "above 36.8 °C", "")
        + &rule("over", "above 36.8 °C", "    overrides under\n")
        + &rule("cold", "below 35.0 °C", "");
    let protocol = protocol(&(PHASES.to_owned() + &rules));
    let solver = Solver::new(&protocol);
    let goals = vec![Goal::rule(&protocol[RuleId(0)], true)];
    let answer = solver.ask(&Question::new(PhaseId(2), goals));
    let Answer::Found(found) = answer else {
        panic!("{answer:?}");
    };
    let replay = solver.replay(&found);
    assert_eq!(
        [0, 1, 2].map(|rule| replay.holds(RuleId(rule), &found)),
        [true, true, false]
    );
}

/// A mark ends the phase ahead, a minute after the beginning at the soonest, and looks are rare
/// behind it: what takes two hours of looks is seen only where the mark comes later.
#[test]
fn what_only_a_longer_phase_ahead_can_show_is_not_called_impossible() {
    let phases = r#"  mark rosc "Return of circulation"
  phase settle "Settle" {
    keep core 36.0 °C to 37.0 °C
    ends 5 min after rosc
  }
  phase hold "Hold" {
    hold core at 36.0 °C within 0.5 °C
    lasts 72 h
  }
  every 15 min record core during settle
  every 4 h record core during hold
"#;
    let core = |minute: i64, value| Entry::record(Exact::int(minute), ReadingId(0), value);
    for when in [
        "core falls less than 0.3 °C in 2 h and core below 36.0 °C",
        "core rises less than 0.3 °C in 2 h",
        "core rises less than 0.3 °C in 2 h and core above 35.0 °C for 30 min",
    ] {
        let rule = format!("  rule slow {{\n    when {when}\n    then call doctor now\n  }}\n");
        let protocol = protocol(&(phases.to_owned() + &rule));
        let mut run = Run::new(&protocol, &Case::default());
        for minute in (0..180).step_by(15) {
            run.enter(core(minute, Exact::ratio(355, 10)));
        }
        run.enter(Entry::mark(Exact::int(180), MarkId(0)));
        run.enter(core(185, Exact::ratio(355, 10)));
        run.finish();
        let at = Exact::int(185);
        assert_eq!(run.phase(), Some(PhaseId(1)), "{when}");
        let RuleStanding::InPhase { truth, .. } = run.rule(RuleId(0), at) else {
            panic!("{when}: not in the phase");
        };
        assert_eq!(truth, Truth::Holds, "{when}");
        let solver = Solver::new(&protocol);
        let goals = vec![Goal::rule(&protocol[RuleId(0)], true)];
        let answer = solver.ask(&Question::new(PhaseId(1), goals));
        assert!(!matches!(answer, Answer::Never), "{when}");
    }
}
