//! A comparison as the comment on a merge request.
//!
//! The summary stands first and whole, details are folded. No more than
//! [`MOST_CHARACTERS`]: what does not fit is left out from the end, and said to be.

use super::change::{Change, Verdict};
use super::text::{case_lines, summary, title};
use super::{Comparison, Report};
use std::fmt::Write as _;

/// What the hosts of merge requests take with room to spare.
pub const MOST_CHARACTERS: usize = 60_000;

/// Room for the sentence that says what was left out.
const RESERVE: usize = 400;

pub fn report(report: &Report) -> String {
    let mut out = format!(
        "## Protocols: {} → {}\n\n",
        place(&report.old),
        place(&report.new)
    );
    let changed: Vec<&Comparison> = report
        .compared
        .iter()
        .filter(|one| !one.same_meaning())
        .collect();
    let same: Vec<&Comparison> = report
        .compared
        .iter()
        .filter(|one| one.same_meaning())
        .collect();
    for (word, list) in [("New", &report.added), ("Gone", &report.removed)] {
        for name in list {
            let _ = writeln!(out, "**{word}: {}**\n", safe(name));
        }
    }
    if changed.is_empty() && report.added.is_empty() && report.removed.is_empty() {
        out.push_str("**No change in meaning.**\n\n");
    }
    for one in &changed {
        head(&mut out, one);
    }
    let mut details: Vec<String> = Vec::new();
    for one in &changed {
        details.extend(sections(one));
    }
    if !same.is_empty() {
        let mut text = String::from("<details><summary>No change in meaning</summary>\n\n");
        for one in same {
            let _ = writeln!(text, "- {}", safe(&title(one)));
            for line in &one.layout {
                let _ = writeln!(text, "  - {}", safe(line));
            }
        }
        text.push_str("\n</details>\n\n");
        details.push(text);
    }
    let mut left_out = 0;
    for (index, detail) in details.iter().enumerate() {
        if length(&out) + length(detail) + RESERVE > MOST_CHARACTERS {
            left_out = details.len() - index;
            break;
        }
        out.push_str(detail);
    }
    if length(&out) > MOST_CHARACTERS - RESERVE {
        out = out.chars().take(MOST_CHARACTERS - RESERVE).collect();
        left_out = details.len();
        out.push_str("…\n\n");
    }
    if left_out > 0 {
        let _ = writeln!(
            out,
            "**Cut here: {left_out} of {} folded sections did not fit into a comment.** Run `tempwright compare` for \
             all of it before you approve.",
            details.len()
        );
    }
    out
}

fn length(text: &str) -> usize {
    text.chars().count()
}

/// What is seen without unfolding anything.
fn head(out: &mut String, one: &Comparison) {
    let _ = writeln!(out, "### {}\n", safe(&title(one)));
    for line in summary(one) {
        let line = safe(&line);
        if let Some(complaint) = line.strip_prefix("VERSION: ") {
            let _ = writeln!(out, "- **The version does not fit:** {complaint}");
        } else {
            let _ = writeln!(out, "- {line}");
        }
    }
    out.push('\n');
    let meaning: Vec<&Change> = one.of_meaning().collect();
    if !meaning.is_empty() {
        const MOST_ROWS: usize = 40;
        out.push_str("| what | before | now | verdict |\n|---|---|---|---|\n");
        for change in meaning.iter().take(MOST_ROWS) {
            let what = if change.what.is_empty() {
                change.about.clone()
            } else {
                format!("{}, {}", change.about, change.what)
            };
            let cell = |said: &Option<String>| {
                said.as_ref()
                    .map_or_else(|| "–".to_owned(), |said| cut(&cell(said), 240))
            };
            let _ = writeln!(
                out,
                "| {} | {} | {} | {} |",
                self::cell(&what),
                cell(&change.from),
                cell(&change.to),
                verdict(change.verdict)
            );
        }
        if meaning.len() > MOST_ROWS {
            let _ = writeln!(
                out,
                "\n**{} more changes of meaning** stand in the folded sections.",
                meaning.len() - MOST_ROWS
            );
        }
        out.push('\n');
    }
}

fn verdict(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::SameMeaning => "same meaning",
        Verdict::Stricter => "**stricter**",
        Verdict::Looser => "**looser**",
        Verdict::Different => "**different**",
    }
}

