//! What stands beside the fields, and when there is no sheet.

use super::{Engine, Root, Texts};
use serde_json::{Value, json};
use std::path::Path;

/// 2026-11-25 14:45 in London.
const NOW: i64 = 1_795_617_900;

fn texts(change: impl Fn(&str, String) -> String) -> Texts {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut texts = Texts {
        files: Default::default(),
        roots: Vec::new(),
    };
    for folder in ["protocols", "protocols/shared"] {
        for entry in std::fs::read_dir(root.join(folder)).expect("the folder") {
            let path = entry.expect("an entry").path();
            if path.extension().is_some_and(|ending| ending == "protocol") {
                let name = path.file_name().and_then(|name| name.to_str());
                let name = format!("{folder}/{}", name.expect("a plain name"));
                let text = std::fs::read_to_string(&path).expect("UTF-8");
                texts.files.insert(name.clone(), change(&name, text));
                if folder == "protocols" {
                    texts.roots.push(Root {
                        path: name,
                        withheld: None,
                    });
                }
            }
        }
    }
    texts.roots.sort_by(|one, other| one.path.cmp(&other.path));
    texts
}

fn engine() -> Engine {
    Engine::new(texts(|_, text| text))
}

/// In the order of the paths.
const ARREST: usize = 1;
const NEWBORN: usize = 4;

fn ask(engine: &mut Engine, question: Value) -> Value {
    serde_json::from_str(&engine.answer(&question.to_string())).expect("JSON")
}

fn sheet(engine: &mut Engine, protocol: usize, fields: Value) -> Value {
    let question = json!({"ask": "sheet", "protocol": protocol, "now": NOW, "fields": fields});
    ask(engine, question)["sheet"].clone()
}

/// As the page shows it.
fn beside(answer: &Value, id: &str) -> String {
    let found = &answer["fields"][id];
    let mut lines = vec![format!("{}", found["state"].as_str().unwrap_or("?"))];
    for part in ["said", "note", "problem", "why", "help"] {
        if let Some(text) = found[part].as_str().filter(|text| !text.is_empty()) {
            lines.push(format!("  {part}: {text}"));
        }
    }
    for choice in found["choices"].as_array().into_iter().flatten() {
        let day = choice["day"].as_str().map(|day| format!(", {day}"));
        lines.push(format!(
            "  [{}] = {}{}",
            choice["label"].as_str().unwrap_or("?"),
            choice["text"].as_str().unwrap_or("?"),
            day.unwrap_or_default()
        ));
    }
    lines.join("\n")
}

#[test]
fn one_wrong_entry_of_each_kind() {
    let mut engine = engine();
    let start = json!({"text": "1430"});
    let mut told = String::new();
    for (protocol, id, text, day) in [
        (ARREST, "start", "1430", ""),
        (ARREST, "start", "2.30 pm", ""),
        (ARREST, "start", "2:30", ""),
        (ARREST, "start", "half two", ""),
        (ARREST, "start", "24:00", ""),
        (ARREST, "start", "0300", "2026-11-24"),
        (ARREST, "start", "23:00", "2026-11-27"),
        (ARREST, "weight", "82.5 kg", ""),
        (ARREST, "weight", "180 lb", ""),
        (ARREST, "weight", "82,5", ""),
        (ARREST, "weight", "820", ""),
        (ARREST, "weight", "82 stones", ""),
        (ARREST, "weight", "082", ""),
        (NEWBORN, "weight", "2400", ""),
        (NEWBORN, "weight", "2400 g", ""),
        (ARREST, "mark:rosc", "1305", ""),
        (ARREST, "mark:rosc", "2350", ""),
        (ARREST, "mark:rosc", "0500", ""),
        (ARREST, "reading:core", "96.8", ""),
        (ARREST, "reading:core", "36.45", ""),
        (ARREST, "reading:core", "38.0", ""),
        (ARREST, "reading:core", "cold", ""),
        (ARREST, "reached:cool", "1740", ""),
        (ARREST, "reached:cool", "1400", ""),
        (ARREST, "reached:rewarm", "1500", ""),
    ] {
        let mut fields = json!({ id: {"text": text, "day": day} });
        if id != "start" {
            fields["start"] = start.clone();
        }
        let answer = sheet(&mut engine, protocol, fields);
        told.push_str(&format!("{id} = {text} {day}\n{}\n\n", beside(&answer, id)));
        let good = answer["fields"][id]["state"] == "good";
        assert_eq!(good, answer["sheet"].is_object(), "{id} = {text}");
    }
    insta::assert_snapshot!(told);
}

#[test]
fn the_nights_on_which_the_clocks_change_are_asked_about() {
    let mut engine = engine();
    let mut told = String::new();
    for (text, day, now) in [
        ("0130", "2026-10-25", 1_792_900_000),
        ("01:30 +00:00", "2026-10-25", 1_792_900_000),
        ("0130", "2027-03-28", 1_806_200_000),
    ] {
        let answer = ask(
            &mut engine,
            json!({"ask": "sheet", "protocol": ARREST, "now": now,
                   "fields": {"start": {"text": text, "day": day}}}),
        );
        told.push_str(&format!(
            "{text} {day}\n{}\n\n",
            beside(&answer["sheet"], "start")
        ));
    }
    insta::assert_snapshot!(told);
}

