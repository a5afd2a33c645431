//! What must hold for every document, on the sample on both papers.

use super::pdf::{self, PdfError, PlacedText, TextRole};
use super::{Block, Cell, Document, Paper, Row, Table, html, markdown, sample};

fn both() -> [Document; 2] {
    [sample::document(Paper::A4), sample::document(Paper::Letter)]
}

/// Pairs of texts on one page whose boxes overlap by more than a hair.
fn overlaps(texts: &[PlacedText]) -> Vec<(String, String)> {
    let mut out = Vec::new();
    for (index, a) in texts.iter().enumerate() {
        for b in texts.iter().skip(index + 1).filter(|b| b.page == a.page) {
            let across = (a.x + a.width).min(b.x + b.width) - a.x.max(b.x);
            let down = (a.y + a.height).min(b.y + b.height) - a.y.max(b.y);
            if across > 0.3 && down > 0.8 {
                out.push((a.text.clone(), b.text.clone()));
            }
        }
    }
    out
}

#[test]
fn no_text_leaves_the_page_or_covers_another_or_is_too_small() {
    for document in both() {
        let layout = pdf::lay_out(&document).expect("layout");
        let (width, height) = layout.paper();
        assert!(layout.texts().len() > 100);
        for text in layout.texts() {
            let inside = text.x >= 20.0
                && text.x + text.width <= width - 20.0
                && text.y >= 20.0
                && text.y + text.height <= height - 12.0;
            assert!(inside, "{text:?}");
            assert!(text.size >= 9.0, "{text:?}");
        }
        assert_eq!(overlaps(layout.texts()), []);
    }
}

#[test]
fn the_overlap_test_sees_an_overlap() {
    let document = sample::document(Paper::A4);
    let layout = pdf::lay_out(&document).expect("layout");
    let mut texts = layout.texts().to_vec();
    let mut twin = texts.first().cloned().expect("a text");
    twin.x += 2.0;
    texts.push(twin);
    assert_eq!(overlaps(&texts).len(), 1);
}

#[test]
fn every_page_has_number_protocol_fingerprint_and_what_the_sheet_does_not_replace() {
    for document in both() {
        let layout = pdf::lay_out(&document).expect("layout");
        let count = layout.page_count();
        assert!(count > 3);
        for page in 1..=count {
            let words: String = layout
                .texts()
                .iter()
                .filter(|text| text.page == page && text.role == TextRole::Frame)
                .map(|text| text.text.as_str())
                .collect();
            for wanted in [
                format!("Page {page} of {count}"),
                document.meta.protocol.clone(),
                document.meta.version.clone(),
                document.meta.fingerprint.clone(),
                "does not replace local policy and clinical judgement".to_string(),
            ] {
                assert!(words.contains(&wanted), "page {page}: {wanted}");
            }
        }
    }
}

#[test]
fn the_head_of_a_table_is_repeated_and_never_alone() {
    let layout = pdf::lay_out(&sample::document(Paper::A4)).expect("layout");
    let pages: Vec<usize> = layout
        .texts()
        .iter()
        .filter(|text| text.text == "Second site")
        .map(|text| text.page)
        .collect();
    assert!(pages.len() > 1, "{pages:?}");
    for page in pages {
        let rows = layout
            .texts()
            .iter()
            .filter(|text| text.page == page && text.text.ends_with("0 °C"))
            .count();
        assert!(rows >= 2, "page {page}");
    }
}

#[test]
fn the_same_document_gives_the_same_bytes() {
    for document in both() {
        let first = pdf::render(&document).expect("pdf");
        assert!(first.starts_with(b"%PDF-1.7"));
        assert_eq!(first, pdf::render(&document).expect("pdf"));
        assert_eq!(html::render(&document), html::render(&document));
    }
}

#[test]
fn a_sign_without_glyph_stops_the_pdf() {
    let mut document = sample::document(Paper::A4);
    document
        .blocks
        .push(Block::paragraph("33 \u{2103}\u{4e2d}"));
    assert!(matches!(
        pdf::render(&document),
        Err(PdfError::MissingGlyph { .. })
    ));
}

#[test]
fn a_row_that_no_page_can_hold_is_an_error_and_is_not_cut() {
    let mut document = sample::document(Paper::A4);
    document.blocks.push(Block::Table(Table {
        rows: vec![Row::cells(vec![Cell::text("word\n".repeat(200))])],
        columns: vec![super::Column::new("much", super::Width::Share(1))],
        ..Table::default()
    }));
    assert!(matches!(
        pdf::render(&document),
        Err(PdfError::DoesNotFit { .. })
    ));
}

/// Letters and digits only: line breaks, escapes and signs differ between the renderers.
fn letters(text: &str) -> String {
    text.chars().filter(|c| c.is_alphanumeric()).collect()
}

#[test]
fn all_three_say_the_same() {
    let document = sample::document(Paper::A4);
    let layout = pdf::lay_out(&document).expect("layout");
    let page: String = layout
        .texts()
        .iter()
        .map(|text| text.text.as_str())
        .collect();
    let (page, html, markdown) = (
        letters(&page),
        letters(&html::render(&document)),
        letters(&markdown::render(&document)),
    );
    for wanted in [
        "hold core at 33.0 °C ± 0.5 °C",
        "bleeding that cannot be pressed on",
        "Second calculation",
        "Stop potassium replacement",
        "34.0 °C",
        "Review by",
        "Thursday 26 November",
        "at most 2 doses in any 24 h",
    ] {
        let wanted = letters(wanted);
        assert!(page.contains(&wanted), "pdf: {wanted}");
        assert!(html.contains(&wanted), "html: {wanted}");
        assert!(markdown.contains(&wanted), "markdown: {wanted}");
    }
}

#[test]
fn the_html_page_needs_no_network_and_no_script() {
    // A picture that the page itself holds needs nothing from elsewhere.
    let page = html::render(&sample::document(Paper::A4))
        .replace("src=\"data:image/", "")
        .replace("url(\"data:image/", "");
    for banned in ["<script", "src=", "@import", "url(", "<link"] {
        assert!(!page.contains(banned), "{banned}");
    }
    assert!(page.contains("<html lang=\"en-GB\">"));
    assert!(page.contains("scope=\"col\""));
}
