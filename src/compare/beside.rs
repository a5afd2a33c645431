//! The changed parts of two sheets beside each other, as HTML: of each row only the words that
//! differ are marked, and rows that differ in the same way are shown once.

use super::effects::{SheetLine, SheetPart};
use crate::document::html::escape;
use crate::document::text::inline;
use similar::{Algorithm, DiffOp, capture_diff_slices};
use std::fmt::Write as _;

/// What stands between two cells of a row.
const CELL: &str = "│";

pub(super) fn sheets(out: &mut String, parts: &[SheetPart]) {
    for part in parts {
        let _ = writeln!(
            out,
            "<h3>On the sheet: {}{}</h3>\n<div class=\"wide\"><table class=\"sides\">\n<thead><tr><th>Before</th>\
             <th>Now</th></tr></thead>\n<tbody>",
            escape(&part.title),
            match part.pages {
                Some(_) => format!(", {}", part.pages_said()),
                None => " (gone)".to_owned(),
            }
        );
        rows(out, &part.lines);
        out.push_str("</tbody></table></div>\n");
    }
}

fn rows(out: &mut String, lines: &[SheetLine]) {
    let mut last: Option<(String, String)> = None;
    let mut more: Vec<String> = Vec::new();
    for row in side_by_side(lines) {
        let told = Told::of(&row);
        // Only rows of times: a heading between them is always seen.
        let same = is_time(&told.begins) && last.as_ref() == Some(&told.change);
        if same {
            more.push(told.begins);
            continue;
        }
        close(out, &mut more);
        let _ = writeln!(
            out,
            "<tr><td>{}</td><td>{}</td></tr>",
            told.before, told.now
        );
        last = is_time(&told.begins).then_some(told.change);
    }
    close(out, &mut more);
}

fn is_time(word: &str) -> bool {
    word.contains(':')
}

/// Says which rows were left out because they differ in the same way.
fn close(out: &mut String, more: &mut Vec<String>) {
    if let (Some(first), Some(last)) = (more.first(), more.last()) {
        let said = match more.len() {
            1 => format!("The row {} differs in the same way.", escape(first)),
            rows => format!(
                "{rows} more rows, {} to {}, differ in the same way.",
                escape(first),
                escape(last)
            ),
        };
        let _ = writeln!(out, "<tr><td colspan=\"2\" class=\"same\">{said}</td></tr>");
    }
    more.clear();
}

/// One row, set.
struct Told {
    before: String,
    now: String,
    /// What a reader knows the row by: its first word.
    begins: String,
    /// What went and what came.
    change: (String, String),
}

impl Told {
    fn of((before, now): &(Option<Vec<String>>, Option<Vec<String>>)) -> Told {
        let whole = |words: &Vec<String>, tag: &str| {
            format!("<{tag}>{}</{tag}>", escape(&shortened(words).join(" ")))
        };
        let begins = before.as_ref().or(now.as_ref());
        let begins = begins
            .and_then(|words| words.first())
            .cloned()
            .unwrap_or_default();
        let (Some(a), Some(b)) = (before, now) else {
            let rest = |row: &Option<Vec<String>>| match row {
                Some(words) => format!("all: {}", words.get(1..).unwrap_or_default().join(" ")),
                None => String::new(),
            };
            return Told {
                before: before
                    .as_ref()
                    .map_or(String::new(), |words| whole(words, "del")),
                now: now
                    .as_ref()
                    .map_or(String::new(), |words| whole(words, "ins")),
                begins,
                // Of rows that are only in one, what follows their time.
                change: (rest(before), rest(now)),
            };
        };
        let (mut left, mut right) = (Vec::new(), Vec::new());
        let (mut went, mut came) = (Vec::new(), Vec::new());
        for op in capture_diff_slices(Algorithm::Myers, a, b) {
            let (old, new) = (
                a.get(op.old_range()).unwrap_or_default(),
                b.get(op.new_range()).unwrap_or_default(),
            );
            if matches!(op, DiffOp::Equal { .. }) {
                let same = escape(&shortened(old).join(" "));
                left.push(same.clone());
                right.push(same);
                continue;
            }
            for (words, tag, side, apart) in [
                (old, "del", &mut left, &mut went),
                (new, "ins", &mut right, &mut came),
            ] {
                if !words.is_empty() {
                    let said = words.join(" ");
                    side.push(format!("<{tag}>{}</{tag}>", escape(&said)));
                    apart.push(said);
                }
            }
        }
        Told {
            before: left.join(" "),
            now: right.join(" "),
            begins,
            change: (went.join("\n"), came.join("\n")),
        }
    }
}

/// Boxes to write in say nothing about a change: several in a row become an ellipsis.
fn shortened(words: &[String]) -> Vec<String> {
    let blank = |word: &String| {
        word == CELL
            || word
                .chars()
                .all(|c| matches!(c, '_' | '-' | '–' | '☐' | '|'))
    };
    let mut out: Vec<String> = Vec::new();
    let mut rest = words;
    while let Some((word, after)) = rest.split_first() {
        let run = rest.iter().take_while(|word| blank(word)).count();
        if run > 3 {
            out.push("…".to_owned());
            rest = rest.get(run..).unwrap_or_default();
        } else {
            out.push(word.clone());
            rest = after;
        }
    }
    out
}

type Row = (Option<Vec<String>>, Option<Vec<String>>);

