//! `new`: a first protocol to work on. On a terminal it asks for what it was not
//! told; elsewhere it takes the usual answer.

use super::format::{self, Format, Found, ReportArgs};
use super::output;
use super::project::CannotRun;
use crate::checks::run::check_all;
use crate::diag::{Diagnostic, Level};
use crate::model::words::{CONNECTING_WORDS, Means};
use crate::model::{FixedWord as _, load};
use crate::source::MemoryLibrary;
use crate::starter::{Kind, ROUTES, Wish, text};
use crate::words::listed;
use std::io::{BufRead as _, IsTerminal as _, Write as _};
use std::path::PathBuf;
use std::process::ExitCode;

#[derive(Debug, clap::Args)]
pub struct Args {
    /// The protocol's name: lower case, with hyphens
    name: String,
    /// fever-control, therapeutic-hypothermia, newborn-cooling, accidental-hypothermia, heat-stroke
    /// or perioperative-warmth [usually: fever-control]
    #[arg(long)]
    purpose: Option<String>,
    /// What is written after `patients` [usually for adults: "adult, weight 40 kg to 150 kg"]
    #[arg(long)]
    patients: Option<String>,
    /// For fever-control and therapeutic-hypothermia: surface, intravascular or esophageal
    /// [usually: surface]
    #[arg(long)]
    route: Option<String>,
    /// For therapeutic-hypothermia, as are hold and rewarm: the target [usually: "33.0 °C"]
    #[arg(long)]
    target: Option<String>,
    /// How long at target [usually: "24 h"]
    #[arg(long)]
    hold: Option<String>,
    /// How fast to rewarm [usually: "0.25 °C/h"]
    #[arg(long)]
    rewarm: Option<String>,
    /// Where to write it (without: NAME.protocol; `-` is standard output)
    #[arg(long, short)]
    output: Option<PathBuf>,
    #[command(flatten)]
    report: ReportArgs,
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
    let path = match &args.output {
        Some(path) if path.as_os_str() == "-" => None,
        Some(path) => Some(path.clone()),
        None => Some(PathBuf::from(format!("{name}.protocol"))),
    };
    if let Some(path) = path.as_ref().filter(|path| path.exists()) {
        return Err(CannotRun(format!(
            "`{}` is there already; it was not touched. Name another file with --output",
            path.display()
        )));
    }
    // Questions belong to people.
    let people = matches!(args.report.format, Format::Human | Format::Concise);
    let asks = people
        && path.is_some()
        && std::io::stdin().is_terminal()
        && std::io::stdout().is_terminal();
    let written = text(&wish(args, asks)?);
    refuse_broken(&written)?;
    let Some(path) = path else {
        output::print(&written)?;
        return Ok(ExitCode::SUCCESS);
    };
    output::write(&path, written.as_bytes())?;
    let shown = path.display().to_string();
    let checked = check_all(read(&written, &shown)?, None);
    if matches!(args.report.format, Format::Human | Format::Concise) {
        let to_do = still_to_do(&checked.findings);
        output::say(&format!(
            "wrote {shown}: {to_do}, then run `tempwright check {shown}`\n"
        ))?;
        return Ok(ExitCode::SUCCESS);
    }
    let found = Found {
        findings: checked.findings.iter().collect(),
        files: vec![shown.clone()],
        wrote: vec![shown],
        ..Found::default()
    };
    format::report(&found, &checked.sources, &args.report)?;
    Ok(ExitCode::SUCCESS)
}

/// What is wished for, each answer taken only when a protocol can be made with it.
fn wish(args: &Args, asks: bool) -> Result<Wish, CannotRun> {
    let mut wish = Wish {
        name: args.name.clone(),
        kind: Kind::FeverControl,
        route: Means::Surface,
        patients: Kind::FeverControl.usual_patients(),
        target: "33.0 °C".to_owned(),
        hold: "24 h".to_owned(),
        rewarm: "0.25 °C/h".to_owned(),
    };
    let known = listed(
        &Kind::ALL.map(|kind| kind.purpose().word().to_owned()),
        "or",
    );
    let question = format!("What is it for: {known}?");
    let told = args.purpose.clone();
    answer(
        &mut wish,
        asks,
        &question,
        "fever-control",
        told,
        |wish, said| {
            let mut kinds = Kind::ALL.into_iter();
            let kind = kinds.find(|kind| kind.purpose().word() == said);
            wish.kind = kind.ok_or(format!(
                "there is no starter for `{said}`; there is one for {known}"
            ))?;
            wish.patients = wish.kind.usual_patients();
            Ok(())
        },
    )?;
    refuse_what_is_not_asked(args, wish.kind)?;
    let question = "Which patients, as the protocol says it?";
    let usual = wish.patients.clone();
    answer(
        &mut wish,
        asks,
        question,
        &usual,
        args.patients.clone(),
        |wish, said| {
            wish.patients = said.to_owned();
            Ok(())
        },
    )?;
    let chooses_route = wish.kind.has_routes();
    let question = "By which route: surface, intravascular or esophageal?";
    answer(
        &mut wish,
        asks && chooses_route,
        question,
        "surface",
        args.route.clone(),
        |wish, said| {
            wish.route = route(said)?;
            Ok(())
        },
    )?;
    let cools = wish.kind.has_course();
    let usual = wish.target.clone();
    answer(
        &mut wish,
        asks && cools,
        "Which target?",
        &usual,
        args.target.clone(),
        |wish, said| {
            wish.target = said.to_owned();
            Ok(())
        },
    )?;
    let usual = wish.hold.clone();
    answer(
        &mut wish,
        asks && cools,
        "How long at target?",
        &usual,
        args.hold.clone(),
        |wish, said| {
            wish.hold = said.to_owned();
            Ok(())
        },
    )?;
    let usual = wish.rewarm.clone();
    answer(
        &mut wish,
        asks && cools,
        "How fast to rewarm?",
        &usual,
        args.rewarm.clone(),
        |wish, said| {
            wish.rewarm = said.to_owned();
            Ok(())
        },
    )?;
    Ok(wish)
}

