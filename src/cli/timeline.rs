//! `timeline`: when each phase starts and ends, for all patients or for one case.

use super::case_args::CaseArgs;
use super::format::pretty;
use super::output;
use super::project::{self, CannotRun};
use crate::plan::{Plan, report};
use std::path::PathBuf;
use std::process::ExitCode;

#[derive(Debug, Clone, Copy, clap::ValueEnum)]
enum Form {
    Text,
    Json,
}

#[derive(Debug, clap::Args)]
pub struct Args {
    /// The protocol file
    path: PathBuf,
    #[command(flatten)]
    case: CaseArgs,
    #[arg(long, value_enum, default_value = "text")]
    format: Form,
}

pub fn run(args: &Args) -> Result<ExitCode, CannotRun> {
    let project = project::find_one(&args.path)?;
    let (protocol, _) = project::one(&project)?;
    let case = args.case.case(&protocol)?;
    let plan = Plan::of(&protocol, &case).map_err(|error| CannotRun(error.to_string()))?;
    let text = match args.format {
        Form::Text => report::text(&protocol, &case, &plan),
        Form::Json => pretty(&report::timeline(&protocol, &case, &plan)),
    };
    output::print(&text)?;
    Ok(ExitCode::SUCCESS)
}
