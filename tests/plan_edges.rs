//! The plan at the edge: the last moment of a case, a day of 25 hours, two looks that ask at one
//! time, the weight to a tenth.

#![allow(clippy::expect_used)] // a test says so by panicking

#[path = "support/small.rs"]
mod small;

use small::{DAY, protocol};
use tempwright::model::Protocol;
use tempwright::plan::case_text::named;
use tempwright::plan::{Case, Due, DueWhat, Plan, ValueWindow, Window, report, schedule};
use tempwright::quantity::Exact;

fn due(protocol: &Protocol) -> Vec<Due> {
    schedule(protocol, &Case::default())
        .expect("a schedule")
        .due
}

#[test]
fn no_checklist_of_a_shift_is_due_at_the_end_of_the_case() {
    let protocol = protocol(&format!(
        "{DAY}\n  checklist turning \"Turning\" at each-shift {{\n    step \"Turn\"\n  }}"
    ));
    let hours: Vec<Exact> = due(&protocol)
        .iter()
        .filter(|due| matches!(due.what, DueWhat::Checklist(_)))
        .map(|due| due.at / Exact::int(60))
        .collect();
    assert_eq!(hours, [Exact::ZERO, Exact::int(12)]);
}

/// What is looked at while a device runs is not asked for once it is off.
#[test]
fn a_checklist_of_control_is_due_only_where_control_is_active() {
    let protocol = protocol(&format!(
        "{DAY}\n  phase watch \"Watch\" {{\n    keep core 36.0 °C to 37.7 °C\n    by passive\n    lasts 36 h\n  }}\n  \
         checklist device \"Device\" at each-shift-of-control {{\n    step \"Water flows\"\n  }}\n  \
         checklist turning \"Turning\" at each-shift {{\n    step \"Turn\"\n  }}"
    ));
    let hours = |name: &str| -> Vec<Exact> {
        due(&protocol)
            .iter()
            .filter(|due| match due.what {
                DueWhat::Checklist(list) => protocol[list].name.name == name,
                _ => false,
            })
            .map(|due| due.at / Exact::int(60))
            .collect()
    };
    let every_12_h = |until: i64| (0..until).step_by(12).map(Exact::int).collect::<Vec<_>>();
    assert_eq!(hours("device"), every_12_h(24));
    assert_eq!(hours("turning"), every_12_h(60));
}

/// What comes before control may be over at once: the change of shift at 12 h can be one of control.
#[test]
fn a_checklist_of_control_is_due_where_control_may_have_begun() {
    let protocol = protocol(
        "  phase wait \"Wait\" {\n    warm core to 36.0 °C\n    by passive\n    due within 20 h\n  }\n  \
         phase hold \"Hold\" {\n    hold core at 36.0 °C within 0.5 °C\n    lasts 24 h\n  }\n  \
         checklist device \"Device\" at each-shift-of-control {\n    step \"Water flows\"\n  }",
    );
    let hours: Vec<Exact> = due(&protocol)
        .iter()
        .filter(|due| matches!(due.what, DueWhat::Checklist(_)))
        .map(|due| due.at / Exact::int(60))
        .collect();
    assert_eq!(hours, [0, 12, 24, 36].map(Exact::int));
}

/// Two lines ask for one score: one box, and both ladders stand beside it, each once.
#[test]
fn a_box_names_each_ladder_that_follows_it_once() {
    let ladder = |name: &str| {
        format!(
            "  ladder {name} \"Ladder\" on shiver until at or below 1 {{\n    \
             step \"Call\" {{ call doctor now }}\n  }}\n"
        )
    };
    let protocol = protocol(&format!(
        "{DAY}\n  reading shiver \"Shivering\" score of shivering 0 to 3\n{}{}  every 4 h score shiver then follow one\n  every 8 h score shiver then follow other\n  \
         every 12 h score shiver then follow one\n",
        ladder("one"),
        ladder("other")
    ));
    let boxes: Vec<(Exact, Vec<&str>)> = due(&protocol)
        .into_iter()
        .filter_map(|due| match due.what {
            DueWhat::Ask { then_follow, .. } => Some((
                due.at / Exact::int(60),
                then_follow
                    .iter()
                    .map(|ladder| protocol[*ladder].name.name.as_str())
                    .collect(),
            )),
            _ => None,
        })
        .collect();
    let both = vec!["one", "other"];
    let wanted: Vec<(Exact, Vec<&str>)> = [
        (0, both.clone()),
        (4, vec!["one"]),
        (8, both.clone()),
        (12, vec!["one"]),
        (16, both),
        (20, vec!["one"]),
    ]
    .into_iter()
    .map(|(at, ladders)| (Exact::int(at), ladders))
    .collect();
    assert_eq!(boxes, wanted);
}