#[test]
fn nothing_is_printed_after_the_day_of_review() {
    let mut engine = engine();
    // 2027-06-30 is the last day; the PC's clock says 12:00 of the day after.
    let now = 1_814_439_600;
    for (day, good) in [("2027-06-30", true), ("2027-07-01", false)] {
        let answer = ask(
            &mut engine,
            json!({"ask": "sheet", "protocol": ARREST, "now": now,
                   "fields": {"start": {"text": "2200", "day": day}}}),
        );
        // A case that began in time may be printed again when its target is reached.
        assert_eq!(answer["sheet"]["sheet"].is_object(), good, "{day}");
        assert_eq!(answer["sheet"]["refused"].is_null(), good, "{day}");
    }
    let blank = ask(
        &mut engine,
        json!({"ask": "blank", "protocol": ARREST, "now": now}),
    );
    insta::assert_json_snapshot!(blank["sheet"]["refused"]);
    assert!(blank["sheet"]["sheet"].is_null());
    // A library's review counts as the protocol's own.
    let mut old = Engine::new(texts(|name, text| {
        if name.starts_with("protocols/shared/") {
            assert!(text.contains("review 20"), "{name}");
            text.replace("review 2027", "review 2025")
                .replace("review 2028", "review 2025")
        } else {
            text
        }
    }));
    let blank = ask(
        &mut old,
        json!({"ask": "blank", "protocol": ARREST, "now": NOW}),
    );
    let refused = blank["sheet"]["refused"]["title"].as_str().unwrap_or("");
    assert!(refused.contains("was due on 2025"), "{refused}");
}

#[test]
fn only_an_approved_protocol_prints_without_the_draft_mark() {
    let mut engine = engine();
    let listed = engine.listed().expect("a list");
    assert!(listed.iter().all(|one| one.draft), "the demos are drafts");
    let print = listed[ARREST].fingerprint.clone();
    let approved = |print: &str| {
        let line = format!(
            "\n  review 2027-06-30\n  approved by \"Dr Example\" on 2026-11-01 as \"{print}\"\n"
        );
        Engine::new(texts(|name, text| match name {
            "protocols/adult-arrest-33.protocol" => text.replace("\n  review 2027-06-30\n", &line),
            _ => text,
        }))
    };
    let mut good = approved(&print);
    let answer = sheet(&mut good, ARREST, json!({"start": {"text": "1430"}}));
    assert_eq!(answer["sheet"]["draft"], false, "{answer}");
    assert!(!good.listed().expect("a list")[ARREST].draft);
    let mut other = approved(&print.replace('a', "b"));
    let answer = sheet(&mut other, ARREST, json!({"start": {"text": "1430"}}));
    assert_eq!(answer["sheet"]["draft"], true);
}

#[test]
fn a_question_that_makes_no_sense_is_a_fault_and_no_sheet() {
    let mut engine = engine();
    for question in [
        json!({"ask": "sheet"}),
        json!({"ask": "sheet", "protocol": 99, "now": NOW, "fields": {}}),
        json!({"ask": "sheet", "protocol": 1, "now": NOW, "fields": {"name": {"text": "x"}}}),
        json!({"ask": "sheet", "protocol": 1, "now": i64::MAX, "fields": {}}),
        json!("sheet"),
    ] {
        let answer = ask(&mut engine, question.clone());
        assert!(answer["fault"].is_string(), "{question}: {answer}");
    }
    assert!(engine.answer("").contains("fault"));
}

#[test]
fn the_day_follows_the_start_and_the_field_that_waits_says_so() {
    let mut engine = engine();
    let answer = sheet(
        &mut engine,
        ARREST,
        json!({"mark:rosc": {"text": "1305"}, "start": {"text": "", "day": "2026-11-24"}}),
    );
    assert_eq!(answer["fields"]["mark:rosc"]["state"], "waiting");
    assert_eq!(answer["fields"]["mark:rosc"]["day"], "2026-11-24");
    assert_eq!(
        answer["fields"]["reached:cool"]["day"], "2026-11-25",
        "today"
    );
    assert_eq!(answer["needed"], json!(["Start"]));
    assert!(answer["sheet"].is_null());
}

proptest::proptest! {
    #![proptest_config(proptest::prelude::ProptestConfig {
        cases: 200,
        failure_persistence: None,
        ..proptest::prelude::ProptestConfig::default()
    })]

    /// Whatever is typed, there is an answer, and a sheet only where every entry is good.
    #[test]
    fn anything_may_be_typed(start in "\\PC{0,12}", weight in "[0-9.,/ kglb°-]{0,9}", mark in "[0-9:+. apmh]{0,9}", core in "\\PC{0,9}") {
        thread_local! {
            static ENGINE: std::cell::RefCell<Engine> = std::cell::RefCell::new(engine());
        }
        ENGINE.with_borrow_mut(|engine| {
            let fields = json!({
                "start": {"text": start, "day": "2026-11-25"},
                "weight": {"text": weight},
                "mark:rosc": {"text": mark},
                "reading:core": {"text": core},
            });
            let answer = sheet(engine, ARREST, fields);
            let states: Vec<&str> = answer["fields"].as_object().expect("fields").values()
                .filter_map(|found| found["state"].as_str()).collect();
            if answer["sheet"].is_object() {
                assert!(states.iter().all(|state| matches!(*state, "good" | "empty")));
            }
        });
    }
}
