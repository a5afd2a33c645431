//! What is due when, by the numbers of the language's meaning.

use super::testing::*;
use super::*;
use crate::model::Protocol;
use crate::quantity::Exact;
use proptest::prelude::*;

fn lay(protocol: &Protocol, case: &Case) -> Schedule {
    schedule(protocol, case).expect("a schedule")
}

fn name(protocol: &Protocol, due: &Due) -> String {
    match &due.what {
        DueWhat::Ask { reading, .. } => protocol[*reading].name.name.clone(),
        DueWhat::Task { .. } => "task".to_owned(),
        DueWhat::Dose { .. } => "dose".to_owned(),
        DueWhat::Order { .. } => "order".to_owned(),
        DueWhat::Checklist(id) => protocol[*id].name.name.clone(),
    }
}

/// `3:40 hold core`
fn lines(protocol: &Protocol, due: &[Due]) -> Vec<String> {
    due.iter()
        .map(|due| {
            let minutes = due.at.to_i64_floor().expect("a number");
            format!(
                "{}:{:02} {} {}",
                minutes / 60,
                minutes % 60,
                protocol[due.phase].name.name,
                name(protocol, due)
            )
        })
        .collect()
}

const SHORT: &str = r#"
  phase cool "Cool" {
    cool core to 33.0 °C
    due within 2 h
  }
  phase hold "Hold" {
    hold core at 33.0 °C within 0.5 °C
    lasts 3 h
  }
  phase guard "Guard" {
    keep core 36.0 °C to 37.7 °C
    lasts 2 h
  }
"#;

#[test]
fn m5_every_counts_from_the_beginning_of_its_stretch() {
    let protocol = protocol(&format!(
        "{SHORT}
         every 50 min record core during hold
         every 90 min record second during cool, hold
         every 3 h score shiver"
    ));
    let case = Case::default()
        .enter_reached(&protocol, "100 min after start")
        .expect("over");
    let made = lay(&protocol, &case);
    assert_eq!(
        lines(&protocol, &made.due),
        [
            "0:00 cool second",
            "0:00 cool shiver",
            "1:30 cool second",
            "1:40 hold core",
            "2:30 hold core",
            "3:00 hold second",
            "3:00 hold shiver",
            "3:20 hold core",
            "4:10 hold core",
            "4:30 hold second",
            "6:00 guard shiver",
        ],
        "at 4:40 hold is over: a stretch has its beginning in it and not its end"
    );
}

#[test]
fn m8_a_stretch_that_is_broken_begins_anew() {
    let protocol = protocol(&format!(
        "{SHORT} every 90 min record core during cool, guard"
    ));
    let made = lay(&protocol, &Case::default());
    assert_eq!(
        lines(&protocol, &made.due),
        [
            "0:00 cool core",
            "1:30 cool core",
            "5:00 guard core",
            "6:30 guard core"
        ]
    );
}

#[test]
fn an_empty_phase_breaks_no_stretch_and_asks_nothing() {
    let protocol = protocol(
        r#"phase one "One" {
             hold core at 33.0 °C within 0.5 °C
             lasts 90 min
           }
           phase empty "Empty" {
             hold core at 33.0 °C within 0.5 °C
             ends 1 h after start
           }
           phase two "Two" {
             hold core at 33.0 °C within 0.5 °C
             lasts 90 min
           }
           every 1 h record core during one, two
           every 1 h record second during empty"#,
    );
    let made = lay(&protocol, &Case::default());
    assert_eq!(
        lines(&protocol, &made.due),
        ["0:00 one core", "1:00 one core", "2:00 two core"]
    );
}

#[test]
fn m5_one_box_for_a_reading_that_is_asked_for_twice() {
    let protocol = protocol(&format!(
        r#"{SHORT}
         every 1 h record core during guard
         every 30 min record core during guard
         every 1 h score shiver then follow steps during guard
         every 1 h score shiver during guard
         ladder steps "Steps" on shiver {{
           rung 0 to 3 "Any" {{ continue }}
         }}"#
    ));
    let made = lay(&protocol, &Case::default());
    assert_eq!(
        lines(&protocol, &made.due),
        [
            "5:00 guard core",
            "5:00 guard shiver",
            "5:30 guard core",
            "6:00 guard core",
            "6:00 guard shiver",
            "6:30 guard core",
        ]
    );
    let follows = made.due.iter().filter(|due| match &due.what {
        DueWhat::Ask { then_follow, .. } => !then_follow.is_empty(),
        _ => false,
    });
    assert_eq!(follows.count(), 2);
    let core = protocol.readings().next().expect("core").0;
    assert_eq!(
        interval_in_force(&protocol, core, phase(&protocol, "guard")),
        Some(Exact::int(30))
    );
    assert_eq!(
        interval_in_force(&protocol, core, phase(&protocol, "hold")),
        None
    );
}

