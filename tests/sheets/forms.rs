//! The three forms of a sheet carry the same: each is read by its own means, the PDF through its
//! structure tree, and compared cell by cell with the document.

use crate::outside;
use crate::printed::{BOTH, all, tables};
use std::path::PathBuf;
use tempwright::document::{Cell, Field, List, Row, html, markdown, pdf};

/// The words of a cell without spaces: as HTML and PDF say it, and as Markdown does, which writes
/// the marks of a list.
fn words(cell: &Cell, form: &str) -> String {
    match cell {
        Cell::Text(text) => text.plain(),
        Cell::List(list) => items(list, form),
        Cell::Value(text) => text.clone(),
        Cell::WriteIn(field) => place(field),
        Cell::Fields(fields) => fields.iter().map(place).collect(),
        Cell::Step(text, fields) => {
            let fields: String = fields.iter().map(place).collect();
            format!("{}{fields}", text.plain())
        }
        Cell::Tick => "☐".to_string(),
        // On paper it is grey and struck through, which is no text.
        Cell::NotDue if form != "pdf" => "–".to_string(),
        Cell::Due | Cell::NotDue | Cell::Initials | Cell::Empty => String::new(),
    }
}

fn items(list: &List, form: &str) -> String {
    list.items
        .iter()
        .enumerate()
        .map(|(index, item)| {
            let mark = match form {
                "markdown" => list.mark(index),
                _ => String::new(),
            };
            let inner = item.inner.as_ref().map(|inner| items(inner, form));
            format!("{mark}{}{}", item.text.plain(), inner.unwrap_or_default())
        })
        .collect()
}

fn place(field: &Field) -> String {
    let value = field.value.clone().unwrap_or_default();
    format!("{}{value}{}", field.label.plain(), field.unit)
}

fn packed(text: &str) -> String {
    text.chars()
        .filter(|c| !c.is_whitespace() && *c != '_')
        .collect()
}

/// Every row of every table, as a form should say it.
fn expected(sheet: &crate::printed::Printed, form: &str) -> Vec<String> {
    let mut out = Vec::new();
    for table in tables(&sheet.document.blocks) {
        let head: Vec<String> = table
            .columns
            .iter()
            .map(|column| packed(&format!("{}{}", column.head.plain(), column.under.plain())))
            .collect();
        if head.iter().any(|cell| !cell.is_empty()) {
            out.push(head.join("|"));
        }
        for row in &table.rows {
            let mut cells: Vec<String> = match row {
                Row::Cells { cells, .. } => cells
                    .iter()
                    .map(|cell| packed(&words(cell, form)))
                    .collect(),
                Row::Section { text, fields, .. } => {
                    let fields: String = fields.iter().map(place).collect();
                    vec![packed(&format!("{}{fields}", text.plain()))]
                }
                Row::Band {
                    text,
                    tick,
                    initials,
                    ..
                } => {
                    let tick = if *tick { "☐" } else { "" };
                    let room = initials.then(|| words(&Cell::Initials, form));
                    let whole = packed(&format!("{tick}{}", text.plain()));
                    [whole].into_iter().chain(room).collect()
                }
            };
            if form == "markdown" {
                // A pipe table has all its columns in each row, and no row without a word.
                cells.resize(table.columns.len(), String::new());
                if cells.iter().all(String::is_empty) {
                    continue;
                }
            }
            out.push(cells.join("|"));
        }
    }
    out
}

/// A folder of this test, empty.
pub fn folder(name: &str) -> PathBuf {
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(format!("sheets-{name}"));
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).expect("a folder");
    folder
}

#[test]
fn html_markdown_and_pdf_say_the_same_cell_by_cell() {
    let folder = folder("forms");
    let mut compared = 0;
    for (index, sheet) in all(&BOTH[..1]).iter().enumerate() {
        let at = |ending: &str| folder.join(format!("{index}.{ending}"));
        std::fs::write(at("html"), html::render(&sheet.document)).expect("written");
        std::fs::write(at("md"), markdown::render(&sheet.document)).expect("written");
        std::fs::write(at("pdf"), pdf::render(&sheet.document).expect("a PDF")).expect("written");
        let path = |ending: &str| at(ending).display().to_string();
        let Some(tree) = outside::program("pdfinfo", &["-struct-text", &path("pdf")]) else {
            return;
        };
        std::fs::write(at("txt"), tree).expect("written");
        let arguments = [path("html"), path("md"), path("txt")];
        let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
        let Some(said) = outside::python("sheet_rows.py", "html.parser", &arguments, "") else {
            return;
        };
        for form in ["html", "markdown", "pdf"] {
            let rows: Vec<&str> = said
                .lines()
                .filter_map(|line| line.strip_prefix(&format!("{form}\t")))
                .collect();
            let wanted = expected(sheet, form);
            for (row, wanted) in rows.iter().zip(&wanted) {
                assert_eq!(row, wanted, "{} {form}", sheet.what());
                compared += row.split('|').count();
            }
            assert_eq!(rows.len(), wanted.len(), "{} {form}", sheet.what());
            // And what is no table: headings, paragraphs, lists, fields.
            let all = said
                .lines()
                .find_map(|line| line.strip_prefix(&format!("{form} words\t")))
                .expect("all words");
            for text in crate::numbers::texts(&sheet.document) {
                let drawn = form != "markdown" && is_drawn(sheet, &text);
                let text = packed(&text);
                assert!(
                    drawn || all.contains(&text),
                    "{} {form}: {text}",
                    sheet.what()
                );
            }
        }
    }
    assert!(compared > 20_000, "{compared}");
}

/// What stands in the drawing and its description.
fn is_drawn(sheet: &crate::printed::Printed, text: &str) -> bool {
    sheet.document.blocks.iter().any(|block| match block {
        tempwright::document::Block::Chart(chart) => chart.summary == text,
        _ => false,
    })
}
