//! Free text that is markup, a script, a link or a template, in every HTML page that the program
//! writes, in a real browser: nothing runs, nothing is asked for, and the words stand there.
//!
//! The oracle of the shape is the same page with plain words in place of the hostile ones: no
//! element and no attribute may be there that is not there too.

#![cfg(unix)]
#![allow(clippy::expect_used, clippy::panic)] // a test says so by panicking

use serde_json::{Value, json};
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::process::Command;

#[path = "support/laden.rs"]
mod laden;
#[allow(dead_code)] // only the browser is needed
mod outside;

/// What is written, and what a reader then sees where a text is Markdown.
const HOSTILE: [(&str, &str); 13] = [
    (
        "</title></style></textarea></script></noscript></iframe>",
        "</title></style></textarea></script></noscript></iframe>",
    ),
    (
        "<script>(window.hits=window.hits||[]).push('script')</script>",
        "<script>(window.hits=window.hits||[]).push('script')</script>",
    ),
    (
        "<script>alert('dialog')</script>",
        "<script>alert('dialog')</script>",
    ),
    (
        "<img src=x onerror=(window.hits=window.hits||[]).push('image')>",
        "<img src=x onerror=(window.hits=window.hits||[]).push('image')>",
    ),
    (
        "\"'><svg onload=(window.hits=window.hits||[]).push('svg')>",
        "\"'><svg onload=(window.hits=window.hits||[]).push('svg')>",
    ),
    (
        "<img src=http://127.0.0.1:9/beacon>",
        "<img src=http://127.0.0.1:9/beacon>",
    ),
    (
        "<a href=javascript:alert(1)>press</a>",
        "<a href=javascript:alert(1)>press</a>",
    ),
    (
        "<iframe srcdoc=\"<script>parent.hits.push('frame')</script>\"></iframe>",
        "<iframe srcdoc=\"<script>parent.hits.push('frame')</script>\"></iframe>",
    ),
    (
        "<style>body{display:none}</style>",
        "<style>body{display:none}</style>",
    ),
    (
        "{{7+7}} ${7+7} <%= 7+7 %> {texts} {script} $& $1 $`",
        "{{7+7}} ${7+7} <%= 7+7 %> {texts} {script} $& $1 $",
    ),
    ("[pushed](javascript:alert(2))", "pushed"),
    ("![seen](http://127.0.0.1:9/seen)", "seen"),
    ("&#60;u&#62; <!-- hidden", "<u> <!-- hidden"),
];

const PLAIN: &str = "plainly";

/// What Markdown may make of them, none of which does anything.
const OF_MARKDOWN: [&str; 3] = ["strong", "em", "code"];

fn hostile() -> String {
    let all: Vec<&str> = HOSTILE.iter().map(|(written, _)| *written).collect();
    all.join(" ")
}

/// Turns the direction of reading, and controls.
const TURNING: &str = "\u{202e}\u{2066}\u{9b}\u{1b}";

/// A file's name cannot hold a `/`.
const NAME: &str = "\"><img src=x onerror=(window.hits=window.hits||[]).push('name')>";

fn run(folder: &Path, arguments: &[&str]) {
    let output = Command::new(env!("CARGO_BIN_EXE_tempwright"))
        .current_dir(folder)
        .args(arguments)
        .env("SOURCE_DATE_EPOCH", "1795435200")
        .output()
        .expect("the program starts");
    assert!(
        matches!(output.status.code(), Some(0 | 1)),
        "{arguments:?}: {}{}",
        String::from_utf8_lossy(&output.stdout),
        String::from_utf8_lossy(&output.stderr)
    );
}

