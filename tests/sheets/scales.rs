//! Both scales of temperature side by side, where the protocol asks for them; and a chart on the
//! scale of the display.

use crate::numbers::texts;
use crate::printed::{case_at, print};
use crate::support::{library, protocol};
use tempwright::document::{Block, Chart, Document, Paper};
use tempwright::model::Protocol;
use tempwright::plan::Case;
use tempwright::{model, rules};

const PATH: &str = "protocols/adult-arrest-33.protocol";

/// The demo protocol of adult cooling with some words changed, and all texts in quotes that it and
/// what it uses are made of.
fn changed(changes: &[(&str, &str)]) -> (Protocol, String) {
    let mut library = library();
    let mut text = library.files[PATH].clone();
    for (old, new) in changes {
        assert!(text.contains(old), "{old}");
        text = text.replace(old, new);
    }
    library.files.insert(PATH.to_owned(), text);
    let quoted = library.files.values().flat_map(|text| {
        // Every second piece between quotes stands in them.
        text.split('"').skip(1).step_by(2)
    });
    let quoted = quoted.collect::<Vec<_>>().join("\n");
    (protocol(&library, PATH), quoted)
}

fn in_both() -> (Protocol, String) {
    changed(&[("\n  version", "\n  show °C and °F\n  version")])
}

/// Each temperature of a text that the program has put there: where it begins, number, unit, and
/// what follows.
fn temperatures<'t>(text: &'t str, quoted: &str) -> Vec<(f64, &'t str, &'t str)> {
    let mut found = Vec::new();
    for (at, _) in text.match_indices(" °C") {
        let number_at = text[..at]
            .rfind(|c: char| !c.is_ascii_digit() && c != '.')
            .map_or(0, |before| {
                before + text[before..].chars().next().map_or(0, char::len_utf8)
            });
        let Ok(number) = text[number_at..at].parse::<f64>() else {
            continue;
        };
        let rest = &text[at + " °C".len()..];
        let unit = if rest.starts_with("/h") {
            "°C/h"
        } else {
            "°C"
        };
        let before: String = {
            let mut last: Vec<char> = text[..number_at].chars().rev().take(12).collect();
            last.reverse();
            last.into_iter().collect()
        };
        let said = format!("{before}{} {unit}", &text[number_at..at]);
        if !quoted.contains(&said) {
            found.push((number, unit, rest.trim_start_matches("/h")));
        }
    }
    found
}

fn all_texts(document: &Document) -> Vec<String> {
    texts(document)
        .iter()
        .map(|text| text.replace('\u{a0}', " "))
        .collect()
}

#[test]
fn every_temperature_stands_there_on_both_scales() {
    let (protocol, quoted) = in_both();
    let case = case_at(&protocol, "2026-11-24T14:30", "2026-11-24T13:25", "82 kg");
    let mut seen = 0;
    for case in [Case::default(), case] {
        for text in all_texts(&print(&protocol, &case, Paper::A4)) {
            for (number, unit, rest) in temperatures(&text, &quoted) {
                let other = rest
                    .strip_prefix(" (")
                    .and_then(|rest| rest.split_once(" °F"))
                    .unwrap_or_else(|| panic!("{number} {unit} alone in: {text}"));
                let is_rate = other.1.starts_with("/h)");
                assert_eq!(is_rate, unit == "°C/h", "{text}");
                let said: f64 = other.0.parse().unwrap_or_else(|_| panic!("{text}"));
                // A level has the 32, a difference or a rate has not; no level is below 10 °C here
                // but that of the water, and no difference reaches 5.
                let zero = if unit == "°C" && number > 5.0 {
                    32.0
                } else {
                    0.0
                };
                assert!((said - number * 1.8 - zero).abs() < 1e-9, "{text}");
                seen += 1;
            }
        }
    }
    assert!(seen > 100, "{seen}");
}

#[test]
fn a_temperature_alone_is_seen() {
    let quoted = "Warm to 36.0 °C slowly";
    assert_eq!(temperatures("above 37.7 °C", quoted), [(37.7, "°C", "")]);
    assert_eq!(
        temperatures("at 0.25 °C/h (0.45 °F/h)", quoted),
        [(0.25, "°C/h", " (0.45 °F/h)")]
    );
    assert_eq!(temperatures("Warm to 36.0 °C slowly", quoted), []);
}

#[test]
fn one_scale_is_shown_unless_both_are_asked_for() {
    let (protocol, _) = changed(&[]);
    let texts = all_texts(&print(&protocol, &Case::default(), Paper::A4));
    assert!(texts.iter().any(|text| text.contains("°C")));
    assert!(texts.iter().all(|text| !text.contains("°F")));
}

#[test]
fn the_targets_of_the_record_stand_on_both_scales() {
    let (protocol, _) = in_both();
    let texts = all_texts(&print(&protocol, &Case::default(), Paper::A4));
    for target in ["33.0 (91.4 °F)", "33.2 (91.76 °F)", "36.2 (97.16 °F)"] {
        assert!(texts.iter().any(|text| text == target), "{target}");
    }
}

