//! `rehearse`: tries every scenario of protocols.

use super::format::{self, Format, Found, ReportArgs};
use super::output;
use super::project::{self, CannotRun};
use super::told;
use crate::diag::{Diagnostic, Level, render};
use crate::model::Protocol;
use crate::rehearse::{Rehearsal, rehearse, report};
use crate::source::Span;
use crate::suggest;
use serde_json::json;
use std::path::PathBuf;
use std::process::ExitCode;

#[derive(Debug, clap::Args)]
pub struct Args {
    /// Protocol files, files of scenarios, or folders (without any: the folder `protocols`)
    paths: Vec<PathBuf>,
    /// Write scenarios for what none reaches, ready to paste; they expect what the protocol does now
    #[arg(long)]
    suggest: bool,
    #[command(flatten)]
    report: ReportArgs,
}

pub fn run(args: &Args) -> Result<ExitCode, CannotRun> {
    let project = project::find(&args.paths, None)?;
    let loaded = project::read(&project)?;
    let errors: Vec<&Diagnostic> = loaded
        .diagnostics
        .iter()
        .filter(|found| found.level == Level::Error)
        .collect();
    if args.suggest && errors.is_empty() {
        return suggested(&loaded.protocols.iter().map(|(_, p)| p).collect::<Vec<_>>());
    }
    let rehearsed: Vec<(Span, Rehearsal)> = loaded
        .protocols
        .iter()
        .map(|(_, protocol)| {
            let tried = rehearse(protocol, &loaded.sources);
            (protocol.name.span, tried)
        })
        .collect();
    let passed =
        errors.is_empty() && !rehearsed.is_empty() && rehearsed.iter().all(|(_, one)| one.passed());
    if args.report.format == Format::Human {
        for found in &errors {
            eprintln!(
                "{}",
                render::human(found, &loaded.sources, render::Style::default())
            );
        }
        let rehearsals: Vec<Rehearsal> = rehearsed.into_iter().map(|(_, one)| one).collect();
        if !(args.report.quiet && passed) {
            output::say(&report(&rehearsals))?;
        }
    } else {
        let told = told::rehearsals(&rehearsed, &loaded.sources);
        let rehearsals: Vec<&Rehearsal> = rehearsed.iter().map(|(_, one)| one).collect();
        let found = Found {
            findings: errors.into_iter().chain(&told).collect(),
            files: project.files.clone(),
            more: Some(("rehearsals", json!(rehearsals))),
            ..Found::default()
        };
        format::report(&found, &loaded.sources, &args.report)?;
    }
    Ok(ExitCode::from(u8::from(!passed)))
}

/// Scenarios on standard output; what none was found for on standard error, and 1.
fn suggested(protocols: &[&Protocol]) -> Result<ExitCode, CannotRun> {
    let mut all = true;
    for protocol in protocols {
        let name = &protocol.name.name;
        let made = suggest::suggest(protocol);
        output::print(&made.text)?;
        if made.scenarios == 0 && made.without.is_empty() {
            eprintln!("{name}: its scenarios reach every phase, rule, rung and step");
        } else {
            eprintln!(
                "{name}: {} scenarios; read each before you paste it below the protocol: what it expects is what the protocol does now",
                made.scenarios
            );
        }
        for without in &made.without {
            eprintln!("{name}: no record was found for which {without}");
            all = false;
        }
    }
    Ok(ExitCode::from(u8::from(!all || protocols.is_empty())))
}
