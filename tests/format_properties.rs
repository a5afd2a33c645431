//! The formatter on files made at random and broken at random: what it gives says the
//! same, in one style, with its comments in their order.
//!
//! `TEMPWRIGHT_FILES=10000 cargo test --release --test format_properties` tries as many.

#![allow(clippy::expect_used, clippy::panic)] // a test says so by panicking

#[allow(dead_code)]
#[path = "independent/generate.rs"]
mod generate;
mod support;

use generate::Dice;
use tempwright::format::{Refusal, format};
use tempwright::model::load;
use tempwright::source::{FileId, MemoryLibrary, SourceFile};
use tempwright::syntax;

/// What one file says, whatever its layout: each statement's words in a tree of
/// blocks, and what could not be read.
#[derive(Debug, PartialEq, Eq)]
struct Said {
    outline: Vec<String>,
    comments: Vec<String>,
    faults: Vec<&'static str>,
}

fn said(text: &str) -> Said {
    let outline = syntax::outline(text, FileId::default());
    let mut words = Vec::new();
    items(text, &outline.items, &mut words);
    let source = SourceFile::new("made.protocol", text);
    let mut faults: Vec<&str> = syntax::parse(FileId::default(), &source)
        .diagnostics
        .iter()
        .map(|found| found.name)
        .collect();
    faults.sort_unstable();
    Said {
        outline: words,
        comments: outline
            .comments
            .iter()
            .map(|comment| text[comment.span.range()].trim_end().to_owned())
            .collect(),
        faults,
    }
}

fn items(text: &str, list: &[syntax::Item], into: &mut Vec<String>) {
    for item in list {
        match item {
            syntax::Item::Statement(piece) => into.push(bare(&text[piece.span.range()])),
            syntax::Item::Block(block) => {
                into.push(format!("{} {{", bare(&text[block.head.span.range()])));
                items(text, &block.items, into);
                into.push("}".to_owned());
            }
        }
    }
}

/// A statement's words; texts as they are, units in their one spelling. (Two words
/// that ran together would still be seen: the whole is parsed again too.)
fn bare(statement: &str) -> String {
    let mut out = String::new();
    let mut after_number = false;
    for (index, part) in statement.split('"').enumerate() {
        if index % 2 == 1 {
            out.push_str(&format!("\"{part}\""));
            after_number = false;
            continue;
        }
        for line in part.lines() {
            let code = line.split('#').next().unwrap_or("");
            for word in code.split_inclusive([' ', '\t', '\r', ',', '(', ')', '=']) {
                let bare = word.trim_end_matches([' ', '\t', '\r', ',', '(', ')', '=']);
                let digits = bare
                    .find(|c: char| !c.is_ascii_digit() && c != '.' && c != '/')
                    .unwrap_or(bare.len());
                let (number, rest) = bare.split_at(digits);
                let behind = after_number || !number.is_empty();
                out.push_str(number);
                match tempwright::quantity::unit_named(rest).filter(|_| behind) {
                    Some(unit) => out.push_str(unit.name),
                    None => out.push_str(rest),
                }
                let joint = word[bare.len()..].trim();
                out.push_str(joint);
                if !bare.is_empty() {
                    after_number = rest.is_empty();
                }
                if !joint.is_empty() {
                    after_number = false;
                }
            }
        }
    }
    out
}

/// Pieces of the project's own protocols: some statements and blocks that stand
/// together, with the comments between them.
fn origins() -> Vec<String> {
    let library = support::library();
    let mut all = Vec::new();
    for text in library.files.values() {
        let outline = syntax::outline(text, FileId::default());
        for item in &outline.items {
            let syntax::Item::Block(block) = item else {
                continue;
            };
            let ends: Vec<usize> = block
                .items
                .iter()
                .map(|item| match item {
                    syntax::Item::Statement(piece) => piece.span.end as usize,
                    syntax::Item::Block(inner) => inner.span.end as usize,
                })
                .collect();
            let mut from = block.head.span.end as usize;
            from += text[from..].find('{').expect("it opens") + 1;
            let head = &text[block.head.span.range()];
            for chunk in ends.chunks(7) {
                let to = *chunk.last().expect("not empty");
                all.push(format!("{head} {{{}\n}}\n", &text[from..to]));
                from = to;
            }
        }
    }
    all
}

