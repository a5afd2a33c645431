//! What changes on paper, and what changes in the text without any meaning.

use super::Version;
use super::effects::{SheetLine, SheetPart};
use crate::document::markdown;
use crate::model::Protocol;
use similar::{ChangeTag, TextDiff};

/// The parts of the blank sheet that differ, with their lines.
pub(super) fn parts(old: &Protocol, new: &Protocol) -> Vec<SheetPart> {
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
    let mut parts = vec![("Heading".to_owned(), String::new())];
    for line in text.lines() {
        if let Some(title) = line.strip_prefix("## ") {
            parts.push((title.trim().to_owned(), String::new()));
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

fn squeezed(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// What follows a `#` outside quotes, line by line.
fn comments(text: &str) -> Vec<String> {
    let mut found = Vec::new();
    let mut quoted = false;
    for line in text.lines() {
        let mut rest = line;
        while let Some(at) = rest.find(['"', '#']) {
            let (sign, after) = rest.split_at(at);
            let _ = sign;
            if after.starts_with('#') && !quoted {
                found.push(after.trim_start_matches('#').trim().to_owned());
                break;
            }
            if let Some(more) = after.strip_prefix("\"\"\"") {
                quoted = !quoted;
                rest = more;
            } else {
                if after.starts_with('"') {
                    quoted = !quoted;
                }
                rest = after.get(1..).unwrap_or("");
            }
        }
    }
    found
}
