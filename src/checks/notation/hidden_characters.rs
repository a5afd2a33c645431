//! Characters that cannot be seen, or that look like others.

use super::super::{Check, Context, Family, Run, files};
use crate::diag::{Diagnostic, Level};
use crate::source::{FileId, Span};

pub const CHECK: Check = Check {
    name: "hidden-characters",
    family: Family::Notation,
    level: Level::Error,
    since: "0.1.0",
    summary: "a character cannot be seen, or looks like another one",
    catches: "Characters that change the order in which text is shown, that have no width, or that control a \
              terminal, anywhere in a file; letters of another script that look like Latin ones inside a word; \
              digits of another script; and letters that stand in a number (`1O mg`, `l0 mg`).",
    why: "What the committee reads on the screen is then not what the program reads: a sign can show 33 where 38 is \
          written, and a name can look like another name and be a different one.",
    fires: "\
caution \"Bleeding that cannot be pressed\u{202e} on\"
",
    passes: "\
caution \"Bleeding that cannot be pressed on\"
",
    source: "structural",
    run: Run::Over(run),
};

const WHY: &str =
    "what a person sees here is not what is written, so the committee cannot know what it signs";

fn run(context: &Context) -> Vec<Diagnostic> {
    files(context)
        .flat_map(|(file, text)| in_text(file, text))
        .collect()
}

/// In one file, whether or not it can be read as a protocol.
pub fn in_text(file: FileId, text: &str) -> Vec<Diagnostic> {
    let mut found = Vec::new();
    invisible(file, text, &mut found);
    let mut in_words = Scan::default();
    let mut start = None;
    for (at, character) in text.char_indices().chain([(text.len(), ' ')]) {
        if character.is_alphanumeric() {
            start.get_or_insert(at);
            continue;
        }
        let word = start.take().and_then(|start| text.get(start..at));
        // Nearly all words: nothing in them to be taken for anything else.
        let plain = |word: &&str| {
            word.bytes().all(|byte| byte.is_ascii_alphabetic())
                || word.bytes().all(|byte| byte.is_ascii_digit())
        };
        if let Some(word) = word.filter(|word| !plain(word)) {
            let span = Span::new(file, at - word.len(), at);
            found.extend(look_alike(word, span, in_words.place));
            let rest = text.get(at..).unwrap_or("");
            found.extend(letter_in_number(word, rest, span, in_words.place));
        }
        in_words.step(text, at, character);
    }
    found
}

/// Whether one stands in code, in a text or in a comment.
#[derive(Default, Clone, Copy, PartialEq, Eq)]
enum Place {
    #[default]
    Code,
    Text,
    LongText,
    Comment,
}

#[derive(Default)]
struct Scan {
    place: Place,
    skip_until: usize,
}

impl Scan {
    fn step(&mut self, text: &str, at: usize, character: char) {
        if at < self.skip_until {
            return;
        }
        let triple = character == '"'
            && text
                .get(at..)
                .is_some_and(|rest| rest.starts_with("\"\"\""));
        self.place = match (self.place, character) {
            (Place::Code, '"') if triple => {
                self.skip_until = at + 3;
                Place::LongText
            }
            (Place::LongText, '"') if triple => {
                self.skip_until = at + 3;
                Place::Code
            }
            (Place::Code, '"') => Place::Text,
            (Place::Text, '"' | '\n') => Place::Code,
            (Place::Code, '#') => Place::Comment,
            (Place::Comment, '\n') => Place::Code,
            (place, _) => place,
        };
    }
}

