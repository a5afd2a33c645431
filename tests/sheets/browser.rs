//! The HTML page in a browser: what a checker of accessibility finds, and how it prints.

use crate::forms::folder;
use crate::outside;
use crate::printed::{BOTH, all, tables};
use tempwright::document::{Block, Cell, Document, Row, html};

fn packed(text: &str) -> String {
    text.chars().filter(|c| !c.is_whitespace()).collect()
}

/// Headings of the first two levels, in order.
fn headings(blocks: &[Block], out: &mut Vec<String>) {
    for block in blocks {
        match block {
            Block::Heading { text, .. } => out.push(packed(&text.plain())),
            Block::Halves(inner) | Block::Keep(inner) => headings(inner, out),
            Block::Columns(columns) => columns.iter().for_each(|column| headings(column, out)),
            _ => {}
        }
    }
}

/// First and last words of each row that has more than one text.
fn rows(document: &Document) -> Vec<(String, String)> {
    let mut out = Vec::new();
    for table in tables(&document.blocks) {
        for row in &table.rows {
            let Row::Cells { cells, .. } = row else {
                continue;
            };
            let texts: Vec<String> = cells
                .iter()
                .filter_map(|cell| match cell {
                    Cell::Text(text) if text.plain().len() > 12 => Some(packed(&text.plain())),
                    _ => None,
                })
                .collect();
            if let [first, .., last] = texts.as_slice() {
                let tail: Vec<char> = last.chars().rev().take(10).collect();
                let head = first.chars().take(10).collect();
                out.push((head, tail.into_iter().rev().collect()));
            }
        }
    }
    out
}

#[test]
fn the_page_is_accessible_needs_no_network_and_prints_in_order_without_cutting_a_row() {
    let folder = folder("browser");
    let sheets = all(&BOTH[..1]);
    let paths: Vec<String> = sheets
        .iter()
        .enumerate()
        .map(|(index, sheet)| {
            let path = folder.join(format!("{index}.html"));
            std::fs::write(&path, html::render(&sheet.document)).expect("written");
            path.display().to_string()
        })
        .collect();
    let arguments: Vec<&str> = paths.iter().map(String::as_str).collect();
    let Some(said) = outside::node("sheet_page.js", &arguments) else {
        return;
    };
    let (first, rest) = said.split_once('\n').expect("a line");
    assert!(first.starts_with("awake ") && first != "awake 0", "{first}");
    assert_eq!(rest, "");
    let mut compared = 0;
    for (sheet, path) in sheets.iter().zip(&paths) {
        let printed = format!("{path}.printed.pdf");
        let Some(text) = outside::program("pdftotext", &["-raw", &printed, "-"]) else {
            return;
        };
        let pages: Vec<String> = text.split('\u{c}').map(packed).collect();
        let whole = pages.concat();
        let mut order = Vec::new();
        headings(&sheet.document.blocks, &mut order);
        let mut from = 0;
        for heading in order {
            let found = whole.get(from..).and_then(|rest| rest.find(&heading));
            let at = found.unwrap_or_else(|| panic!("{}: {heading} in order", sheet.what()));
            from += at + heading.len();
        }
        for (head, tail) in rows(&sheet.document) {
            let together = pages
                .iter()
                .any(|page| page.contains(&head) && page.contains(&tail));
            assert!(together, "{}: {head} … {tail}", sheet.what());
            compared += 1;
        }
    }
    assert!(compared > 200, "{compared}");
}
