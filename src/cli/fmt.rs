//! `fmt`: protocol files in one style.

use super::output;
use super::project::{self, CannotRun};
use crate::diag::render;
use crate::format::{Refusal, format};
use crate::source::{Library as _, SourceFile, Sources};
use std::fmt::Write as _;
use std::io::Read as _;
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
}

pub fn run(args: &Args) -> Result<ExitCode, CannotRun> {
    if args.paths == [Path::new("-")] {
        return stdin(args);
    }
    let project = project::find(&args.paths, None)?;
    let mut failed = false;
    let mut out = String::new();
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
        match formatted(path, &text)? {
            None => failed = true,
            Some(after) if after == text => {}
            Some(after) => {
                if args.diff {
                    out.push_str(&difference(path, &text, &after));
                }
                if args.check && !args.diff {
                    let _ = writeln!(out, "{path}");
                }
                if args.check || args.diff {
                    failed = true;
                } else {
                    output::write(&project.disk.root().join(path), after.as_bytes())?;
                    let _ = writeln!(out, "formatted {path}");
                }
            }
        }
    }
    output::print(&out)?;
    Ok(ExitCode::from(u8::from(failed)))
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
    let Some(after) = formatted("-", &text)? else {
        return Ok(ExitCode::from(1));
    };
    let changed = after != text;
    if args.diff {
        output::print(&difference("-", &text, &after))?;
    } else if !args.check {
        output::print(&after)?;
    }
    Ok(ExitCode::from(u8::from(
        changed && (args.check || args.diff),
    )))
}

/// `None` where braces or quotes do not close; that has then been told.
fn formatted(path: &str, text: &str) -> Result<Option<String>, CannotRun> {
    match format(text) {
        Ok(after) => Ok(Some(after)),
        Err(Refusal::Outline(found)) => {
            let mut sources = Sources::default();
            sources.add(SourceFile::new(path, text));
            for finding in &found {
                eprintln!(
                    "{}",
                    render::human(finding, &sources, render::Style::default())
                );
            }
            eprintln!("`{path}` was not formatted: mend this first");
            Ok(None)
        }
        Err(Refusal::Changed) => Err(CannotRun(format!(
            "`{path}` was not formatted: the result would not have said the same. This is a fault of tempwright; the file is as it was"
        ))),
    }
}

/// What would change, as a unified difference.
fn difference(path: &str, before: &str, after: &str) -> String {
    similar::TextDiff::from_lines(before, after)
        .unified_diff()
        .context_radius(2)
        .header(path, &format!("{path} (formatted)"))
        .to_string()
}
