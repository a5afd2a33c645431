//! The fingerprint stands for the meaning: whatever means nothing leaves it alone,
//! and whatever means something changes it. The texts of the demo protocols and of
//! their libraries are changed by program.

#![allow(clippy::expect_used, clippy::panic)] // a test says so by panicking

mod support;

use std::collections::BTreeSet;
use std::ops::Range;
use support::{library, protocol, try_load};
use tempwright::rules::fingerprint;
use tempwright::source::MemoryLibrary;

const DEMOS: [&str; 6] = [
    "protocols/accidental-hypothermia.protocol",
    "protocols/adult-arrest-33.protocol",
    "protocols/adult-arrest-normothermia.protocol",
    "protocols/heat-stroke.protocol",
    "protocols/newborn-cooling.protocol",
    "protocols/theatre-warmth.protocol",
];

/// Changes are many and loading is slow without optimisation: every so many.
fn stride() -> usize {
    if cfg!(debug_assertions) { 7 } else { 1 }
}

fn with(library: &MemoryLibrary, path: &str, text: String) -> MemoryLibrary {
    let mut changed = library.clone();
    changed.files.insert(path.to_owned(), text);
    changed
}

/// The fingerprint after the change, where the text is still a whole protocol.
fn changed(library: &MemoryLibrary, root: &str, path: &str, text: String) -> Option<String> {
    let library = with(library, path, text);
    let loaded = try_load(&library, root);
    (!loaded.has_errors())
        .then(|| loaded.protocols.first().map(|(_, one)| fingerprint(one)))
        .flatten()
}

/// The demo protocols, and one library that each kind of statement stands in.
fn texts(library: &MemoryLibrary) -> Vec<(String, String, String)> {
    let mut found: Vec<(String, String, String)> = DEMOS
        .iter()
        .map(|path| {
            (
                path.to_string(),
                path.to_string(),
                library.files[*path].clone(),
            )
        })
        .collect();
    let shared = "protocols/shared/shivering.protocol".to_owned();
    let text = library.files[&shared].clone();
    found.push((DEMOS[1].to_owned(), shared, text));
    found
}

/// Lines that carry meaning: no comments, scenarios, `use` paths or approvals.
fn meaningful(text: &str) -> Vec<Range<usize>> {
    let mut found = Vec::new();
    let mut at = 0;
    for line in text.split_inclusive('\n') {
        let stop = line
            .char_indices()
            .scan(false, |quoted, (index, character)| {
                if character == '"' {
                    *quoted = !*quoted;
                }
                Some((index, character == '#' && !*quoted))
            })
            .find(|(_, comment)| *comment)
            .map_or(line.len(), |(index, _)| index);
        let trimmed = line.trim_start();
        if trimmed.starts_with("scenario ") {
            break;
        }
        if !trimmed.starts_with("use ") && !trimmed.starts_with("approved ") {
            found.push(at..at + stop);
        }
        at += line.len();
    }
    found
}

#[test]
fn every_number_counts() {
    let library = library();
    let mut tried = 0;
    for (root, path, text) in texts(&library) {
        let before = fingerprint(&protocol(&library, &root));
        let mut digits = Vec::new();
        for line in meaningful(&text) {
            let mut in_word = false;
            for (index, character) in text[line.clone()].char_indices() {
                // A digit inside a name would rename it in one place only.
                if character.is_ascii_digit() && !in_word {
                    digits.push(line.start + index);
                }
                in_word = character.is_ascii_alphabetic()
                    || (in_word && (character.is_ascii_digit() || character == '-'));
            }
        }
        for at in digits.into_iter().step_by(stride()) {
            let digit = text.as_bytes()[at];
            let other = if digit == b'9' { b'8' } else { digit + 1 };
            let mut edited = text.clone().into_bytes();
            edited[at] = other;
            let edited = String::from_utf8(edited).expect("a digit for a digit");
            let line = text[..at].lines().count();
            if let Some(after) = changed(&library, &root, &path, edited) {
                assert_ne!(after, before, "{path}:{line}: a digit was changed");
                tried += 1;
            }
        }
    }
    assert!(tried > 150, "{tried}");
}

