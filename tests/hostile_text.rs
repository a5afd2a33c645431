//! Free text that tries to be something else: markup, a script, PDF operators, a
//! formula, terminal controls. It is printed as the words that it is, or refused.

#![allow(clippy::expect_used, clippy::panic)] // a test says so by panicking

use std::path::Path;
use std::process::Command;
use tempwright::document::{Document, Paper, html, markdown, pdf};
use tempwright::model::Protocol;
use tempwright::plan::{Case, Plan};
use tempwright::rules;
use tempwright::sheet::{self, Options};

#[path = "support/laden.rs"]
mod laden;
mod support;

/// What a browser would obey, if it were let: each marks the page when it runs.
const MARKUP: [&str; 5] = [
    "<script>document.documentElement.setAttribute('data-hit','script')</script>",
    "<img src=x onerror=document.documentElement.setAttribute('data-hit','image')>",
    "</td></table></style></title><svg onload=document.documentElement.setAttribute('data-hit','svg')>",
    "[press](javascript:document.documentElement.setAttribute('data-hit','link'))",
    "&lt;script&gt; &#60;b&#62; `code` **bold** | cell ~~struck~~ <!-- hidden -->",
];

/// What would end a text in a PDF's page and begin another.
const OPERATORS: [&str; 3] = [
    ") Tj ET Q BT (",
    "> Tj ET endstream endobj <",
    r"\\) \( \051 %comment /Name",
];

/// A demo protocol of which every text carries `text` as well.
fn laden(path: &str, text: &str) -> Protocol {
    let mut library = support::library();
    for (name, file) in &mut library.files {
        if name.starts_with("protocols/") {
            *file = laden::file(file, text);
        }
    }
    support::protocol(&library, path)
}

fn sheet_of(protocol: &Protocol) -> Document {
    let case = Case::default();
    let plan = Plan::of(protocol, &case).expect("a plan");
    let options = Options {
        fingerprint: rules::fingerprint(protocol),
        paper: Paper::A4,
        withheld: None,
        ..Options::default()
    };
    sheet::build(protocol, &plan, &case, &options).expect("a sheet")
}

const PATHS: [&str; 2] = [
    "protocols/adult-arrest-33.protocol",
    "protocols/theatre-warmth.protocol",
];

#[test]
fn markup_in_a_text_is_nothing_but_text_in_every_page() {
    for path in PATHS {
        for text in MARKUP {
            let protocol = laden(path, text);
            let page = html::render(&sheet_of(&protocol));
            let lower = page.to_lowercase();
            for let_through in ["<script", "<img", "<svg onload", "<b>", "href=\"javascript"] {
                assert!(
                    !lower.contains(let_through),
                    "{path}: `{let_through}` stands in the page of `{text}`"
                );
            }
            let out = markdown::render(&sheet_of(&protocol));
            assert_markdown_is_harmless(&out, text);
        }
    }
}

/// A Markdown reader that lets markup through still finds none.
fn assert_markdown_is_harmless(out: &str, text: &str) {
    use pulldown_cmark::{Event, Options as Reading, Parser, Tag};
    for event in Parser::new_ext(out, Reading::all()) {
        match event {
            Event::Html(found) | Event::InlineHtml(found) => {
                let plain = found.trim().to_lowercase();
                assert!(
                    ["<br>", "<br/>", "<br />", "</a>"].contains(&plain.as_str())
                        || plain.starts_with("<a id="),
                    "`{found}` is read as markup, from `{text}`"
                );
            }
            Event::Start(Tag::Link { dest_url, .. } | Tag::Image { dest_url, .. }) => {
                assert!(
                    !dest_url.to_lowercase().contains("javascript:"),
                    "`{dest_url}` is read as a link, from `{text}`"
                );
            }
            _ => {}
        }
    }
}

#[test]
fn a_browser_runs_nothing_of_it() {
    let Some(browser) = browser() else { return };
    let folder = tempfile::tempdir().expect("a folder");
    let mut pages = 0;
    for (at, text) in MARKUP.iter().enumerate() {
        let page = html::render(&sheet_of(&laden(PATHS[0], text)));
        assert!(
            !in_browser(&browser, folder.path(), &format!("{at}.html"), &page)
                .contains("data-hit=\"")
        );
        pages += 1;
    }
    assert_eq!(pages, MARKUP.len());
    // The same browser does run what is let through, or the test would prove nothing.
    let open = format!("<!DOCTYPE html><body>{}</body>", MARKUP[0]);
    assert!(
        in_browser(&browser, folder.path(), "open.html", &open).contains("data-hit=\"script\"")
    );
}

