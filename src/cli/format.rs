//! Findings for a person, for another program, or for a merge request.

use super::output;
use super::project::CannotRun;
use super::sarif::sarif;
use crate::diag::{Diagnostic, Level, render, steers, visible_text};
use crate::source::Sources;
use serde::Serialize;
use serde_json::Value;
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::io::IsTerminal as _;

#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, clap::ValueEnum)]
pub enum Format {
    /// With the lines concerned, the case, the reason and the cure
    #[default]
    Human,
    /// One line for each finding
    Concise,
    /// All fields, for other programs
    Json,
    /// Static Analysis Results Interchange Format 2.1.0
    Sarif,
    /// Annotations of a merge request
    Github,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, clap::ValueEnum)]
pub enum Color {
    /// On a terminal, unless NO_COLOR is set
    #[default]
    Auto,
    Always,
    Never,
}

/// The forms of what is no report of findings: an answer, a list, a page.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, clap::ValueEnum)]
pub enum TextOrJson {
    #[default]
    #[value(alias = "human")]
    Text,
    Json,
}

/// How findings are reported; the same for every command.
#[derive(Debug, Clone, Default, clap::Args)]
pub struct ReportArgs {
    /// The form of the report
    #[arg(long, value_enum, default_value_t)]
    pub format: Format,
    #[arg(long, value_enum, default_value_t)]
    pub color: Color,
    /// Columns of the terminal
    #[arg(long, default_value_t = 100)]
    pub width: usize,
    /// Say nothing but findings
    #[arg(long, short)]
    pub quiet: bool,
}

impl ReportArgs {
    fn style(&self) -> render::Style {
        let color = match self.color {
            Color::Always => true,
            Color::Never => false,
            Color::Auto => {
                std::io::stdout().is_terminal() && std::env::var_os("NO_COLOR").is_none()
            }
        };
        render::Style {
            color,
            width: self.width.clamp(40, 400),
        }
    }
}

/// What a run over protocols has found.
#[derive(Debug, Default)]
pub struct Found<'a> {
    pub findings: Vec<&'a Diagnostic>,
    /// What an `accept` lets stand.
    pub accepted: Vec<&'a Diagnostic>,
    /// Files that were asked for.
    pub files: Vec<String>,
    /// Files that were written.
    pub wrote: Vec<String>,
    /// What the command has to show besides, in JSON, by its name.
    pub more: Option<(&'static str, Value)>,
}

impl Found<'_> {
    fn count(&self, level: Level) -> usize {
        self.findings
            .iter()
            .filter(|found| found.level == level)
            .count()
    }

    fn summary(&self) -> String {
        let count = |level: Level| {
            let number = self.count(level);
            format!(
                "{number} {}{}",
                level.word(),
                if number == 1 { "" } else { "s" }
            )
        };
        let files = self.files.len();
        let mut text = format!(
            "{files} file{} checked: {}, {}, {}",
            if files == 1 { "" } else { "s" },
            count(Level::Error),
            count(Level::Warning),
            count(Level::Note)
        );
        if !self.accepted.is_empty() {
            let _ = write!(text, "; {} accepted", self.accepted.len());
        }
        text
    }
}

/// What a command says when nothing is wrong: text for people, or all fields.
pub fn say(text: &str, found: &Found<'_>, args: &ReportArgs) -> Result<(), CannotRun> {
    match args.format {
        Format::Human | Format::Concise => output::say(text),
        Format::Json | Format::Sarif | Format::Github => report(found, &Sources::default(), args),
    }
}

/// Reports to standard output; the summary of the text forms goes with it.
pub fn report(found: &Found<'_>, sources: &Sources, args: &ReportArgs) -> Result<(), CannotRun> {
    let mut text = String::new();
    match args.format {
        Format::Human => {
            for finding in &found.findings {
                text.push_str(&render::human(finding, sources, args.style()));
                text.push('\n');
            }
            if !args.quiet {
                let _ = writeln!(text, "{}", found.summary());
            }
        }
        Format::Concise => {
            for finding in &found.findings {
                let line = render::concise(finding, sources);
                // As on the screen, so that it can be searched for as it is typed.
                let _ = writeln!(text, "{}", line.replace('\u{a0}', " "));
            }
            if !args.quiet {
                let _ = writeln!(text, "{}", found.summary());
            }
        }
        Format::Json => {
            let records = |list: &[&Diagnostic]| -> Vec<render::Record> {
                list.iter()
                    .map(|found| render::record(found, sources))
                    .collect()
            };
            let more = found.more.iter();
            text = pretty(&Report {
                format_version: FORMAT_VERSION,
                tool: TOOL,
                files: found.files.clone(),
                findings: records(&found.findings),
                accepted: records(&found.accepted),
                summary: Summary {
                    errors: found.count(Level::Error),
                    warnings: found.count(Level::Warning),
                    notes: found.count(Level::Note),
                },
                wrote: found.wrote.clone(),
                more: more
                    .map(|(name, more)| ((*name).to_owned(), more.clone()))
                    .collect(),
            });
        }
        Format::Sarif => text = pretty(&sarif(&found.findings, sources, None)),
        Format::Github => {
            for finding in &found.findings {
                text.push_str(&annotation(finding, sources));
            }
        }
    }
    output::print(&text)
}

