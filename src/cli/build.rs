//! `build`: checks protocols and writes their blank sheets, rule files and what
//! other systems read.

use super::format::{self, Format, Found, ReportArgs};
use super::make::{self, PaperSize};
use super::output;
use super::project::{self, CannotRun};
use super::standing::{self, ApprovalArgs};
use super::told;
use crate::checks::run::check_all;
use crate::diag::{Diagnostic, Level};
use crate::parallel;
use crate::source::Sources;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

#[derive(Debug, clap::Args)]
pub struct Args {
    /// Protocol files or folders (without any: the folder `protocols`)
    paths: Vec<PathBuf>,
    /// The folder to write into, one folder a protocol below it
    #[arg(long, default_value = "out")]
    out: PathBuf,
    #[arg(long, value_enum, default_value_t)]
    paper: PaperSize,
    /// Write nothing; say which files are not what the protocols give now
    #[arg(long)]
    check: bool,
    #[command(flatten)]
    approval: ApprovalArgs,
    #[command(flatten)]
    report: ReportArgs,
}

pub fn run(args: &Args) -> Result<ExitCode, CannotRun> {
    let project = project::find(&args.paths, None)?;
    let loaded = project::read(&project)?;
    let checked = check_all(loaded, None);
    let errors: Vec<&Diagnostic> = checked
        .findings
        .iter()
        // A text that changed since its approval is printed as the draft that it is.
        .filter(|found| found.level == Level::Error && found.name != "approval-stale")
        .collect();
    if !errors.is_empty() {
        // Nothing is written while anything is wrong, so that no folder holds a
        // mixture of old and new.
        let found = Found {
            findings: errors,
            files: project.files.clone(),
            ..Found::default()
        };
        format::report(&found, &checked.sources, &args.report)?;
        return Ok(ExitCode::from(1));
    }
    // Everything is made before the first file is written.
    let mut wanted = Vec::new();
    for (root, protocol) in &checked.protocols {
        let place = checked.sources.get(*root).map_or("", |file| &file.path);
        let withheld = standing::withheld(&args.approval, &project, place, protocol)?;
        wanted.push((protocol, withheld));
    }
    let made = parallel::map(wanted, |(protocol, withheld)| {
        let folder = args.out.join(&protocol.name.name);
        let made = make::all(protocol, args.paper, withheld)?;
        let placed = made
            .into_iter()
            .map(|(name, bytes)| (folder.join(name), bytes));
        Ok::<Vec<_>, CannotRun>(placed.collect())
    });
    let mut files: Vec<(PathBuf, Vec<u8>)> = Vec::new();
    for made in made {
        files.extend(made?);
    }
    let mut said = String::new();
    let mut sources = Sources::default();
    let mut stale = Vec::new();
    let mut wrote = Vec::new();
    for (path, bytes) in &files {
        let shown = output::shown(path);
        if args.check {
            if !same(path, bytes) {
                let _ = writeln!(said, "stale: {shown}");
                stale.push(told::stale(&shown, &mut sources));
            }
        } else {
            output::write(path, bytes)?;
            let _ = writeln!(said, "wrote {shown}");
            wrote.push(shown);
        }
    }
    let found = Found {
        findings: stale.iter().collect(),
        files: project.files.clone(),
        wrote,
        ..Found::default()
    };
    match args.report.format {
        Format::Human if args.report.quiet && stale.is_empty() => {}
        Format::Human => output::say(&said)?,
        Format::Concise if stale.is_empty() && !args.report.quiet => output::say(&said)?,
        Format::Concise | Format::Json | Format::Sarif | Format::Github => {
            format::report(&found, &sources, &args.report)?;
        }
    }
    Ok(ExitCode::from(u8::from(!stale.is_empty())))
}

fn same(path: &Path, bytes: &[u8]) -> bool {
    std::fs::read(path).is_ok_and(|there| there == bytes)
}
