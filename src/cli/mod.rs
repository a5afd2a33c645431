//! The commands. Everything that touches files, the clock or the terminal is here.

pub mod disk;
mod project;

use clap::{Parser, Subcommand};
use std::process::ExitCode;

/// Checks a unit's temperature-management protocols and prints their run sheets.
#[derive(Debug, Parser)]
#[command(name = "tempwright", version, about, max_term_width = 100)]
struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Report everything that is wrong with protocols
    Check(check::Args),
}

mod check;

/// Runs the program on the process's own arguments.
pub fn main() -> ExitCode {
    let cli = match Cli::try_parse() {
        Ok(cli) => cli,
        Err(error) => {
            let code = if error.use_stderr() { 2 } else { 0 };
            // Nothing is left to tell when the terminal is gone.
            let _ = error.print();
            return ExitCode::from(code);
        }
    };
    let outcome = match cli.command {
        Command::Check(args) => check::run(&args),
    };
    match outcome {
        Ok(code) => code,
        Err(error) => {
            eprintln!("tempwright: {error}");
            ExitCode::from(2)
        }
    }
}
