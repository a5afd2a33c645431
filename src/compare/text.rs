//! A comparison for a terminal: the summary first, then what changed.

use super::change::{Change, PartingCase, Verdict};
use super::{Comparison, Report, Step, Topic};
use crate::diag::Witness;
use std::fmt::Write as _;

/// All protocols, those with a change first.
pub fn report(report: &Report) -> String {
    let mut out = String::new();
    for (word, list) in [("new", &report.added), ("gone", &report.removed)] {
        for name in list {
            let _ = writeln!(out, "{word}: {name}\n");
        }
    }
    let all: Vec<String> = report.compared.iter().map(render).collect();
    out.push_str(&all.join("\n"));
    out
}

/// All of it. A non-breaking space is for paper; a terminal has none.
pub fn render(comparison: &Comparison) -> String {
    let mut out = String::new();
    let _ = writeln!(out, "{}", title(comparison));
    for line in summary(comparison) {
        let _ = writeln!(out, "  {line}");
    }
    let meaning: Vec<&Change> = comparison.of_meaning().collect();
    if !meaning.is_empty() {
        let _ = writeln!(out, "\nChanges of meaning");
        for change in meaning {
            entry(&mut out, change);
        }
    }
    let effects = &comparison.effects;
    if !effects.rows.is_empty() {
        let _ = writeln!(out, "\nAt the bedside");
        for row in &effects.rows {
            let makes = if row.makes.is_empty() {
                String::new()
            } else {
                format!("  ({})", row.makes)
            };
            let _ = writeln!(
                out,
                "  {}, {}: {} → {}{makes}",
                row.topic.title(),
                row.what,
                row.from,
                row.to
            );
        }
    }
    for (word, list) in [
        ("appear", &effects.findings_appear),
        ("vanish", &effects.findings_vanish),
    ] {
        if !list.is_empty() {
            let _ = writeln!(out, "\nFindings that {word}");
            for found in list {
                let _ = writeln!(out, "  {}[{}]: {}", found.level, found.name, found.title);
            }
        }
    }
    if effects.accepted_old != effects.accepted_new {
        let _ = writeln!(
            out,
            "\nFindings that an exception lets stand: {} → {}",
            effects.accepted_old, effects.accepted_new
        );
    }
    if !effects.sheet.is_empty() {
        let titles: Vec<String> = effects.sheet.iter().map(super::SheetPart::said).collect();
        let _ = writeln!(
            out,
            "\nParts of the sheet that change: {}",
            titles.join(", ")
        );
    }
    let wording: Vec<&Change> = comparison.of_wording().collect();
    if !wording.is_empty() || !comparison.layout.is_empty() {
        let _ = writeln!(out, "\nWording, order and comments");
        for change in wording {
            entry(&mut out, change);
        }
        for line in &comparison.layout {
            let _ = writeln!(out, "  {line}");
        }
    }
    out.replace('\u{a0}', " ")
}

pub fn title(comparison: &Comparison) -> String {
    let versions = &comparison.versions;
    let short = |print: &str| print.chars().take(16).collect::<String>();
    if comparison.same_meaning() {
        format!(
            "{}, version {}: no change in meaning (fingerprint {})",
            comparison.protocol,
            versions.new,
            short(&comparison.new_fingerprint)
        )
    } else {
        format!(
            "{}, version {} ({}) → {} ({})",
            comparison.protocol,
            versions.old,
            short(&comparison.old_fingerprint),
            versions.new,
            short(&comparison.new_fingerprint)
        )
    }
}

/// What a reviewer with two minutes reads.
pub fn summary(comparison: &Comparison) -> Vec<String> {
    if comparison.same_meaning() {
        return vec!["An approval of the one is an approval of the other.".to_owned()];
    }
    let mut lines = Vec::new();
    let count = |verdict: Verdict| {
        comparison
            .of_meaning()
            .filter(|change| change.verdict == verdict)
            .count()
    };
    let total = comparison.of_meaning().count();
    let wording = comparison.of_wording().count();
    if total == 0 {
        lines.push(match wording {
            0 => "Only the version number differs.".to_owned(),
            _ => "No change of meaning: wording only.".to_owned(),
        });
    } else {
        let parts: Vec<String> = [
            Verdict::Stricter,
            Verdict::Looser,
            Verdict::Different,
            Verdict::SameMeaning,
        ]
        .into_iter()
        .filter(|verdict| count(*verdict) > 0)
        .map(|verdict| format!("{} {}", count(verdict), verdict.words()))
        .collect();
        let more = match wording {
            0 => String::new(),
            number => format!("; {number} of wording"),
        };
        lines.push(format!(
            "{total} change{} of meaning: {}{more}.",
            if total == 1 { "" } else { "s" },
            parts.join(", ")
        ));
    }
    if comparison.given_up {
        lines.push(
            "NOT COMPARED TO THE END: these conditions ask for more work than one comparison may \
             take. Where nothing could be decided or no record is shown, read both versions \
             yourself; simpler conditions, or shorter times in them, are compared."
                .to_owned(),
        );
    }
    // What asks or bounds less than before is what a reviewer must not miss.
    let looser: Vec<String> = comparison
        .of_meaning()
        .filter(|change| change.verdict == Verdict::Looser)
        .map(short)
        .collect();
    if !looser.is_empty() {
        lines.push(format!("Looser: {}.", few(&looser, 8)));
    }
    let effects = &comparison.effects;
    let makes: Vec<String> = effects
        .rows
        .iter()
        .filter(|row| matches!(row.topic, Topic::Length | Topic::Phase) && !row.makes.is_empty())
        .map(|row| format!("{} {}", row.what, row.makes))
        .collect();
    if !makes.is_empty() {
        lines.push(format!("Planned times: {}.", makes.join(", ")));
    }
    let doses: Vec<String> = effects
        .rows
        .iter()
        .filter(|row| row.topic == Topic::Dose)
        .map(|row| format!("{} {} → {}", row.what, row.from, row.to))
        .collect();
    if !doses.is_empty() {
        lines.push(format!("Most in 24 h: {}.", doses.join(", ")));
    }
    let named = |list: &[super::FindingSaid]| {
        let mut names: Vec<String> = list
            .iter()
            .map(|found| format!("{} `{}`", found.level, found.name))
            .collect();
        names.dedup();
        names.join(", ")
    };
    for (word, list) in [
        ("Findings that appear", &effects.findings_appear),
        ("Findings that vanish", &effects.findings_vanish),
    ] {
        if !list.is_empty() {
            lines.push(format!("{word}: {}.", named(list)));
        }
    }
    lines.push(
        match (&comparison.versions.complaint, comparison.versions.demanded) {
            (Some(complaint), _) => format!("VERSION: {complaint}."),
            (None, _) if comparison.versions.note.is_some() => {
                let note = comparison.versions.note.as_deref();
                format!("Version: {}.", note.unwrap_or_default())
            }
            (None, Step::None) => "Version: no step is demanded.".to_owned(),
            (None, demanded) => format!(
                "Version: {} → {} is right; a {} step is demanded.",
                comparison.versions.old,
                comparison.versions.new,
                demanded.word()
            ),
        },
    );
    for library in &comparison.versions.libraries {
        lines.push(format!("VERSION: {library}."));
    }
    lines.push("What was approved before is not approved any more.".to_owned());
    lines
}

