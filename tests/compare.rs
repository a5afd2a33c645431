//! What must hold of every comparison, on protocols whose numbers are changed by
//! program: nothing against itself, the mirror of the other way round, never "same
//! meaning" where a number changed. `TEMPWRIGHT_PAIRS=10000` makes as many pairs.

#![allow(clippy::expect_used)] // a test says so by panicking

use std::path::Path;
use tempwright::compare::{Change, Verdict, changes};
use tempwright::model::{Protocol, load};
use tempwright::rules::fingerprint;
use tempwright::source::MemoryLibrary;

fn hosts() -> Vec<(String, String)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/checks/hosts");
    let mut found: Vec<(String, String)> = std::fs::read_dir(folder)
        .expect("hosts")
        .map(|entry| entry.expect("an entry").path())
        .map(|path| {
            (
                path.display().to_string(),
                std::fs::read_to_string(&path).expect("text"),
            )
        })
        .collect();
    found.sort();
    assert!(found.len() >= 8, "the hosts were found");
    found
}

/// `None` where it has errors.
fn protocol(text: &str) -> Option<Protocol> {
    let library = MemoryLibrary::default().with("a.protocol", text);
    let loaded = load(&library, &["a.protocol"]).ok()?;
    if loaded.has_errors() {
        return None;
    }
    loaded.protocols.into_iter().next().map(|(_, it)| it)
}

/// The numbers of a text, outside quotes, comments and names.
fn numbers(text: &str) -> Vec<std::ops::Range<usize>> {
    let bytes = text.as_bytes();
    let (mut found, mut at) = (Vec::new(), 0);
    let (mut quoted, mut comment) = (false, false);
    while at < bytes.len() {
        match bytes[at] {
            b'\n' => comment = false,
            b'"' if !comment => quoted = !quoted,
            b'#' if !quoted => comment = true,
            byte if byte.is_ascii_digit() && !quoted && !comment => {
                let start = at;
                while at < bytes.len() && (bytes[at].is_ascii_digit() || bytes[at] == b'.') {
                    at += 1;
                }
                let before = start.checked_sub(1).map_or(b' ', |at| bytes[at]);
                let after = bytes.get(at).copied().unwrap_or(b' ');
                // No date, version, clock time, fraction or part of a name.
                let lone = before == b' ' && matches!(after, b' ' | b',' | b'\n' | b'/');
                if lone && text[start..at].matches('.').count() < 2 && after != b'/' {
                    found.push(start..at);
                }
                continue;
            }
            _ => {}
        }
        at += 1;
    }
    found
}

struct Dice(u64);

impl Dice {
    fn below(&mut self, most: usize) -> usize {
        // xorshift64
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        usize::try_from(self.0 % u64::try_from(most).expect("small")).expect("small")
    }
}

/// The same text with one number changed in value.
fn changed(text: &str, dice: &mut Dice) -> Option<String> {
    let all = numbers(text);
    let place = all.get(dice.below(all.len()))?.clone();
    let old = text.get(place.clone())?;
    let new = match (dice.below(5), old.split_once('.')) {
        (0, Some((whole, part))) => format!("{whole}.{}{}", 9 - dice.below(9), &part[1..]),
        (1, Some((whole, part))) => format!("{}.{part}", whole.parse::<u32>().ok()? + 1),
        (2, Some((whole, part))) => {
            format!("{}.{part}", whole.parse::<u32>().ok()?.checked_sub(1)?)
        }
        (_, Some((whole, part))) => format!("{whole}.{part}{}", 1 + dice.below(9)),
        (0, None) => (old.parse::<u32>().ok()? * 2).to_string(),
        (1, None) => (old.parse::<u32>().ok()? + 1).to_string(),
        (2, None) => old.parse::<u32>().ok()?.checked_sub(1)?.to_string(),
        (_, None) => {
            (old.parse::<u32>().ok()? + 1 + u32::try_from(dice.below(9)).ok()?).to_string()
        }
    };
    (old.parse::<f64>().ok()? != new.parse::<f64>().ok()?).then(|| {
        let mut text = text.to_owned();
        text.replace_range(place, &new);
        text
    })
}

/// A change as it is told the other way round; cases are of one way only.
fn mirrored(change: &Change) -> String {
    key(&Change {
        kind: change.kind.mirrored(),
        from: change.to.clone(),
        to: change.from.clone(),
        verdict: change.verdict.mirrored(),
        ..change.clone()
    })
}

fn key(change: &Change) -> String {
    format!(
        "{:?} {:?} {} {} {:?} {:?} {:?} {:?} {}",
        change.area,
        change.kind,
        change.about,
        change.what,
        change.from,
        change.to,
        change.verdict,
        change.step,
        change.wording
    )
}

fn sorted(keys: impl Iterator<Item = String>) -> Vec<String> {
    let mut keys: Vec<String> = keys.collect();
    keys.sort();
    keys
}

fn assert_mirrors(a: &Protocol, b: &Protocol, what: &str) {
    let there = sorted(changes(a, b).iter().map(key));
    let back = sorted(changes(b, a).iter().map(mirrored));
    assert_eq!(there, back, "{what}");
}