/// An option that changes nothing would be taken for one that has.
fn refuse_what_is_not_asked(args: &Args, kind: Kind) -> Result<(), CannotRun> {
    let given = [
        ("--route", &args.route, kind.has_routes()),
        ("--target", &args.target, kind.has_course()),
        ("--hold", &args.hold, kind.has_course()),
        ("--rewarm", &args.rewarm, kind.has_course()),
    ];
    for (option, value, asked) in given {
        if value.is_some() && !asked {
            return Err(CannotRun(format!(
                "the starter for {} takes no {option}; leave it out and change the file that is written",
                kind.purpose().word()
            )));
        }
    }
    Ok(())
}

fn route(said: &str) -> Result<Means, String> {
    let route = Means::from_word(said).filter(|route| ROUTES.contains(route));
    route.ok_or_else(|| {
        let known: Vec<&str> = ROUTES.iter().map(|route| route.word()).collect();
        format!(
            "there is no starter for the route `{said}`; there is one for {}",
            known.join(", ")
        )
    })
}

/// Takes what was told on the command line; else asks, where there is somebody to
/// ask, until the answer can be used; else takes the usual.
fn answer(
    wish: &mut Wish,
    asks: bool,
    question: &str,
    usual: &str,
    told: Option<String>,
    take: impl Fn(&mut Wish, &str) -> Result<(), String>,
) -> Result<(), CannotRun> {
    if let Some(told) = told {
        return take(wish, &told).map_err(CannotRun);
    }
    if !asks {
        return take(wish, usual).map_err(CannotRun);
    }
    loop {
        let mut out = std::io::stdout().lock();
        let _ = write!(out, "{question} [{usual}] ");
        let _ = out.flush();
        let mut line = String::new();
        let read = std::io::stdin().lock().read_line(&mut line);
        if !matches!(read, Ok(1..)) {
            return Err(CannotRun(
                "the answers ended before the last question; nothing was written".to_owned(),
            ));
        }
        let said = line.trim();
        let said = if said.is_empty() { usual } else { said };
        let mut tried = wish.clone();
        let taken = take(&mut tried, said)
            .and_then(|()| refuse_broken(&text(&tried)).map_err(|error| error.0));
        match taken {
            Ok(()) => {
                *wish = tried;
                return Ok(());
            }
            Err(why) => {
                let _ = writeln!(std::io::stdout(), "  {why}");
            }
        }
    }
}

/// A wish that is no value of its kind would begin the work with an error.
fn refuse_broken(written: &str) -> Result<(), CannotRun> {
    let loaded = read(written, "new.protocol")?;
    match loaded
        .diagnostics
        .iter()
        .find(|found| found.level == Level::Error)
    {
        Some(found) => Err(CannotRun(format!("nothing was written: {}", found.title))),
        None => Ok(()),
    }
}

fn read(written: &str, path: &str) -> Result<crate::model::Loaded, CannotRun> {
    let library = MemoryLibrary::default().with(path, written);
    load(&library, &[path]).map_err(|error| CannotRun(error.to_string()))
}

/// What was wished for may lie outside a published limit; that is said at once.
fn still_to_do(findings: &[Diagnostic]) -> String {
    let wrong = findings
        .iter()
        .filter(|found| found.level != Level::Note)
        .count();
    let open = findings.len() - wrong;
    let decide = format!("{open} things are still to be decided, each at its `# decide:`");
    match wrong {
        0 => decide,
        1 => format!("1 finding is to be looked at, and {decide}"),
        many => format!("{many} findings are to be looked at, and {decide}"),
    }
}
