//! `lsp`: the language server on standard input and output.

use super::disk::Disk;
use super::project::CannotRun;
use std::process::ExitCode;

#[derive(Debug, clap::Args)]
pub struct Args {
    /// The day against which review dates are judged (without it they are not)
    #[arg(long, value_name = "YYYY-MM-DD")]
    on: Option<jiff::civil::Date>,
    /// Editors add this; standard input and output are always used
    #[arg(long, hide = true)]
    stdio: bool,
}

pub fn run(args: &Args) -> Result<ExitCode, CannotRun> {
    let (connection, threads) = lsp_server::Connection::stdio();
    let served = crate::lsp::serve(&connection, args.on, |root| {
        Box::new(Disk::new(if root.is_empty() { "/" } else { root }))
    });
    drop(connection);
    // An editor that closed its end has left, which is no fault.
    let _ = threads.join();
    match served {
        Ok(()) => Ok(ExitCode::SUCCESS),
        Err(error) => Err(CannotRun(format!(
            "the editor's messages ended badly: {error}"
        ))),
    }
}
