//! `check`: everything that is wrong with protocols, and whether rule files are
//! whole.

use super::format::{self, Found, ReportArgs};
use super::output;
use super::progress::Line;
use super::project::{self, CannotRun};
use super::{told, watch};
use crate::checks::run::{Checked, check_each};
use crate::diag::{Diagnostic, Level};
use crate::model::Opened;
use crate::rules;
use crate::source::MAX_FILE_BYTES;
use std::io::Read as _;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::{Mutex, PoisonError};

#[derive(Debug, clap::Args)]
pub struct Args {
    /// Protocol files or folders (without any: the folder `protocols`), and rule files (`rules.json`)
    paths: Vec<PathBuf>,
    /// The day against which review dates and exceptions are judged (without it they are not)
    #[arg(long, value_name = "YYYY-MM-DD")]
    on: Option<jiff::civil::Date>,
    /// Check again whenever a file changes, until it is stopped (Ctrl-C)
    #[arg(long)]
    watch: bool,
    #[command(flatten)]
    report: ReportArgs,
}

pub fn run(args: &Args) -> Result<ExitCode, CannotRun> {
    if args.watch {
        return watch::again_and_again(|| once(args), args.report.format);
    }
    Ok(once(args)?.0)
}

/// One run, and the files that it has read.
fn once(args: &Args) -> Result<(ExitCode, Vec<PathBuf>), CannotRun> {
    let (rule_files, paths): (Vec<PathBuf>, Vec<PathBuf>) = args
        .paths
        .iter()
        .cloned()
        .partition(|path| path.extension().is_some_and(|ending| ending == "json"));
    let mut checked = Checked::default();
    let mut files = Vec::new();
    let mut read = rule_files.clone();
    if !paths.is_empty() || rule_files.is_empty() {
        let project = project::find(&paths, None)?;
        let opened = project::open(&project)?;
        let root = project.disk.root();
        read.extend(opened.sources.iter().map(|(_, file)| root.join(&file.path)));
        // A library that is not there yet may come.
        read.extend(opened.missing.iter().map(|path| root.join(path)));
        files.clone_from(&project.files);
        checked = with_progress(opened, args.on);
    }
    for path in &rule_files {
        files.push(output::shown(path));
        checked
            .findings
            .extend(rule_file(path, &mut checked.sources)?);
    }
    let found = Found {
        findings: checked.findings.iter().collect(),
        accepted: checked.accepted.iter().collect(),
        files,
        ..Found::default()
    };
    let clean = checked
        .findings
        .iter()
        .all(|finding| finding.level == Level::Note);
    format::report(&found, &checked.sources, &args.report)?;
    Ok((ExitCode::from(u8::from(!clean)), read))
}

/// Checks everything, and shows on a terminal how many protocols of several are done.
fn with_progress(opened: Opened, on: Option<jiff::civil::Date>) -> Checked {
    let progress = Mutex::new((Line::new(), 0));
    let tell = |path: &str, done: usize, of: usize| {
        let mut progress = progress.lock().unwrap_or_else(PoisonError::into_inner);
        let (line, shown) = &mut *progress;
        // Of two threads the later one may say it first.
        if of > 1 && done > *shown {
            *shown = done;
            line.show(path, done as u64, of as u64);
        }
    };
    check_each(opened, on, &tell)
}

/// Whether it is whole: of a version that is read, unchanged since it was written,
/// and one with itself.
fn rule_file(
    path: &Path,
    sources: &mut crate::source::Sources,
) -> Result<Option<Diagnostic>, CannotRun> {
    let shown = output::shown(path);
    let cannot = |why: String| CannotRun(format!("`{shown}` cannot be read: {why}"));
    let file = std::fs::File::open(path).map_err(|error| match error.kind() {
        std::io::ErrorKind::NotFound => CannotRun(format!("there is no file or folder `{shown}`")),
        _ => cannot(error.to_string()),
    })?;
    let mut bytes = Vec::new();
    file.take(MAX_FILE_BYTES + 1)
        .read_to_end(&mut bytes)
        .map_err(|error| cannot(error.to_string()))?;
    if bytes.len() as u64 > MAX_FILE_BYTES {
        return Err(cannot("it is larger than 16 MiB".to_owned()));
    }
    Ok(match rules::read_protocol(&bytes) {
        Err(refusal) => Some(told::rule_file(&shown, &refusal, sources)),
        Ok((read, _)) => told::left_out(&shown, &read.left_out, sources),
    })
}
