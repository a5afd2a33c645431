//! `sheet`: the run sheet of one case, or a blank form; and all that is due in the
//! case, as a table or a calendar.

use super::case_args::CaseArgs;
use super::format::{self, Found, ReportArgs};
use super::make::{self, Form, PaperSize};
use super::output;
use super::project::{self, CannotRun, Project};
use super::standing::{self, ApprovalArgs};
use crate::checks::run::check_all;
use crate::diag::{Level, visible_text};
use crate::document::CoursePoint;
use crate::model::Protocol;
use crate::{audit, eval, parallel, report};
use std::fs::File;
use std::io::BufReader;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

#[derive(Debug, clap::Args)]
pub struct Args {
    /// The protocol file
    path: PathBuf,
    #[command(flatten)]
    case: CaseArgs,
    #[command(flatten)]
    approval: ApprovalArgs,
    #[arg(long, value_enum, default_value_t)]
    paper: PaperSize,
    /// What is written (without: by the ending of --output, or else pdf)
    #[arg(long, value_enum)]
    form: Option<Form>,
    /// The log of this case (CSV), drawn over the chart of the planned course
    #[arg(long, value_name = "LOG")]
    log: Option<PathBuf>,
    /// Where to write it (without: NAME.pdf here; `-` is standard output)
    #[arg(long, short)]
    output: Option<PathBuf>,
    /// Write these too, beside the first and with its name: csv,ics
    #[arg(long, value_enum, value_delimiter = ',', value_name = "FORM,…")]
    also: Vec<Form>,
    #[command(flatten)]
    report: ReportArgs,
}

pub fn run(args: &Args) -> Result<ExitCode, CannotRun> {
    let project = project::find_one(&args.path)?;
    let loaded = project::read(&project)?;
    let root = loaded.protocols.first().cloned();
    let root = root.filter(|_| !loaded.has_errors());
    let place = root
        .as_ref()
        .and_then(|(root, _)| loaded.sources.get(*root))
        .map_or(String::new(), |file| file.path.clone());
    // The checks take as long as the printing: each has its processor.
    let (checked, files) = std::thread::scope(|scope| {
        let checking = std::thread::Builder::new()
            .stack_size(parallel::STACK)
            .spawn_scoped(scope, || parallel::alone(|| check_all(loaded, None)));
        let files = root
            .as_ref()
            .map(|(_, protocol)| files(args, &project, &place, protocol));
        (checking.map(std::thread::ScopedJoinHandle::join), files)
    });
    let checked = match checked {
        Ok(Ok(checked)) => checked,
        Ok(Err(panic)) => std::panic::resume_unwind(panic),
        Err(error) => return Err(CannotRun(format!("no thread can be started: {error}"))),
    };
    let mut found = Found {
        findings: checked
            .findings
            .iter()
            // A text that changed since its approval is printed as the draft that it is.
            .filter(|found| found.level == Level::Error && found.name != "approval-stale")
            .collect(),
        files: project.files.clone(),
        ..Found::default()
    };
    if !found.findings.is_empty() {
        format::report(&found, &checked.sources, &args.report)?;
        eprintln!("no sheet is printed from a protocol with errors");
        return Ok(ExitCode::from(1));
    }
    let Some(files) = files else {
        return Err(CannotRun(format!(
            "`{}` holds no protocol",
            args.path.display()
        )));
    };
    let mut said = String::new();
    for (path, bytes) in files? {
        if path.as_os_str() == "-" {
            output::print_bytes(&bytes)?;
            return Ok(ExitCode::SUCCESS);
        }
        output::write(&path, &bytes)?;
        let shown = output::shown(&path);
        said.push_str(&format!("wrote {shown}\n"));
        found.wrote.push(shown);
    }
    if !args.report.quiet {
        format::say(&said, &found, &args.report)?;
    }
    Ok(ExitCode::SUCCESS)
}

/// Everything is made before the first file is written.
fn files(
    args: &Args,
    project: &Project,
    place: &str,
    protocol: &Protocol,
) -> Result<Vec<(PathBuf, Vec<u8>)>, CannotRun> {
    let case = args.case.case(protocol)?;
    let first_form = form(args)?;
    let withheld = standing::withheld(&args.approval, project, place, protocol)?;
    let first = args.output.clone().unwrap_or_else(|| {
        PathBuf::from(format!("{}.{}", protocol.name.name, first_form.ending()))
    });
    if first.as_os_str() == "-" && !args.also.is_empty() {
        return Err(CannotRun(
            "--also writes files beside --output, which is standard output here; name a file"
                .to_owned(),
        ));
    }
    let records = match &args.log {
        Some(log) => recorded(protocol, args, log)?,
        None => Vec::new(),
    };
    let mut forms = vec![(first.clone(), first_form)];
    for also in &args.also {
        let path = first.with_extension(also.ending());
        if !forms.iter().any(|(known, _)| *known == path) {
            forms.push((path, *also));
        }
    }
    for (path, _) in &forms {
        let log = args.log.as_deref().map(|log| (log, "the log"));
        output::spares(
            path,
            log.into_iter()
                .chain([(args.path.as_path(), "the protocol")]),
        )?;
    }
    forms
        .into_iter()
        .map(|(path, form)| {
            let more = (withheld.clone(), records.clone());
            let bytes = make::of_case(protocol, &case, args.paper, form, more)?;
            Ok((path, bytes))
        })
        .collect()
}

/// The log's own course; its lines that cannot be read are told, and are no reason to
/// print no sheet.
fn recorded(
    protocol: &Protocol,
    args: &Args,
    log: &Path,
) -> Result<Vec<Vec<CoursePoint>>, CannotRun> {
    let options = audit::Options {
        start: args.case.start.clone(),
        round: false,
    };
    let shown = output::shown(log);
    let open = || File::open(log).map(BufReader::new);
    let found = audit::Auditor::new(protocol, options)
        .audit("log", open, &eval::Case::default(), &mut |_, _| {})
        .map_err(|error| {
            CannotRun(match error {
                audit::LogError::Disk(error) => format!("`{shown}` cannot be read: {error}"),
                audit::LogError::Start(why) => why,
            })
        })?;
    for problem in found
        .problems
        .iter()
        .filter(|problem| problem.weight == audit::Weight::Lost)
    {
        eprintln!(
            "{}",
            visible_text(&format!(
                "{shown}: {}: {}; not drawn",
                problem.place(),
                problem.what
            ))
        );
    }
    Ok(report::records(&found.course))
}

fn form(args: &Args) -> Result<Form, CannotRun> {
    if let Some(path) = &args.output {
        output::is_no_protocol(path)?;
    }
    if let Some(form) = args.form {
        return Ok(form);
    }
    let Some(path) = args.output.as_ref().filter(|path| path.as_os_str() != "-") else {
        return Ok(Form::Pdf);
    };
    by_ending(path).ok_or_else(|| {
        CannotRun(format!(
            "the ending of `{}` does not say what is wanted; add --form pdf, html, md, csv or ics",
            path.display()
        ))
    })
}

fn by_ending(path: &Path) -> Option<Form> {
    match path.extension()?.to_str()? {
        "pdf" => Some(Form::Pdf),
        "html" | "htm" => Some(Form::Html),
        "md" | "markdown" => Some(Form::Md),
        "csv" => Some(Form::Csv),
        "ics" => Some(Form::Ics),
        _ => None,
    }
}