/// On 2026-10-25 the clocks go back in London, and the day has 25 hours: 24 h after midnight it
/// is 23:00 of the same day.
#[test]
fn a_time_at_the_end_of_a_day_of_25_hours_is_of_that_day() {
    let protocol = protocol(&format!(
        "{DAY}\n  phase cool \"Cool\" {{\n    cool core to 33.0 °C\n    due within 2 h\n  }}\n  \
         phase guard \"Guard\" {{\n    keep core at or below 37.7 °C\n    lasts 24 h\n  }}"
    ));
    let start = |text: &str| Case::starting(&protocol, text).expect("a start");
    let at = |case: Case, reached: &str| {
        let case = case
            .enter_reached(&protocol, reached)
            .map_err(|error| error.to_string())?;
        case.reached
            .values()
            .next()
            .copied()
            .ok_or_else(|| "nothing reached".to_owned())
    };
    assert_eq!(
        at(start("2026-10-25T00:00"), "cool=23:30"),
        Ok(Exact::int(24 * 60 + 30))
    );
    // A day of 24 hours, where that is only after 23 h 30 min and so on the next day.
    assert_eq!(
        at(start("2026-10-20T00:00"), "cool=01:30"),
        Ok(Exact::int(25 * 60 + 30))
    );
}

#[test]
fn a_weight_is_to_a_tenth_only_where_doses_go_by_bands() {
    let with = |dose: &str| {
        protocol(&format!(
            "{DAY}\n  medication drug \"Drug\" {{\n    {dose}\n  }}"
        ))
    };
    let enter = |protocol: &Protocol, weight: &str| {
        Case::default()
            .enter_weight(protocol, weight)
            .map_err(|error| error.to_string())
            .err()
            .unwrap_or_default()
    };
    let plain = with("dose 5 mg/kg iv");
    assert_eq!(enter(&plain, "49.95 kg"), "");
    let banded = with(
        "dose 500 mg iv when weight below 50 kg\n    dose 1 g iv when weight at or above 50 kg",
    );
    assert_eq!(enter(&banded, "49.9 kg"), "");
    let told = enter(&banded, "49.95 kg");
    assert!(told.contains("finer than 0.1 kg"), "{told}");
}

#[test]
fn what_is_entered_has_a_name_and_a_value() {
    assert_eq!(named("rosc=13:05"), Ok(("rosc", "13:05")));
    assert_eq!(named(" rosc = 13:05 "), Ok(("rosc", "13:05")));
    for text in ["=17:40", "rosc=", "=", "rosc", " = 17:40", "rosc = "] {
        let told = named(text).expect_err("refused").to_string();
        assert!(
            told.contains("does not say what it is about"),
            "{text}: {told}"
        );
    }
}

#[test]
fn the_lowest_and_the_highest_value_of_a_reading_may_be_there_on_arrival() {
    let protocol = protocol(DAY);
    for (value, good) in [
        ("24.9 °C", false),
        ("25.0 °C", true),
        ("42.0 °C", true),
        ("42.1 °C", false),
    ] {
        let case = Case::default().enter_arrival(&protocol, "core", value);
        assert_eq!(case.is_ok(), good, "{value}: {case:?}");
    }
}

