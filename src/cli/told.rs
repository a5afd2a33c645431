//! What a command has to report that is no fault in a protocol's text: a file that
//! is not current, a scenario that fails. As findings, so that every form of report
//! can carry it.

use crate::diag::Diagnostic;
use crate::rehearse::{Failure, Place, Rehearsal};
use crate::rules::Refusal;
use crate::source::{FileId, SourceFile, Sources, Span};

/// A file that is not what its protocol gives now.
pub fn stale(path: &str, sources: &mut Sources) -> Diagnostic {
    let file = sources.add(SourceFile::new(path, ""));
    Diagnostic::error(
        "stale-output",
        Span::new(file, 0, 0),
        format!("`{path}` is not what the protocol gives now"),
    )
    .why("whoever opens it would work by another protocol than the one that is checked here")
    .help("run `tempwright build` and keep what it writes")
    .source("structural")
}

/// A protocol file that is not in the one style: told at its first line that
/// would change.
pub fn not_formatted(path: &str, before: &str, after: &str, sources: &mut Sources) -> Diagnostic {
    let file = sources.add(SourceFile::new(path, before));
    let mut start = 0;
    let mut line = "";
    let mut new = after.split_inclusive('\n');
    for old in before.split_inclusive('\n') {
        line = old;
        if new.next() != Some(old) {
            break;
        }
        start += old.len();
    }
    let span = Span::new(file, start, start + line.trim_end().len());
    Diagnostic::warning(
        "not-formatted",
        span,
        format!("`{path}` is not in the one style"),
    )
    .here("the first line that would change")
    .why("where every file looks alike, a comparison of two versions shows only what was meant")
    .help("run `tempwright fmt`")
    .source("structural")
}

/// A rule file that is not taken.
pub fn rule_file(path: &str, refusal: &Refusal, sources: &mut Sources) -> Diagnostic {
    let file = sources.add(SourceFile::new(path, ""));
    Diagnostic::error(
        "rule-file-refused",
        Span::new(file, 0, 0),
        format!("`{path}`: {}", refusal.title),
    )
    .why(refusal.why)
    .help(refusal.help)
    .source("structural")
}

/// A newer rule file says more than this program reads. It is whole all the same.
pub fn left_out(path: &str, what: &[String], sources: &mut Sources) -> Option<Diagnostic> {
    let first = what.first()?;
    let file = sources.add(SourceFile::new(path, ""));
    let more = match what.len() - 1 {
        0 => String::new(),
        more => format!(" and {more} more"),
    };
    Some(
        Diagnostic::note(
            "rule-file-newer",
            Span::new(file, 0, 0),
            format!("`{path}` is of a newer format; `{first}`{more} is not read"),
        )
        .why(
            "a newer minor version adds only what changes no order, so the rest can be relied upon",
        )
        .help("to read all of it, use the version of this program that has written it")
        .source("structural"),
    )
}

/// What a rehearsal has to report: expectations that were not met, and protocols
/// that have no scenario.
pub fn rehearsals(all: &[(Span, Rehearsal)], sources: &Sources) -> Vec<Diagnostic> {
    let mut found = Vec::new();
    for (span, rehearsal) in all {
        if rehearsal.trials.is_empty() {
            found.push(
                Diagnostic::error(
                    "no-scenario",
                    *span,
                    format!("`{}` has no scenario", rehearsal.protocol),
                )
                .why("nothing has been tried, and that nothing failed says nothing")
                .help("write one: `scenario \"…\" for NAME { … expect … }`")
                .source("structural"),
            );
        }
        for trial in &rehearsal.trials {
            for failure in &trial.failures {
                found.push(expectation(&trial.title, failure, sources));
            }
        }
    }
    found
}

fn expectation(title: &str, failure: &Failure, sources: &Sources) -> Diagnostic {
    let mut why = format!("in `{title}`: {}", failure.happened);
    for decided in &failure.decided {
        why.push_str("; decided by ");
        why.push_str(decided);
    }
    Diagnostic::error(
        "expectation-failed",
        span_of(&failure.place, sources),
        format!("`{}` was expected and did not happen", failure.expected),
    )
    .why(why)
    .help("run `tempwright rehearse` to see the records that led there")
    .source("structural")
}

/// From that place to the end of its line.
fn span_of(place: &Place, sources: &Sources) -> Span {
    let mut number = 0;
    while let Some(file) = sources.get(FileId(number)) {
        if file.path == place.path {
            let line_start: usize = file
                .text
                .split_inclusive('\n')
                .take(place.line.saturating_sub(1))
                .map(str::len)
                .sum();
            let line = file
                .text
                .get(line_start..)
                .and_then(|rest| rest.lines().next());
            let line = line.unwrap_or("");
            let skipped: usize = line
                .chars()
                .take(place.column.saturating_sub(1))
                .map(char::len_utf8)
                .sum();
            return Span::new(
                FileId(number),
                line_start + skipped,
                line_start + line.trim_end().len().max(skipped),
            );
        }
        number += 1;
    }
    Span::default()
}
