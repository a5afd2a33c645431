//! `compare`: what a change does to a patient.

use super::format::pretty;
use super::output;
use super::project::CannotRun;
use super::versions::{self, Spec, Versions};
use crate::compare::{self, Report};
use crate::diag::visible_text;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, clap::ValueEnum)]
enum Form {
    /// For a terminal
    #[default]
    #[value(alias = "human")]
    Text,
    /// For the comment on a merge request: the summary first, at most 60,000 characters
    Markdown,
    /// One page that needs nothing else, with both courses on one chart
    Html,
    /// All fields, for other programs
    Json,
}

#[derive(Debug, clap::Args)]
pub struct Args {
    /// The older version: a file, a folder, REV:path, or a revision of git as a whole
    #[arg(allow_hyphen_values = false)]
    old: String,
    /// The newer version, in the same forms (without it: the working copy)
    new: Option<String>,
    #[arg(long, value_enum, default_value_t)]
    format: Form,
    /// Where to write it (without: standard output)
    #[arg(long, short)]
    output: Option<PathBuf>,
    /// The path in the repository that the two files stand for, as difference tools
    /// hand over copies; what they use is read beside it
    #[arg(long = "as", value_name = "PATH")]
    stands_for: Option<String>,
}

pub fn run(args: &Args) -> Result<ExitCode, CannotRun> {
    let output = args.output.as_ref().filter(|path| path.as_os_str() != "-");
    if let Some(path) = output {
        output::is_no_protocol(path)?;
        let sides = std::iter::once(&args.old).chain(&args.new);
        let sides = sides.map(|side| (Path::new(side), "one of the versions"));
        output::spares(path, sides)?;
    }
    let (old, new) = sides(args)?;
    let report = report(&old, &new)?;
    let text = match args.format {
        Form::Text => visible_text(&compare::text::report(&report)),
        Form::Markdown => visible_text(&compare::markdown::report(&report)),
        Form::Html => compare::html::report(&report),
        Form::Json => pretty(&report),
    };
    match output {
        Some(path) => output::write(path, text.as_bytes())?,
        None => output::print(&text)?,
    }
    Ok(ExitCode::from(u8::from(!report.same_meaning())))
}

fn sides(args: &Args) -> Result<(Versions, Versions), CannotRun> {
    let old = versions::spec(&args.old);
    let new = match &args.new {
        Some(new) => versions::spec(new),
        None => match &old {
            Spec::InGit { path, .. } if path.is_empty() => Spec::WorkingCopy,
            Spec::InGit { path, .. } => Spec::Path(PathBuf::from(path)),
            Spec::Path(path) => {
                return Err(CannotRun(format!(
                    "`{}` is one version; name the other one too, or a revision of git",
                    path.display()
                )));
            }
            Spec::WorkingCopy => Spec::WorkingCopy,
        },
    };
    let place = args.stands_for.as_deref();
    Ok((versions::read(&old, place)?, versions::read(&new, place)?))
}

/// Pairs the protocols by name, those left by their file, and two lone ones.
fn report(old: &Versions, new: &Versions) -> Result<Report, CannotRun> {
    let olds: Vec<_> = old.iter().collect();
    let news: Vec<_> = new.iter().collect();
    for (side, list) in [(old, &olds), (new, &news)] {
        if list.is_empty() {
            return Err(CannotRun(format!("{} holds no protocol", side.said)));
        }
    }
    let mut left: Vec<usize> = (0..olds.len()).collect();
    let mut pairs: Vec<(usize, Option<usize>)> = Vec::new();
    let alone = olds.len() == 1 && news.len() == 1;
    for (n, (path, version)) in news.iter().enumerate() {
        let name = &version.protocol.name.name;
        let by = |wanted: &dyn Fn(&str, &str) -> bool| {
            left.iter().position(|o| {
                olds.get(*o)
                    .is_some_and(|(path, old)| wanted(path, &old.protocol.name.name))
            })
        };
        let found = by(&|_, other| other == name)
            .or_else(|| by(&|other, _| other == *path))
            .or_else(|| alone.then_some(0));
        pairs.push((n, found.map(|at| left.remove(at))));
    }
    let mut report = Report::new(&old.said, &new.said);
    for (n, o) in pairs {
        let Some((path, new)) = news.get(n) else {
            continue;
        };
        match o.and_then(|o| olds.get(o)) {
            Some((_, old)) => report.compared.push(compare::compare(old, new)),
            None => report
                .added
                .push(format!("{} ({path})", new.protocol.name.name)),
        }
    }
    for (path, version) in left.iter().filter_map(|o| olds.get(*o)) {
        report
            .removed
            .push(format!("{} ({path})", version.protocol.name.name));
    }
    report.settle();
    Ok(report)
}
