//! `check`: everything that is wrong with protocols.

use super::format::{self, Found, ReportArgs};
use super::project::{self, CannotRun};
use crate::checks::run::check_all;
use crate::diag::Level;
use std::path::PathBuf;
use std::process::ExitCode;

#[derive(Debug, clap::Args)]
pub struct Args {
    /// Protocol files or folders (without any: the folder `protocols`)
    paths: Vec<PathBuf>,
    /// The day against which review dates and exceptions are judged (without it they are not)
    #[arg(long, value_name = "YYYY-MM-DD")]
    on: Option<jiff::civil::Date>,
    #[command(flatten)]
    report: ReportArgs,
}

pub fn run(args: &Args) -> Result<ExitCode, CannotRun> {
    let project = project::find(&args.paths, None)?;
    let loaded = project::read(&project)?;
    let checked = check_all(loaded, args.on);
    let found = Found {
        findings: checked.findings.iter().collect(),
        accepted: checked.accepted.iter().collect(),
        files: project.files.clone(),
    };
    let clean = checked
        .findings
        .iter()
        .all(|finding| finding.level == Level::Note);
    format::report(&found, &checked.sources, &args.report)?;
    Ok(ExitCode::from(u8::from(!clean)))
}
