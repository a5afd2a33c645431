//! `fmt`: protocol files in one style.

use super::format::{self, Format, Found, ReportArgs};
use super::output;
use super::project::{self, CannotRun};
use super::told;
use crate::diag::{Diagnostic, render, visible_text};
use crate::format::{Refusal, format};
use crate::source::{Library as _, SourceFile, Sources};
use std::fmt::Write as _;
use std::io::{IsTerminal as _, Read as _};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

#[derive(Debug, clap::Args)]
pub struct Args {
    /// Protocol files or folders; `-` reads standard input and writes standard output
    paths: Vec<PathBuf>,
    /// Change nothing; list the files that are not in the style
    #[arg(long)]
    check: bool,
    /// Change nothing; show what would be changed
    #[arg(long)]
    diff: bool,
    #[command(flatten)]
    report: ReportArgs,
}

pub fn run(args: &Args) -> Result<ExitCode, CannotRun> {
    if args.paths == [Path::new("-")] {
        return stdin(args);
    }
    let project = project::find(&args.paths, None)?;
    let mut run = Run::default();
    for path in &project.files {
        let text = project.disk.read(path).map_err(|error| {
            CannotRun(
                crate::model::LoadError {
                    path: path.clone(),
                    error,
                }
                .to_string(),
            )
        })?;
        match formatted(path, &text, &mut run)? {
            None => {}
            Some(after) if after == text => {}
            Some(after) if args.check || args.diff => run.differs(path, &text, &after, args.diff),
            Some(after) => {
                let full = project.disk.root().join(path);
                output::write(&full, after.as_bytes())?;
                let _ = writeln!(run.said, "formatted {}", visible_text(path));
                run.wrote.push(path.clone());
            }
        }
    }
    run.report(&project.files, &args.report)
}

/// What was found and done.
#[derive(Default)]
struct Run {
    sources: Sources,
    /// Why files could not be formatted.
    broken: Vec<Diagnostic>,
    /// Files that are not in the style.
    unlike: Vec<Diagnostic>,
    wrote: Vec<String>,
    /// For people.
    said: String,
}

impl Run {
    fn differs(&mut self, path: &str, before: &str, after: &str, in_full: bool) {
        self.unlike
            .push(told::not_formatted(path, before, after, &mut self.sources));
        if in_full {
            self.said.push_str(&difference(path, before, after));
        } else {
            let _ = writeln!(self.said, "{}", visible_text(path));
        }
    }

    fn report(&self, files: &[String], args: &ReportArgs) -> Result<ExitCode, CannotRun> {
        let failed = !self.broken.is_empty() || !self.unlike.is_empty();
        if args.format == Format::Human {
            for finding in &self.broken {
                eprintln!(
                    "{}",
                    render::human(finding, &self.sources, render::Style::default())
                );
                let path = self.sources.get(finding.place.span.file);
                let path = path.map_or("-", |file| file.path.as_str());
                eprintln!(
                    "`{}` was not formatted: mend this first",
                    visible_text(path)
                );
            }
            if !args.quiet || failed {
                output::print(&self.said)?;
            }
        } else {
            let found = Found {
                findings: self.broken.iter().chain(&self.unlike).collect(),
                files: files.to_vec(),
                wrote: self.wrote.clone(),
                ..Found::default()
            };
            format::report(&found, &self.sources, args)?;
        }
        Ok(ExitCode::from(u8::from(failed)))
    }
}

fn stdin(args: &Args) -> Result<ExitCode, CannotRun> {
    let mut bytes = Vec::new();
    std::io::stdin()
        .take(crate::source::MAX_FILE_BYTES + 1)
        .read_to_end(&mut bytes)
        .map_err(|error| CannotRun(format!("standard input cannot be read: {error}")))?;
    if bytes.len() as u64 > crate::source::MAX_FILE_BYTES {
        return Err(CannotRun("standard input is larger than 16 MiB".to_owned()));
    }
    let text = String::from_utf8(bytes)
        .map_err(|_| CannotRun("standard input is not plain UTF-8 text".to_owned()))?;
    let mut run = Run::default();
    let Some(after) = formatted("-", &text, &mut run)? else {
        return run.report(&["-".to_owned()], &args.report);
    };
    if args.check || args.diff {
        if after != text {
            run.differs("-", &text, &after, args.diff);
        }
        if !args.diff {
            // There is no name that would say anything.
            run.said.clear();
        }
        return run.report(&["-".to_owned()], &args.report);
    }
    output::print(&after)?;
    Ok(ExitCode::SUCCESS)
}

/// `None` where braces or quotes do not close; that is then told.
fn formatted(path: &str, text: &str, run: &mut Run) -> Result<Option<String>, CannotRun> {
    match format(text) {
        Ok(after) => Ok(Some(after)),
        Err(Refusal::Outline(found)) => {
            let file = run.sources.add(SourceFile::new(path, text));
            run.broken.extend(found.into_iter().map(|mut finding| {
                // The formatter knows one file only.
                finding.place.span.file = file;
                for other in &mut finding.others {
                    other.span.file = file;
                }
                finding
            }));
            Ok(None)
        }
        Err(Refusal::Changed) => Err(CannotRun(format!(
            "`{path}` was not formatted: the result would not have said the same. This is a fault of tempwright; the file is as it was"
        ))),
    }
}

/// What would change, as a unified difference: for a person as it can be shown, for a
/// program byte for byte.
fn difference(path: &str, before: &str, after: &str) -> String {
    let path = &visible_text(path);
    let text = similar::TextDiff::from_lines(before, after)
        .unified_diff()
        .context_radius(2)
        .header(path, &format!("{path} (formatted)"))
        .to_string();
    if std::io::stdout().is_terminal() {
        visible_text(&text)
    } else {
        text
    }
}
