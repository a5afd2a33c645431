//! `approve`: writes who approves this very text into the protocol's file.

use super::format::{self, Format, Found, ReportArgs};
use super::git::Repository;
use super::output;
use super::project::{self, CannotRun};
use super::signature;
use crate::approval;
use crate::checks::run::check_all;
use crate::diag::{Level, visible_text};
use crate::model::{Protocol, Version, load};
use crate::rules::fingerprint;
use crate::source::{Library, ReadError};
use std::fs::File;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

#[derive(Debug, clap::Args)]
pub struct Args {
    /// The protocol file
    file: PathBuf,
    /// Who approves; with an address in angle brackets where approvals are signed
    #[arg(long, value_name = "NAME")]
    by: String,
    /// The day of the approval (without: today, by the clock of the protocol's time zone)
    #[arg(long, value_name = "DATE")]
    on: Option<jiff::civil::Date>,
    /// Sign the statement with this SSH key; the signature is written beside the file
    #[arg(long, value_name = "KEY")]
    sign: Option<PathBuf>,
    /// Take out approvals of other texts, which hold no more
    #[arg(long)]
    drop_stale: bool,
    #[command(flatten)]
    report: ReportArgs,
}

pub fn run(args: &Args) -> Result<ExitCode, CannotRun> {
    if args.file.is_dir() {
        project::find_one(&args.file)?;
    }
    let path = args
        .file
        .canonicalize()
        .map_err(|error| CannotRun(format!("`{}` cannot be read: {error}", args.file.display())))?;
    // From here on nobody else writes: what is read is what is replaced.
    let _held = lock(&path)?;
    let project = project::find_one(&path)?;
    let [place] = project.files.as_slice() else {
        return Err(CannotRun("name one protocol file".to_owned()));
    };
    let text = project
        .disk
        .read(place)
        .map_err(|error| cannot_read(place, error))?;
    let loaded = project::read(&project)?;
    let Some((root, protocol)) = loaded.protocols.first().cloned() else {
        return told(&loaded.diagnostics, &loaded.sources, args);
    };
    if root.0 != 0 || loaded.protocols.len() != 1 {
        return Err(CannotRun(format!(
            "`{}` does not hold one protocol",
            args.file.display()
        )));
    }
    let today = today(&protocol)?;
    let on = args.on.unwrap_or(today);
    if on > today {
        return Err(CannotRun(format!("{on} is still to come; it is {today}")));
    }
    if let Some(over) = approval::review_over(&protocol, on) {
        return Err(CannotRun(format!(
            "{over}; review it and write the day of the next review first"
        )));
    }
    let checked = check_all(loaded, Some(on));
    let errors: Vec<_> = checked
        .findings
        .iter()
        // That an older approval is of another text is why a new one is written.
        .filter(|found| found.level == Level::Error && found.name != "approval-stale")
        .cloned()
        .collect();
    if !errors.is_empty() {
        return told(&errors, &checked.sources, args);
    }
    let print = fingerprint(&protocol);
    let standing = approval::of_this(&protocol, &print);
    if standing
        .iter()
        .any(|one| one.by.markdown.trim() == args.by.trim())
    {
        return Err(CannotRun(format!(
            "{} has approved this text already; nothing was written",
            args.by.trim()
        )));
    }
    let repository = path
        .parent()
        .and_then(|folder| Repository::around(folder).ok());
    if let Some(repository) = &repository
        && standing.is_empty()
    {
        is_newer(repository, place, &protocol, &print)?;
    }
    let line = approval::statement(&args.by, on, &print).map_err(CannotRun)?;
    let mut written = approval::inserted(&text, &protocol, &line).ok_or_else(|| {
        CannotRun("no place for the statement was found; nothing was written".to_owned())
    })?;
    if args.drop_stale {
        written = without_stale(written, place, &project.disk, &print)?;
    }
    confirm(&written, place, &project.disk, &print, &line)?;
    let signed = match &args.sign {
        Some(key) => Some(signature::sign(key, &format!("{line}\n"))?),
        None => None,
    };
    let mode = std::fs::metadata(&path).map(|meta| meta.permissions());
    // The signature first: a statement is never there without the one that it needs.
    let beside = signature::beside(&path, &args.by);
    if let Some(signed) = &signed {
        output::write(&beside, signed)?;
    }
    output::write(&path, written.as_bytes())?;
    if let Ok(mode) = mode {
        let _ = std::fs::set_permissions(&path, mode);
    }
    let mut said = format!(
        "approved {} version {} by {} on {on} as {print}\n",
        protocol.name.name,
        protocol.head.version.value,
        args.by.trim()
    );
    if signed.is_some() {
        said.push_str(&format!("wrote {}\n", beside.display()));
    }
    if repository.is_none() {
        said.push_str("no git repository: whether the version is newer was not looked at\n");
    }
    let mut wrote = vec![args.file.display().to_string()];
    wrote.extend(signed.is_some().then(|| beside.display().to_string()));
    let approved = serde_json::json!({
        "protocol": protocol.name.name,
        "version": protocol.head.version.value.to_string(),
        "by": args.by.trim(),
        "on": on.to_string(),
        "fingerprint": print,
        "version_compared_with_history": repository.is_some(),
    });
    let found = Found {
        files: vec![args.file.display().to_string()],
        wrote,
        more: Some(("approved", approved)),
        ..Found::default()
    };
    format::say(&said, &found, &args.report)?;
    Ok(ExitCode::SUCCESS)
}

fn cannot_read(path: &str, error: ReadError) -> CannotRun {
    CannotRun(
        crate::model::LoadError {
            path: path.to_owned(),
            error,
        }
        .to_string(),
    )
}