/// Tells that the program could not run, in the form that was asked for.
pub fn report_failure(error: &CannotRun, format: Format) {
    let said = match format {
        Format::Human | Format::Concise => {
            eprintln!("tempwright: {}", visible_text(&error.to_string()));
            return;
        }
        Format::Json => pretty(&Failure {
            format_version: FORMAT_VERSION,
            tool: TOOL,
            error: error.to_string(),
        }),
        Format::Sarif => pretty(&sarif(&[], &Sources::default(), Some(error))),
        Format::Github => format!("::error::{}\n", escape(&error.to_string(), false)),
    };
    // Where even this cannot be written the exit code still says it.
    let _ = output::print(&said);
}

const FORMAT_VERSION: &str = "1.0";

const TOOL: Tool = Tool {
    name: "tempwright",
    version: env!("CARGO_PKG_VERSION"),
};

/// What a command says with `--format json`: what it has found, or why it could not run.
#[derive(schemars::JsonSchema)]
#[serde(untagged)]
#[expect(dead_code, reason = "only its schema is asked for")]
enum Said {
    Report(Report),
    Failure(Failure),
}

#[derive(Serialize, schemars::JsonSchema)]
struct Report {
    format_version: &'static str,
    tool: Tool,
    /// Files that were asked for.
    files: Vec<String>,
    findings: Vec<render::Record>,
    /// What an `accept` lets stand.
    accepted: Vec<render::Record>,
    summary: Summary,
    /// Files that were written.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    wrote: Vec<String>,
    /// What the command has to show besides, by its name.
    #[serde(flatten)]
    more: BTreeMap<String, Value>,
}

#[derive(Serialize, schemars::JsonSchema)]
struct Failure {
    format_version: &'static str,
    tool: Tool,
    error: String,
}

#[derive(Serialize, schemars::JsonSchema)]
struct Tool {
    name: &'static str,
    version: &'static str,
}

#[derive(Serialize, schemars::JsonSchema)]
struct Summary {
    errors: usize,
    warnings: usize,
    notes: usize,
}

/// The JSON Schema of what `--format json` prints.
pub fn schema() -> Value {
    let settings = schemars::generate::SchemaSettings::draft2020_12().for_serialize();
    settings
        .into_generator()
        .into_root_schema_for::<Said>()
        .to_value()
}

pub fn pretty<T: Serialize>(value: &T) -> String {
    let mut text = unsteering(&serde_json::to_string_pretty(value).unwrap_or_default());
    text.push('\n');
    text
}

/// The same JSON: what would steer a terminal, and can stand in a text only, is written
/// by its number.
pub fn unsteering(json: &str) -> String {
    let mut out = String::with_capacity(json.len());
    for character in json.chars() {
        if steers(character) {
            let _ = write!(out, "\\u{:04x}", u32::from(character));
        } else {
            out.push(character);
        }
    }
    out
}

/// A workflow command of a merge request: one line, its own escapes.
fn annotation(found: &Diagnostic, sources: &Sources) -> String {
    let record = render::record(found, sources);
    let level = match found.level {
        Level::Error => "error",
        Level::Warning => "warning",
        Level::Note => "notice",
    };
    let mut message = format!("{} ({})", record.title, record.name);
    for part in std::iter::once(&record.why).chain(&record.help) {
        let _ = write!(message, "\n{part}");
    }
    let Some(place) = record.places.first() else {
        return String::new();
    };
    format!(
        "::{level} file={},line={},col={},endLine={},title={}::{}\n",
        escape(&place.path, true),
        place.line,
        place.column,
        place.end_line,
        escape(&record.name, true),
        escape(&message, false)
    )
}

fn escape(text: &str, property: bool) -> String {
    let mut out = String::new();
    for character in text.chars() {
        match character {
            '%' => out.push_str("%25"),
            '\r' => out.push_str("%0D"),
            '\n' => out.push_str("%0A"),
            ':' if property => out.push_str("%3A"),
            ',' if property => out.push_str("%2C"),
            other if steers(other) => out.push('\u{fffd}'),
            other => out.push(other),
        }
    }
    out
}