/// No more changes than these stand in one line of a history.
const IN_A_LINE: usize = 3;

/// A whole step of a history in one line.
pub fn one_line(comparison: &Comparison) -> String {
    if comparison.same_meaning() {
        return match comparison.layout.first() {
            Some(_) => "no change in meaning (layout or comments)".to_owned(),
            None => "no change in meaning".to_owned(),
        };
    }
    let meaning: Vec<&Change> = comparison.of_meaning().collect();
    let mut said = if meaning.is_empty() {
        let wording: Vec<String> = comparison.of_wording().map(short).collect();
        match wording.as_slice() {
            [] => "only the version number".to_owned(),
            some => format!("wording: {}", few(some, IN_A_LINE)),
        }
    } else {
        few(
            &meaning
                .iter()
                .map(|change| format!("{}, {}", short(change), change.verdict.words()))
                .collect::<Vec<_>>(),
            IN_A_LINE,
        )
    };
    let makes: Vec<String> = comparison
        .effects
        .rows
        .iter()
        .filter(|row| matches!(row.topic, Topic::Length | Topic::Phase) && !row.makes.is_empty())
        .map(|row| format!("{} {}", row.what, row.makes))
        .collect();
    if !makes.is_empty() {
        said.push_str(" → ");
        said.push_str(&makes.join(", "));
    }
    if comparison.versions.complaint.is_some() {
        said.push_str(&format!(
            " [a {} step was demanded]",
            comparison.versions.demanded.word()
        ));
    }
    said.replace('\u{a0}', " ")
}

fn short(change: &Change) -> String {
    let what = if change.what.is_empty() {
        String::new()
    } else {
        format!(" {}", change.what)
    };
    let kind = match change.kind {
        super::Kind::Changed => String::new(),
        kind => format!(" {}", kind.word()),
    };
    format!("{}{what}{kind}", change.about)
}

fn few(items: &[String], most: usize) -> String {
    let shown = items.get(..most.min(items.len())).unwrap_or_default();
    match items.len().saturating_sub(most) {
        0 => shown.join("; "),
        more => format!("{}; and {more} more", shown.join("; ")),
    }
}

/// `rule `too-cold`, condition: changed, stricter`
pub fn heading(change: &Change) -> String {
    let what = if change.what.is_empty() {
        String::new()
    } else {
        format!(", {}", change.what)
    };
    format!(
        "{}{what}: {}, {}",
        change.about,
        change.kind.word(),
        change.verdict.words()
    )
}

fn entry(out: &mut String, change: &Change) {
    let _ = writeln!(out, "  {}", heading(change));
    for (sign, said) in [('-', &change.from), ('+', &change.to)] {
        if let Some(said) = said {
            let _ = writeln!(out, "    {sign} {said}");
        }
    }
    if !change.consequence.is_empty() {
        let _ = writeln!(out, "    = {}", change.consequence);
    }
    if let Some(case) = &change.case {
        for line in case_lines(case) {
            let _ = writeln!(out, "    {line}");
        }
    }
}

/// The record, then what either version says at its end.
pub fn case_lines(case: &PartingCase) -> Vec<String> {
    let mut lines = moments(&case.record);
    if let Some(first) = lines.first_mut() {
        *first = format!("case: {first}");
    }
    for line in lines.iter_mut().skip(1) {
        *line = format!("      {line}");
    }
    for (word, said) in [("before", &case.old), ("now", &case.new)] {
        lines.push(format!("  {word}: {}", said.join("; ")));
    }
    lines
}

fn moments(record: &Witness) -> Vec<String> {
    record
        .moments
        .iter()
        .map(|moment| {
            let records: Vec<String> = moment
                .records
                .iter()
                .map(|(reading, value)| format!("{reading} {value}"))
                .collect();
            format!("{} {} {}", moment.time, moment.phase, records.join(", "))
                .trim_end()
                .to_owned()
        })
        .collect()
}
