//! What stands on every page: label box or strip, head, footer with its QR code.

use super::PdfError;
use super::fonts::Fonts;
use super::galley::{Draw, Piece};
use super::mm;
use super::setter::{SMALL, Setter};
use super::tags::TagId;
use crate::document::shape::{Anchor, Face, Ink, Shape};
use crate::document::{Document, Paper, Rich};

pub(super) const LEFT: f64 = 16.0;
pub(super) const RIGHT: f64 = 10.0;
const TOP: f64 = 6.1;
const BOTTOM: f64 = 5.0;
const FOOT: f64 = 14.5;
/// Lines of text that the footer has room for.
const FOOT_LINES: usize = 4;
const STRIP: f64 = 12.0;
const STRIP_WIDTH: f64 = 62.0;
const LABEL_WIDTH: f64 = 72.0;
const LABEL_HEIGHT: f64 = 38.0;

/// Said after the name of a part that began on an earlier page.
pub(super) const CONTINUED: &str = " (continued)";

/// The measures of one page, in points.
#[derive(Clone, Copy, Debug)]
pub(super) struct Geometry {
    pub width: f64,
    pub height: f64,
    /// Left edge and width of the text.
    pub left: f64,
    pub measure: f64,
    /// Top of the page's first line, below the strip from page 2 on.
    pub top: f64,
    /// Where the text ends and the footer may begin.
    pub bottom: f64,
}

impl Geometry {
    pub fn of(paper: Paper) -> Geometry {
        let (width, height) = match paper {
            Paper::A4 => (210.0, 297.0),
            Paper::Letter => (215.9, 279.4),
        };
        Geometry {
            width: mm(width),
            height: mm(height),
            left: mm(LEFT),
            measure: mm(width - LEFT - RIGHT),
            top: mm(TOP),
            bottom: mm(height - BOTTOM - FOOT),
        }
    }
}

/// The first thing on the first page: title, unit and facts beside the label box.
pub(super) fn masthead(
    setter: &mut Setter,
    document: &Document,
    width: f64,
    parent: TagId,
) -> Result<Piece, PdfError> {
    let label_width = if document.label.is_some() {
        mm(LABEL_WIDTH)
    } else {
        0.0
    };
    let left = width - label_width - 12.0;
    let title = setter.tags.open("H1", Some(parent));
    let mut piece = setter.text(&Rich::bold(document.title.clone()), 13.0, left, title)?;
    if !document.subtitle.is_empty() {
        let tag = setter.tags.open("P", Some(parent));
        let y = piece.height + 1.0;
        let subtitle = setter.text(&Rich::from(document.subtitle.clone()), 10.0, left, tag)?;
        piece.height = y + subtitle.height;
        piece.draws.extend(subtitle.moved(0.0, y).draws);
    }
    let facts = crate::document::Block::KeyValues(document.facts.clone());
    for fact in setter.blocks(&[facts], left, parent)? {
        let y = piece.height + fact.gap;
        piece.height = y + fact.height;
        piece.draws.extend(fact.moved(0.0, y).draws);
    }
    if let Some(caption) = &document.label {
        let tag = setter.tags.open("P", Some(parent));
        let box_height = mm(LABEL_HEIGHT);
        label_box(
            setter.fonts,
            &mut piece,
            width - label_width,
            (label_width, box_height),
            caption,
            Some(tag),
        )?;
        piece.height = piece.height.max(box_height);
    }
    Ok(piece)
}

fn label_box(
    fonts: &Fonts,
    piece: &mut Piece,
    x: f64,
    (width, height): (f64, f64),
    caption: &str,
    tag: Option<TagId>,
) -> Result<(), PdfError> {
    fonts.width(caption, Face::Regular, SMALL)?;
    piece.push(
        Shape::Rect {
            x,
            y: 0.0,
            width,
            height,
            fill: None,
            frame: Some(1.0),
        },
        None,
    );
    let shape = Shape::text(x + 4.0, 11.0, SMALL, Anchor::Start, Face::Regular, caption);
    piece.push(shape, tag);
    Ok(())
}

/// What the line at the head of a later page takes, with the space below it.
pub(super) fn strip_height() -> f64 {
    SMALL * 1.2 + 3.5
}

/// The line at the head of later pages: the title, and the part that goes on.
pub(super) fn strip(
    fonts: &Fonts,
    document: &Document,
    part: &str,
    width: f64,
) -> Result<Piece, PdfError> {
    let mut piece = Piece {
        height: strip_height(),
        ..Piece::default()
    };
    // The title says for whom this is not: it is cut only where nothing else is left.
    let title = fitted(fonts, &document.title, Face::Bold, SMALL, width * 0.8)?;
    let taken = fonts.width(&title, Face::Bold, SMALL)? + 8.0;
    // Of a long part its name is worth more than the word that it goes on.
    let room = width - taken;
    let part = match part.strip_suffix(CONTINUED) {
        Some(name) if fonts.width(part, Face::Regular, SMALL)? > room => name,
        _ => part,
    };
    let part = fitted(fonts, part, Face::Regular, SMALL, room)?;
    let y = SMALL * 0.96 + 1.0;
    piece.push(
        Shape::text(0.0, y, SMALL, Anchor::Start, Face::Bold, &title),
        None,
    );
    piece.push(
        Shape::text(width, y, SMALL, Anchor::End, Face::Regular, &part),
        None,
    );
    Ok(piece)
}

