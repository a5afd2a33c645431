//! What other systems are given: the PlanDefinition of FHIR R4, the schedule as CSV
//! and the calendar. Each is read by programs that others have written.

#![allow(clippy::expect_used, clippy::panic)] // a test says so by panicking

mod outside;
mod support;

use serde_json::Value;
use std::io::Write;
use std::path::Path;
use std::process::{Command, Stdio};
use support::{library, paths, protocol};
use tempwright::plan::Case;
use tempwright::rules::{self, NoCalendar};

/// What the script prints; `None` where node or its module is missing.
fn node(script: &str, input: &str) -> Option<String> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let modules = root.join("target/outside/node_modules");
    if !modules.is_dir() {
        assert!(
            std::env::var_os("CI").is_none(),
            "{script} must run here: see the npm line of .ci/run"
        );
        eprintln!("SKIPPED: {script} needs the npm line of .ci/run");
        return None;
    }
    let mut child = Command::new("node")
        .arg(root.join("tests/outside").join(script))
        .env("NODE_PATH", modules)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("node is there");
    let mut stdin = child.stdin.take().expect("piped");
    stdin.write_all(input.as_bytes()).expect("it reads");
    drop(stdin);
    let output = child.wait_with_output().expect("it ends");
    assert!(output.status.success(), "{script} failed");
    Some(String::from_utf8(output.stdout).expect("UTF-8"))
}

/// The protocols whose outputs are kept in `out/`.
const DEMOS: [&str; 6] = [
    "accidental-hypothermia",
    "adult-arrest-33",
    "adult-arrest-normothermia",
    "heat-stroke",
    "newborn-cooling",
    "theatre-warmth",
];

fn kept(demo: &str, file: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("out")
        .join(demo)
        .join(file);
    std::fs::read_to_string(path).expect("it is kept")
}

fn plan_definitions() -> Vec<(String, Value)> {
    let library = library();
    paths(&library)
        .into_iter()
        .map(|path| {
            let made = rules::fhir(&protocol(&library, &path));
            (path, made)
        })
        .chain(DEMOS.map(|demo| {
            let text = kept(demo, "plan-definition.json");
            let made = serde_json::from_str(&text).expect("JSON");
            (format!("protocols/{demo}.protocol"), made)
        }))
        .collect()
}

#[test]
fn plan_definitions_fit_the_json_schema_of_r4() {
    let made = plan_definitions();
    let mut lines: Vec<String> = made.iter().map(|(_, one)| one.to_string()).collect();
    // A wrong code must be seen, or the validator proves nothing.
    let mut wrong = made[0].1.clone();
    wrong["status"] = Value::from("approved");
    lines.push(wrong.to_string());
    let Some(said) = node("fhir_schema.js", &lines.join("\n")) else {
        return;
    };
    let said: Vec<&str> = said.lines().collect();
    assert_eq!(said.len(), made.len() + 1);
    for ((path, _), said) in made.iter().zip(&said) {
        assert_eq!(*said, "ok", "{path}");
    }
    assert_ne!(said.last(), Some(&"ok"));
}

#[test]
fn plan_definitions_are_read_by_another_library() {
    let made = plan_definitions();
    let input: String = made.iter().map(|(_, one)| format!("{one}\n")).collect();
    if let Some(said) = outside::python("fhir_r4b.py", "fhir.resources.R4B", &[], &input) {
        assert_eq!(said.lines().count(), made.len());
    }
}

#[test]
fn a_plan_definition_names_what_it_points_at_and_no_number_is_bent() {
    let library = library();
    for (path, made) in plan_definitions() {
        let text = made.to_string();
        let contained: Vec<&str> = made["contained"]
            .as_array()
            .map(|list| list.iter().filter_map(|one| one["id"].as_str()).collect())
            .unwrap_or_default();
        for part in text.split("\"definitionCanonical\":\"#").skip(1) {
            let name = part.split('"').next().expect("a name");
            assert!(contained.contains(&name), "{path}: {name}");
        }
        let actions: Vec<&str> = made["action"]
            .as_array()
            .expect("actions")
            .iter()
            .filter_map(|action| action["id"].as_str())
            .collect();
        let mut unique = actions.clone();
        unique.sort_unstable();
        unique.dedup();
        assert_eq!(unique.len(), actions.len(), "{path}");
        for part in text.split("\"actionId\":\"").skip(1) {
            let name = part.split('"').next().expect("a name");
            assert!(actions.contains(&name), "{path}: {name}");
        }
        let protocol = protocol(&library, &path);
        assert_eq!(
            made["goal"].as_array().map(Vec::len),
            Some(protocol.phases.len())
        );
        assert_eq!(made["status"], "draft", "{path}: nobody has approved it");
    }
    let path = "protocols/adult-arrest-33.protocol";
    let made = rules::fhir(&protocol(&library, path));
    assert_eq!(
        made["goal"][1]["target"][0]["detailRange"].to_string(),
        r#"{"high":{"code":"Cel","system":"http://unitsofmeasure.org","unit":"°C","value":33.5},"low":{"code":"Cel","system":"http://unitsofmeasure.org","unit":"°C","value":32.5}}"#
    );
}

#[test]
fn only_an_approval_of_this_very_meaning_makes_it_active() {
    let library = library();
    let path = "protocols/adult-arrest-33.protocol";
    let meaning = rules::fingerprint(&protocol(&library, path));
    let status = |approved: &str| {
        let mut changed = library.clone();
        let line =
            format!("  approved by \"A committee\" on 2026-11-02 as \"{approved}\"\n  title ");
        let text = library.files[path].replacen("  title ", &line, 1);
        changed.files.insert(path.to_owned(), text);
        rules::fhir(&protocol(&changed, path))["status"].clone()
    };
    assert_eq!(status(&meaning), "active");
    assert_eq!(status(meaning.get(..16).expect("long")), "active");
    assert_eq!(status("0000000000000000"), "draft");
    assert_eq!(status("4"), "draft");
}