#[test]
fn nothing_differs_from_itself() {
    for (name, text) in hosts() {
        let it = protocol(&text).expect("a host");
        assert_eq!(changes(&it, &it), Vec::new(), "{name}");
        // Another layout is no other protocol.
        let spread = protocol(&text.replace('\n', "\n\n").replace("  ", "\t ")).expect("the same");
        assert_eq!(changes(&it, &spread), Vec::new(), "{name}");
    }
}

#[test]
fn a_changed_number_is_never_of_the_same_meaning() {
    let wanted: usize = std::env::var("TEMPWRIGHT_PAIRS")
        .ok()
        .and_then(|number| number.parse().ok())
        .unwrap_or(240);
    let hosts: Vec<(String, String, Protocol)> = hosts()
        .into_iter()
        .map(|(name, text)| {
            let it = protocol(&text).expect("a host");
            (name, text, it)
        })
        .collect();
    let mut dice = Dice(0x5eed_1234_abcd_9876);
    let (mut pairs, mut cases) = (0, 0);
    while pairs < wanted {
        let (name, text, old) = &hosts[dice.below(hosts.len())];
        let Some(new_text) = changed(text, &mut dice) else {
            continue;
        };
        let Some(new) = protocol(&new_text) else {
            continue;
        };
        let found = changes(old, &new);
        let told = found
            .iter()
            .any(|change| change.verdict != Verdict::SameMeaning);
        let differ: Vec<(&str, &str)> = text
            .lines()
            .zip(new_text.lines())
            .filter(|(a, b)| a != b)
            .collect();
        assert!(told, "{name}: {differ:?}: {found:#?}");
        assert_ne!(fingerprint(old), fingerprint(&new), "{name}: {differ:?}");
        cases += found.iter().filter(|change| change.case.is_some()).count();
        if pairs % 8 == 0 {
            assert_mirrors(old, &new, &format!("{name}: {differ:?}"));
        }
        pairs += 1;
    }
    println!("{pairs} pairs, {cases} cases on which the versions part ways");
    assert!(cases * 20 > pairs, "cases are found: {cases} in {pairs}");
}

fn report(old: &str, new: &str) -> tempwright::compare::Report {
    let read = |text: &str| {
        let library = MemoryLibrary::default().with("a.protocol", text);
        let loaded = load(&library, &["a.protocol"]).expect("in memory");
        assert!(!loaded.has_errors(), "{:#?}", loaded.diagnostics);
        loaded
    };
    let (old, new) = (read(old), read(new));
    let version = |loaded: &tempwright::model::Loaded| {
        let (_, protocol) = loaded.protocols.first().expect("one").clone();
        protocol
    };
    let (before, after) = (version(&old), version(&new));
    let mut report = tempwright::compare::Report::new("`old`", "`new <b>`");
    report.compared.push(tempwright::compare::compare(
        &tempwright::compare::Version {
            protocol: &before,
            sources: &old.sources,
            reading: &old.diagnostics,
        },
        &tempwright::compare::Version {
            protocol: &after,
            sources: &new.sources,
            reading: &new.diagnostics,
        },
    ));
    report
}

fn fever() -> String {
    hosts()
        .into_iter()
        .find(|(name, _)| name.ends_with("fever.protocol"))
        .expect("the host")
        .1
}

const ORDER: &str = "then call doctor within 30 min";

#[test]
fn texts_of_a_protocol_never_become_markup() {
    let hostile = "<script>alert(1)</script> [here](http://example.org) ![x](y) @all | a `code` ``` </details> *bold* <img src=x>";
    let new = fever().replacen(ORDER, &format!("then do \"{hostile}\"\n    {ORDER}"), 1);
    let report = report(&fever(), &new);
    let page = tempwright::compare::html::report(&report);
    for raw in ["<script", "<img", "<b>", "</details>"] {
        assert!(!page.contains(raw), "{raw}");
    }
    let comment = tempwright::compare::markdown::report(&report);
    for raw in ["<script", "<img", " [here](", " ![x]", " @all"] {
        let plain: Vec<&str> = comment
            .lines()
            // What stands in a fenced block is shown as it is.
            .filter(|line| {
                !line.starts_with("+ ") && !line.starts_with("- ") && !line.contains("now: `")
            })
            .collect();
        assert!(!plain.join("\n").contains(raw), "{raw}: {comment}");
    }
    assert_eq!(
        comment.matches("\n</details>").count(),
        comment.matches("<details><summary>").count()
    );
    // Every fence that is opened is closed.
    let fences = comment
        .lines()
        .filter(|line| line.trim().starts_with("```"))
        .count();
    assert_eq!(fences % 2, 0, "{comment}");
}

#[test]
fn a_comment_that_is_too_long_says_what_was_left_out() {
    let long = "word ".repeat(14_000);
    let new = fever().replacen(ORDER, &format!("then do \"{long}\"\n    {ORDER}"), 1);
    let report = report(&fever(), &new);
    let comment = tempwright::compare::markdown::report(&report);
    assert!(comment.chars().count() <= 60_000);
    assert!(comment.contains("changes of meaning") || comment.contains("1 change of meaning"));
    assert!(comment.contains("**Cut here: "), "{}", &comment[..800]);
    assert_eq!(
        comment.matches("\n</details>").count(),
        comment.matches("<details><summary>").count()
    );
}
