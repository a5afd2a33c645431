//! What the eye needs: error-prone notations never, every text large enough and on its page,
//! headings with what they head, contrast without colour.

use crate::numbers::texts;
use crate::printed::{BOTH, Printed, all, tables};
use std::collections::BTreeSet;
use tempwright::document::{Block, Checklist, Paper, html, pdf};

/// Notations that have been misread at the bedside (ISMP, List of error-prone abbreviations,
/// symbols, and dose designations).
fn misread(text: &str) -> Option<&'static str> {
    let letters: Vec<char> = text.replace('\u{a0}', " ").chars().collect();
    let digit = |index: usize| letters.get(index).is_some_and(char::is_ascii_digit);
    for at in 0..letters.len() {
        let before = at.checked_sub(1);
        if letters[at] == '.' && digit(at + 1) && !before.is_some_and(digit) {
            return Some("a decimal without its zero");
        }
        // A dose of `1.0 mg` has been given as 10; a temperature keeps the digit that is shown.
        if letters[at] == '.' && before.is_some_and(digit) && letters.get(at + 1) == Some(&'0') {
            let more = digit(at + 2);
            let rest: String = letters[at + 2..].iter().take(5).collect();
            let mass = [" mg", " mcg", " g", " mL", " units"];
            if !more && mass.iter().any(|unit| rest.starts_with(unit)) {
                return Some("a dose with a zero after the point");
            }
        }
    }
    let words = text.split(|c: char| !(c.is_alphanumeric() || c == 'µ' || c == '.'));
    for word in words {
        let found = match word {
            "µg" | "ug" => "micrograms by a sign that looks like m",
            "IU" | "U" | "u" => "units by one letter",
            "cc" => "millilitres by cc",
            "QD" | "QOD" | "q.d." | "q.o.d." | "OD" | "SC" | "SQ" | "HS" => {
                "a short form of a word"
            }
            "MS" | "MSO4" | "MgSO4" => "a medicine by its letters",
            _ => continue,
        };
        return Some(found);
    }
    ["> ", "< ", "@", " & "]
        .iter()
        .any(|sign| text.contains(sign))
        .then_some("a sign for a word")
}

#[test]
fn error_prone_notations_never_appear() {
    for bad in [
        "give .5 mg",
        "give 1.0 mg",
        "5 µg",
        "10 U",
        "q.d. dose",
        "above > 3 mmol",
    ] {
        assert!(misread(bad).is_some(), "{bad}");
    }
    for sheet in all(&BOTH[..1]) {
        for text in texts(&sheet.document) {
            assert_eq!(misread(&text), None, "{}: {text}", sheet.what());
        }
    }
}

#[test]
fn a_heading_is_never_the_last_thing_on_a_page() {
    for sheet in all(&BOTH) {
        let layout = pdf::lay_out(&sheet.document).expect("a layout");
        let (_, height) = layout.paper();
        for text in layout.texts() {
            // Headings and titles of tables are the only texts of that size below the first page's
            // head; something of the body stands below each.
            if text.size < 10.5 || text.text == "☐" || text.role != pdf::TextRole::Body {
                continue;
            }
            let below = layout.texts().iter().any(|other| {
                other.page == text.page
                    && other.role == pdf::TextRole::Body
                    && other.size < 10.5
                    && other.y > text.y
                    && other.y < height - 60.0
                    && other.x + other.width > text.x
                    && other.x < text.x + 240.0
            });
            let empty_rows = sheet_ends_with_rows_to_write_on(&sheet, &text.text);
            assert!(below || empty_rows, "{}: {text:?}", sheet.what());
        }
    }
}

fn sheet_ends_with_rows_to_write_on(_: &Printed, heading: &str) -> bool {
    heading == "What was found and done"
}

/// Relative luminance of `#rrggbb` (WCAG 2.2, definition of relative luminance).
fn luminance(colour: &str) -> f64 {
    let part = |index: usize| -> f64 {
        let value = u8::from_str_radix(&colour[index..index + 2], 16).expect("hex");
        let share = f64::from(value) / 255.0;
        if share <= 0.04045 {
            share / 12.92
        } else {
            ((share + 0.055) / 1.055).powf(2.4)
        }
    };
    0.2126 * part(1) + 0.7152 * part(3) + 0.0722 * part(5)
}

#[test]
fn there_is_no_colour_and_text_on_every_grey_keeps_its_contrast() {
    for sheet in all(&BOTH[..1]) {
        let page = html::render(&sheet.document);
        let style_end = page.find("</style>").expect("a style");
        let mut greys = 0;
        let (mut rest, mut at) = (page.as_str(), 0);
        while let Some(found) = rest.find('#') {
            let colour: String = rest[found..].chars().take(7).collect();
            rest = &rest[found + 1..];
            at += found + 1;
            let hex = colour.len() == 7 && colour[1..].chars().all(|c| c.is_ascii_hexdigit());
            if !hex {
                continue;
            }
            assert!(
                colour[1..3] == colour[3..5] && colour[3..5] == colour[5..7],
                "{}: {colour} is a colour",
                sheet.what()
            );
            // Lines of the chart may be pale; what lies under text stands in the style.
            if at < style_end {
                let contrast = (luminance(&colour) + 0.05) / 0.05;
                assert!(
                    contrast >= 4.5 || colour == "#000000",
                    "{colour}: {contrast}"
                );
                greys += 1;
            }
        }
        assert!(greys > 2, "{greys}");
    }
}

