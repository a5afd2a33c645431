//! `check`: everything that is wrong with protocols.

use super::project::{self, CannotRun};
use crate::diag::{Level, render};
use std::path::PathBuf;
use std::process::ExitCode;

#[derive(Debug, clap::Args)]
pub struct Args {
    /// Protocol files or folders (without any: the folder `protocols`)
    paths: Vec<PathBuf>,
}

pub fn run(args: &Args) -> Result<ExitCode, CannotRun> {
    let project = project::find(&args.paths, None)?;
    let loaded = project::read(&project)?;
    for found in &loaded.diagnostics {
        println!(
            "{}",
            render::human(found, &loaded.sources, render::Style::default())
        );
    }
    let errors = loaded
        .diagnostics
        .iter()
        .filter(|found| found.level == Level::Error)
        .count();
    println!("{} protocols, {errors} errors", loaded.protocols.len());
    Ok(ExitCode::from(u8::from(errors > 0)))
}
