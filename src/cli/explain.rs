//! `explain`: the page about one finding or one published limit.

use super::output;
use super::project::CannotRun;
use crate::checks::explain::{explain, names, nearest_name};
use std::fmt::Write as _;
use std::process::ExitCode;

#[derive(Debug, clap::Args)]
pub struct Args {
    /// A finding's name, as reports show it (without: all names)
    name: Option<String>,
}

pub fn run(args: &Args) -> Result<ExitCode, CannotRun> {
    let Some(name) = &args.name else {
        let mut text = String::new();
        for name in names() {
            if let Some(page) = explain(name) {
                let _ = writeln!(text, "{name:<32} {}", page.summary);
            }
        }
        output::print(&text)?;
        return Ok(ExitCode::SUCCESS);
    };
    match explain(name) {
        Some(page) => {
            output::print(&page.to_string())?;
            Ok(ExitCode::SUCCESS)
        }
        None => {
            let near = nearest_name(name)
                .map_or(String::new(), |near| format!("; did you mean `{near}`?"));
            Err(CannotRun(format!(
                "there is no finding `{name}`{near} `tempwright explain` lists them all"
            )))
        }
    }
}
