//! Words and lines on the paper: no word touches a line, so that each can be read and none looks
//! struck through.

use crate::printed::{BOTH, all};
use tempwright::document::pdf::{self, PlacedRule, PlacedText, TextRole};

/// White between a text and a line beside it, in points.
const WHITE: f64 = 0.5;
/// White between a text and the line above it, in points.
const ABOVE: f64 = 2.0;

/// How far the box of the text and the ink of the line reach into each other, less the white that
/// there must be; positive where they touch.
fn reach(text: &PlacedText, line: &PlacedRule) -> f64 {
    let across = (text.x + text.width).min(line.x + line.width) - text.x.max(line.x);
    let down = (text.y + text.height).min(line.y + line.height) - text.y.max(line.y);
    across.min(down) + WHITE
}

/// The line under an address, which is as long as its words and lies in the lowest part of them.
fn is_own_underline(text: &PlacedText, line: &PlacedRule) -> bool {
    let as_long = (text.x - line.x).abs() < 0.6 && (text.width - line.width).abs() < 1.2;
    as_long && line.height < 0.8 && line.y > text.y + text.height * 0.8
}

fn touching(texts: &[PlacedText], lines: &[PlacedRule]) -> Vec<String> {
    let mut out = Vec::new();
    for text in texts {
        for line in lines.iter().filter(|line| line.page == text.page) {
            if reach(text, line) > 0.0 && !is_own_underline(text, line) {
                out.push(format!(
                    "page {}: {:?} {line:?} {text:?}",
                    text.page, text.text
                ));
            }
        }
    }
    out
}

#[test]
fn no_word_touches_a_line() {
    for sheet in all(&BOTH) {
        let layout = pdf::lay_out(&sheet.document).expect("a layout");
        let lines = layout.rules();
        assert!(lines.len() > 200, "{}: {}", sheet.what(), lines.len());
        let found = touching(layout.texts(), &lines);
        assert!(found.is_empty(), "{}:\n{}", sheet.what(), found.join("\n"));
    }
}

/// A level line above a text and the white between them.
fn above<'a>(text: &PlacedText, lines: &'a [PlacedRule]) -> Option<(&'a PlacedRule, f64)> {
    lines
        .iter()
        .filter(|line| line.page == text.page && line.width > line.height)
        .filter(|line| line.x < text.x + text.width && text.x < line.x + line.width)
        .map(|line| (line, text.y - line.y - line.height))
        .filter(|(_, white)| *white > -text.height / 2.0)
        .min_by(|a, b| a.1.total_cmp(&b.1))
}

/// Heads that are printed again stand off the line above them as the first ones do.
#[test]
fn every_word_stands_off_the_line_above_it() {
    let mut heads = 0;
    for sheet in all(&BOTH) {
        let layout = pdf::lay_out(&sheet.document).expect("a layout");
        let lines = layout.rules();
        for text in layout.texts() {
            let Some((line, white)) = above(text, &lines) else {
                continue;
            };
            assert!(
                white >= ABOVE,
                "{}: {white} {line:?} {text:?}",
                sheet.what()
            );
            let is_head = text.role == TextRole::Frame && text.size < 9.5;
            heads += usize::from(is_head && white < 40.0);
        }
    }
    assert!(heads > 500, "{heads}");
}

#[test]
fn the_test_sees_a_word_on_a_line_and_one_that_only_just_misses_it() {
    let sheet = all(&BOTH[..1]).remove(0);
    let layout = pdf::lay_out(&sheet.document).expect("a layout");
    let text = layout.texts().first().cloned().expect("a text");
    let line = |y: f64| PlacedRule {
        page: text.page,
        x: text.x - 20.0,
        y,
        width: text.width + 40.0,
        height: 0.8,
    };
    let under = text.y + text.height;
    for (y, touches) in [
        (text.y + text.height / 2.0, true),
        (under - 0.2, true),
        (under + 0.3, true),
        (under + 0.6, false),
        (text.y - 0.8 - 0.3, true),
        (text.y - 0.8 - 0.6, false),
    ] {
        let found = touching(std::slice::from_ref(&text), &[line(y)]);
        assert_eq!(found.len(), usize::from(touches), "{y}: {text:?}");
    }
    let near = [line(text.y - 0.8 - 1.0), line(text.y - 30.0)];
    let (_, white) = above(&text, &near).expect("a line above");
    assert!((white - 1.0).abs() < 0.01, "{white}");
    // What is as long as the words and below them is theirs; through their middle it is not.
    let own = |y: f64| PlacedRule {
        x: text.x,
        width: text.width,
        ..line(y)
    };
    let (underline, through) = (own(under - 1.0), own(text.y + text.height / 2.0));
    assert!(!is_own_underline(&text, &through));
    assert!(is_own_underline(
        &text,
        &PlacedRule {
            height: 0.5,
            ..underline
        }
    ));
}