#[test]
fn a_mark_lies_at_the_start_or_before_it() {
    let protocol = protocol(&format!(
        "  start within 6 h of rosc\n  mark rosc \"Return of circulation\"\n{DAY}"
    ));
    let (rosc, _) = protocol.marks().next().expect("a mark");
    let said = |case: &Case| {
        let plan = Plan::of(&protocol, case).expect("a plan");
        report::notes(&protocol, case, &plan)
    };
    let at = |minutes: i64| {
        Case::default()
            .with_mark(&protocol, rosc, Exact::int(minutes))
            .map(|case| said(&case))
    };
    assert_eq!(
        said(&Case::default()),
        ["`rosc` lies up to 6:00 before the start"]
    );
    assert_eq!(at(0).expect("good"), ["`rosc` lies at the start"]);
    assert_eq!(at(-1).expect("good"), ["`rosc` lies 0:01 before the start"]);
    assert_eq!(
        at(-360).expect("good"),
        ["`rosc` lies 6:00 before the start"]
    );
    assert!(at(-361).is_err());
    assert!(at(1).is_err());
}

#[test]
fn both_ends_of_a_window_are_in_it() {
    let (low, high) = (Exact::int(33), Exact::int(36));
    let edges = [32, 33, 36, 37].map(Exact::int);
    let times = Window::between(low, high);
    let values = ValueWindow::between(low, high);
    assert_eq!(
        edges.map(|at| times.contains(at)),
        [false, true, true, false]
    );
    assert_eq!(
        edges.map(|at| values.contains(at)),
        [false, true, true, false]
    );
    assert_eq!(
        edges.map(|at| Window::open_from(low).contains(at)),
        [false, true, true, true]
    );
    let open = |low, high| edges.map(|at| ValueWindow { low, high }.contains(at));
    assert_eq!(open(Some(low), None), [false, true, true, true]);
    assert_eq!(open(None, Some(high)), [true, true, true, false]);
}

#[test]
fn a_rate_of_nothing_is_no_rate() {
    let protocol = protocol(
        "  phase warm \"Warm\" {\n    warm core from 35.0 °C to 36.5 °C at 0.25 °C/h to 0.5 °C/h\n  }",
    );
    let said = |rate: &str| match Case::default().enter_rate(&protocol, "warm", rate) {
        Ok(_) => String::new(),
        Err(error) => error.to_string().replace('\u{a0}', " "),
    };
    assert_eq!(said("0.25 °C/h"), "");
    assert!(
        said("0 °C/h").starts_with("`0 °C/h` is not a rate\n"),
        "{}",
        said("0 °C/h")
    );
    assert!(
        said("0.1 °C/h").starts_with("0.1 °C/h is not a rate that"),
        "{}",
        said("0.1 °C/h")
    );
}

#[test]
fn the_latest_end_is_told_where_it_is_not_the_planned_one() {
    let row = |most: &str| {
        let protocol = protocol(&format!(
            "  mark awake \"Awake\"\n  phase wait \"Wait\" {{\n    keep core 36.0 °C to 37.0 °C\n    \
             ends at awake, plan for 2 h to 4 h{most}\n  }}"
        ));
        let case = Case::default();
        let plan = Plan::of(&protocol, &case).expect("a plan");
        let text = report::text(&protocol, &case, &plan);
        let row = text.lines().find(|line| line.starts_with("wait"));
        row.expect("a row").replace('\u{a0}', " ")
    };
    let columns = |row: String| {
        row.split("  ")
            .map(|one| one.trim().to_owned())
            .filter(|one| !one.is_empty())
            .collect::<Vec<_>>()
    };
    let aim = "keep core 36.0 °C to 37.0 °C";
    assert_eq!(
        columns(row("")),
        ["wait", "0:00", "2:00 to 4:00 or later", aim]
    );
    assert_eq!(
        columns(row(", at most 6 h")),
        ["wait", "0:00", "2:00 to 4:00, at most 6:00", aim]
    );
    assert_eq!(
        columns(row(", at most 4 h")),
        ["wait", "0:00", "2:00 to 4:00", aim]
    );
}
