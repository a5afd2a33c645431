//! `audit`: finished cases held against their protocol.

use super::case_args::CaseArgs;
use super::format::{self, Format, Found, ReportArgs, pretty};
use super::output;
use super::progress::Line;
use super::project::{self, CannotRun};
use crate::audit::{Audit, Auditor, LogError, Options, report_all, summary};
use crate::diag::{Level, visible_text};
use crate::eval::Case;
use crate::report;
use serde::Serialize;
use std::fs::File;
use std::io::{BufReader, Read as _};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

#[derive(Debug, Clone, Copy, clap::ValueEnum)]
enum Form {
    Text,
    /// One line for each line of a log that was not counted, or with a doubt, and for each missed goal
    Lines,
    Json,
    Csv,
    Html,
}

#[derive(Debug, clap::Args)]
pub struct Args {
    /// The protocol that the cases were treated by
    protocol: PathBuf,
    /// Logs of cases (CSV), or folders of them; `-` is standard input
    #[arg(required = true)]
    logs: Vec<PathBuf>,
    /// What is written (without: by the ending of --output, or else text)
    #[arg(long, value_enum)]
    form: Option<Form>,
    /// Where to write it (without: standard output)
    #[arg(long, short)]
    output: Option<PathBuf>,
    /// When the case began, where its log does not say: 2026-11-24T14:30
    #[arg(long, value_name = "DATE-TIME")]
    start: Option<String>,
    /// Body weight, where the log does not say: "82 kg"
    #[arg(long, value_name = "WEIGHT")]
    weight: Option<String>,
    /// When a mark of the protocol was, where the log does not say: rosc=13:05
    #[arg(long = "mark", value_name = "NAME=TIME")]
    marks: Vec<String>,
    /// The rate chosen where a phase plans two: rewarm="0.25 °C/h"
    #[arg(long = "rate", value_name = "PHASE=RATE")]
    rates: Vec<String>,
    /// Take values finer than the display of their reading to its nearest step
    #[arg(long)]
    round: bool,
    #[command(flatten)]
    report: ReportArgs,
}

/// What the JSON form holds.
#[derive(Serialize)]
struct Whole<'a> {
    format_version: u32,
    tool: &'static str,
    tool_version: &'static str,
    cases: &'a [Audit],
    all: crate::audit::Summary,
}

pub fn run(args: &Args) -> Result<ExitCode, CannotRun> {
    let project = project::find_one(&args.protocol)?;
    let loaded = project::read(&project)?;
    let found = Found {
        findings: loaded
            .diagnostics
            .iter()
            .filter(|found| found.level == Level::Error)
            .collect(),
        files: project.files.clone(),
        ..Found::default()
    };
    if !found.findings.is_empty() {
        format::report(&found, &loaded.sources, &args.report)?;
        eprintln!("no case is held against a protocol with errors");
        return Ok(ExitCode::from(1));
    }
    let Some((_, protocol)) = loaded.protocols.first() else {
        return Err(CannotRun(format!(
            "`{}` holds no protocol",
            args.protocol.display()
        )));
    };
    let form = form(args)?;
    let logs = logs(&args.logs)?;
    if let Some(output) = &args.output {
        output::is_no_protocol(output)?;
        let files = logs.iter().filter_map(|log| match log {
            Log::File(path) => Some((path.as_path(), "a log")),
            Log::Input(_) => None,
        });
        output::spares(output, files)?;
    }
    if logs.len() > 1 && (args.start.is_some() || args.weight.is_some() || !args.marks.is_empty()) {
        return Err(CannotRun(
            "--start, --weight and --mark are about one case, and several logs are given; \
             write them into each log as `start`, `weight` and the mark's own name"
                .to_owned(),
        ));
    }
    let entered = CaseArgs {
        start: args.start.clone(),
        weight: args.weight.clone(),
        marks: args.marks.clone(),
        rates: args.rates.clone(),
        ..CaseArgs::default()
    };
    let known = Case::from(&entered.case(protocol)?);
    let auditor = Auditor::new(
        protocol,
        Options {
            start: args.start.clone(),
            round: args.round,
        },
    );
    let mut audits = Vec::new();
    let mut progress = Line::new();
    for (index, log) in logs.iter().enumerate() {
        let name = log.name(&logs);
        let label = if logs.len() == 1 {
            name.clone()
        } else {
            format!("case {} of {}: {name}", index + 1, logs.len())
        };
        let mut tell = |done: u64, of: u64| progress.show(&label, done, of);
        let audit = match log {
            Log::File(path) => auditor.audit(
                &name,
                || File::open(path).map(|file| BufReader::with_capacity(1 << 18, file)),
                &known,
                &mut tell,
            ),
            Log::Input(bytes) => auditor.audit(&name, || Ok(bytes.as_slice()), &known, &mut tell),
        };
        audits.push(audit.map_err(|error| cannot(log, error))?);
    }
    progress.clear();
    let all = summary(&audits);
    let text = match form {
        Form::Text => visible_text(&report_all(&audits, &all)),
        Form::Json => pretty(&Whole {
            format_version: 1,
            tool: "tempwright",
            tool_version: env!("CARGO_PKG_VERSION"),
            cases: &audits,
            all,
        }),
        Form::Lines => visible_text(&lines(&audits)),
        Form::Csv => report::csv(&audits),
        Form::Html => report::html(protocol, &audits, &all),
    };
    match &args.output {
        Some(path) if path.as_os_str() != "-" => {
            output::write(path, text.as_bytes())?;
            eprintln!("wrote {}", visible_text(&path.display().to_string()));
        }
        _ => output::print(&text)?,
    }
    Ok(ExitCode::from(u8::from(
        !audits.iter().all(Audit::is_clean),
    )))
}

