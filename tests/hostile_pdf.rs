//! Texts that would be something else in a PDF: its operators, its objects, an action. Title,
//! bookmarks and pages hold them as the words that they are, and the file does nothing.

#![allow(clippy::expect_used, clippy::panic)] // a test says so by panicking

use serde_json::Value;
use std::collections::BTreeSet;
use std::path::Path;
use tempwright::document::{Block, Document, Paper, pdf};
use tempwright::model::Protocol;
use tempwright::plan::{Case, Plan};
use tempwright::sheet::{self, Options};

#[path = "support/laden.rs"]
mod laden;
mod outside;
mod support;

/// None has what Markdown reads as markup: they are printed as they are written.
const TEXTS: [&str; 7] = [
    "open ( and ) close (( )) ) Tj ET Q q BT ( end",
    "back \\ slash, \\ n, \\ 051 and \\ ) there",
    "endstream endobj 7 0 obj << /S /JavaScript /JS (app.alert(1)) >> endobj xref trailer",
    "<< /Type /Action /S /URI /URI (http://127.0.0.1:9/) >> << /S /Launch /F (sh) >>",
    "> Tj <48656c6c6f> Tj ET endstream % comment %PDF-1.7 %%EOF",
    "]]></rdf:li></rdf:Alt><?xpacket end=\"r\"?> & < > ' \" end",
    "Ώρα για κρύο, Привет тепло, Łódź, þórður? ≤ 33 °C",
];

/// A demo protocol of which each text carries `text`, but for those that stand in narrow columns.
fn laden(text: &str) -> Protocol {
    let mut library = support::library();
    for (name, file) in &mut library.files {
        if name.starts_with("protocols/") {
            *file = file
                .lines()
                .map(|line| match line.split_whitespace().next() {
                    Some("reading" | "mark" | "medication" | "ladder") => format!("{line}\n"),
                    _ => laden::file(line, text),
                })
                .collect();
        }
    }
    support::protocol(&library, "protocols/theatre-warmth.protocol")
}

fn sheet(protocol: &Protocol) -> Document {
    let case = Case::default();
    let plan = Plan::of(protocol, &case).expect("a plan");
    let options = Options {
        paper: Paper::A4,
        ..Options::default()
    };
    sheet::build(protocol, &plan, &case, &options).expect("a sheet")
}

/// As it can be compared whatever the lines and signs of a page break at.
fn run_together(text: &str) -> String {
    text.chars().filter(|one| !one.is_whitespace()).collect()
}

/// All names and keys in the objects of a PDF, as qpdf tells them, and the titles of its bookmarks.
#[derive(Default)]
struct Inside {
    names: BTreeSet<String>,
    bookmarks: Vec<String>,
}

fn inside(path: &str) -> Option<Inside> {
    let told = outside::program(
        "qpdf",
        &["--json=2", "--json-key=qpdf", "--json-key=outlines", path],
    )?;
    let told: Value = serde_json::from_str(&told).expect("JSON");
    let mut found = Inside::default();
    names(&told["qpdf"], &mut found.names);
    bookmarks(&told["outlines"], &mut found.bookmarks);
    Some(found)
}

fn names(value: &Value, found: &mut BTreeSet<String>) {
    match value {
        Value::Object(all) => {
            for (key, value) in all {
                if key.starts_with('/') {
                    found.insert(key.clone());
                }
                names(value, found);
            }
        }
        Value::Array(all) => all.iter().for_each(|one| names(one, found)),
        // A text begins with `u:` or `b:`.
        Value::String(text) if text.starts_with('/') => {
            found.insert(text.clone());
        }
        _ => {}
    }
}

fn bookmarks(value: &Value, found: &mut Vec<String>) {
    for one in value.as_array().expect("a list") {
        found.push(one["title"].as_str().expect("a title").to_owned());
        bookmarks(&one["kids"], found);
    }
}

/// What a PDF can do: none of it is in a sheet.
const ACTIONS: [&str; 16] = [
    "/JavaScript",
    "/JS",
    "/OpenAction",
    "/AA",
    "/Launch",
    "/URI",
    "/SubmitForm",
    "/ImportData",
    "/GoToR",
    "/GoToE",
    "/EmbeddedFile",
    "/EmbeddedFiles",
    "/RichMedia",
    "/Movie",
    "/Sound",
    "/AcroForm",
];

fn acts(found: &Inside) -> Vec<&str> {
    ACTIONS
        .into_iter()
        .filter(|name| found.names.contains(*name))
        .collect()
}

