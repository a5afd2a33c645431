//! `kit`: one page for the ward's PC that prints sheets with nothing installed.

use super::format::{self, Found, ReportArgs};
use super::output;
use super::project::{self, CannotRun};
use super::standing::{self, ApprovalArgs};
use crate::checks::run::check_all;
use crate::diag::Level;
use crate::kit::{Engine, Root, Texts, page};
use std::path::PathBuf;
use std::process::ExitCode;

#[derive(Debug, clap::Args)]
pub struct Args {
    /// Protocol files or folders of them (without: the folder `protocols`, or this one)
    paths: Vec<PathBuf>,
    /// Where to write the page; `-` is standard output
    #[arg(long, short, default_value = "kit.html")]
    output: PathBuf,
    #[command(flatten)]
    approval: ApprovalArgs,
    #[command(flatten)]
    report: ReportArgs,
}

pub fn run(args: &Args) -> Result<ExitCode, CannotRun> {
    let to_stdout = args.output.as_os_str() == "-";
    if !to_stdout
        && !args
            .output
            .extension()
            .is_some_and(|ending| ending == "html" || ending == "htm")
    {
        return Err(CannotRun(format!(
            "`{}` does not end in .html, so no browser would open it; name a file such as kit.html",
            args.output.display()
        )));
    }
    let project = project::find(&args.paths, None)?;
    let checked = check_all(project::read(&project)?, None);
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
        eprintln!("no page is made while a protocol has errors");
        return Ok(ExitCode::from(1));
    }
    if checked.protocols.is_empty() {
        return Err(CannotRun(
            "these files hold no protocol, only libraries or scenarios".to_owned(),
        ));
    }
    let mut roots = Vec::new();
    for (root, protocol) in &checked.protocols {
        let path = checked.sources.get(*root).map_or("", |file| &file.path);
        roots.push(Root {
            path: path.to_owned(),
            withheld: standing::withheld(&args.approval, &project, path, protocol)?,
        });
    }
    let texts = Texts {
        files: checked
            .sources
            .iter()
            .map(|(_, file)| (file.path.clone(), file.text.clone()))
            .collect(),
        roots,
    };
    let listed = Engine::new(texts.clone()).listed().map_err(CannotRun)?;
    let html = page::html(&texts, &listed).map_err(|error| CannotRun(error.to_string()))?;
    if to_stdout {
        output::print(&html)?;
        return Ok(ExitCode::SUCCESS);
    }
    output::write(&args.output, html.as_bytes())?;
    let drafts = listed.iter().filter(|one| one.draft).count();
    let shown = output::shown(&args.output);
    let said = format!(
        "wrote {shown}: {} approved, {drafts} printed as drafts\n",
        count(listed.len() - drafts, "protocol"),
    );
    found.wrote.push(shown);
    if !args.report.quiet {
        format::say(&said, &found, &args.report)?;
    }
    Ok(ExitCode::SUCCESS)
}

fn count(number: usize, what: &str) -> String {
    if number == 1 {
        format!("1 {what}")
    } else {
        format!("{number} {what}s")
    }
}