#[test]
fn the_limits_over_the_columns_stand_on_both_scales() {
    let head = "≥ 32.0 (89.6 °F)";
    let texts = |protocol: &Protocol| all_texts(&print(protocol, &Case::default(), Paper::A4));
    let (both, _) = in_both();
    assert!(texts(&both).iter().any(|text| text.contains(head)));
    let (one, _) = changed(&[]);
    assert!(texts(&one).iter().any(|text| text.contains("≥ 32.0")));
    assert!(!texts(&one).iter().any(|text| text.contains(head)));
}

fn chart(document: &Document) -> &Chart {
    let found = document.blocks.iter().find_map(|block| match block {
        Block::Chart(chart) => Some(chart),
        _ => None,
    });
    found.expect("a chart")
}

#[test]
fn the_chart_has_the_scale_of_the_display() {
    let celsius = print(&changed(&[]).0, &Case::default(), Paper::A4);
    let (protocol, _) = changed(&[(
        "reading core \"Core temperature\" temperature at nasopharynx, continuous, shown to 0.1 °C",
        "reading core \"Core temperature\" temperature at nasopharynx, continuous, shown to 0.1 °F",
    )]);
    let fahrenheit = print(&protocol, &Case::default(), Paper::A4);
    let (c, f) = (chart(&celsius), chart(&fahrenheit));
    assert_eq!((c.unit.as_str(), f.unit.as_str()), ("°C", "°F"));
    for (one, other) in c.courses.iter().zip(&f.courses) {
        assert_eq!(one.points.len(), other.points.len());
        for (a, b) in one.points.iter().zip(&other.points) {
            assert_eq!(a.minute, b.minute);
            // Drawn to a thousandth of a degree.
            assert!(
                (b.milli * 5 - (a.milli * 9 + 160_000)).abs() <= 9,
                "{a:?} {b:?}"
            );
        }
    }
    assert!(f.low >= 85_000 && f.high <= 105_000, "{} {}", f.low, f.high);
}

#[test]
fn the_rule_file_keeps_both_scales_and_it_counts() {
    let ((one, _), (both, _)) = (changed(&[]), in_both());
    assert_ne!(rules::fingerprint(&one), rules::fingerprint(&both));
    let bytes = rules::to_bytes(&rules::export(&both));
    let (_, back) = rules::read_protocol(&bytes).expect("a file of our own");
    assert!(back.head.both_scales);
    let sheet = |protocol: &Protocol| all_texts(&print(protocol, &Case::default(), Paper::A4));
    assert_eq!(sheet(&back), sheet(&both));
}

#[test]
fn only_the_two_scales_can_be_shown() {
    for (wrong, name) in [
        ("show °C and kg", "unknown-unit"),
        ("show °F and °F", "unknown-unit"),
        ("show °F and degF", "unknown-unit"),
        ("show °F", "syntax"),
        ("show °C and °F\n  show °F and °C", "stated-twice"),
    ] {
        let mut library = library();
        let text =
            library.files[PATH].replacen("\n  version", &format!("\n  {wrong}\n  version"), 1);
        library.files.insert(PATH.to_owned(), text);
        let found = model::load(&library, &[PATH])
            .expect("in memory")
            .diagnostics;
        let names: Vec<&str> = found.iter().map(|found| found.name).collect();
        assert_eq!(names, [name], "{wrong}");
    }
}

#[test]
fn the_second_scale_of_the_chart_lies_where_it_says() {
    for (display, to_drawn) in [
        (
            "shown to 0.1 °C",
            (|other: f64| (other - 32.0) / 1.8) as fn(f64) -> f64,
        ),
        ("shown to 0.1 °F", |other: f64| other * 1.8 + 32.0),
    ] {
        let core = "reading core \"Core temperature\" temperature at nasopharynx, continuous, ";
        let (protocol, _) = changed(&[
            ("\n  version", "\n  show °C and °F\n  version"),
            (
                &format!("{core}shown to 0.1 °C"),
                &format!("{core}{display}"),
            ),
        ]);
        let document = print(&protocol, &Case::default(), Paper::A4);
        let drawn = chart(&document);
        let (unit, labels) = drawn.beside.as_ref().expect("a second scale");
        assert_ne!(*unit, drawn.unit);
        assert!(labels.len() >= 5, "{labels:?}");
        for (milli, label) in labels {
            let other: f64 = label.parse().expect("a number");
            let here = f64::from(i32::try_from(*milli).expect("small")) / 1000.0;
            assert!(
                (to_drawn(other) - here).abs() <= 0.001,
                "{label} at {milli}"
            );
            assert!((drawn.low..=drawn.high).contains(milli), "{label}");
        }
    }
}