enum Log {
    File(PathBuf),
    Input(Vec<u8>),
}

impl Log {
    /// The file's name without its ending, or its path where two have the same.
    fn name(&self, all: &[Log]) -> String {
        let Log::File(path) = self else {
            return "standard input".to_owned();
        };
        let stem = |path: &Path| {
            path.file_stem()
                .map(|stem| stem.to_string_lossy().into_owned())
        };
        let own = stem(path);
        let same = all
            .iter()
            .filter(|log| matches!(log, Log::File(other) if stem(other) == own))
            .count();
        match own {
            Some(own) if same == 1 => own,
            _ => path.display().to_string(),
        }
    }
}

fn logs(paths: &[PathBuf]) -> Result<Vec<Log>, CannotRun> {
    let mut found = Vec::new();
    for path in paths {
        if path.as_os_str() == "-" {
            let mut bytes = Vec::new();
            std::io::stdin()
                .lock()
                .read_to_end(&mut bytes)
                .map_err(|error| CannotRun(format!("standard input cannot be read: {error}")))?;
            found.push(Log::Input(bytes));
            continue;
        }
        let meta = std::fs::metadata(path).map_err(|error| {
            CannotRun(match error.kind() {
                std::io::ErrorKind::NotFound => {
                    format!("there is no file or folder `{}`", path.display())
                }
                _ => format!("`{}` cannot be read: {error}", path.display()),
            })
        })?;
        if !meta.is_dir() {
            found.push(Log::File(path.clone()));
            continue;
        }
        let cannot = |error: std::io::Error| {
            CannotRun(format!(
                "the folder `{}` cannot be read: {error}",
                path.display()
            ))
        };
        let mut inside = Vec::new();
        for entry in std::fs::read_dir(path).map_err(cannot)? {
            let file = entry.map_err(cannot)?.path();
            if file.is_file()
                && file
                    .extension()
                    .is_some_and(|ending| ending.eq_ignore_ascii_case("csv"))
            {
                inside.push(file);
            }
        }
        if inside.is_empty() {
            return Err(CannotRun(format!(
                "there is no `.csv` file in `{}`",
                path.display()
            )));
        }
        inside.sort();
        found.extend(inside.into_iter().map(Log::File));
    }
    Ok(found)
}

fn form(args: &Args) -> Result<Form, CannotRun> {
    let ending = args
        .output
        .as_ref()
        .filter(|path| path.as_os_str() != "-")
        .and_then(|path| path.extension())
        .and_then(|ending| ending.to_str());
    if let Some(form) = args.form {
        return Ok(form);
    }
    Ok(match (ending, args.report.format) {
        (Some("json"), _) => Form::Json,
        (Some("csv"), _) => Form::Csv,
        (Some("html" | "htm"), _) => Form::Html,
        (_, Format::Human) => Form::Text,
        (_, Format::Concise) => Form::Lines,
        (_, Format::Json) => Form::Json,
        (_, Format::Sarif | Format::Github) => {
            return Err(CannotRun(
                "an audit is about cases, not about the text of a protocol; \
                 it is written with --form text, lines, json, csv or html"
                    .to_owned(),
            ));
        }
    })
}

/// `case:LINE: what`, as other programs point at lines.
fn lines(audits: &[Audit]) -> String {
    let mut out = String::new();
    for audit in audits {
        for problem in &audit.problems {
            let line = problem.first_line.unwrap_or(0);
            out.push_str(&format!(
                "{}:{line}: [{}] {}\n",
                audit.case, problem.kind, problem.what
            ));
        }
        // What ends with exit code 1 is never without a line.
        for figure in &audit.figures {
            if let (Some(goal), Some(false)) = (&figure.goal, figure.goal_met) {
                out.push_str(&format!(
                    "{}:0: [goal-missed] {}: {}, goal {goal}\n",
                    audit.case, figure.title, figure.shown
                ));
            }
        }
    }
    out
}

fn cannot(log: &Log, error: LogError) -> CannotRun {
    let name = match log {
        Log::File(path) => format!("`{}`", path.display()),
        Log::Input(_) => "standard input".to_owned(),
    };
    CannotRun(match error {
        LogError::Disk(error) => format!("{name} cannot be read: {error}"),
        LogError::Start(why) => why,
    })
}