fn browser() -> Option<String> {
    for name in ["chromium", "chromium-browser", "google-chrome"] {
        if Command::new(name)
            .arg("--version")
            .output()
            .is_ok_and(|out| out.status.success())
        {
            return Some(name.to_owned());
        }
    }
    assert!(
        std::env::var_os("CI").is_none(),
        "a browser must be here: apt-get install chromium"
    );
    eprintln!("SKIPPED: no Chromium on this machine");
    None
}

/// The page's tree after its scripts have run.
fn in_browser(browser: &str, folder: &Path, name: &str, page: &str) -> String {
    let path = folder.join(name);
    std::fs::write(&path, page).expect("a page");
    let output = Command::new(browser)
        .args([
            "--headless",
            "--no-sandbox",
            "--disable-gpu",
            "--disable-background-networking",
            "--disable-component-update",
            "--disable-sync",
            "--no-first-run",
            "--virtual-time-budget=2000",
            "--dump-dom",
        ])
        .arg(format!(
            "--user-data-dir={}",
            folder.join("profile").display()
        ))
        .arg(format!("file://{}", path.display()))
        .output()
        .expect("the browser starts");
    let tree = String::from_utf8_lossy(&output.stdout).into_owned();
    assert!(
        tree.contains("</html>"),
        "no tree: {}",
        String::from_utf8_lossy(&output.stderr)
    );
    tree
}

#[test]
fn text_cannot_become_an_operator_of_a_pdf_page() {
    for path in PATHS {
        let plain = operators_of(&pdf::render(&sheet_of(&laden(path, "plainly"))).expect("a PDF"));
        for text in OPERATORS {
            let bytes = pdf::render(&sheet_of(&laden(path, text))).expect("a PDF");
            let used = operators_of(&bytes);
            assert_eq!(plain, used, "{path}: other operators with `{text}`");
            let read = lopdf::Document::load_mem(&bytes).expect("a PDF that reads");
            assert!(!read.get_pages().is_empty());
        }
    }
}

/// The kinds of operator in a PDF's pages.
fn operators_of(bytes: &[u8]) -> std::collections::BTreeSet<String> {
    let read = lopdf::Document::load_mem(bytes).expect("a PDF that reads");
    let mut kinds = std::collections::BTreeSet::new();
    for page in read.get_pages().into_values() {
        let content = read.get_page_content(page);
        let content = lopdf::content::Content::decode(&content).expect("content that reads");
        kinds.extend(content.operations.into_iter().map(|one| one.operator));
    }
    kinds
}

#[test]
fn a_finding_never_sends_controls_to_the_terminal() {
    let folder = tempfile::tempdir().expect("a folder");
    // Escape sequences in a text, in a name, and where nothing can stand.
    for (at, line) in [
        "title \"red \u{1b}[31m and a title \u{1b}]0;owned\u{7} and back \u{8}\u{8}\u{8}\"",
        "reading co\u{1b}[2Jre \"Core\" temperature",
        "\u{1b}]8;;file:///etc/passwd\u{7}link\u{1b}]8;;\u{7}",
        "title \"c1 \u{9b}31m control\"",
    ]
    .iter()
    .enumerate()
    {
        let name = format!("p{at}.protocol");
        std::fs::write(
            folder.path().join(&name),
            format!("protocol p version 1.0 {{\n  {line}\n}}\n"),
        )
        .expect("a file");
        for (form, color) in [
            ("human", "never"),
            ("human", "always"),
            ("concise", "never"),
            ("github", "never"),
        ] {
            let output = Command::new(env!("CARGO_BIN_EXE_tempwright"))
                .current_dir(folder.path())
                .args(["check", "--color", color, "--format", form, &name])
                .output()
                .expect("the program starts");
            for bytes in [&output.stdout, &output.stderr] {
                let said = without_colors(&String::from_utf8(bytes.clone()).expect("UTF-8"));
                let control = said.chars().find(|&one| one != '\n' && one.is_control());
                assert_eq!(control, None, "{form} of {line:?}: {said:?}");
            }
            assert_eq!(output.status.code(), Some(1), "{form} of {line:?}");
        }
    }
}

/// Without the changes of colour, which the program itself makes.
fn without_colors(text: &str) -> String {
    let mut parts = text.split("\u{1b}[");
    let mut out = parts.next().unwrap_or_default().to_owned();
    for part in parts {
        let digits = part.trim_start_matches(|one: char| one.is_ascii_digit() || one == ';');
        match digits.strip_prefix('m') {
            Some(rest) => out.push_str(rest),
            None => {
                out.push('\u{1b}');
                out.push_str(part);
            }
        }
    }
    out
}