fn case(path: &str, start: &str) -> (tempwright::model::Protocol, Case) {
    let protocol = protocol(&library(), path);
    let case = Case::starting(&protocol, start).expect("a start");
    (protocol, case)
}

#[test]
fn the_schedule_has_every_due_line_once() {
    let (protocol, case) = case("protocols/adult-arrest-33.protocol", "2026-10-24T22:30");
    let text = rules::schedule_csv(&protocol, &case).expect("a schedule");
    let due = tempwright::plan::schedule(&protocol, &case).expect("a schedule");
    assert!(text.starts_with('\u{feff}'));
    let lines: Vec<&str> = text.split_terminator("\r\n").collect();
    assert_eq!(lines.len(), 1 + due.due.len() + due.layout.len());
    assert!(text.contains("0:00,2026-10-24T22:30:00+01:00,"), "{text}");
    // The night on which the clocks go back: both hours are told apart.
    assert!(text.contains("2:30,2026-10-25T01:00:00+01:00,"));
    assert!(text.contains("3:30,2026-10-25T01:00:00+00:00,"));
    let blank = rules::schedule_csv(&protocol, &Case::default()).expect("a schedule");
    assert!(blank.contains("\r\n0:00,,"), "{blank}");
}

#[test]
fn the_calendar_is_read_by_another_library() {
    for (path, start) in [
        ("protocols/adult-arrest-33.protocol", "2026-10-24T22:30"),
        (
            "protocols/adult-arrest-normothermia.protocol",
            "2026-12-31T22:30",
        ),
        (
            "protocols/accidental-hypothermia.protocol",
            "2028-02-28T20:15",
        ),
        ("protocols/heat-stroke.protocol", "2027-03-28T00:50"),
        ("protocols/newborn-cooling.protocol", "2027-03-27T23:00"),
        ("protocols/theatre-warmth.protocol", "2027-06-01T07:45"),
    ] {
        let (protocol, case) = case(path, start);
        let text = rules::calendar(&protocol, &case).expect("a calendar");
        assert_eq!(rules::calendar(&protocol, &case).as_deref(), Ok(&*text));
        assert!(text.split("\r\n").all(|line| line.len() <= 75), "{path}");
        assert!(!text.replace("\r\n", "").contains(['\r', '\n']), "{path}");
        let due = tempwright::plan::schedule(&protocol, &case).expect("a schedule");
        let mut times: Vec<_> = due
            .due
            .iter()
            .map(|due| due.at)
            .chain(due.layout.iter().map(|laid| laid.start))
            .collect();
        times.sort_unstable();
        times.dedup();
        assert_eq!(text.matches("BEGIN:VEVENT").count(), times.len(), "{path}");
        let Some(said) = outside::python("calendar_read.py", "icalendar", &[], &text) else {
            continue;
        };
        let events: Vec<Value> = said
            .lines()
            .map(|line| serde_json::from_str(line).expect("JSON"))
            .collect();
        assert_eq!(events.len(), times.len(), "{path}");
        let mut uids: Vec<&str> = events
            .iter()
            .filter_map(|one| one["uid"].as_str())
            .collect();
        uids.sort_unstable();
        uids.dedup();
        assert_eq!(uids.len(), events.len(), "{path}");
        let clock = case.clock.as_ref().expect("a clock");
        for (event, at) in events.iter().zip(times) {
            let shown = clock.at(at, tempwright::plan::Round::Down).expect("a time");
            let instant: jiff::Timestamp = shown.machine().parse().expect("an instant");
            assert_eq!(event["at"], instant.to_string(), "{path}");
        }
        let first = events[0]["description"].as_str().expect("text");
        let title = &protocol.phases[0].title.markdown;
        assert!(first.contains(&format!("phase begins: {title}")), "{first}");
    }
}

/// The tables in `out/`, read by the general reader of another language.
#[test]
fn the_tables_are_read_by_another_library() {
    let tables: Vec<(&str, String)> = DEMOS
        .iter()
        .map(|demo| (*demo, kept(demo, "schedule.csv")))
        .collect();
    let input: String = tables
        .iter()
        .map(|(_, table)| format!("{}\n", Value::from(table.as_str())))
        .collect();
    let Some(said) = outside::python("csv_read.py", "csv", &[], &input) else {
        return;
    };
    assert_eq!(said.lines().count(), DEMOS.len());
    let library = library();
    for ((demo, _), said) in tables.iter().zip(said.lines()) {
        let rows: Vec<Vec<String>> = serde_json::from_str(said).expect("JSON");
        let protocol = protocol(&library, &format!("protocols/{demo}.protocol"));
        let due = tempwright::plan::schedule(&protocol, &Case::default()).expect("a schedule");
        assert_eq!(rows.len(), 1 + due.due.len() + due.layout.len(), "{demo}");
        assert!(rows.iter().all(|row| row.len() == 6), "{demo}");
        assert_eq!(rows[0][3], "what is due");
        for row in &rows[1..] {
            assert!(row[0].contains(':') && row[1].is_empty(), "{demo}: {row:?}");
            assert!(!row[3].is_empty() && !row[4].is_empty(), "{demo}: {row:?}");
        }
    }
}

#[test]
fn a_calendar_needs_a_start() {
    let protocol = protocol(&library(), "protocols/adult-arrest-33.protocol");
    let why = rules::calendar(&protocol, &Case::default()).expect_err("no clock");
    assert_eq!(why, NoCalendar::NoStart);
}