fn written(folder: &Path, name: &str, document: &Document) -> String {
    let path = folder.join(name);
    std::fs::write(&path, pdf::render(document).expect("a PDF")).expect("written");
    path.display().to_string()
}

#[test]
fn the_words_are_in_title_bookmarks_and_pages_and_nothing_acts() {
    let folder = tempfile::tempdir().expect("a folder");
    let mut paths = Vec::new();
    for (at, text) in TEXTS.iter().enumerate() {
        let mut document = sheet(&laden(text));
        assert!(document.title.ends_with(text), "{}", document.title);
        // Headings of a protocol's own words stand in the bookmarks.
        document.blocks.push(Block::heading(1, *text));
        document
            .blocks
            .push(Block::heading(2, format!("{text} below")));
        let path = written(folder.path(), &format!("{at}.pdf"), &document);
        let Some(said) = outside::program("qpdf", &["--check", &path]) else {
            return;
        };
        assert!(
            said.contains("No syntax or stream encoding errors"),
            "{text}: {said}"
        );
        let Some(found) = inside(&path) else { return };
        assert_eq!(acts(&found), Vec::<&str>::new(), "{text}");
        for wanted in [(*text).to_owned(), format!("{text} below")] {
            assert!(
                found.bookmarks.contains(&wanted),
                "{wanted}: {:?}",
                found.bookmarks
            );
        }
        let Some(about) = outside::program("pdfinfo", &[&path]) else {
            return;
        };
        let title = about.lines().find_map(|line| line.strip_prefix("Title:"));
        assert_eq!(title.map(str::trim), Some(document.title.as_str()));
        let Some(page) = outside::program("pdftotext", &[&path, "-"]) else {
            return;
        };
        let (page, wanted) = (run_together(&page), run_together(text));
        let stands = page.matches(wanted.as_str()).count();
        assert!(stands >= 20, "{text}: {stands} times on the pages");
        paths.push((path, document.title));
    }
    let files: Vec<&str> = paths.iter().map(|(path, _)| path.as_str()).collect();
    let Some(said) = outside::python("pdf_metadata.py", "xml.etree", &files, "") else {
        return;
    };
    let titles: Vec<String> = said
        .lines()
        .map(|line| serde_json::from_str(line).expect("JSON"))
        .collect();
    assert_eq!(
        titles,
        paths
            .into_iter()
            .map(|(_, title)| title)
            .collect::<Vec<_>>()
    );
}

/// Only a link that a text really has, with its address as it is; and the test above sees it.
#[test]
fn a_link_is_the_only_action_and_has_its_own_address() {
    let folder = tempfile::tempdir().expect("a folder");
    let address = "https://example.org/a_(b)/c?d=%28e%29";
    let text =
        format!("see [this](<{address}>) and [that](javascript:alert) and [other](file:///bin/sh)");
    let path = written(folder.path(), "link.pdf", &sheet(&laden(&text)));
    let Some(found) = inside(&path) else { return };
    assert_eq!(acts(&found), ["/URI"]);
    let Some(told) = outside::program("qpdf", &["--json=2", "--json-key=qpdf", &path]) else {
        return;
    };
    let told: Value = serde_json::from_str(&told).expect("JSON");
    let mut addresses = BTreeSet::new();
    strings_of(&told, "/URI", &mut addresses);
    assert_eq!(addresses, [format!("u:{address}")].into());
}

fn strings_of(value: &Value, wanted: &str, found: &mut BTreeSet<String>) {
    match value {
        Value::Object(all) => {
            for (key, value) in all {
                if let (true, Some(text)) = (key == wanted, value.as_str()) {
                    found.insert(text.to_owned());
                }
                strings_of(value, wanted, found);
            }
        }
        Value::Array(all) => all.iter().for_each(|one| strings_of(one, wanted, found)),
        _ => {}
    }
}

/// A sign that cannot be printed, or seen, is refused and never dropped.
#[test]
fn what_the_typeface_lacks_is_refused() {
    for (text, code) in [
        ("寒い", "U+5BD2"),
        ("بارد", "U+0628"),
        ("nul \0 there", "U+0000"),
        ("bell \u{7}", "U+0007"),
        ("x\u{202e}y", "U+202E"),
    ] {
        let refused = pdf::render(&sheet(&laden(text)))
            .expect_err(text)
            .to_string();
        assert!(refused.contains(code), "{text:?}: {refused}");
    }
}
