//! Goals: judged on the exact value, the bound itself allowed, the unknown not judged.

use crate::case::{BODY, protocol};
use crate::figures::LOG;
use tempwright::audit::{Audit, Auditor, Options, report, report_all, summary};
use tempwright::compare::{Verdict, changes};
use tempwright::diag::{Level, render};
use tempwright::eval::Case;
use tempwright::model;
use tempwright::rules;
use tempwright::source::MemoryLibrary;

fn with(measure: &str) -> String {
    format!("{BODY}\n  measure it \"It\" {measure}\n")
}

fn audited(body: &str, log: &str) -> Audit {
    Auditor::new(&protocol(body), Options::default())
        .audit_text("log", log, &Case::default())
        .expect("memory can be read")
}

/// What the log of `figures` comes to, met or not.
fn met(measure: &str) -> Option<bool> {
    let audit = audited(&with(measure), LOG);
    let figure = audit.figure("measure.it").expect("the measure");
    assert!(figure.goal.is_some(), "{measure}");
    figure.goal_met
}

#[test]
fn the_goal_itself_meets_and_one_step_beyond_misses() {
    for (measure, wanted) in [
        // Two hours of three in the band, exactly 66.666… %.
        (
            "share of time when core within 0.5 °C of target during hold, goal at least 200/3 %",
            true,
        ),
        (
            "share of time when core within 0.5 °C of target during hold, goal at most 200/3 %",
            true,
        ),
        (
            "share of time when core within 0.5 °C of target during hold, goal at least 66.6 %",
            true,
        ),
        (
            "share of time when core within 0.5 °C of target during hold, goal at least 66.7 %",
            false,
        ),
        (
            "share of time when core within 0.5 °C of target during hold, goal at most 66.6 %",
            false,
        ),
        (
            "share of time when core within 0.5 °C of target during hold, goal at most 66.7 %",
            true,
        ),
        // 20 min below 33.0 °C.
        (
            "length of time when core below 33.0 °C, goal at most 20 min",
            true,
        ),
        (
            "length of time when core below 33.0 °C, goal at most 19 min",
            false,
        ),
        (
            "length of time when core below 33.0 °C, goal at most 1/3 h",
            true,
        ),
        (
            "length of time when core below 33.0 °C, goal at least 1201 s",
            false,
        ),
        // 0.6 °C for 20 min.
        ("area of core below 33.0 °C, goal at most 0.2 °C h", true),
        ("area of core below 33.0 °C, goal at most 0.199 °C h", false),
        ("area of core below 33.0 °C, goal at least 0.2 °C h", true),
        ("area of core below 33.0 °C, goal at most 0.36 °F h", true),
        ("area of core below 33.0 °C, goal at most 0.35 °F h", false),
    ] {
        assert_eq!(met(measure), Some(wanted), "{measure}");
    }
}

#[test]
fn a_score_has_an_area_in_hours() {
    // 1 from 2:00 to 3:20, 2 from 3:20 on for as long as it is good: 1.5 × 2 h, but 0 at 6:00.
    let area = audited(&with("area of shiver above 0, goal at most 6 h"), LOG);
    let figure = area.figure("measure.it").expect("the measure");
    assert_eq!(figure.goal.as_deref(), Some("at most 6 × h"));
    // 1 × 80 min + 2 × 160 min = 400/60 h.
    assert_eq!(figure.shown, "6.67 × h");
    assert_eq!(figure.goal_met, Some(false));
}

#[test]
fn what_is_not_known_neither_meets_nor_misses() {
    // The water is recorded once, in the hold; in the guard never.
    assert_eq!(
        met("share of time when water below 20.0 °C during guard, goal at least 1 %"),
        None
    );
    let audit = audited(
        &with("length of time when water below 20.0 °C during guard, goal at most 0 min"),
        LOG,
    );
    assert!(audit.figures.iter().all(|figure| figure.goal_met.is_none()));
    assert!(report(&audit).contains("(goal at most 0\u{a0}min: not known)"));
}

