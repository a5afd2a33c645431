//! What changes on paper, and what changes in the text without any meaning.

use super::Version;
use super::effects::{SheetLine, SheetPart};
use crate::document::text::inline;
use crate::document::{markdown, pdf};
use crate::model::Protocol;
use similar::{ChangeTag, TextDiff};

/// What stands before the first part.
const HEADING: &str = "Heading";

/// The parts of the blank sheet that differ, with their pages and lines.
pub(super) fn parts(old: &Protocol, new: &Protocol) -> Vec<SheetPart> {
    let pages = pages(new);
    let (Some(old), Some(new)) = (blank(old), blank(new)) else {
        return Vec::new();
    };
    let (old, new) = (by_part(&old), by_part(&new));
    let mut titles: Vec<&String> = new.iter().map(|(title, _)| title).collect();
    for (title, _) in &old {
        if !titles.contains(&title) {
            titles.push(title);
        }
    }
    let of = |parts: &[(String, String)], title: &str| {
        parts
            .iter()
            .find(|(known, _)| known == title)
            .map_or_else(String::new, |(_, text)| text.clone())
    };
    titles
        .into_iter()
        .filter_map(|title| {
            let (before, after) = (of(&old, title), of(&new, title));
            let lines = lines(&before, &after);
            (!lines.is_empty()).then(|| SheetPart {
                pages: pages
                    .iter()
                    .find(|(known, _)| known == title)
                    .map(|(_, pages)| *pages),
                title: title.clone(),
                lines,
            })
        })
        .collect()
}

fn lines(before: &str, after: &str) -> Vec<SheetLine> {
    TextDiff::from_lines(before, after)
        .iter_all_changes()
        .filter_map(|change| {
            let sign = match change.tag() {
                ChangeTag::Delete => '-',
                ChangeTag::Insert => '+',
                ChangeTag::Equal => return None,
            };
            let text = change.value().trim();
            (!text.is_empty()).then(|| SheetLine {
                sign,
                text: text.to_owned(),
            })
        })
        .collect()
}

/// On which pages of the blank sheet each part stands.
fn pages(protocol: &Protocol) -> Vec<(String, (usize, usize))> {
    let Some(layout) =
        super::courses::blank(protocol).and_then(|document| pdf::lay_out(&document).ok())
    else {
        return Vec::new();
    };
    let parts = layout.parts();
    let until = parts.first().map_or(1, |(_, first, _)| *first);
    std::iter::once((HEADING.to_owned(), (1, until)))
        .chain(
            parts
                .iter()
                .map(|(title, first, last)| ((*title).to_owned(), (*first, *last))),
        )
        .collect()
}

/// The blank sheet as Markdown, without what names the version itself.
fn blank(protocol: &Protocol) -> Option<String> {
    let mut document = super::courses::blank(protocol)?;
    document.footer.lines.clear();
    document.footer.code.clear();
    document.draft = None;
    document.facts.clear();
    Some(markdown::render(&document))
}

/// Split at the headings of parts; what stands before the first is the head.
fn by_part(text: &str) -> Vec<(String, String)> {
    let mut parts = vec![(HEADING.to_owned(), String::new())];
    for line in text.lines() {
        if let Some(title) = line.strip_prefix("## ") {
            parts.push((inline(title.trim()).plain(), String::new()));
        } else if let Some((_, text)) = parts.last_mut() {
            text.push_str(line);
            text.push('\n');
        }
    }
    parts
}

/// Comments and layout, file by file.
pub(super) fn layout(old: &Version<'_>, new: &Version<'_>) -> Vec<String> {
    let mut said = Vec::new();
    let files = |version: &Version<'_>| -> Vec<(String, String)> {
        let root = version.protocol.span.file;
        version
            .sources
            .iter()
            .filter(|(id, file)| {
                *id == root
                    || version
                        .protocol
                        .uses
                        .iter()
                        .any(|used| used.path == file.path)
            })
            .map(|(id, file)| {
                let name = if id == root {
                    String::new()
                } else {
                    file.path.clone()
                };
                (name, file.text.clone())
            })
            .collect()
    };
    let (olds, news) = (files(old), files(new));
    for (name, after) in &news {
        let Some((_, before)) = olds.iter().find(|(known, _)| known == name) else {
            continue;
        };
        if before == after {
            continue;
        }
        let of = if name.is_empty() {
            "the file".to_owned()
        } else {
            format!("`{name}`")
        };
        let (a, b) = (comments(before), comments(after));
        let gone = a.iter().filter(|one| !b.contains(one)).count();
        let come = b.iter().filter(|one| !a.contains(one)).count();
        if gone + come > 0 {
            said.push(format!("comments in {of}: {gone} gone, {come} new"));
        }
        if squeezed(before) == squeezed(after) {
            said.push(format!("{of}: only spaces and line ends differ"));
        }
    }
    said
}

/// What a file says, without its comments and layout.
pub(super) fn without_layout(text: &str) -> String {
    let mut text = text.to_owned();
    for comment in comment_places(&text).into_iter().rev() {
        text.replace_range(comment, "");
    }
    squeezed(&text)
}

fn squeezed(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// What follows a `#` outside quotes, line by line.
fn comments(text: &str) -> Vec<String> {
    comment_places(text)
        .into_iter()
        .filter_map(|place| text.get(place))
        .map(|comment| comment.trim_start_matches('#').trim().to_owned())
        .collect()
}

fn comment_places(text: &str) -> Vec<std::ops::Range<usize>> {
    let mut found = Vec::new();
    let mut quoted = false;
    let mut begins = 0;
    for line in text.split_inclusive('\n') {
        let mut at = 0;
        while let Some(rest) = line.get(at..)
            && let Some(next) = rest.find(['"', '#', '\\'])
        {
            let sign = rest.get(next..).unwrap_or("");
            if sign.starts_with('#') && !quoted {
                found.push(begins + at + next..begins + line.trim_end().len());
                break;
            }
            let mut long = 1;
            if sign.starts_with('\\') {
                // Whatever follows it stands for itself.
                long += sign.chars().nth(1).map_or(0, char::len_utf8);
            } else if sign.starts_with('"') {
                quoted = !quoted;
                if sign.starts_with("\"\"\"") {
                    long = 3;
                }
            }
            at += next + long;
        }
        begins += line.len();
    }
    found
}