/// The folded sections, the weightiest first.
fn sections(one: &Comparison) -> Vec<String> {
    let mut all = Vec::new();
    let name = safe(&one.protocol);
    let mut fold = |what: &str, body: String| {
        if !body.is_empty() {
            all.push(format!(
                "<details><summary>{name}: {what}</summary>\n\n{body}\n</details>\n\n"
            ));
        }
    };
    let effects = &one.effects;
    let mut rows = String::new();
    for row in &effects.rows {
        if rows.is_empty() {
            rows.push_str("| | | before | now | |\n|---|---|---|---|---|\n");
        }
        let _ = writeln!(
            rows,
            "| {} | {} | {} | {} | {} |",
            row.topic.title(),
            cell(&row.what),
            cell(&row.from),
            cell(&row.to),
            cell(&row.makes)
        );
    }
    fold("at the bedside", rows);
    let mut found = String::new();
    for (word, list) in [
        ("appears", &effects.findings_appear),
        ("vanishes", &effects.findings_vanish),
    ] {
        for finding in list {
            let _ = writeln!(
                found,
                "- {word}: **{}** `{}` {}",
                finding.level,
                finding.name,
                safe(&finding.title)
            );
        }
    }
    if effects.accepted_old != effects.accepted_new {
        let _ = writeln!(
            found,
            "- let stand by an exception: {} → {}",
            effects.accepted_old, effects.accepted_new
        );
    }
    fold("findings that appear or vanish", found);
    let mut each = String::new();
    for change in one.of_meaning() {
        entry(&mut each, change);
    }
    fold(
        "each change, with a case on which the versions part ways",
        each,
    );
    let mut wording = String::new();
    for change in one.of_wording() {
        entry(&mut wording, change);
    }
    for line in &one.layout {
        let _ = writeln!(wording, "- {}", safe(line));
    }
    fold("wording, order and comments", wording);
    for part in &effects.sheet {
        let mut lines = String::from("```diff\n");
        for line in &part.lines {
            // A line of the sheet cannot end the block that it stands in.
            let _ = writeln!(lines, "{} {}", line.sign, line.text.replace("```", "'''"));
        }
        lines.push_str("```\n");
        fold(&format!("sheet, {}", safe(&part.said())), lines);
    }
    all
}

fn entry(out: &mut String, change: &Change) {
    let _ = writeln!(out, "- {}", safe(&super::text::heading(change)));
    for (word, said) in [("before", &change.from), ("now", &change.to)] {
        if let Some(said) = said {
            let _ = writeln!(out, "  - {word}: {}", safe(said));
        }
    }
    if !change.consequence.is_empty() {
        let _ = writeln!(out, "  - {}", safe(&change.consequence));
    }
    if let Some(case) = &change.case {
        out.push_str("\n  ```text\n");
        for line in case_lines(case) {
            let _ = writeln!(out, "  {}", line.replace("```", "'''"));
        }
        out.push_str("  ```\n");
    }
}

/// Text of a protocol, which must not become markup of the comment: no tags, no
/// links, no mentions.
fn safe(text: &str) -> String {
    let mut out = String::new();
    for character in text.chars() {
        match character {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '[' | ']' | '*' | '_' | '\\' | '!' => {
                out.push('\\');
                out.push(character);
            }
            '#' => out.push_str("&#35;"),
            '@' => out.push_str("&#64;"),
            '\n' | '\r' => out.push(' '),
            other => out.push(other),
        }
    }
    out
}

/// What was compared, as the person wrote it: code, or plain words.
fn place(said: &str) -> String {
    match said
        .strip_prefix('`')
        .and_then(|rest| rest.strip_suffix('`'))
    {
        Some(code) => format!("`{}`", code.replace(['`', '\n', '\r'], "'")),
        None => safe(said),
    }
}

fn cell(text: &str) -> String {
    safe(text).replace('|', "\\|")
}

fn cut(text: &str, most: usize) -> String {
    if length(text) <= most {
        return text.to_owned();
    }
    let mut short: String = text.chars().take(most).collect();
    // Nothing may be cut inside an escape or a character entity.
    while short.ends_with('\\') {
        short.pop();
    }
    if let Some(at) = short.rfind('&')
        && !short.get(at..).unwrap_or("").contains(';')
    {
        short.truncate(at);
    }
    short.push('…');
    short
}
