//! `sheet`: the run sheet of one case, or a blank form.

use super::case_args::CaseArgs;
use super::make::{self, Form, PaperSize};
use super::output;
use super::project::{self, CannotRun};
use super::standing::{self, ApprovalArgs};
use crate::checks::run::check_all;
use crate::diag::{Level, render};
use std::path::PathBuf;
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
    /// The form (without: by the ending of --output, or else pdf)
    #[arg(long, value_enum)]
    format: Option<Form>,
    /// Where to write it (without: NAME.pdf here; `-` is standard output)
    #[arg(long, short)]
    output: Option<PathBuf>,
}

pub fn run(args: &Args) -> Result<ExitCode, CannotRun> {
    let project = project::find_one(&args.path)?;
    let loaded = project::read(&project)?;
    let checked = check_all(loaded, None);
    let mut told = String::new();
    for found in &checked.findings {
        // A text that changed since its approval is printed as the draft that it is.
        if found.level == Level::Error && found.name != "approval-stale" {
            told.push_str(&render::human(
                found,
                &checked.sources,
                render::Style::default(),
            ));
            told.push('\n');
        }
    }
    if !told.is_empty() {
        output::print(&told)?;
        eprintln!("no sheet is printed from a protocol with errors");
        return Ok(ExitCode::from(1));
    }
    let Some((root, protocol)) = checked.protocols.first() else {
        return Err(CannotRun(format!(
            "`{}` holds no protocol",
            args.path.display()
        )));
    };
    let case = args.case.case(protocol)?;
    let form = form(args)?;
    let place = checked.sources.get(*root).map_or("", |file| &file.path);
    let withheld = standing::withheld(&args.approval, &project, place, protocol)?;
    let document = make::document(protocol, &case, args.paper, withheld)?;
    let bytes = make::rendered(&document, form)?;
    let ending = match form {
        Form::Pdf => "pdf",
        Form::Html => "html",
        Form::Md => "md",
    };
    match &args.output {
        Some(path) if path.as_os_str() == "-" => output::print_bytes(&bytes)?,
        path => {
            let path = path
                .clone()
                .unwrap_or_else(|| PathBuf::from(format!("{}.{ending}", protocol.name.name)));
            output::write(&path, &bytes)?;
            output::print(&format!("wrote {}\n", path.display()))?;
        }
    }
    Ok(ExitCode::SUCCESS)
}

fn form(args: &Args) -> Result<Form, CannotRun> {
    if let Some(path) = &args.output
        && path.extension().is_some_and(|ending| ending == "protocol")
    {
        return Err(CannotRun(format!(
            "`{}` is the name of a protocol, which a sheet would replace; name another file",
            path.display()
        )));
    }
    if let Some(form) = args.format {
        return Ok(form);
    }
    let Some(path) = args.output.as_ref().filter(|path| path.as_os_str() != "-") else {
        return Ok(Form::Pdf);
    };
    match path.extension().and_then(|ending| ending.to_str()) {
        Some("pdf") => Ok(Form::Pdf),
        Some("html" | "htm") => Ok(Form::Html),
        Some("md" | "markdown") => Ok(Form::Md),
        _ => Err(CannotRun(format!(
            "the ending of `{}` does not say which form is wanted; add --format pdf, html or md",
            path.display()
        ))),
    }
}
