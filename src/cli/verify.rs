//! `verify`: which version in the history a sheet came from, and whether that is
//! still in force.

use super::disk::Disk;
use super::format::{TextOrJson, pretty};
use super::git::Repository;
use super::output;
use super::project::{CannotRun, Project};
use super::standing::{self, ApprovalArgs};
use crate::approval;
use crate::model::{Protocol, load};
use crate::rules::{self, fingerprint};
use serde::Serialize;
use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::path::Path;
use std::process::ExitCode;

#[derive(Debug, clap::Args)]
pub struct Args {
    /// A fingerprint (16 digits or more), or a sheet (PDF, HTML, Markdown) or rule file
    what: String,
    /// The day on which it is asked whether it is in force (without: today)
    #[arg(long, value_name = "DATE")]
    on: Option<jiff::civil::Date>,
    #[command(flatten)]
    approval: ApprovalArgs,
    #[arg(long, value_enum, default_value_t)]
    format: TextOrJson,
}

#[derive(Debug, Serialize)]
struct Answer {
    format_version: &'static str,
    fingerprint: String,
    /// The versions of git that have it, newest first.
    found: Vec<Found>,
    in_force: bool,
    /// Why it is in force, or why not.
    because: String,
}

#[derive(Debug, Serialize)]
struct Found {
    protocol: String,
    version: String,
    fingerprint: String,
    path: String,
    commit: String,
    date: String,
    subject: String,
    approved_by: Vec<String>,
}

pub fn run(args: &Args) -> Result<ExitCode, CannotRun> {
    let wanted = wanted(&args.what)?;
    let repository = Repository::around(Path::new("."))?;
    let found = search(&repository, &wanted)?;
    let (in_force, because) = in_force(args, &repository, &wanted, &found)?;
    let answer = Answer {
        format_version: "1.0",
        fingerprint: wanted,
        found,
        in_force,
        because,
    };
    output::say(&match args.format {
        TextOrJson::Json => pretty(&answer),
        TextOrJson::Text => shown(&answer),
    })?;
    Ok(ExitCode::from(u8::from(!answer.in_force)))
}

fn shown(answer: &Answer) -> String {
    let mut out = format!("fingerprint {}\n", answer.fingerprint);
    match answer.found.as_slice() {
        [] => out.push_str("no commit of this repository has a protocol of that meaning\n"),
        // The oldest commit is the one that made it; later ones only carry it on.
        [.., made] => {
            let short: String = made.commit.chars().take(10).collect();
            let _ = writeln!(
                out,
                "{} version {}, {} since commit {short} of {}: {}",
                made.protocol, made.version, made.path, made.date, made.subject
            );
            let approved: BTreeSet<&String> = answer
                .found
                .iter()
                .flat_map(|found| &found.approved_by)
                .collect();
            if approved.is_empty() {
                out.push_str("never approved in git\n");
            } else {
                let names: Vec<&str> = approved.into_iter().map(String::as_str).collect();
                let _ = writeln!(out, "approved by {}", names.join(", "));
            }
        }
    }
    let word = if answer.in_force {
        "in force"
    } else {
        "NOT in force"
    };
    let _ = writeln!(out, "{word}: {}", answer.because);
    out
}

fn is_print(text: &str) -> bool {
    (16..=64).contains(&text.len())
        && text
            .bytes()
            .all(|byte| byte.is_ascii_digit() || (b'a'..=b'f').contains(&byte))
}

/// The fingerprint that was given, or that a file carries.
fn wanted(what: &str) -> Result<String, CannotRun> {
    let path = Path::new(what);
    let lower = what.trim().to_lowercase();
    if !path.exists() {
        if is_print(&lower) {
            return Ok(lower);
        }
        return Err(CannotRun(format!(
            "`{}` is no file that is there, and no fingerprint: that has 16 to 64 of the digits 0 to 9 and a to f",
            what.escape_debug()
        )));
    }
    const MOST: u64 = 64 * 1024 * 1024;
    let cannot = |error: std::io::Error| CannotRun(format!("`{what}` cannot be read: {error}"));
    let meta = std::fs::metadata(path).map_err(cannot)?;
    if !meta.is_file() || meta.len() > MOST {
        return Err(CannotRun(format!("`{what}` is no sheet and no rule file")));
    }
    let bytes = std::fs::read(path).map_err(cannot)?;
    let found = if bytes.starts_with(b"%PDF") {
        in_pdf(&bytes)
    } else if bytes.iter().find(|byte| !byte.is_ascii_whitespace()) == Some(&b'{') {
        // Read in full: a rule file that was changed by hand is refused here.
        let read = rules::read(&bytes)
            .map_err(|refusal| CannotRun(format!("`{what}` is not believed: {refusal}")))?;
        Some(read.file.fingerprint)
    } else {
        after_the_word(&String::from_utf8_lossy(&bytes))
    };
    found.ok_or_else(|| CannotRun(format!("no fingerprint was found in `{what}`")))
}

/// The file's own properties have it in full; older sheets show it on each page.
fn in_pdf(bytes: &[u8]) -> Option<String> {
    let file = lopdf::Document::load_mem(bytes).ok()?;
    let info = file.trailer.get(b"Info").ok().and_then(|info| match info {
        lopdf::Object::Reference(id) => file.get_dictionary(*id).ok(),
        other => other.as_dict().ok(),
    });
    let keywords = info
        .and_then(|info| info.get(b"Keywords").ok())
        .and_then(|words| lopdf::decode_text_string(words).ok());
    if let Some(found) = keywords.as_deref().and_then(after_the_word) {
        return Some(found);
    }
    let pages: Vec<u32> = file.get_pages().keys().copied().take(2).collect();
    after_the_word(&file.extract_text(&pages).ok()?)
}