/// Lines that went and lines that came, row by row.
fn side_by_side(lines: &[SheetLine]) -> Vec<Row> {
    let mut rows = Vec::new();
    let (mut left, mut right) = (Vec::new(), Vec::new());
    for line in lines.iter().filter(|line| !line.text.starts_with("|---")) {
        if line.sign == '-' {
            if !right.is_empty() {
                pair(&mut left, &mut right, &mut rows);
            }
            left.push(words(&line.text));
        } else {
            right.push(words(&line.text));
        }
    }
    pair(&mut left, &mut right, &mut rows);
    rows
}

/// Rows that begin with the same word are one row; those between go in their order.
fn pair(left: &mut Vec<Vec<String>>, right: &mut Vec<Vec<String>>, rows: &mut Vec<Row>) {
    let first = |rows: &[Vec<String>]| -> Vec<String> {
        rows.iter()
            .map(|row| row.first().cloned().unwrap_or_default())
            .collect()
    };
    for op in capture_diff_slices(Algorithm::Myers, &first(left), &first(right)) {
        let old = left.get(op.old_range()).unwrap_or_default();
        let new = right.get(op.new_range()).unwrap_or_default();
        let lone = |row: &Vec<String>| row.first().is_some_and(|word| is_time(word));
        if !matches!(op, DiffOp::Equal { .. }) && old.iter().chain(new).any(lone) {
            // Two times are two rows.
            rows.extend(old.iter().map(|row| (Some(row.clone()), None)));
            rows.extend(new.iter().map(|row| (None, Some(row.clone()))));
            continue;
        }
        for at in 0..old.len().max(new.len()) {
            rows.push((old.get(at).cloned(), new.get(at).cloned()));
        }
    }
    left.clear();
    right.clear();
}

/// A line of the sheet's Markdown as words, cell by cell.
fn words(line: &str) -> Vec<String> {
    let line = line.replace("<br>", "; ");
    let line = line.trim_matches('|').trim();
    // The marks of a quotation, heading or list in front; a sign within a cell is its own.
    let line = line.trim_start_matches(['>', ' ']).trim_start_matches('#');
    let line = line.trim_start();
    let line = line.strip_prefix("- ").unwrap_or(line);
    let cells: Vec<String> = line
        .split(" | ")
        .map(|cell| inline(cell).plain().trim().to_owned())
        .filter(|cell| !cell.is_empty())
        .collect();
    cells
        .join(&format!(" {CELL} "))
        .split_whitespace()
        .map(str::to_owned)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lines(text: &str) -> Vec<SheetLine> {
        text.lines()
            .map(|line| SheetLine {
                sign: line.chars().next().unwrap_or(' '),
                text: line.get(1..).unwrap_or("").trim().to_owned(),
            })
            .collect()
    }

    fn told(text: &str) -> Vec<String> {
        let mut out = String::new();
        rows(&mut out, &lines(text));
        out.lines().map(str::to_owned).collect()
    }

    #[test]
    fn only_the_words_that_differ_are_marked() {
        assert_eq!(
            told(
                "-| hold at 33.0 °C | \\_\\_ | \\_\\_ | – |\n+| hold at 34.0 °C | \\_\\_ | \\_\\_ | – |"
            ),
            ["<tr><td>hold at <del>33.0</del> °C …</td><td>hold at <ins>34.0</ins> °C …</td></tr>"]
        );
    }

    #[test]
    fn rows_that_differ_in_the_same_way_are_told_once() {
        let shown = told(
            "-| 0:00 | 33.0 |\n-| 1:00 | 33.0 |\n-| 2:00 | 33.0 |\n-| 3:00 | 33.2 |\n\
             +| 0:00 | 34.0 |\n+| 1:00 | 34.0 |\n+| 2:00 | 34.0 |\n+| 3:00 | 34.4 |",
        );
        assert_eq!(shown.len(), 3, "{shown:#?}");
        assert_eq!(
            shown[1],
            "<tr><td colspan=\"2\" class=\"same\">2 more rows, 1:00 to 2:00, differ in the same way.</td></tr>"
        );
        assert!(shown[2].contains("<del>33.2</del>") && shown[2].contains("<ins>34.4</ins>"));
    }

    /// What begins with another time is another row; a heading is never left out.
    #[test]
    fn times_that_differ_are_two_rows() {
        let shown = told("-| 10:00 | 35.5 |\n+| 30:00 | 36.0 |");
        assert_eq!(
            shown,
            [
                "<tr><td><del>10:00 │ 35.5</del></td><td></td></tr>",
                "<tr><td></td><td><ins>30:00 │ 36.0</ins></td></tr>",
            ]
        );
        let shown =
            told("-| 1 Cool | 33.0 |\n-| 2 Hold | 33.0 |\n+| 1 Cool | 34.0 |\n+| 2 Hold | 34.0 |");
        assert_eq!(shown.len(), 2, "{shown:#?}");
    }

    /// A row that is new stands alone, and does not shift those after it.
    #[test]
    fn rows_are_paired_by_what_they_begin_with() {
        let shown =
            told("-| 0:00 | a |\n-| 1:00 | b |\n+| 0:00 | a x |\n+| 0:30 | c |\n+| 1:00 | b y |");
        assert_eq!(
            shown,
            [
                "<tr><td>0:00 │ a</td><td>0:00 │ a <ins>x</ins></td></tr>",
                "<tr><td></td><td><ins>0:30 │ c</ins></td></tr>",
                "<tr><td>1:00 │ b</td><td>1:00 │ b <ins>y</ins></td></tr>",
            ]
        );
    }
}
