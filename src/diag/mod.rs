//! Findings about a protocol: what is wrong, where, for which case, why it
//! matters, and what to write instead.
//!
//! A [`Diagnostic`] is about the author's text. Not being able to run at all is
//! an error of the command line, never a diagnostic.

pub mod render;

use crate::source::Span;
use serde::Serialize;

/// How much a finding weighs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Level {
    /// The sheet would be wrong or impossible to follow.
    Error,
    /// Probably wrong.
    Warning,
    /// Worth knowing; never fails a run.
    Note,
}

impl Level {
    pub fn word(self) -> &'static str {
        match self {
            Level::Error => "error",
            Level::Warning => "warning",
            Level::Note => "note",
        }
    }
}

/// A place that takes part in a finding, and what it contributes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Label {
    pub span: Span,
    pub text: String,
}

/// One moment of a witness: elapsed time, phase and what is recorded then.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct WitnessMoment {
    /// Elapsed time from `start`, as `H:MM`.
    pub time: String,
    pub phase: String,
    /// Reading name and value with its unit, in the order of the protocol.
    pub records: Vec<(String, String)>,
}

/// The shortest concrete record that shows a finding.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Default)]
pub struct Witness {
    pub moments: Vec<WitnessMoment>,
    /// What each rule says at the last moment.
    pub outcome: Vec<String>,
}

/// A replacement that would mend the finding.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fix {
    pub span: Span,
    pub replacement: String,
}

/// One finding.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Diagnostic {
    /// Stable kebab-case name, for `explain` and `accept`.
    pub name: &'static str,
    pub level: Level,
    /// What is wrong: lower case, no final stop, user's own text in backticks.
    pub title: String,
    /// The smallest span that shows it, and what stands there.
    pub place: Label,
    /// What else contributes.
    pub others: Vec<Label>,
    pub witness: Option<Witness>,
    /// What it would do to a patient or to the nurse.
    pub why: String,
    /// What to write instead.
    pub help: Vec<String>,
    /// The published source, or "structural" where it is pure logic.
    pub source: Option<String>,
    pub fix: Option<Fix>,
    /// The named thing it is about, for `accept FINDING on NAME`.
    pub about: Option<String>,
}

/// A sentence about a word of 2 MB is still a sentence.
const MAX_CHARACTERS: usize = 600;

fn clipped(text: impl Into<String>) -> String {
    let mut text = visible_text(&text.into());
    if let Some((end, _)) = text.char_indices().nth(MAX_CHARACTERS) {
        text.truncate(end);
        text.push('…');
    }
    text
}

/// Whether a character would steer a terminal, or change the order of what is read. The
/// end of a line and a tab do what they are there for.
pub fn steers(character: char) -> bool {
    (character.is_control() && !matches!(character, '\n' | '\t'))
        || matches!(character, '\u{61c}' | '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2060}'..='\u{2069}' | '\u{feff}')
}

/// `text` as it can be shown on a terminal, in an editor, in a log: what would steer it
/// stands as `\u{1b}`.
pub fn visible_text(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for character in text.chars() {
        if steers(character) {
            out.extend(character.escape_unicode());
        } else {
            out.push(character);
        }
    }
    out
}

/// Of findings that say the same of the same place, all but the first are taken out.
pub(crate) fn tell_once(found: &mut Vec<Diagnostic>) {
    let mut seen = std::collections::BTreeSet::new();
    found.retain(|found| seen.insert((found.name, found.place.span, found.title.clone())));
}

impl Diagnostic {
    pub fn new(name: &'static str, level: Level, span: Span, title: impl Into<String>) -> Self {
        Diagnostic {
            name,
            level,
            title: clipped(title),
            place: Label {
                span,
                text: String::new(),
            },
            others: Vec::new(),
            witness: None,
            why: String::new(),
            help: Vec::new(),
            source: None,
            fix: None,
            about: None,
        }
    }

    pub fn error(name: &'static str, span: Span, title: impl Into<String>) -> Self {
        Self::new(name, Level::Error, span, title)
    }

    pub fn warning(name: &'static str, span: Span, title: impl Into<String>) -> Self {
        Self::new(name, Level::Warning, span, title)
    }

    pub fn note(name: &'static str, span: Span, title: impl Into<String>) -> Self {
        Self::new(name, Level::Note, span, title)
    }

    /// What stands at the primary place.
    pub fn here(mut self, text: impl Into<String>) -> Self {
        self.place.text = clipped(text);
        self
    }

    pub fn also(mut self, span: Span, text: impl Into<String>) -> Self {
        self.others.push(Label {
            span,
            text: clipped(text),
        });
        self
    }

    pub fn why(mut self, text: impl Into<String>) -> Self {
        self.why = clipped(text);
        self
    }

    pub fn help(mut self, text: impl Into<String>) -> Self {
        self.help.push(clipped(text));
        self
    }

    pub fn source(mut self, text: impl Into<String>) -> Self {
        self.source = Some(clipped(text));
        self
    }

    pub fn witness(mut self, witness: Witness) -> Self {
        self.witness = Some(witness);
        self
    }

    pub fn fix(mut self, span: Span, replacement: impl Into<String>) -> Self {
        self.fix = Some(Fix {
            span,
            replacement: replacement.into(),
        });
        self
    }

    pub fn about(mut self, name: impl Into<String>) -> Self {
        self.about = Some(name.into());
        self
    }
}
