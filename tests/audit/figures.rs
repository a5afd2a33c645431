//! What the figures come to, worked out by hand beside each.

use crate::case::{BODY, audit, protocol};
use tempwright::audit::{Auditor, Options, report, report_all, summary};
use tempwright::eval::Case;
use tempwright::quantity::Exact;

pub const LOG: &str = "time,core,shiver,rosc,water
-1:00,,,yes,
0:00,36.0,0,,
1:00,34.0,,,
2:00,33.0,1,,12.0
3:00,32.4,,,
3:20,33.6,2,,
4:00,33.0,,,
5:00,33.1,,,
6:00,33.5,0,,
7:00,34.1,,,
8:00,34.6,,,
9:00,35.0,,,
10:00,37.6,,,
11:00,37.4,,,
11:30,37.6,,,
12:00,37.5,,,
";

fn value(key: &str) -> Option<Exact> {
    audit(LOG)
        .figure(key)
        .unwrap_or_else(|| panic!("no figure `{key}`"))
        .value
}

fn is(key: &str, numerator: i64, denominator: i64) {
    assert_eq!(
        value(key),
        Some(Exact::ratio(numerator, denominator)),
        "{key}"
    );
}

#[test]
fn a_whole_case_as_text() {
    insta::assert_snapshot!(report(&audit(LOG)));
}

#[test]
fn time_to_target_from_the_phase_and_from_the_mark() {
    is("cool.time-to-target", 120, 1);
    is("cool.time-to-target-from-rosc", 180, 1);
    is("rewarm.time-to-target", 240, 1);
}

#[test]
fn shares_of_readings_and_of_time_differ() {
    // In the hold: 33.0, 32.4, 33.6, 33.0 and 33.1, which ends it: three of five.
    is("hold.readings", 5, 1);
    is("hold.share-of-readings-in-band", 3, 5);
    is("hold.share-of-readings-within-1", 1, 1);
    // 2:00 to 3:00 and 4:00 to 5:00, of three hours.
    is("hold.share-of-time-in-band", 2, 3);
    is("hold.time-known", 180, 1);
    is("hold.time-unknown", 0, 1);
}

#[test]
fn overshoot_and_undershoot_in_depth_and_minutes() {
    // 32.4 is 0.1 below 32.5 for 20 min; 33.6 is 0.1 above 33.5 for 40 min.
    is("hold.time-below-band", 20, 1);
    is("hold.depth-below-band", 1, 10);
    is("hold.time-above-band", 40, 1);
    is("hold.depth-above-band", 1, 10);
}

#[test]
fn the_fastest_rewarming_over_the_window_of_the_rule() {
    // In 2 h and a quarter of an hour: from 33.1 at 5:00 to 34.1 at 7:00 is 1.0; from
    // 33.5 at 6:00 to 34.6 at 8:00 is 1.1.
    is("rewarm.fastest-rise", 11, 10);
    // Cooling has no rule: an hour and a quarter of the interval; 36.0 to 34.0.
    is("cool.fastest-fall", 2, 1);
}

#[test]
fn breaches_of_the_fever_guard() {
    // 37.6 at 10:00 until 11:00 and again at 11:30 until 12:00; 37.5 itself is inside.
    is("guard.guard-breaches", 2, 1);
    is("guard.time-above-guard", 90, 1);
    is("guard.farthest-above-guard", 1, 10);
}

#[test]
fn entries_due_made_late_and_missed() {
    // Core is due at 0:00 to 12:00; the case ends at 12:00.
    let audit = audit(LOG);
    let count = |key: &str| {
        audit
            .figure(key)
            .and_then(|figure| figure.value)
            .unwrap_or(Exact::ZERO)
    };
    for reading in ["core", "shiver"] {
        let all = count(&format!("entries.{reading}.made"))
            + count(&format!("entries.{reading}.missed"))
            + count(&format!("entries.{reading}.open"));
        assert_eq!(all, count(&format!("entries.{reading}.due")), "{reading}");
    }
    // Shivering is due at 0:00, 2:00, … 10:00 and asked for by the rule at 3:00. Nothing is
    // there for 4:00 (3:20 is more than a quarter early), 8:00 and 10:00.
    assert_eq!(count("entries.shiver.due"), Exact::int(7));
    assert_eq!(count("entries.shiver.missed"), Exact::int(3));
}

#[test]
fn how_long_until_the_ordered_entry_was_recorded() {
    let audit = audit(LOG);
    let fired = audit
        .rules
        .iter()
        .find(|fired| fired.rule == "too-cold")
        .expect("it fired at 3:00");
    assert_eq!(fired.times, ["3:00"]);
    assert_eq!(fired.longest_answer.as_deref(), Some("0:20"));
    is("rule.too-cold.mean-answer", 20, 1);
    is("rule.too-cold.unanswered", 0, 1);
}

#[test]
fn the_protocols_own_measures() {
    // 0.6 °C for 20 min.
    is("measure.cold", 1, 5);
    is("measure.long-cold", 20, 1);
}

#[test]
fn over_three_cases() {
    let protocol = protocol(BODY);
    let auditor = Auditor::new(&protocol, Options::default());
    let logs = [
        ("first", LOG.to_owned()),
        ("second", LOG.replace("2:00,33.0", "2:00,33.4")),
        (
            "third",
            "time,core\n0:00,34.0\n1:00,33.0\n2:00,33.0\n".to_owned(),
        ),
    ];
    let audits: Vec<_> = logs
        .iter()
        .map(|(name, log)| {
            auditor
                .audit_text(name, log, &Case::default())
                .expect("memory can be read")
        })
        .collect();
    let all = summary(&audits);
    let text = report_all(&audits, &all);
    let together = text.split_once("All 3 cases").expect("a summary").1;
    insta::assert_snapshot!(together);
}

#[test]
fn dates_need_no_start_and_the_log_can_mark_it() {
    let log = "time,reading,value
2026-11-24T08:00,rosc,
2026-11-24T09:15,core,36.0
2026-11-24T10:15,core,33.0
";
    let audit_of = |log: &str| {
        let audit = audit(log);
        let time = |key: &str| audit.figure(key).and_then(|figure| figure.value);
        (
            audit.start.clone(),
            time("cool.time-to-target"),
            time("cool.time-to-target-from-rosc"),
        )
    };
    assert_eq!(
        audit_of(log),
        (
            Some("2026-11-24T09:15:00+00:00".to_owned()),
            Some(Exact::int(60)),
            Some(Exact::int(135))
        )
    );
    let marked = format!("{log}2026-11-24T09:00,start,\n");
    assert_eq!(
        audit_of(&marked),
        (
            Some("2026-11-24T09:00:00+00:00".to_owned()),
            Some(Exact::int(75)),
            Some(Exact::int(135))
        )
    );
}

#[test]
fn hours_stay_hours_over_the_night_on_which_clocks_change() {
    let audit = audit("time,core\n2026-10-24T23:30,36.0\n2026-10-25T02:30,33.0\n");
    let took = audit.figure("cool.time-to-target").and_then(|f| f.value);
    assert_eq!(took, Some(Exact::int(240)));
}

#[test]
fn long_is_the_same_as_wide() {
    let wide = audit("time,core,rosc,shiver\n0:00,36.0,x,1\n1:30,34.0,,\n");
    let long = audit(
        "Time;Name;Value\r\n0:00;core;36.0\r\n0:00;rosc;\r\n0:00;shiver;1\r\n1:30;Core temperature;34.0\r\n",
    );
    assert_eq!(wide.figures, long.figures);
    assert_eq!(wide.counted, long.counted);
}