/// A project of which every text carries `text`, every file's name `name` and the log `cell`, and
/// in it all pages: the sheet, the audit, the comparison with another version, the kit.
fn pages(folder: &Path, text: &str, name: &str, cell: &str) -> (Vec<PathBuf>, PathBuf) {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let read = |path: &str| std::fs::read_to_string(root.join(path)).expect("a protocol");
    let write = |path: &str, text: &str| {
        let path = folder.join(path);
        std::fs::create_dir_all(path.parent().expect("a folder")).expect("made");
        std::fs::write(path, text).expect("written");
    };
    let library = "protocols/shared/route-forced-air.protocol";
    let whole = read("protocols/theatre-warmth.protocol");
    let changed = whole
        .replace(
            "core below 36.0 °C during asleep",
            "core below 35.5 °C during asleep",
        )
        .replace("dose 25 mg iv", "dose 20 mg iv")
        .replace("phase ward", "phase bed")
        .replace("ward", "bed");
    assert_ne!(whole, changed);
    write(".git/HEAD", "");
    write(library, &laden::file(&read(library), text));
    let protocol = format!("protocols/{name}.protocol");
    write(&protocol, &laden::file(&whole, text));
    let other = format!("protocols/old {name}.protocol");
    write(&other, &laden::file(&changed, &format!("{text} before")));
    let quoted = cell.replace('"', "\"\"");
    write(
        &format!("cases/{name}.csv"),
        &format!(
            "time,awake-core (°C),\"{quoted}\",arrival,induction\n0:00,36.5,1,yes,\n\
             0:15,\"{quoted}\",2,,\n\"{quoted}\",36.4,3,,\n0:45,36.4,4,,\"{quoted}\"\n"
        ),
    );
    write(
        "cases/second.csv",
        "time,awake-core\n0:00,36.5\n1:00,35.1\n",
    );
    let log = format!("cases/{name}.csv");
    let to = |name: &str| folder.join(name).display().to_string();
    for arguments in [
        &["sheet", &protocol, "-o", &to("blank.html")][..],
        &[
            "sheet",
            &protocol,
            "--start",
            "2026-11-24T14:30",
            "--weight",
            "82 kg",
            "-o",
            &to("case.html"),
        ],
        &["sheet", &protocol, "--log", &log, "-o", &to("logged.html")],
        &["audit", &protocol, "cases", "-o", &to("audit.html")],
        &[
            "compare",
            &other,
            &protocol,
            "--format",
            "html",
            "-o",
            &to("compare.html"),
        ],
        &["kit", &protocol, "-o", &to("kit.html")],
    ] {
        run(folder, arguments);
    }
    let made = ["blank", "case", "logged", "audit", "compare"];
    let made = made.map(|name| folder.join(format!("{name}.html")));
    (made.to_vec(), folder.join("kit.html"))
}

/// A page into which the texts were let as they are: in its title, its style, an attribute, its body.
fn let_in(text: &str) -> String {
    format!(
        "<!DOCTYPE html><html><head><title>{text}</title><style>{text}</style></head>\
         <body><p title=\"{text}\">{text}</p></body></html>"
    )
}

fn list(value: &Value) -> Vec<String> {
    let all = value.as_array().expect("a list").iter();
    all.map(|one| one.as_str().expect("a text").to_owned())
        .collect()
}

fn kinds(value: &Value) -> BTreeSet<String> {
    list(&value["kinds"]).into_iter().collect()
}

/// Nothing ran, and nothing but the file was asked for.
fn quiet(value: &Value, place: &str) {
    for what in ["hits", "dialogs", "console"] {
        assert_eq!(
            value[what].as_array().map_or(0, Vec::len),
            0,
            "{place}: {what}: {}",
            value[what]
        );
    }
    let path = value["path"].as_str().unwrap_or_default();
    if let Some(requests) = value["requests"].as_array() {
        for one in requests {
            let one = one.as_str().expect("an address");
            let own = one.starts_with("data:")
                || one == "about:srcdoc"
                || (!path.is_empty() && one == format!("file://{path}"));
            assert!(own, "{place}: asked for {one}");
        }
    }
}

/// Made of nothing that the plain page is not made of.
fn shaped(value: &Value, plain: &Value, place: &str) {
    let more: Vec<String> = kinds(value)
        .difference(&kinds(plain))
        .filter(|kind| !OF_MARKDOWN.contains(&kind.as_str()))
        .cloned()
        .collect();
    assert!(more.is_empty(), "{place}: there are also {more:?}");
}