/// A fingerprint in full, or else the longest beginning of one after the word
/// `fingerprint`. Two different ones in full are none: nobody can say which is meant.
fn after_the_word(text: &str) -> Option<String> {
    let lower = text.to_lowercase();
    let whole: BTreeSet<&str> = lower
        .split(|c: char| !c.is_ascii_hexdigit())
        .filter(|run| run.len() == 64)
        .collect();
    match whole.iter().collect::<Vec<_>>().as_slice() {
        [] => {}
        [one] => return Some((**one).to_owned()),
        _ => return None,
    }
    lower
        .split("fingerprint")
        .skip(1)
        .filter_map(|rest| {
            let rest = rest.trim_start_matches(|c: char| !c.is_ascii_alphanumeric());
            let digits: String = rest.chars().take_while(char::is_ascii_hexdigit).collect();
            is_print(&digits).then_some(digits)
        })
        .max_by_key(String::len)
}

/// Every commit that has a protocol of that meaning, newest first.
fn search(repository: &Repository, wanted: &str) -> Result<Vec<Found>, CannotRun> {
    let listed = repository.ask(&[
        "log",
        "--all",
        "--format=%H%x1f%cs%x1f%s",
        "--",
        "*.protocol",
    ])?;
    let mut found = Vec::new();
    for row in listed.lines() {
        let mut parts = row.splitn(3, '\u{1f}');
        let (Some(commit), Some(date), Some(subject)) = (parts.next(), parts.next(), parts.next())
        else {
            continue;
        };
        let revision = repository.revision(commit)?;
        for path in revision.protocols()? {
            let Ok(loaded) = load(&revision, &[&path]) else {
                continue;
            };
            for (_, protocol) in &loaded.protocols {
                let print = fingerprint(protocol);
                if print.starts_with(wanted) {
                    found.push(Found {
                        protocol: protocol.name.name.clone(),
                        version: protocol.head.version.value.to_string(),
                        path: path.clone(),
                        commit: commit.to_owned(),
                        date: date.to_owned(),
                        subject: subject.chars().filter(|c| !c.is_control()).collect(),
                        approved_by: approval::of_this(protocol, &print)
                            .iter()
                            .map(|one| one.by.markdown.clone())
                            .collect(),
                        fingerprint: print,
                    });
                }
            }
        }
    }
    Ok(found)
}

/// In force is what the working copy holds, approved, and not past its review.
fn in_force(
    args: &Args,
    repository: &Repository,
    wanted: &str,
    found: &[Found],
) -> Result<(bool, String), CannotRun> {
    let meanings: BTreeSet<&str> = found.iter().map(|one| one.fingerprint.as_str()).collect();
    if meanings.len() > 1 {
        return Ok((
            false,
            "more than one version begins with these digits; give more of them".to_owned(),
        ));
    }
    let disk = Disk::new(repository.top());
    let listed = repository.ask(&[
        "ls-files",
        "-z",
        "--cached",
        "--others",
        "--exclude-standard",
        "--",
        "*.protocol",
    ])?;
    let mut same_name: Option<Protocol> = None;
    for path in listed.split('\0').filter(|path| !path.is_empty()) {
        let Ok(loaded) = load(&disk, &[path]) else {
            continue;
        };
        for (_, protocol) in &loaded.protocols {
            let print = fingerprint(protocol);
            if print.starts_with(wanted) {
                return now(args, &disk, path, protocol, &print);
            }
            if found.iter().any(|one| one.protocol == protocol.name.name) {
                same_name = Some(protocol.clone());
            }
        }
    }
    Ok((
        false,
        match same_name {
            Some(now) => format!(
                "{} is now version {} and means something else",
                now.name.name, now.head.version.value
            ),
            None if found.is_empty() => "it is of no version that is known here".to_owned(),
            None => "the working copy no longer has this protocol".to_owned(),
        },
    ))
}

fn now(
    args: &Args,
    disk: &Disk,
    path: &str,
    protocol: &Protocol,
    print: &str,
) -> Result<(bool, String), CannotRun> {
    let zone = &protocol.head.timezone.value;
    let today = jiff::Timestamp::now()
        .in_tz(zone)
        .map(|now| now.date())
        .map_err(|error| CannotRun(format!("`{zone}` is no time zone: {error}")))?;
    let on = args.on.unwrap_or(today);
    let approvals = approval::of_this(protocol, print);
    if approvals.is_empty() {
        return Ok((
            false,
            "it is the text of now, but nobody has approved it".to_owned(),
        ));
    }
    let project = Project {
        disk: disk.clone(),
        files: vec![path.to_owned()],
    };
    if let Some(why) = standing::withheld(&args.approval, &project, path, protocol)? {
        return Ok((false, why));
    }
    if let Some(over) = approval::review_over(protocol, on) {
        return Ok((false, over));
    }
    let names: Vec<&str> = approvals.iter().map(|one| one.by.markdown.trim()).collect();
    Ok((
        true,
        format!(
            "it is {} version {} as it stands in {path}, approved by {}, to be reviewed by {}",
            protocol.name.name,
            protocol.head.version.value,
            names.join(" and "),
            protocol.head.review.value
        ),
    ))
}
