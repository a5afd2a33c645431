//! `forecast`: is what a protocol wants within reach of its method? An estimate.

use super::case_args::CaseArgs;
use super::format::{self, Format, Found, ReportArgs, pretty};
use super::output;
use super::project::{self, CannotRun};
use crate::diag::Level;
use crate::forecast::{Wanted, forecast, report};
use crate::model::Protocol;
use std::path::PathBuf;
use std::process::ExitCode;

#[derive(Debug, clap::Args)]
pub struct Args {
    /// The protocol file
    path: PathBuf,
    /// Body weight: "82 kg" (without: the lightest and the heaviest allowed)
    #[arg(long, value_name = "WEIGHT")]
    weight: Option<String>,
    /// Where the core begins: "36.4 °C" (without: the farthest that the protocol allows)
    #[arg(long, value_name = "TEMPERATURE")]
    from: Option<String>,
    /// When the case starts, for the marks: 2026-11-24T14:30
    #[arg(long, value_name = "DATE-TIME")]
    start: Option<String>,
    /// When a mark was, from which a phase is due: recognition=14:20
    #[arg(long = "mark", value_name = "NAME=TIME")]
    marks: Vec<String>,
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
        eprintln!("nothing is estimated from a protocol with errors");
        return Ok(ExitCode::from(1));
    }
    let Some((_, protocol)) = loaded.protocols.first() else {
        return Err(CannotRun(format!(
            "`{}` holds no protocol",
            args.path.display()
        )));
    };
    let estimate = forecast(protocol, &wanted(protocol, args)?);
    match args.report.format {
        Format::Human | Format::Concise => output::say(&report(&estimate))?,
        Format::Json => output::print(&pretty(&estimate))?,
        Format::Sarif | Format::Github => format::report(&found, &loaded.sources, &args.report)?,
    }
    Ok(ExitCode::SUCCESS)
}

/// What is asked, read and compared with the protocol as for a case.
fn wanted(protocol: &Protocol, args: &Args) -> Result<Wanted, CannotRun> {
    let refused = |error: crate::plan::CaseError| CannotRun(error.to_string());
    let entered = CaseArgs {
        start: args.start.clone(),
        marks: args.marks.clone(),
        ..CaseArgs::default()
    };
    let mut case = entered.case(protocol)?;
    let known = case.clone();
    if let Some(weight) = &args.weight {
        case = case.enter_weight(protocol, weight).map_err(refused)?;
    }
    let first = protocol
        .phases()
        .next()
        .map(|(_, phase)| phase.aim.reading());
    if let (Some(from), Some(reading)) = (&args.from, first) {
        let name = &protocol[reading].name.name;
        case = case.enter_arrival(protocol, name, from).map_err(refused)?;
    }
    let number = |value: crate::quantity::Exact| {
        let (numerator, denominator) = value.parts()?;
        Some(numerator as f64 / denominator as f64)
    };
    Ok(Wanted {
        weight: case.weight.and_then(|weight| number(weight.value)),
        from: case
            .arrival
            .into_values()
            .next()
            .and_then(|value| number(value.value)),
        case: known,
    })
}