/// A title cut to one line, with the sign that it was cut.
fn fitted(fonts: &Fonts, text: &str, face: Face, size: f64, room: f64) -> Result<String, PdfError> {
    let text = super::fonts::normalised(text);
    if fonts.width(&text, face, size)? <= room {
        return Ok(text);
    }
    let mut short: String = text;
    while short.pop().is_some() {
        let candidate = format!("{}…", short.trim_end());
        if fonts.width(&candidate, face, size)? <= room {
            return Ok(candidate);
        }
    }
    Ok(String::new())
}

/// What the footers of a document share.
pub(super) struct Footer<'a> {
    pub document: &'a Document,
    /// The QR code, which is the same on every page.
    pub code: Vec<Vec<bool>>,
    pub pages: usize,
    pub width: f64,
}

/// The footer of one page, with its top left corner at the origin.
pub(super) fn footer(
    setter: &mut Setter,
    footer: &Footer,
    number: usize,
) -> Result<Vec<Draw>, PdfError> {
    let Footer {
        document,
        code,
        pages: of,
        width,
    } = footer;
    let width = *width;
    let mut piece = Piece::default();
    piece.push(Shape::line(0.0, 3.0, width, 3.0, 0.6, Ink::BLACK), None);
    let side = mm(FOOT - 2.5);
    let mut room = width - side - 12.0;
    // The first page has the whole label; the others room to write whose they are.
    if let Some(caption) = document.label.as_ref().filter(|_| number > 1) {
        let size = (mm(STRIP_WIDTH), mm(STRIP));
        room -= size.0 + 8.0;
        let mut strip = Piece::default();
        label_box(setter.fonts, &mut strip, room + 8.0, size, caption, None)?;
        piece.draws.extend(strip.moved(0.0, 6.0).draws);
    }
    let page = Rich::bold(format!("Page {number} of {of}"));
    let mut lines = document.footer.lines.iter();
    let first = match lines.next() {
        Some(line) => page.then(" · ").then(line.clone()),
        None => page,
    };
    let all: Vec<Rich> = std::iter::once(first)
        .chain(lines.map(|line| Rich::from(line.clone())))
        .collect();
    let mut set = Vec::new();
    for rich in &all {
        set.extend(super::flow::wrap(setter.fonts, rich, SMALL, room)?);
    }
    if set.len() > FOOT_LINES {
        // Each stands in full on the first page; here it is cut, with the sign of it.
        set.clear();
        for rich in &all {
            let text = fitted(setter.fonts, &rich.plain(), Face::Bold, SMALL, room)?;
            set.extend(super::flow::wrap(
                setter.fonts,
                &Rich::from(text),
                SMALL,
                room,
            )?);
        }
    }
    if set.len() > FOOT_LINES {
        return Err(PdfError::DoesNotFit {
            what: "footer".to_string(),
        });
    }
    for (index, line) in set.iter().enumerate() {
        let y = 4.5 + SMALL * 1.06 * index as f64;
        setter.line(&mut piece, line, 0.0, y, SMALL, TagId(0));
    }
    let count = code.len();
    if count > 0 {
        let module = side / count as f64;
        for (row, line) in code.iter().enumerate() {
            let top = 6.0 + row as f64 * module;
            for (start, length) in dark_runs(line) {
                piece.push(
                    Shape::Rect {
                        x: width - side + start as f64 * module,
                        y: top,
                        width: length as f64 * module,
                        height: module,
                        fill: Some(Ink::BLACK),
                        frame: None,
                    },
                    None,
                );
            }
        }
    }
    Ok(piece.untagged().draws)
}

/// Start and length of each run of dark modules: one rectangle each, without hairlines between.
fn dark_runs(line: &[bool]) -> Vec<(usize, usize)> {
    let mut runs: Vec<(usize, usize)> = Vec::new();
    for (index, _) in line.iter().enumerate().filter(|(_, dark)| **dark) {
        match runs.last_mut() {
            Some((start, length)) if *start + *length == index => *length += 1,
            _ => runs.push((index, 1)),
        }
    }
    runs
}

#[cfg(test)]
mod tests {
    #![allow(clippy::expect_used)] // a test says so by panicking

    use super::*;
    use crate::document::sample;

    #[test]
    fn a_part_loses_the_word_that_it_goes_on_before_it_is_cut() {
        let fonts = Fonts::load().expect("fonts");
        let document = sample::document(Paper::A4);
        let width = |text: &str, face| fonts.width(text, face, SMALL).expect("a width");
        let title = width(&document.title, Face::Bold) + 8.0;
        let name = "Before and during start";
        let goes_on = format!("{name}{CONTINUED}");
        let said = |room: f64| -> String {
            let piece = strip(&fonts, &document, &goes_on, title + room).expect("a strip");
            let last = piece.draws.last().map(|draw| draw.shape.clone());
            match last {
                Some(Shape::Text(text)) => text.text,
                other => format!("{other:?}"),
            }
        };
        let whole = width(&goes_on, Face::Regular);
        let short = width(name, Face::Regular);
        assert_eq!(said(whole + 1.0), goes_on);
        assert_eq!(said(whole - 1.0), name);
        assert_eq!(said(short + 1.0), name);
        assert!(said(short - 1.0).ends_with('…'), "{}", said(short - 1.0));
    }
}
