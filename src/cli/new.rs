//! `new`: a first protocol to work on.

use super::output;
use super::project::CannotRun;
use crate::diag::Level;
use crate::model::words::{CONNECTING_WORDS, Means};
use crate::model::{FixedWord as _, load};
use crate::source::MemoryLibrary;
use crate::starter::{Kind, ROUTES, Wish, text};
use std::path::PathBuf;
use std::process::ExitCode;

#[derive(Debug, Clone, Copy, clap::ValueEnum)]
enum Purpose {
    FeverControl,
    TherapeuticHypothermia,
}

#[derive(Debug, clap::Args)]
pub struct Args {
    /// The protocol's name: lower case, with hyphens
    name: String,
    #[arg(long, value_enum, default_value = "fever-control")]
    purpose: Purpose,
    /// surface, intravascular or esophageal
    #[arg(long, default_value = "surface")]
    route: String,
    /// The target, where there is one
    #[arg(long, default_value = "33.0 °C")]
    target: String,
    /// How long at target
    #[arg(long, default_value = "24 h")]
    hold: String,
    /// How fast to rewarm
    #[arg(long, default_value = "0.25 °C/h")]
    rewarm: String,
    /// Where to write it (without: NAME.protocol; `-` is standard output)
    #[arg(long, short)]
    output: Option<PathBuf>,
}

pub fn run(args: &Args) -> Result<ExitCode, CannotRun> {
    let name = args.name.as_str();
    let shape = name.starts_with(|first: char| first.is_ascii_lowercase())
        && name.chars().all(|character| {
            character.is_ascii_lowercase() || character.is_ascii_digit() || character == '-'
        })
        && !CONNECTING_WORDS.contains(&name);
    if !shape {
        return Err(CannotRun(format!(
            "`{name}` is no name for a protocol: write lower-case letters, digits and hyphens, such as adult-arrest"
        )));
    }
    let route = Means::from_word(&args.route).filter(|route| ROUTES.contains(route));
    let Some(route) = route else {
        let known: Vec<&str> = ROUTES.iter().map(|route| route.word()).collect();
        return Err(CannotRun(format!(
            "there is no starter for the route `{}`; there is one for {}",
            args.route,
            known.join(", ")
        )));
    };
    let written = text(&Wish {
        name: name.to_owned(),
        kind: match args.purpose {
            Purpose::FeverControl => Kind::FeverControl,
            Purpose::TherapeuticHypothermia => Kind::Hypothermia,
        },
        route,
        target: args.target.clone(),
        hold: args.hold.clone(),
        rewarm: args.rewarm.clone(),
    });
    refuse_broken(&written)?;
    let path = match &args.output {
        Some(path) if path.as_os_str() == "-" => {
            output::print(&written)?;
            return Ok(ExitCode::SUCCESS);
        }
        Some(path) => path.clone(),
        None => PathBuf::from(format!("{name}.protocol")),
    };
    if path.exists() {
        return Err(CannotRun(format!(
            "`{}` is there already; it was not touched. Name another file with --output",
            path.display()
        )));
    }
    output::write(&path, written.as_bytes())?;
    output::print(&format!(
        "wrote {}: read its `# decide:` lines, then run `tempwright check {}`\n",
        path.display(),
        path.display()
    ))?;
    Ok(ExitCode::SUCCESS)
}

/// A wish that is no value of its kind would begin the work with an error.
fn refuse_broken(written: &str) -> Result<(), CannotRun> {
    let library = MemoryLibrary::default().with("new.protocol", written);
    let loaded = load(&library, &["new.protocol"]).map_err(|error| CannotRun(error.to_string()))?;
    match loaded
        .diagnostics
        .iter()
        .find(|found| found.level == Level::Error)
    {
        Some(found) => Err(CannotRun(format!("nothing was written: {}", found.title))),
        None => Ok(()),
    }
}
