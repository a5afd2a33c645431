//! The commands. Everything that touches files, the clock or the terminal is here.
//!
//! Every command ends with 0 (clean), 1 (findings, differences, a failing trial)
//! or 2 (could not run), in every format.

mod approve;
mod audit;
mod build;
mod case_args;
mod check;
mod compare;
pub mod disk;
mod explain;
mod fmt;
mod forecast;
mod format;
mod git;
mod history;
mod kit;
mod lsp;
mod make;
mod new;
mod output;
mod progress;
mod project;
mod rehearse;
mod sarif;
mod sheet;
mod signature;
mod standing;
mod timeline;
mod told;
mod verify;
mod versions;
mod watch;

use crate::diag::{steers, visible_text};
use clap::{CommandFactory as _, Parser, Subcommand, ValueEnum as _};
use format::Format;
use project::CannotRun;
use std::io::Write as _;
use std::process::ExitCode;

/// Checks a unit's temperature-management protocols and prints their run sheets.
///
/// It supports and does not replace local policy and clinical judgement.
#[derive(Debug, Parser)]
#[command(name = "tempwright", version, max_term_width = 100)]
struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Report everything that is wrong with protocols
    Check(check::Args),
    /// Check protocols and write their blank sheets and rule files
    Build(build::Args),
    /// Print the run sheet of one case, or a blank form
    Sheet(sheet::Args),
    /// Say what a change does to a patient, between two versions
    Compare(compare::Args),
    /// Write who approves this very text into a protocol
    Approve(approve::Args),
    /// List the versions of a protocol in git, each with what its step does
    History(history::Args),
    /// Say which version a sheet came from, and whether that is in force
    Verify(verify::Args),
    /// Make one page that prints sheets in a browser, with nothing installed
    Kit(kit::Args),
    /// Explain a finding or a published limit
    Explain(explain::Args),
    /// Print the JSON Schema of rule files, or of findings
    Schema(SchemaArgs),
    /// Put protocol files into the one style
    Fmt(fmt::Args),
    /// Show when each phase starts and ends
    Timeline(timeline::Args),
    /// Try every scenario of protocols
    Rehearse(rehearse::Args),
    /// Estimate whether what a protocol wants is within reach of its method
    Forecast(forecast::Args),
    /// Hold the logs of finished cases against their protocol
    Audit(audit::Args),
    /// Write a first protocol to work on
    New(new::Args),
    /// Serve an editor over standard input and output
    Lsp(lsp::Args),
    /// Print a completion script for a shell
    Completions { shell: clap_complete::Shell },
    /// Print the manual page
    Man,
}

/// A schema has one form; it can be asked for as with every other command.
#[derive(Debug, clap::Args)]
struct SchemaArgs {
    /// Of rule files, or of what commands report with `--format json`
    #[arg(value_enum, default_value_t)]
    of: SchemaOf,
    #[arg(long, value_enum, default_value_t)]
    format: SchemaForm,
}

#[derive(Debug, Clone, Copy, Default, clap::ValueEnum)]
enum SchemaForm {
    #[default]
    #[value(alias = "human")]
    Json,
}

#[derive(Debug, Clone, Copy, Default, clap::ValueEnum)]
enum SchemaOf {
    #[default]
    Rules,
    Findings,
}

/// Runs the program on the process's own arguments.
pub fn main() -> ExitCode {
    std::panic::set_hook(Box::new(|panic| {
        eprintln!(
            "tempwright {}: a fault of the program itself: {panic}",
            env!("CARGO_PKG_VERSION")
        );
        eprintln!("Nothing was written. Please report it with the command and the file.");
    }));
    let format = wanted_format();
    let cli = match Cli::try_parse() {
        Ok(cli) => cli,
        Err(error) if error.use_stderr() && !matches!(format, Format::Human | Format::Concise) => {
            let said = error.render().to_string();
            let said = said.trim().trim_start_matches("error: ");
            format::report_failure(&CannotRun(said.to_owned()), format);
            return ExitCode::from(2);
        }
        Err(error) => {
            let code = if error.use_stderr() { 2 } else { 0 };
            let said = error.render().to_string();
            // Nothing is left to tell when the terminal is gone.
            if said.chars().any(steers) {
                let _ = write!(std::io::stderr(), "{}", visible_text(&said));
            } else {
                let _ = error.print();
            }
            return ExitCode::from(code);
        }
    };
    // A deep protocol must not meet a small main stack.
    let work = std::thread::Builder::new()
        .stack_size(crate::parallel::STACK)
        .spawn(move || run(cli.command));
    let outcome = match work.map(std::thread::JoinHandle::join) {
        Ok(Ok(outcome)) => outcome,
        // The panic hook has told it.
        Ok(Err(_)) => return ExitCode::from(2),
        Err(error) => Err(CannotRun(format!("no thread can be started: {error}"))),
    };
    match outcome {
        Ok(code) => code,
        Err(error) => {
            format::report_failure(&error, format);
            ExitCode::from(2)
        }
    }
}

fn run(command: Command) -> Result<ExitCode, CannotRun> {
    match command {
        Command::Check(args) => check::run(&args),
        Command::Build(args) => build::run(&args),
        Command::Sheet(args) => sheet::run(&args),
        Command::Compare(args) => compare::run(&args),
        Command::Approve(args) => approve::run(&args),
        Command::History(args) => history::run(&args),
        Command::Verify(args) => verify::run(&args),
        Command::Kit(args) => kit::run(&args),
        Command::Explain(args) => explain::run(&args),
        Command::Schema(SchemaArgs {
            of,
            format: SchemaForm::Json,
        }) => {
            output::print(&format::pretty(&match of {
                SchemaOf::Rules => crate::rules::schema(),
                SchemaOf::Findings => format::schema(),
            }))?;
            Ok(ExitCode::SUCCESS)
        }
        Command::Fmt(args) => fmt::run(&args),
        Command::Timeline(args) => timeline::run(&args),
        Command::Rehearse(args) => rehearse::run(&args),
        Command::Forecast(args) => forecast::run(&args),
        Command::Audit(args) => audit::run(&args),
        Command::New(args) => new::run(&args),
        Command::Lsp(args) => lsp::run(&args),
        Command::Completions { shell } => {
            let mut script = Vec::new();
            clap_complete::generate(shell, &mut Cli::command(), "tempwright", &mut script);
            output::print_bytes(&script)?;
            Ok(ExitCode::SUCCESS)
        }
        Command::Man => {
            let mut page = Vec::new();
            clap_mangen::Man::new(Cli::command())
                .render(&mut page)
                .map_err(|error| CannotRun(error.to_string()))?;
            output::print_bytes(&page)?;
            Ok(ExitCode::SUCCESS)
        }
    }
}

/// The format that is asked for, even where the other arguments are wrong.
fn wanted_format() -> Format {
    let arguments: Vec<String> = std::env::args_os()
        .map(|argument| argument.to_string_lossy().into_owned())
        .collect();
    let mut wanted = Format::default();
    for (index, argument) in arguments.iter().enumerate() {
        let value = match argument.strip_prefix("--format") {
            Some("") => arguments.get(index + 1).map(String::as_str),
            Some(rest) => rest.strip_prefix('='),
            None => None,
        };
        if let Some(format) = value.and_then(|value| Format::from_str(value, true).ok()) {
            wanted = format;
        }
    }
    wanted
}