/// A page that a caption opens is not said to go on with the part before.
#[test]
fn a_page_that_a_caption_opens_says_nothing_else_above_it() {
    let mut seen = 0;
    for sheet in all(&BOTH) {
        let layout = pdf::lay_out(&sheet.document).expect("a layout");
        let captions: Vec<String> = tables(&sheet.document.blocks)
            .iter()
            .map(|table| table.caption.plain())
            .filter(|caption| !caption.is_empty())
            .collect();
        for page in 2..=layout.page_count() {
            let mut texts: Vec<_> = layout
                .texts()
                .iter()
                .filter(|text| text.page == page)
                .collect();
            texts.sort_by(|a, b| a.y.total_cmp(&b.y));
            // The strip, and the line below it.
            let strip = texts[0].y;
            let below = texts
                .iter()
                .find(|text| text.y > strip + 3.0)
                .expect("a page with words");
            let line: String = texts
                .iter()
                .filter(|text| (text.y - below.y).abs() < 1.0)
                .map(|text| text.text.as_str())
                .collect();
            let opens = captions.iter().any(|caption| {
                line.replace('\u{a0}', " ")
                    .starts_with(&caption.replace('\u{a0}', " "))
            });
            let goes_on = texts
                .iter()
                .any(|text| (text.y - strip).abs() <= 3.0 && text.text.contains("(continued)"));
            assert!(!(opens && goes_on), "{} page {page}: {line}", sheet.what());
            seen += usize::from(opens);
        }
    }
    assert!(seen > 3, "{seen}");
}

/// The title says that an example is not for patient care: a long part beside it gives way.
#[test]
fn every_later_page_has_the_whole_title() {
    for sheet in all(&BOTH) {
        let layout = pdf::lay_out(&sheet.document).expect("a layout");
        for page in 2..=layout.page_count() {
            let mut texts = layout.texts().iter().filter(|text| text.page == page);
            assert!(
                texts.any(|text| text.text == sheet.document.title),
                "{} page {page}",
                sheet.what()
            );
        }
    }
}

/// The numbers of other rules stand in the order in which one goes down the table to find them.
#[test]
fn numbers_of_rules_are_named_in_order() {
    let mut seen = 0;
    for sheet in all(&BOTH[..1]) {
        for text in texts(&sheet.document) {
            for (from, to) in [("leave ", " aside"), ("not while ", " is true")] {
                let Some((_, rest)) = text.split_once(from) else {
                    continue;
                };
                let Some((list, _)) = rest.split_once(to) else {
                    continue;
                };
                let numbers: Vec<u32> = list
                    .split(|c: char| !c.is_ascii_digit())
                    .filter_map(|number| number.parse().ok())
                    .collect();
                assert!(numbers.is_sorted(), "{}: {text}", sheet.what());
                seen += usize::from(numbers.len() > 2);
            }
        }
    }
    assert!(seen > 3, "{seen}");
}

fn checklists(blocks: &[Block]) -> Vec<&Checklist> {
    let mut out = Vec::new();
    for block in blocks {
        match block {
            Block::Checklist(list) => out.push(list),
            Block::Halves(inner) => out.extend(checklists(inner)),
            _ => {}
        }
    }
    out
}

/// Page and left edge of each step that can be told from all other texts.
fn places(layout: &pdf::Layout, list: &Checklist) -> Vec<(usize, i64)> {
    let mut out = Vec::new();
    for (index, step) in list.steps.iter().enumerate() {
        let words: String = step.text.plain().chars().take(12).collect();
        let begins = format!("{}. {words}", index + 1).replace('\u{a0}', " ");
        let found: Vec<_> = layout
            .texts()
            .iter()
            .filter(|text| text.text.replace('\u{a0}', " ").starts_with(&begins))
            .map(|text| (text.page, text.x.round() as i64))
            .collect();
        assert!(!found.is_empty(), "{begins}");
        out.extend(found.first().filter(|_| found.len() == 1));
    }
    out
}

/// Who works through a list turns no page: each fits on one.
#[test]
fn no_checklist_goes_over_the_end_of_a_page() {
    let mut seen = 0;
    for sheet in all(&BOTH) {
        let layout = pdf::lay_out(&sheet.document).expect("a layout");
        for list in checklists(&sheet.document.blocks) {
            let places = places(&layout, list);
            let pages: BTreeSet<usize> = places.iter().map(|(page, _)| *page).collect();
            let what = sheet.what();
            assert!(pages.len() <= 1, "{what}: {} {pages:?}", list.title.plain());
            seen += places.len();
        }
    }
    assert!(seen > 300, "{seen}");
}

/// Two lists of about the same length stand side by side, neither in both halves.
#[test]
fn lists_that_can_stand_in_one_half_of_the_page_do() {
    let mut seen = 0;
    for sheet in all(&BOTH) {
        if !matches!(sheet.name, "heat-stroke" | "theatre-warmth") {
            continue;
        }
        let layout = pdf::lay_out(&sheet.document).expect("a layout");
        for list in checklists(&sheet.document.blocks) {
            let places = places(&layout, list);
            let edges: BTreeSet<i64> = places.iter().map(|(_, left)| *left).collect();
            let what = sheet.what();
            assert!(
                edges.len() <= 1,
                "{what}: {} {places:?}",
                list.title.plain()
            );
            seen += places.len();
        }
    }
    assert!(seen > 100, "{seen}");
}

/// Where there are few shifts the day over each is on one line.
#[test]
fn the_day_of_a_shift_is_not_broken_where_there_is_room() {
    let sheets = all(&[Paper::A4]);
    let sheet = sheets
        .iter()
        .find(|sheet| sheet.name == "heat-stroke" && sheet.case.clock.is_some())
        .expect("a case");
    let layout = pdf::lay_out(&sheet.document).expect("a layout");
    let day = |text: &&pdf::PlacedText| text.text.replace('\u{a0}', " ") == "Tue 24";
    assert!(layout.texts().iter().any(|text| day(&text)));
}