fn invisible(file: FileId, text: &str, found: &mut Vec<Diagnostic>) {
    for (at, character) in text.char_indices() {
        let what = match character {
            ' '..='~' => continue,
            '\u{202a}'..='\u{202e}'
            | '\u{2066}'..='\u{2069}'
            | '\u{200e}'
            | '\u{200f}'
            | '\u{61c}' => "a sign that changes the order in which the text is shown",
            '\u{200b}'..='\u{200d}' | '\u{2060}'..='\u{2064}' | '\u{180e}' | '\u{ad}' => {
                "a character without width"
            }
            // A byte-order mark at the very beginning says how the file is encoded.
            '\u{feff}' if at > 0 => "a character without width",
            '\t' | '\n' | '\r' => continue,
            character if character.is_control() => "a control character",
            _ => continue,
        };
        let span = Span::new(file, at, at + character.len_utf8());
        found.push(
            CHECK
                .found(
                    span,
                    format!("{what} stands here (U+{:04X})", u32::from(character)),
                )
                .why(WHY)
                .help("delete it")
                .fix(span, ""),
        );
    }
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Script {
    Latin,
    Greek,
    Cyrillic,
    Other,
}

fn script(character: char) -> Option<Script> {
    match character {
        // The two signs for micro and the sign for ohm belong to units.
        'µ' | 'μ' | 'Ω' => None,
        'a'..='z' | 'A'..='Z' | '\u{c0}'..='\u{24f}' | '\u{1e00}'..='\u{1eff}' => {
            Some(Script::Latin)
        }
        '\u{370}'..='\u{3ff}' => Some(Script::Greek),
        '\u{400}'..='\u{52f}' => Some(Script::Cyrillic),
        // Subscripts, superscripts, ordinal signs and the like stand beside any letter.
        character
            if character.is_alphabetic()
                && !('\u{2070}'..='\u{218f}').contains(&character)
                && !matches!(character, 'ª' | 'º') =>
        {
            Some(Script::Other)
        }
        _ => None,
    }
}

fn look_alike(word: &str, span: Span, place: Place) -> Option<Diagnostic> {
    let foreign_digit = word
        .chars()
        .find(|c| c.is_numeric() && !c.is_ascii() && is_decimal_digit(*c));
    if let Some(digit) = foreign_digit {
        return Some(
            CHECK
                .found(
                    span,
                    format!(
                        "`{word}` has the digit U+{:04X} of another script",
                        u32::from(digit)
                    ),
                )
                .why(WHY)
                .help("write the digits 0 to 9"),
        );
    }
    let scripts: Vec<Script> = word.chars().filter_map(script).collect();
    let latin = scripts.contains(&Script::Latin);
    let other = word
        .chars()
        .find(|c| script(*c).is_some_and(|script| script != Script::Latin))?;
    // A whole word of another script may stand in a text, not in a name.
    let suspicious = latin || place == Place::Code;
    suspicious.then(|| {
        CHECK
            .found(
                span,
                format!(
                    "`{word}` has the letter U+{:04X}, which looks like a Latin one",
                    u32::from(other)
                ),
            )
            .why(WHY)
            .help("type the word again with Latin letters")
    })
}

/// Decimal digits of other scripts, in their usual blocks of ten.
fn is_decimal_digit(character: char) -> bool {
    matches!(u32::from(character),
        0x660..=0x669 | 0x6f0..=0x6f9 | 0x7c0..=0x7c9 | 0x966..=0x96f | 0x9e6..=0x9ef
        | 0xff10..=0xff19 | 0x1d7ce..=0x1d7ff)
}

/// `1O mg`: a letter in a number that has a unit.
fn letter_in_number(word: &str, rest: &str, span: Span, place: Place) -> Option<Diagnostic> {
    if place == Place::Comment {
        return None;
    }
    let digits = word.chars().any(|c| c.is_ascii_digit());
    let letters = word.chars().any(|c| matches!(c, 'O' | 'o' | 'l' | 'I'));
    let only = word
        .chars()
        .all(|c| c.is_ascii_digit() || matches!(c, 'O' | 'o' | 'l' | 'I'));
    // A unit is short; looking farther would make a long line slow.
    let near = rest
        .char_indices()
        .nth(16)
        .map_or(rest, |(at, _)| rest.get(..at).unwrap_or(rest));
    let unit = near.split_whitespace().next().unwrap_or("");
    let unit = unit.trim_end_matches(['.', ',', ';', ')', '"']);
    let has_unit = crate::quantity::unit_named(unit).is_some() && rest.starts_with([' ', '\u{a0}']);
    (digits && letters && only && has_unit && unit.len() > 1).then(|| {
        CHECK
            .found(span, format!("`{word}` has a letter in a number"))
            .here("O is not 0, and l and I are not 1")
            .why("a person reads the number that it looks like, and the program reads none")
            .help("type the number again with digits")
    })
}
