//! `history`: the versions of a protocol in git, each with what its step does.

use super::format::{TextOrJson, pretty};
use super::git::{Repository, Revision};
use super::output;
use super::project::CannotRun;
use super::versions;
use crate::approval;
use crate::compare::{self, Version, text};
use crate::model::{Loaded, load};
use crate::rules::fingerprint;
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;
use std::process::ExitCode;

#[derive(Debug, clap::Args)]
pub struct Args {
    /// The protocol's file in this repository
    path: String,
    /// No more than so many versions, the newest
    #[arg(long, default_value_t = 100)]
    limit: usize,
    #[arg(long, value_enum, default_value_t)]
    format: TextOrJson,
}

#[derive(Debug, Serialize)]
struct Line {
    commit: String,
    date: String,
    subject: String,
    path: String,
    version: Option<String>,
    fingerprint: Option<String>,
    approved_by: Vec<String>,
    /// What the step from the version before does.
    step: String,
}

pub fn run(args: &Args) -> Result<ExitCode, CannotRun> {
    let here = std::path::Path::new(".");
    let repository = Repository::around(here)?;
    // As a shell completes it: from here, not from the top.
    let path = versions::in_repository(&repository, &format!("./{}", args.path))?;
    let steps = commits(&repository, &path)?;
    if steps.is_empty() {
        return Err(CannotRun(format!(
            "git knows no version of `{}`",
            args.path
        )));
    }
    let mut lines = Vec::new();
    let mut newer: Option<(usize, Result<Loaded, String>)> = None;
    // From the newest: each is compared with the one before it, once that is read.
    for (index, step) in steps.iter().enumerate().take(args.limit.saturating_add(1)) {
        let loaded = at(&repository, step);
        if let Some((newest, newer)) = newer.take()
            && let Some(newest) = steps.get(newest)
        {
            lines.push(line(newest, &newer, Some(&loaded)));
        }
        newer = Some((index, loaded));
    }
    if let Some((last, loaded)) = newer
        && lines.len() < args.limit
        && let Some(last) = steps.get(last)
    {
        lines.push(line(last, &loaded, None));
    }
    output::say(&match args.format {
        TextOrJson::Json => {
            pretty(&serde_json::json!({ "format_version": "1.0", "versions": lines }))
        }
        TextOrJson::Text => shown(&lines),
    })?;
    Ok(ExitCode::SUCCESS)
}

struct Step {
    commit: String,
    date: String,
    subject: String,
    path: String,
}

/// The commits of this branch that touch the protocol or what it has ever used,
/// newest first, with the path that it had then.
fn commits(repository: &Repository, path: &str) -> Result<Vec<Step>, CannotRun> {
    // Following renames takes one path only, and so it is asked for by itself.
    let own = repository.ask(&[
        "--literal-pathspecs",
        "log",
        "--first-parent",
        "--diff-merges=first-parent",
        "--follow",
        "--format=%x01%H",
        "--name-only",
        "--",
        path,
    ])?;
    let mut paths: BTreeMap<String, String> = BTreeMap::new();
    for part in own.split('\u{1}').skip(1) {
        let mut rows = part.lines().filter(|row| !row.is_empty());
        if let (Some(commit), Some(name)) = (rows.next(), rows.next()) {
            paths.insert(commit.to_owned(), name.to_owned());
        }
    }
    let mut watched: BTreeSet<String> = paths.values().cloned().collect();
    for (commit, name) in &paths {
        if let Ok(loaded) = repository
            .revision(commit)
            .and_then(|revision| read(&revision, name))
        {
            for (_, protocol) in &loaded.protocols {
                watched.extend(protocol.uses.iter().map(|used| used.path.clone()));
            }
        }
    }
    let mut arguments = vec![
        "--literal-pathspecs",
        "log",
        "--first-parent",
        "--diff-merges=first-parent",
        "--format=%H%x1f%cs%x1f%s",
        "--",
    ];
    arguments.extend(watched.iter().map(String::as_str));
    let listed = repository.ask(&arguments)?;
    let mut steps = Vec::new();
    // Oldest first, so that a commit that touches a library only has the path of then.
    let mut current: Option<String> = None;
    for row in listed.lines().rev() {
        let mut parts = row.splitn(3, '\u{1f}');
        let (Some(commit), Some(date), Some(subject)) = (parts.next(), parts.next(), parts.next())
        else {
            continue;
        };
        if let Some(name) = paths.get(commit) {
            current = Some(name.clone());
        }
        // Before the protocol itself is there, its libraries are of no interest.
        let Some(path) = &current else { continue };
        steps.push(Step {
            commit: commit.to_owned(),
            date: date.to_owned(),
            subject: subject.chars().filter(|c| !c.is_control()).collect(),
            path: path.clone(),
        });
    }
    steps.reverse();
    Ok(steps)
}

fn read(revision: &Revision, path: &str) -> Result<Loaded, CannotRun> {
    load(revision, &[path]).map_err(|error| CannotRun(error.to_string()))
}

fn at(repository: &Repository, step: &Step) -> Result<Loaded, String> {
    let loaded = repository
        .revision(&step.commit)
        .and_then(|revision| read(&revision, &step.path))
        .map_err(|error| error.0)?;
    if loaded.protocols.is_empty() {
        return Err("cannot be read: it has errors".to_owned());
    }
    Ok(loaded)
}

fn version(loaded: &Loaded) -> Option<Version<'_>> {
    loaded.protocols.first().map(|(_, protocol)| Version {
        protocol,
        sources: &loaded.sources,
        reading: &loaded.diagnostics,
    })
}

fn line(
    step: &Step,
    loaded: &Result<Loaded, String>,
    before: Option<&Result<Loaded, String>>,
) -> Line {
    let now = loaded.as_ref().ok().and_then(version);
    let then = before.and_then(|before| before.as_ref().ok().and_then(version));
    let print = now.map(|now| fingerprint(now.protocol));
    let said = match (&now, &then, loaded) {
        (_, _, Err(why)) => why.clone(),
        (Some(now), Some(then), _) => text::one_line(&compare::step(then, now)),
        (Some(_), None, _) if before.is_some() => {
            "nothing to compare with: the version before cannot be read".to_owned()
        }
        _ => "first version".to_owned(),
    };
    Line {
        commit: step.commit.clone(),
        date: step.date.clone(),
        subject: step.subject.clone(),
        path: step.path.clone(),
        version: now.map(|now| now.protocol.head.version.value.to_string()),
        approved_by: match (&now, &print) {
            (Some(now), Some(print)) => approval::of_this(now.protocol, print)
                .iter()
                .map(|one| one.by.markdown.clone())
                .collect(),
            _ => Vec::new(),
        },
        fingerprint: print,
        step: said,
    }
}

fn shown(lines: &[Line]) -> String {
    let mut out = String::new();
    for line in lines {
        let commit: String = line.commit.chars().take(10).collect();
        let approved = match line.approved_by.as_slice() {
            [] => String::new(),
            names => format!(" (approved by {})", names.join(", ")),
        };
        let _ = writeln!(
            out,
            "{commit} {} {}{approved}: {}",
            line.date,
            line.version.as_deref().unwrap_or("-"),
            line.step
        );
    }
    out
}
