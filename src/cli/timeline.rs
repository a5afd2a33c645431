//! `timeline`: when each phase starts and ends.

use super::case_args::CaseArgs;
use super::format::{self, Format, Found, ReportArgs, pretty};
use super::output;
use super::project::{self, CannotRun};
use crate::diag::Level;
use crate::plan::{Plan, report};
use std::path::PathBuf;
use std::process::ExitCode;

#[derive(Debug, clap::Args)]
pub struct Args {
    /// The protocol file
    path: PathBuf,
    #[command(flatten)]
    case: CaseArgs,
    #[command(flatten)]
    report: ReportArgs,
}

pub fn run(args: &Args) -> Result<ExitCode, CannotRun> {
    let project = project::find_one(&args.path)?;
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
        eprintln!("nothing is planned from a protocol with errors");
        return Ok(ExitCode::from(1));
    }
    let Some((_, protocol)) = loaded.protocols.first() else {
        return Err(CannotRun(format!(
            "`{}` holds no protocol",
            args.path.display()
        )));
    };
    let case = args.case.case(protocol)?;
    let plan = Plan::of(protocol, &case).map_err(|error| CannotRun(error.to_string()))?;
    match args.report.format {
        Format::Human | Format::Concise => {
            output::say(&report::text(protocol, &case, &plan))?;
        }
        Format::Json => output::print(&pretty(&report::timeline(protocol, &case, &plan)))?,
        Format::Sarif | Format::Github => {
            format::report(&found, &loaded.sources, &args.report)?;
        }
    }
    Ok(ExitCode::SUCCESS)
}
