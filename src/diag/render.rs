//! A finding as text with carets, as one line, or as JSON.
//!
//! The order is always the same: what, where, for which case, why it matters,
//! how to mend it, where to read more.

use super::{Diagnostic, Label, Level, Witness, steers, visible_text};
use crate::source::{Sources, Span};
use annotate_snippets::{AnnotationKind, Group, Level as Snippet, Renderer, Snippet as Source};
use serde::Serialize;
use std::fmt::Write as _;

/// How text is laid out.
#[derive(Debug, Clone, Copy)]
pub struct Style {
    pub color: bool,
    /// Columns of the terminal.
    pub width: usize,
}

impl Default for Style {
    fn default() -> Self {
        Style {
            color: false,
            width: 100,
        }
    }
}

/// The finding with the lines concerned, for a person.
pub fn human(found: &Diagnostic, sources: &Sources, style: Style) -> String {
    let level = match found.level {
        Level::Error => Snippet::ERROR,
        Level::Warning => Snippet::WARNING,
        Level::Note => Snippet::NOTE,
    };
    let mut group = Group::with_title(level.primary_title(&found.title).id(found.name));
    // One snippet for each file concerned, the primary place's first.
    let mut files = vec![found.place.span.file];
    for label in &found.others {
        if !files.contains(&label.span.file) {
            files.push(label.span.file);
        }
    }
    for file in files {
        let Some(source) = sources.get(file) else {
            continue;
        };
        // Only the lines concerned are handed over: a large file is not searched again
        // for each finding.
        let spans: Vec<_> = std::iter::once(&found.place)
            .chain(&found.others)
            .filter(|label| label.span.file == file)
            .map(|label| visible(label.span, &source.text))
            .collect();
        let lines = whole_lines(&spans, &source.text);
        let shown = |label: &Label| {
            let span = visible(label.span, &source.text);
            span.start - lines.start..span.end - lines.start
        };
        let mut snippet = Source::source(source.text.get(lines.clone()).unwrap_or(""))
            .path(source.path.as_str())
            .line_start(source.line_column(lines.start).line);
        if found.place.span.file == file {
            snippet = snippet.annotation(
                AnnotationKind::Primary
                    .span(shown(&found.place))
                    .label(found.place.text.as_str()),
            );
        }
        for label in found.others.iter().filter(|label| label.span.file == file) {
            snippet = snippet.annotation(
                AnnotationKind::Context
                    .span(shown(label))
                    .label(label.text.as_str()),
            );
        }
        group = group.element(snippet);
    }
    let renderer = if style.color {
        Renderer::styled()
    } else {
        Renderer::plain()
    };
    let mut text = renderer.term_width(style.width).render(&[group]);
    text.push('\n');
    if let Some(witness) = &found.witness {
        text.push_str(&witness_text(witness));
    }
    let mut field = |name: &str, body: &str| {
        if !body.is_empty() {
            let _ = writeln!(text, "  {name:<6} {body}");
        }
    };
    field("why:", &found.why);
    for help in &found.help {
        field("help:", help);
    }
    if let Some(source) = found
        .source
        .as_deref()
        .filter(|source| *source != "structural")
    {
        field("from:", source);
    }
    field("more:", &format!("tempwright explain {}", found.name));
    steering_removed(&text, style.color)
}

/// Lines of the author's may hold characters that would steer a terminal. Of what
/// does, only colours stay, where they are asked for.
fn steering_removed(text: &str, color: bool) -> String {
    text.char_indices()
        .map(|(at, character)| match character {
            '\n' | '\t' => character,
            // So that a line can be searched for as it is typed.
            '\u{a0}' => ' ',
            '\u{1b}' if color && is_color(text.get(at + 1..).unwrap_or("")) => character,
            other if steers(other) => '\u{fffd}',
            other => other,
        })
        .collect()
}

/// Whether an escape goes on as a change of colour.
fn is_color(rest: &str) -> bool {
    rest.strip_prefix('[').is_some_and(|rest| {
        rest.trim_start_matches(|one: char| one.is_ascii_digit() || one == ';')
            .starts_with('m')
    })
}

/// A span of a whole block is shown by its first line. Its ends lie between
/// characters, whatever the finding says.
fn visible(span: Span, text: &str) -> std::ops::Range<usize> {
    let boundary = |mut at: usize| {
        at = at.min(text.len());
        while !text.is_char_boundary(at) {
            at -= 1;
        }
        at
    };
    let range = span.range();
    let end = boundary(range.end);
    let start = boundary(range.start).min(end);
    match text.get(start..end).and_then(|body| body.find('\n')) {
        Some(newline) => start..start + newline,
        None => start..end,
    }
}

