//! `rehearse`: tries every scenario of protocols.

use super::format::pretty;
use super::output;
use super::project::{self, CannotRun};
use crate::diag::{Level, render};
use crate::rehearse::{Rehearsal, rehearse, report};
use std::path::PathBuf;
use std::process::ExitCode;

#[derive(Debug, Clone, Copy, clap::ValueEnum)]
enum Form {
    Text,
    Json,
}

#[derive(Debug, clap::Args)]
pub struct Args {
    /// Protocol files, files of scenarios, or folders (without any: the folder `protocols`)
    paths: Vec<PathBuf>,
    #[arg(long, value_enum, default_value = "text")]
    format: Form,
}

pub fn run(args: &Args) -> Result<ExitCode, CannotRun> {
    let project = project::find(&args.paths, None)?;
    let loaded = project::read(&project)?;
    let errors: Vec<_> = loaded
        .diagnostics
        .iter()
        .filter(|found| found.level == Level::Error)
        .collect();
    for found in &errors {
        eprintln!(
            "{}",
            render::human(found, &loaded.sources, render::Style::default())
        );
    }
    let rehearsals: Vec<Rehearsal> = loaded
        .protocols
        .iter()
        .map(|(_, protocol)| rehearse(protocol, &loaded.sources))
        .collect();
    let text = match args.format {
        Form::Text => report(&rehearsals),
        Form::Json => pretty(&rehearsals),
    };
    output::print(&text)?;
    let passed =
        errors.is_empty() && !rehearsals.is_empty() && rehearsals.iter().all(Rehearsal::passed);
    Ok(ExitCode::from(u8::from(!passed)))
}