fn told(
    found: &[crate::diag::Diagnostic],
    sources: &crate::source::Sources,
    args: &Args,
) -> Result<ExitCode, CannotRun> {
    let file = args.file.display().to_string();
    if matches!(args.report.format, Format::Human | Format::Concise) {
        eprintln!(
            "`{}` has errors; nothing with errors is approved",
            visible_text(&file)
        );
    }
    let errors = found.iter().filter(|found| found.level == Level::Error);
    let found = Found {
        findings: errors.collect(),
        files: vec![file],
        ..Found::default()
    };
    format::report(&found, sources, &args.report)?;
    Ok(ExitCode::from(1))
}

/// Whoever comes second waits here. The folder is held, since the file itself is
/// replaced.
fn lock(path: &Path) -> Result<File, CannotRun> {
    let folder = path.parent().unwrap_or_else(|| Path::new("."));
    let cannot = |error: std::io::Error| {
        CannotRun(format!(
            "`{}` cannot be held against others who approve: {error}; nothing was written",
            folder.display()
        ))
    };
    let file = if cfg!(unix) {
        File::open(folder).map_err(cannot)?
    } else {
        File::create(path.with_extension("protocol.lock")).map_err(cannot)?
    };
    file.lock().map_err(cannot)?;
    Ok(file)
}

fn today(protocol: &Protocol) -> Result<jiff::civil::Date, CannotRun> {
    let zone = &protocol.head.timezone.value;
    jiff::Timestamp::now()
        .in_tz(zone)
        .map(|now| now.date())
        .map_err(|error| CannotRun(format!("`{zone}` is no time zone: {error}")))
}

/// The last version that was approved must be an older one.
fn is_newer(
    repository: &Repository,
    place: &str,
    protocol: &Protocol,
    print: &str,
) -> Result<(), CannotRun> {
    let Some((version, commit)) = last_approved(repository, place, print) else {
        return Ok(());
    };
    let parts = |version: Version| (version.major, version.minor, version.patch);
    let now = protocol.head.version.value;
    if parts(now) > parts(version) {
        return Ok(());
    }
    let short: String = commit.chars().take(10).collect();
    Err(CannotRun(format!(
        "version {now} is not newer than {version}, which was approved (commit {short}) with another text; `tempwright \
         compare {short}:{place} {place}` says which step is demanded; nothing was written"
    )))
}

/// The newest commit in which another text of this file has an approval of its own.
fn last_approved(repository: &Repository, place: &str, print: &str) -> Option<(Version, String)> {
    let listed = repository.maybe(&["--literal-pathspecs", "log", "--format=%H", "--", place])?;
    for commit in listed.lines() {
        let Ok(revision) = repository.revision(commit) else {
            continue;
        };
        let Ok(loaded) = load(&revision, &[place]) else {
            continue;
        };
        let Some((_, then)) = loaded.protocols.first() else {
            continue;
        };
        let there = fingerprint(then);
        if there != print && !approval::of_this(then, &there).is_empty() {
            return Some((then.head.version.value, commit.to_owned()));
        }
    }
    None
}

/// The new text in the place of the old, everything else from the disk.
struct Instead<'a> {
    place: &'a str,
    text: &'a str,
    disk: &'a super::disk::Disk,
}

impl Library for Instead<'_> {
    fn read(&self, path: &str) -> Result<String, ReadError> {
        if path == self.place {
            Ok(self.text.to_owned())
        } else {
            self.disk.read(path)
        }
    }
}

fn reread(text: &str, place: &str, disk: &super::disk::Disk) -> Option<Protocol> {
    let library = Instead { place, text, disk };
    let loaded = load(&library, &[place]).ok()?;
    loaded.protocols.into_iter().next().map(|(_, it)| it)
}

/// What will be written is read once more: one approval more, and the same meaning.
fn confirm(
    text: &str,
    place: &str,
    disk: &super::disk::Disk,
    print: &str,
    line: &str,
) -> Result<(), CannotRun> {
    let right = reread(text, place, disk).is_some_and(|protocol| {
        fingerprint(&protocol) == print
            && approval::of_this(&protocol, print)
                .iter()
                .any(|one| approval::signed_text(one).as_deref() == Some(&format!("{line}\n")))
    });
    if right {
        return Ok(());
    }
    Err(CannotRun(
        "the statement could not be put into the file without changing what it means; nothing was written".to_owned(),
    ))
}

/// Takes out, with their lines, approvals whose fingerprint is another one.
fn without_stale(
    text: String,
    place: &str,
    disk: &super::disk::Disk,
    print: &str,
) -> Result<String, CannotRun> {
    let protocol = reread(&text, place, disk)
        .ok_or_else(|| CannotRun("the file changed while it was read".to_owned()))?;
    let mut text = text;
    let mut stale: Vec<_> = protocol
        .head
        .approvals
        .iter()
        .filter(|one| one.fingerprint.markdown.trim() != print)
        .map(|one| one.span.range())
        .collect();
    stale.sort_by_key(|range| std::cmp::Reverse(range.start));
    for range in stale {
        let line = text
            .get(..range.start)
            .and_then(|before| before.rfind('\n'))
            .map_or(0, |end| end + 1);
        let end = text
            .get(range.end..)
            .and_then(|after| after.find('\n'))
            .map_or(text.len(), |end| range.end + end + 1);
        let alone = text
            .get(line..range.start)
            .is_some_and(|lead| lead.trim().is_empty())
            && text
                .get(range.end..end)
                .is_some_and(|rest| rest.trim().is_empty());
        if alone {
            text.replace_range(line..end, "");
        } else {
            text.replace_range(range, "");
        }
    }
    Ok(text)
}