/// From the beginning of the first line to the end of the last.
fn whole_lines(spans: &[std::ops::Range<usize>], text: &str) -> std::ops::Range<usize> {
    let first = spans.iter().map(|span| span.start).min().unwrap_or(0);
    let last = spans.iter().map(|span| span.end).max().unwrap_or(0);
    let start = text.get(..first).and_then(|before| before.rfind('\n'));
    let end = text.get(last..).and_then(|after| after.find('\n'));
    start.map_or(0, |newline| newline + 1)..end.map_or(text.len(), |length| last + length)
}

/// The witness as a small table of times and readings.
pub fn witness_text(witness: &Witness) -> String {
    let mut text = String::new();
    for (index, moment) in witness.moments.iter().enumerate() {
        let records: Vec<String> = moment
            .records
            .iter()
            .map(|(name, value)| format!("{name} {value}"))
            .collect();
        let lead = if index == 0 { "case:" } else { "" };
        let _ = writeln!(
            text,
            "  {lead:<6} {:>6}  {}  {}",
            moment.time,
            moment.phase,
            records.join(", ")
        );
    }
    for outcome in &witness.outcome {
        let _ = writeln!(text, "         → {outcome}");
    }
    text
}

/// `path:line:column: level[name]: title`
pub fn concise(found: &Diagnostic, sources: &Sources) -> String {
    let (path, place) = place(found.place.span, sources);
    format!(
        "{}:{}:{}: {}[{}]: {}",
        visible_text(&path),
        place.line,
        place.column,
        found.level.word(),
        found.name,
        found.title
    )
}

fn place(span: Span, sources: &Sources) -> (String, crate::source::LineColumn) {
    sources.get(span.file).map_or(
        (
            "-".to_owned(),
            crate::source::LineColumn { line: 1, column: 1 },
        ),
        |file| (file.path.clone(), file.line_column(span.start as usize)),
    )
}

/// A finding as other programs read it.
#[derive(Debug, Clone, Serialize, schemars::JsonSchema)]
pub struct Record {
    /// Stable name of the finding.
    pub name: String,
    /// `error`, `warning` or `note`.
    pub level: String,
    pub title: String,
    /// The primary place first.
    pub places: Vec<Place>,
    /// The moments that show it, each with time, phase and records.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub case: Option<Case>,
    pub why: String,
    pub help: Vec<String>,
    pub source: String,
    /// The named thing that it is about.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub about: Option<String>,
}

/// A place in a file; lines and columns from 1, columns in characters.
#[derive(Debug, Clone, Serialize, schemars::JsonSchema)]
pub struct Place {
    pub path: String,
    pub line: usize,
    pub column: usize,
    pub end_line: usize,
    pub end_column: usize,
    pub text: String,
}

/// The record that shows a finding.
#[derive(Debug, Clone, Serialize, schemars::JsonSchema)]
pub struct Case {
    pub moments: Vec<Moment>,
    pub outcome: Vec<String>,
}

/// One moment of it.
#[derive(Debug, Clone, Serialize, schemars::JsonSchema)]
pub struct Moment {
    /// Elapsed hours and minutes from `start`.
    pub time: String,
    pub phase: String,
    pub records: std::collections::BTreeMap<String, String>,
}

/// The finding as data.
pub fn record(found: &Diagnostic, sources: &Sources) -> Record {
    let place_of = |label: &Label| {
        let (path, start) = place(label.span, sources);
        let end = sources
            .get(label.span.file)
            .map_or(start, |file| file.line_column(label.span.end as usize));
        Place {
            path,
            line: start.line,
            column: start.column,
            end_line: end.line,
            end_column: end.column,
            text: label.text.clone(),
        }
    };
    Record {
        name: found.name.to_owned(),
        level: found.level.word().to_owned(),
        title: found.title.clone(),
        places: std::iter::once(&found.place)
            .chain(&found.others)
            .map(place_of)
            .collect(),
        case: found.witness.as_ref().map(|witness| Case {
            moments: witness
                .moments
                .iter()
                .map(|moment| Moment {
                    time: moment.time.clone(),
                    phase: moment.phase.clone(),
                    records: moment.records.iter().cloned().collect(),
                })
                .collect(),
            outcome: witness.outcome.clone(),
        }),
        why: found.why.clone(),
        help: found.help.clone(),
        source: found.source.clone().unwrap_or_default(),
        about: found.about.clone(),
    }
}