const COMMENTS: [&str; 4] = ["# why", "#", "# ° and µ, \"quoted\"", "# decide: this { }"];
const BITS: [&str; 12] = [
    "{", "}", "\"", ",", " and ", "(", ")", " for 1 h", "33.0°C", "\t", "\n\n\n", "\u{a0}",
];

fn mutated(text: &str, dice: &mut Dice) -> String {
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    for _ in 0..dice.below(6) {
        let at = dice.below(lines.len().max(1) as u64) as usize;
        let Some(line) = lines.get(at).cloned() else {
            continue;
        };
        let inside = line
            .char_indices()
            .map(|(at, _)| at)
            .nth(dice.below(line.chars().count().max(1) as u64) as usize)
            .unwrap_or(0);
        match dice.below(10) {
            0 => lines.insert(at, format!("   {}", dice.pick(&COMMENTS))),
            1 => lines[at].push_str(&format!("   {}", dice.pick(&COMMENTS))),
            2 => lines[at] = line.replace(' ', "   "),
            3 => lines[at] = line.trim_start().to_owned(),
            4 => lines.insert(at, String::new()),
            5 => {
                lines.remove(at);
            }
            6 => lines.insert(at, line),
            7 => lines[at].insert_str(inside, dice.pick(&BITS)),
            8 if inside < line.len() => {
                lines[at].remove(inside);
            }
            _ => {
                let other = dice.below(lines.len() as u64) as usize;
                lines.swap(at, other);
            }
        }
        if lines.is_empty() {
            break;
        }
    }
    let mut out = lines.join("\n");
    if !dice.one_in(5) {
        out.push('\n');
    }
    out
}

#[test]
fn what_it_gives_says_the_same_and_is_its_own_format() {
    let wanted: usize = std::env::var("TEMPWRIGHT_FILES")
        .ok()
        .and_then(|number| number.parse().ok())
        .unwrap_or(1500);
    let origins = origins();
    let mut dice = Dice::new(7);
    let (mut formatted, mut with_faults, mut refused, mut whole) = (0, 0, 0, 0);
    for number in 0..wanted {
        let text = if dice.one_in(12) {
            let made = generate::protocol(&mut Dice::new(number as u64 + 1));
            mutated(&made, &mut dice)
        } else {
            let at = dice.below(origins.len() as u64) as usize;
            mutated(&origins[at], &mut dice)
        };
        let after = match format(&text) {
            Ok(after) => after,
            Err(Refusal::Outline(found)) => {
                assert!(!found.is_empty());
                refused += 1;
                continue;
            }
            Err(Refusal::Changed) => panic!("file {number} would be changed:\n{text}"),
        };
        formatted += 1;
        let (before, now) = (said(&text), said(&after));
        assert_eq!(now, before, "file {number}:\n{text}\n---\n{after}");
        with_faults += usize::from(!before.faults.is_empty());
        assert_eq!(
            format(&after).as_deref(),
            Ok(after.as_str()),
            "file {number} has two formats:\n{text}"
        );
        // A whole protocol is the same protocol.
        let model = |text: &str| {
            let library = MemoryLibrary::default().with("made.protocol", text);
            let loaded = load(&library, &["made.protocol"]).expect("it is there");
            let found = loaded.protocols.first();
            found.map(|(_, protocol)| support::without_positions(protocol))
        };
        if before.faults.is_empty() && text.contains("timezone") {
            let one = model(&text);
            whole += usize::from(one.is_some());
            assert_eq!(model(&after), one, "file {number}:\n{text}");
        }
    }
    eprintln!(
        "{wanted} files: {formatted} formatted ({with_faults} of them with faults, {whole} whole protocols), {refused} refused"
    );
    assert!(formatted > wanted / 2 && with_faults > wanted / 10);
    assert!(refused > wanted / 20 && whole > wanted / 100);
}