fn read(value: &Value) -> String {
    let text = value["text"].as_str().expect("a text");
    let text = text.replace('\u{a0}', " ");
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// The words stand there, and none turns the direction of what is beside it.
fn told(value: &Value, place: &str) {
    let text = read(value);
    for (_, shown) in HOSTILE {
        assert!(
            text.contains(shown),
            "{place}: `{shown}` does not stand there: {text}"
        );
    }
    turns_nothing(value, place);
}

fn turns_nothing(value: &Value, place: &str) {
    let text = value["text"].as_str().expect("a text");
    let turns = text.char_indices().find(|(_, one)| {
        (one.is_control() && !matches!(one, '\n' | '\t')) || TURNING.contains(*one)
    });
    let around = turns.map(|(at, _)| {
        text.chars()
            .skip(text[..at].chars().count().saturating_sub(40))
            .take(80)
            .collect::<String>()
    });
    assert_eq!(turns, None, "{place}: {around:?}");
}

#[test]
fn no_page_runs_what_stands_in_a_text() {
    let (evil, plain) = (
        tempfile::tempdir().expect("a folder"),
        tempfile::tempdir().expect("a folder"),
    );
    let text = hostile();
    let cell = format!("{text} {TURNING}");
    let (name, cell) = (format!("{NAME}\u{202e}"), cell.as_str());
    let (made, kit) = pages(evil.path(), &text, &name, cell);
    let (same, same_kit) = pages(plain.path(), PLAIN, PLAIN, PLAIN);
    let open = evil.path().join("open.html");
    std::fs::write(&open, let_in(&text)).expect("written");
    let mut all = vec![open];
    all.extend(made.iter().cloned());
    all.extend(same.iter().cloned());
    let good = json!({"field-start": "14:30", "field-weight": "82"});
    let task = json!({
        "pages": all,
        "kits": [
            {"page": kit, "now": 1_795_530_600, "cases": [cell, good]},
            {"page": same_kit, "now": 1_795_530_600, "cases": [PLAIN, good]},
        ],
    });
    let file = evil.path().join("task.json");
    std::fs::write(&file, task.to_string()).expect("written");
    let Some(said) = outside::node("hostile_pages.js", &[file.to_str().expect("UTF-8")]) else {
        return;
    };
    let seen: Value = serde_json::from_str(&said).expect("JSON");
    let seen_pages = seen["pages"].as_array().expect("a list");
    let (open, rest) = seen_pages.split_first().expect("pages");
    the_detector_fires(open, &rest[made.len()]);
    let (evil, plain) = rest.split_at(made.len());
    assert_eq!((evil.len(), plain.len()), (5, 5));
    for (one, plain) in evil.iter().zip(plain) {
        let place = one["path"].as_str().expect("a path");
        quiet(one, place);
        quiet(plain, place);
        shaped(one, plain, place);
        told(one, place);
    }
    kits(&seen["kits"]);
}

fn kits(seen: &Value) {
    let [evil, plain] = seen.as_array().expect("a list").as_slice() else {
        panic!("two kits");
    };
    quiet(evil, "the kit");
    quiet(plain, "the kit");
    let states = |kit: &Value| kit["states"].as_array().expect("a list").clone();
    let (evil, plain) = (states(evil), states(plain));
    let names: Vec<&str> = evil.iter().filter_map(|one| one["name"].as_str()).collect();
    assert_eq!(
        names,
        [
            "list",
            "chosen",
            "typed",
            "filled",
            "filled, alone",
            "blank",
            "blank, alone",
            "reading",
            "reading, alone",
            "source",
            "back"
        ]
    );
    for (one, plain) in evil.iter().zip(&plain) {
        assert_eq!(one["name"], plain["name"]);
        let place = format!("the kit, {}", one["name"]);
        quiet(one, &place);
        shaped(one, plain, &place);
        told(one, &place);
        // A title that is put into a message is put there whole, as often as a plain one.
        if one["name"] == "typed" {
            let often = read(one).matches("$& $1 $").count();
            assert_eq!(often, read(plain).matches(PLAIN).count(), "{place}");
        }
    }
}

/// Or the rest would prove nothing.
fn the_detector_fires(open: &Value, plain: &Value) {
    let hits: BTreeSet<String> = list(&open["hits"]).into_iter().collect();
    let wanted = ["frame", "image", "script", "svg"];
    assert_eq!(hits, wanted.map(str::to_owned).into());
    assert!(
        list(&open["dialogs"]).contains(&"dialog".to_owned()),
        "{}",
        open["dialogs"]
    );
    let requests = list(&open["requests"]);
    assert!(
        requests.contains(&"http://127.0.0.1:9/beacon".to_owned()),
        "{requests:?}"
    );
    assert!(!list(&open["console"]).is_empty());
    let more: BTreeSet<String> = kinds(open).difference(&kinds(plain)).cloned().collect();
    for kind in [
        "script",
        "img[onerror]",
        "svg[onload]",
        "iframe[srcdoc]",
        "href=javascript:",
    ] {
        assert!(more.contains(kind), "{kind}: {more:?}");
    }
    for found in [
        std::panic::catch_unwind(|| quiet(open, "")),
        std::panic::catch_unwind(|| shaped(open, plain, "")),
        std::panic::catch_unwind(|| told(open, "")),
    ] {
        assert!(found.is_err(), "let through");
    }
}
