//! A line of text as a reader of doses sees it: its words, and which are numbers
//! and units.

use std::ops::Range;

/// Units that a dose is counted in; a laboratory value has another one.
const DOSE_UNITS: &[&str] = &[
    "mg",
    "mcg",
    "microgram",
    "micrograms",
    "g",
    "mL",
    "ml",
    "L",
    "l",
    "units",
    "unit",
    "mmol",
    "mg/kg",
    "mcg/kg",
    "g/kg",
    "mL/kg",
    "units/kg",
    "mmol/kg",
    "mg/h",
    "mcg/h",
    "g/h",
    "mL/h",
    "ml/h",
    "units/h",
    "mmol/h",
    "mg/min",
    "mcg/min",
    "mg/kg/h",
    "mcg/kg/h",
    "mcg/kg/min",
    "mg/kg/min",
    "mL/kg/h",
    "mg/mL",
    "mcg/mL",
    "units/mL",
];

/// A line and its words: what stands between spaces, without the punctuation
/// around it. Code between backticks and links are no words.
pub struct Line<'a> {
    pub words: Vec<Word<'a>>,
    pub is_table: bool,
    /// A bit for each sign of ASCII with which a word begins.
    begins: u128,
}

#[derive(Clone, Copy)]
pub struct Word<'a> {
    pub text: &'a str,
    pub start: usize,
    /// As it stands, with the punctuation after it.
    pub full: &'a str,
}

impl Word<'_> {
    pub fn range(&self) -> Range<usize> {
        self.start..self.start + self.text.len()
    }
}

impl<'a> Line<'a> {
    pub fn new(text: &'a str) -> Self {
        let mut words = Vec::new();
        let mut start = None;
        let mut in_code = false;
        for (at, character) in text
            .char_indices()
            .chain(std::iter::once((text.len(), ' ')))
        {
            if character == '`' {
                in_code = !in_code;
            }
            let is_space = character.is_whitespace() || character == '`' || in_code;
            match (is_space, start) {
                (true, Some(from)) => {
                    words.extend(Word::new(text, from, at));
                    start = None;
                }
                (false, None) => start = Some(at),
                _ => {}
            }
        }
        words.retain(|word: &Word| !word.full.contains("://") && !word.full.starts_with("doi"));
        Line {
            begins: words.iter().fold(0, |all, word| all | bit(word.text)),
            words,
            is_table: text.trim_start().starts_with('|'),
        }
    }

    /// Whether one of these can be among its words: mostly not.
    fn may_have(&self, which: &[&str]) -> bool {
        which.iter().any(|word| self.begins & bit(word) != 0)
    }

    pub fn next(&self, at: usize) -> Option<&Word<'a>> {
        self.words.get(at + 1)
    }

    pub fn before(&self, at: usize) -> Option<&Word<'a>> {
        at.checked_sub(1).and_then(|at| self.words.get(at))
    }

    pub fn words(&self, which: &[&str]) -> Vec<Range<usize>> {
        if !self.may_have(which) {
            return Vec::new();
        }
        self.words
            .iter()
            .filter(|word| which.contains(&word.text))
            .map(Word::range)
            .collect()
    }

    /// Words in capitals, but not in a line that is all in capitals.
    pub fn capitals(&self, which: &[&str]) -> Vec<Range<usize>> {
        if !self.may_have(which) {
            return Vec::new();
        }
        let shouts = |word: Option<&Word>| {
            word.is_some_and(|word| {
                word.text.chars().filter(|c| c.is_alphabetic()).count() > 1
                    && word.text.chars().all(|c| !c.is_lowercase())
            })
        };
        self.words
            .iter()
            .enumerate()
            .filter(|(at, word)| {
                which.contains(&word.text) && !shouts(self.before(*at)) && !shouts(self.next(*at))
            })
            .map(|(_, word)| word.range())
            .collect()
    }

    /// `10 U`, `10U`, `10 U/h`: a unit right after a number.
    pub fn after_number(&self, units: &[&str]) -> Vec<Range<usize>> {
        let mut found = Vec::new();
        for (at, word) in self.words.iter().enumerate() {
            let first = word.text.split('/').next().unwrap_or("");
            if units.contains(&first)
                && self.before(at).is_some_and(|before| is_number(before.text))
            {
                found.push(word.range());
            }
            let (number, unit) = number_and_rest(word.text);
            if !number.is_empty() && units.contains(&unit.split('/').next().unwrap_or("")) {
                found.push(word.range());
            }
        }
        found
    }
}

/// That of the sign with which a word begins.
fn bit(word: &str) -> u128 {
    let first = word.bytes().next().filter(u8::is_ascii);
    first.map_or(0, |byte| 1 << byte)
}

impl<'a> Word<'a> {
    fn new(line: &'a str, from: usize, to: usize) -> Option<Word<'a>> {
        let full = line.get(from..to)?;
        let around = |c: char| {
            matches!(
                c,
                '(' | ')'
                    | '['
                    | ']'
                    | '"'
                    | '\''
                    | '“'
                    | '”'
                    | '‘'
                    | '’'
                    | ','
                    | ';'
                    | ':'
                    | '*'
                    | '_'
                    | '!'
                    | '?'
                    | '|'
            )
        };
        let trimmed = full.trim_start_matches(around);
        let start = from + (full.len() - trimmed.len());
        let mut text = trimmed.trim_end_matches(around);
        // A point ends a sentence unless it belongs to the abbreviation.
        if let Some(without) = text.strip_suffix('.')
            && !without.contains('.')
        {
            text = without;
        }
        (!text.is_empty()).then_some(Word { text, start, full })
    }
}

pub fn is_number(text: &str) -> bool {
    text.starts_with(|c: char| c.is_ascii_digit())
        && text
            .chars()
            .all(|c| c.is_ascii_digit() || c == '.' || c == ',')
}

/// `10mg` as `10` and `mg`.
pub fn number_and_rest(text: &str) -> (&str, &str) {
    let end = text
        .find(|c: char| !(c.is_ascii_digit() || c == '.'))
        .unwrap_or(text.len());
    text.split_at(end)
}

pub fn is_dose_unit(text: &str) -> bool {
    DOSE_UNITS.contains(&text)
}