#[test]
fn m19_at_looks_lie_where_the_plan_puts_them() {
    let protocol = protocol(&format!(
        r#"{SHORT}
         at hold.start record core now
         at 1 h after hold.start record second in 15 min
         at 30 min before guard.start do "Get ready"
         at 3 h before hold.start do "At once"
         at guard.end do "The end"
         at rosc record core now
         at 4 h after rosc record core now
         at 1 h after awake record core now
         at 20 h after start call nurse now
         people {{ nurse "Nurse" }}"#
    ));
    let blank = lay(&protocol, &Case::default());
    assert_eq!(
        lines(&protocol, &blank.due),
        [
            "0:00 cool task",
            "2:00 hold core",
            "3:15 hold second",
            "4:30 hold task",
            "7:00 guard task",
        ]
    );
    let why: Vec<NoTime> = blank.unplaced.iter().map(|look| look.why).collect();
    let waits = |name: &str, minutes: i64| NoTime::Waits {
        mark: crate::model::MarkRef::Named(mark(&protocol, name)),
        after: Exact::int(minutes),
    };
    assert_eq!(
        why,
        [
            waits("rosc", 0),
            waits("rosc", 240),
            waits("awake", 60),
            NoTime::AfterEnd(Exact::int(1200)),
        ]
    );
    let case = Case::default()
        .enter_mark(&protocol, "rosc", "1 h before start")
        .expect("rosc");
    let known = lay(&protocol, &case);
    assert!(lines(&protocol, &known.due).contains(&"3:00 hold core".to_owned()));
    assert_eq!(known.unplaced[0].why, NoTime::BeforeStart(Exact::int(-60)));
}

#[test]
fn m5_shift_checks_keep_to_the_clock() {
    let lists = r#"
      checklist shift "Each shift" at each-shift {
        step "Look"
      }"#;
    let with_shifts = protocol_with(
        "shifts 07:30, 19:30",
        &format!("{ARREST} {lists}").replace("72 h after rosc", "48 h after start"),
    );
    // The clock goes forward in the night from 27 to 28 March 2027.
    let case = Case::starting(&with_shifts, "2027-03-27T07:30").expect("a start");
    let made = lay(&with_shifts, &case);
    assert_eq!(
        lines(&with_shifts, &made.due),
        [
            "0:00 cool shift",
            "12:00 hold shift",
            "23:00 hold shift",
            "35:00 rewarm shift",
            "47:00 guard shift"
        ]
    );
    let blank = lay(&with_shifts, &Case::default());
    assert_eq!(blank.due.len(), 0);
    assert_eq!(blank.by_shift_clock.len(), 1);

    let without = protocol(&format!("{SHORT} {lists}").replace("lasts 3 h", "lasts 12 h"));
    assert_eq!(
        lines(&without, &lay(&without, &Case::default()).due),
        ["0:00 cool shift", "12:00 hold shift"]
    );
}

#[test]
fn a_phase_of_which_nobody_knows_the_length_is_laid_out_and_marked() {
    let protocol = protocol(
        r#"phase cool "Cool" { cool core to 33.0 °C }
           phase hold "Hold" {
             hold core at 33.0 °C within 0.5 °C
             lasts 24 h
           }
           every 12 h record core"#,
    );
    let made = lay(&protocol, &Case::default());
    assert_eq!(
        lines(&protocol, &made.due),
        [
            "0:00 cool core",
            "12:00 cool core",
            "24:00 hold core",
            "36:00 hold core"
        ]
    );
    assert!(made.layout.iter().all(|laid| laid.assumed));
}

#[test]
fn an_open_phase_is_laid_out_for_no_less_than_its_cap_needs() {
    let protocol = protocol(
        r#"phase cool "Cool" {
             cool core to 33.0 °C
             never faster than 0.1 °C/h
           }"#,
    );
    let case = Case::default()
        .enter_arrival(&protocol, "core", "37.0")
        .expect("a reading");
    let made = lay(&protocol, &case);
    assert_eq!(made.layout[0].end, Exact::int(40 * 60));
}

#[test]
fn a_shift_before_the_start_asks_nothing() {
    let protocol = protocol_with(
        "shifts 07:30, 19:30",
        &format!(
            r#"{SHORT} checklist shift "Each shift" at each-shift {{
                 step "Look"
               }}"#
        ),
    );
    let case = Case::starting(&protocol, "2027-06-01T13:30").expect("a start");
    assert_eq!(
        lines(&protocol, &lay(&protocol, &case).due),
        ["6:00 guard shift"]
    );
}

#[test]
fn a_list_that_nobody_could_print_is_refused() {
    let protocol =
        protocol(&format!("{SHORT} every 1 min record core").replace("lasts 3 h", "lasts 80 days"));
    let error = schedule(&protocol, &Case::default()).expect_err("too long");
    let PlanError::TooLarge(finding) = error else {
        panic!("{error:?}")
    };
    assert_eq!(finding.name, "schedule-too-long");
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 64,
        failure_persistence: None,
        ..ProptestConfig::default()
    })]

    /// Each box is asked for by some `every` at a whole number of its intervals
    /// after the beginning of that stretch, once, in order, and inside its phase.
    #[test]
    fn boxes_keep_to_their_intervals(cool in 1i64..=300, one in 1i64..=120, two in 1i64..=120) {
        let protocol = protocol(&format!(
            "{SHORT}
             every {one} min record core
             every {two} min record core during hold, guard"
        ));
        let over = format!("{cool} min after start");
        let case = Case::default().enter_reached(&protocol, &over).expect("over");
        let made = lay(&protocol, &case);
        let (cool, end) = (Exact::int(cool), Exact::int(cool + 300));
        let whole = |at: Exact, interval: i64| !at.is_negative() && (at / Exact::int(interval)).is_integer();
        let mut expected = Vec::new();
        let mut at = Exact::ZERO;
        while at < end {
            if whole(at, one) || whole(at - cool, two) {
                expected.push(at);
            }
            at = at + Exact::ONE;
        }
        let found: Vec<Exact> = made.due.iter().map(|due| due.at).collect();
        prop_assert_eq!(found, expected);
        for due in &made.due {
            let laid = made.layout.iter().find(|laid| laid.phase == due.phase).expect("laid out");
            prop_assert!(laid.start <= due.at && due.at < laid.end);
        }
    }
}