#[test]
fn a_missed_goal_is_said_and_no_case_is_clean_with_it() {
    let body =
        with("share of time when core within 0.5 °C of target during hold, goal at least 95 %");
    let audit = audited(&body, LOG);
    assert!(audit.problems.is_empty(), "{:?}", audit.problems);
    assert!(!audit.is_clean());
    assert!(report(&audit).contains(
        "66.6 %  (known for 3:00 h, not for 0:00 h)  (goal at least 95\u{a0}%: NOT met)"
    ));
    let better = LOG
        .replace("3:20,33.6,2", "3:20,33.4,2")
        .replace("3:00,32.4,,", "3:00,32.5,,");
    let better = audited(&body, &better);
    assert_eq!(
        better
            .figure("measure.it")
            .and_then(|figure| figure.goal_met),
        Some(true)
    );
    assert!(better.is_clean());
    let both = [audit, better];
    let all = summary(&both);
    let spread = all
        .spreads
        .iter()
        .find(|spread| spread.key == "measure.it")
        .expect("a spread");
    let goal = spread.goal.as_ref().expect("a goal");
    assert_eq!((goal.met, goal.missed), (1, 1));
    assert!(report_all(&both, &all).contains("(goal at least 95\u{a0}%: met in 1 of 2)"));
    let csv = tempwright::report::csv(&both);
    for wanted in [
        "measure.it,It,0.666666667,1,66.6 %,at least 95\u{a0}%,no\r\n",
        "measure.it,It,1,1,100.0 %,at least 95\u{a0}%,yes\r\n",
        "hold.readings,`hold`: readings,5,count,5,,\r\n",
    ] {
        assert!(csv.contains(wanted), "{wanted} in\n{csv}");
    }
    let page = tempwright::report::html(&protocol(&body), &both, &all);
    for wanted in [">goal<", ">NO<", ">yes<", ">1 of 2<", "Missed in"] {
        assert!(page.contains(wanted), "{wanted}");
    }
}

/// Arrival after 120 min, by the log of `figures`.
#[test]
fn due_within_is_the_goal_of_the_time_to_target() {
    let judged = |due: &str, log: &str| {
        let body = BODY.replace(
            "cool core to 33.0 °C",
            &format!("cool core to 33.0 °C\n    {due}"),
        );
        let audit = audited(&body, log);
        let figure = audit.figure("cool.time-to-target").expect("a figure");
        (
            figure.goal.clone().expect("a goal"),
            figure.goal_met,
            figure.shown.clone(),
        )
    };
    let says = |due, met| {
        let (goal, found, _) = judged(due, LOG);
        assert_eq!(found, Some(met), "{due}");
        assert_eq!(goal.replace('\u{a0}', " "), due.trim_start_matches("due "));
    };
    says("due within 2 h", true);
    says("due within 119 min", false);
    // The mark is one hour before the start.
    says("due within 3 h of rosc", true);
    says("due within 179 min of rosc", false);
    // Not reached, and the time is over or not.
    let short = LOG.split("2:00,33.0").next().expect("a beginning");
    assert_eq!(judged("due within 2 h", short).1, None);
    assert_eq!(judged("due within 60 min", short).1, Some(false));
    assert_eq!(judged("due within 60 min", short).2, "not reached in time");
}

fn found(measure: &str) -> String {
    let text = format!("{}{}\n}}\n", crate::case::HEAD, with(measure));
    let library = MemoryLibrary::default().with("trial.protocol", &text);
    let loaded = model::load(&library, &["trial.protocol"]).expect("the file is there");
    loaded
        .diagnostics
        .iter()
        .filter(|found| found.level == Level::Error)
        .map(|found| render::human(found, &loaded.sources, render::Style::default()))
        .collect()
}