#[test]
fn every_text_counts() {
    let library = library();
    let mut tried = 0;
    for (root, path, text) in texts(&library) {
        let before = fingerprint(&protocol(&library, &root));
        let mut quotes = Vec::new();
        for line in meaningful(&text) {
            quotes.extend(
                text[line.clone()]
                    .match_indices('"')
                    .map(|(index, _)| line.start + index)
                    .step_by(2),
            );
        }
        for at in quotes.into_iter().step_by(stride()) {
            let mut edited = text.clone();
            edited.insert(at + 1, 'x');
            let line = text[..at].lines().count();
            if let Some(after) = changed(&library, &root, &path, edited) {
                assert_ne!(after, before, "{path}:{line}: a text was changed");
                tried += 1;
            }
        }
    }
    assert!(tried > 50, "{tried}");
}

#[test]
fn every_line_counts() {
    let library = library();
    let mut tried = 0;
    for (root, path, text) in texts(&library) {
        let before = fingerprint(&protocol(&library, &root));
        let lines = meaningful(&text);
        for line in lines.into_iter().step_by(stride()) {
            if text[line.clone()].trim().is_empty() {
                continue;
            }
            let mut edited = text.clone();
            edited.replace_range(line.clone(), "");
            let number = text[..line.start].lines().count() + 1;
            if let Some(after) = changed(&library, &root, &path, edited) {
                assert_ne!(after, before, "{path}:{number}: a line was taken away");
                tried += 1;
            }
        }
    }
    assert!(tried > 60, "{tried}");
}

/// Statements and blocks directly inside the first block, as ranges of whole lines.
fn statements(text: &str) -> Vec<Range<usize>> {
    let mut found = Vec::new();
    let mut depth = 0usize;
    let mut begins = None;
    let mut at = 0;
    for line in text.split_inclusive('\n') {
        let bare: String = {
            let mut quoted = false;
            line.chars()
                .take_while(|c| {
                    quoted ^= *c == '"';
                    quoted || *c != '#'
                })
                .scan(false, |quoted, c| {
                    *quoted ^= c == '"';
                    Some(if *quoted { ' ' } else { c })
                })
                .collect()
        };
        let (opens, closes) = (bare.matches('{').count(), bare.matches('}').count());
        let after = (depth + opens).saturating_sub(closes);
        if depth == 1 && begins.is_none() && !bare.trim().is_empty() && after >= 1 {
            begins = Some(at);
        }
        at += line.len();
        let goes_on = bare.trim_end().ends_with(',');
        if after == 1
            && !goes_on
            && let Some(from) = begins.take()
        {
            found.push(from..at);
        }
        if depth == 1 && after == 0 {
            break;
        }
        depth = after;
    }
    found
}

fn swapped(text: &str, first: &Range<usize>, second: &Range<usize>) -> String {
    format!(
        "{}{}{}{}{}",
        &text[..first.start],
        &text[second.clone()],
        &text[first.end..second.start],
        &text[first.clone()],
        &text[second.end..]
    )
}

#[test]
fn the_order_of_statements_counts_only_for_phases() {
    let library = library();
    let (mut same, mut other) = (0, 0);
    for (root, path, text) in texts(&library) {
        let before = fingerprint(&protocol(&library, &root));
        let all = statements(&text);
        assert!(all.len() > 4, "{path}");
        for (index, pair) in all.windows(2).enumerate() {
            let [first, second] = pair else { continue };
            let is_phase = |one: &Range<usize>| text[one.clone()].trim_start().starts_with("phase");
            let ordered = is_phase(first) && is_phase(second);
            if index % stride() != 0 && !ordered {
                continue;
            }
            let Some(after) = changed(&library, &root, &path, swapped(&text, first, second)) else {
                continue;
            };
            let what = format!("{path}: {}", &text[first.clone()]);
            if ordered {
                assert_ne!(after, before, "{what}");
                other += 1;
            } else {
                assert_eq!(after, before, "{what}");
                same += 1;
            }
        }
        // A long way as well as a short one.
        let (Some(first), Some(last)) = (all.first(), all.last()) else {
            continue;
        };
        let far = changed(&library, &root, &path, swapped(&text, first, last));
        assert_eq!(far, Some(before), "{path}: first and last");
    }
    assert!(same > 40 && other > 8, "{same} {other}");
}