#[test]
fn a_goal_of_another_kind_than_its_measure_is_an_error() {
    let share = "share of time when core above 37.0 °C, goal";
    let length = "length of time when core above 37.0 °C, goal";
    let area = "area of core above 37.0 °C, goal";
    for (measure, code) in [
        (format!("{share} at least 95"), "unit-mismatch"),
        (format!("{share} at least 5 h"), "unit-mismatch"),
        (format!("{share} at least 5 % h"), "unit-mismatch"),
        (format!("{share} at least 100.1 %"), "off-scale"),
        (format!("{share} at most 100 %"), "idle-goal"),
        (format!("{share} at least 0 %"), "idle-goal"),
        (format!("{length} at most 95 %"), "unit-mismatch"),
        (format!("{length} at most 2.0 °C h"), "unit-mismatch"),
        (format!("{length} at most 1 month"), "unit-mismatch"),
        (format!("{length} at least 0 h"), "idle-goal"),
        (format!("{area} at most 2.0 °C"), "unit-mismatch"),
        (format!("{area} at most 2.0 °C/h"), "unit-mismatch"),
        (format!("{area} at most 2 h"), "unit-mismatch"),
        (
            "area of shiver above 1, goal at most 2".to_owned(),
            "unit-mismatch",
        ),
        (
            "area of shiver above 1, goal at most 2 °C h".to_owned(),
            "unit-mismatch",
        ),
        (
            "area of sugar above 10.0 mmol/L, goal at most 2 mg/dL h".to_owned(),
            "unit-mismatch",
        ),
        (
            "area of sugar above 10.0 mmol/L, goal at most 2 mmol/L".to_owned(),
            "unit-mismatch",
        ),
    ] {
        let said = found(&measure);
        assert!(
            said.contains(&format!("error[{code}]")),
            "{measure}\n{said}"
        );
    }
    for fine in [
        format!("{share} at least 100 %"),
        format!("{share} at most 0 %"),
        format!("{length} at most 0 min"),
        "area of sugar above 10.0 mmol/L during hold, guard, goal at most 2.5 mmol/L h".to_owned(),
        "area of shiver above 1, goal at most 0 h".to_owned(),
    ] {
        assert_eq!(found(&fine), "", "{fine}");
    }
    insta::assert_snapshot!(found(
        "area of core above 37.0 °C during guard, goal at most 2.0 °C/h"
    ));
}

#[test]
fn a_goal_goes_through_the_rule_file_and_a_changed_one_is_a_change() {
    let measures = [
        "share of time when core above 37.0 °C, goal at most 5 %",
        "share of time when core above 37.0 °C, goal at most 4 %",
        "share of time when core above 37.0 °C, goal at least 4 %",
        "share of time when core above 37.0 °C",
        "length of time when core above 37.0 °C, goal at most 1 h",
        "area of core above 37.0 °C during hold, goal at most 1.0 °C h",
        "area of sugar above 10.0 mmol/L, goal at least 2.5 mmol/L h",
        "area of shiver above 1, goal at most 6 h",
    ];
    let made: Vec<model::Protocol> = measures.iter().map(|it| protocol(&with(it))).collect();
    for (protocol, measure) in made.iter().zip(measures) {
        let bytes = rules::to_bytes(&rules::export(protocol));
        let (read, _) = rules::read_protocol(&bytes).expect(measure);
        let back = rules::to_model(&read.file).expect(measure);
        assert_eq!(
            rules::fingerprint(&back),
            rules::fingerprint(protocol),
            "{measure}"
        );
        let goal = |protocol: &model::Protocol| {
            protocol
                .measures
                .last()
                .and_then(|it| it.goal.as_ref())
                .map(ToString::to_string)
        };
        assert_eq!(goal(&back), goal(protocol));
    }
    let change = |old: usize, new: usize| {
        let all = changes(&made[old], &made[new]);
        assert_eq!(all.len(), 1, "{all:?}");
        (
            all[0].what.clone(),
            all[0].verdict,
            all[0].from.clone(),
            all[0].to.clone(),
        )
    };
    let (what, verdict, from, to) = change(0, 1);
    assert_eq!((what.as_str(), verdict), ("goal", Verdict::Stricter));
    assert_eq!(
        (from.as_deref(), to.as_deref()),
        (Some("at most 5\u{a0}%"), Some("at most 4\u{a0}%"))
    );
    assert_eq!(change(1, 0).1, Verdict::Looser);
    assert_eq!(change(1, 2).1, Verdict::Different);
    assert_eq!(change(3, 0).1, Verdict::Stricter);
    assert_eq!(change(0, 3).1, Verdict::Looser);
}