#[test]
fn the_order_of_orders_and_steps_counts() {
    let library = library();
    let mut tried = BTreeSet::new();
    for (root, path, text) in texts(&library) {
        let before = fingerprint(&protocol(&library, &root));
        let lines: Vec<Range<usize>> = text
            .split_inclusive('\n')
            .scan(0, |at, line| {
                let from = *at;
                *at += line.len();
                Some(from..*at)
            })
            .collect();
        for pair in lines.windows(2) {
            let [first, second] = pair else { continue };
            for word in ["then ", "step "] {
                let both = [first, second]
                    .iter()
                    .all(|one| text[(*one).clone()].trim_start().starts_with(word))
                    && text[first.clone()] != text[second.clone()];
                if !both || (tried.len() > 20 && first.start % stride() != 0) {
                    continue;
                }
                if let Some(after) = changed(&library, &root, &path, swapped(&text, first, second))
                {
                    assert_ne!(after, before, "{path}: {}", &text[first.clone()]);
                    tried.insert((path.clone(), first.start));
                }
            }
        }
    }
    assert!(tried.len() > 20, "{}", tried.len());
}

#[test]
fn layout_comments_scenarios_and_approvals_do_not_count() {
    let library = library();
    for (root, path, text) in texts(&library) {
        let before = Some(fingerprint(&protocol(&library, &root)));
        let formatted = tempwright::format::format(&text).expect("it can be formatted");
        assert_eq!(changed(&library, &root, &path, formatted), before, "{path}");

        let commented = text.replace('\n', " # remark, 99.9 °C\n  # another\n\n");
        // A comment inside a text of several lines would be text.
        if !text.contains("\"\"\"") {
            assert_eq!(changed(&library, &root, &path, commented), before, "{path}");
        }
        let spaced: String = text
            .lines()
            .map(|line| format!("      {}   \n\n", line.trim()))
            .collect();
        // Nor is the indentation inside such a text without meaning: it is a list there.
        if !text.contains("\"\"\"") {
            assert_eq!(changed(&library, &root, &path, spaced), before, "{path}");
        }

        if let Some(at) = text.find("\nscenario ") {
            let alone = text[..=at].to_owned();
            assert_eq!(changed(&library, &root, &path, alone), before, "{path}");
            let approval = "  approved by \"A committee\" on 2026-11-02 as \"4f1c\"\n  title ";
            let approved = text.replacen("  title ", approval, 1);
            assert_eq!(changed(&library, &root, &path, approved), before, "{path}");
        }
    }
}

#[test]
fn spellings_that_are_read_as_one_are_one() {
    let library = library();
    let path = DEMOS[1];
    let before = Some(fingerprint(&protocol(&library, path)));
    let text = &library.files[path];
    let spelled: String = text
        .split('"')
        .enumerate()
        .map(|(index, part)| match index % 2 {
            // Outside the texts, which are printed as they stand.
            0 => part
                .replace(" °C", " degC")
                .replace("esophageal feedback", "oesophageal feedback"),
            _ => format!("\"{part}\""),
        })
        .collect();
    assert_ne!(&spelled, text);
    assert_eq!(changed(&library, path, path, spelled), before);
}

#[test]
fn it_does_not_depend_on_the_folder_that_is_the_root() {
    let library = library();
    let mut elsewhere = MemoryLibrary::default();
    for (path, text) in &library.files {
        if let Some(path) = path.strip_prefix("protocols/") {
            elsewhere.files.insert(path.to_owned(), text.clone());
        }
    }
    for path in DEMOS {
        let short = path.strip_prefix("protocols/").expect("in that folder");
        assert_eq!(
            fingerprint(&protocol(&library, path)),
            fingerprint(&protocol(&elsewhere, short))
        );
    }
}

#[test]
fn no_two_protocols_have_one() {
    let library = library();
    let all: BTreeSet<String> = support::paths(&library)
        .iter()
        .map(|path| fingerprint(&protocol(&library, path)))
        .collect();
    assert_eq!(all.len(), support::paths(&library).len());
    assert!(all.iter().all(|one| one.len() == 64));
}
