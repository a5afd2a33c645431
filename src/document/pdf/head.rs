//! The head of a table: lying, or standing where the columns are too narrow for their words.

use super::PdfError;
use super::flow::{LineOfText, longest_word, wrap};
use super::galley::{Piece, stack};
use super::setter::{SMALL, Setter};
use super::table::{PAD, TOP_PAD, edges};
use super::tags::TagId;
use crate::document::shape::{Anchor, Ink, Shape, TextShape};
use crate::document::{Column, Rich, Width};

/// From line to line of a standing head.
const STEP: f64 = SMALL * 1.1;
/// The tallest standing head, in points.
const TALLEST: f64 = 150.0;

impl Setter<'_> {
    pub(super) fn head(
        &mut self,
        columns: &[Column],
        widths: &[f64],
        parent: TagId,
    ) -> Result<Piece, PdfError> {
        let row = self.tags.open("TR", Some(parent));
        let mut cells = Vec::new();
        for (column, &width) in columns.iter().zip(widths) {
            let tag = self.tags.open("TH", Some(row));
            let inner = width - 2.0 * PAD;
            let mut parts = Vec::new();
            for text in [column.head.all_bold(), column.under.clone()] {
                if !text.is_empty() {
                    parts.push(self.aligned(&text, SMALL, inner, column.align, tag)?);
                }
            }
            cells.push(stack(parts));
        }
        let height = cells.iter().map(|cell| cell.height).fold(0.0, f64::max) + 2.0 * TOP_PAD;
        let mut piece = Piece {
            height,
            ..Piece::default()
        };
        let total: f64 = widths.iter().sum();
        piece.push(
            Shape::Rect {
                x: 0.0,
                y: 0.0,
                width: total,
                height,
                fill: Some(Ink::HEAD),
                frame: None,
            },
            None,
        );
        let mut x = 0.0;
        for (cell, &width) in cells.into_iter().zip(widths) {
            piece.draws.extend(cell.moved(x + PAD, TOP_PAD).draws);
            x += width;
        }
        edges(&mut piece, widths, height, 1.0);
        piece.push(
            Shape::line(0.0, height, total, height, 1.0, Ink::BLACK),
            None,
        );
        Ok(piece)
    }

    /// The heads of columns that may be as narrow as their boxes stand; the others lie below.
    pub(super) fn turned_head(
        &mut self,
        columns: &[Column],
        widths: &[f64],
        parent: TagId,
    ) -> Result<Piece, PdfError> {
        let stands = |column: &Column| matches!(column.width, Width::Word(_));
        let mut height: f64 = 40.0;
        let mut standing: Vec<Vec<LineOfText>> = Vec::new();
        for (column, &width) in columns.iter().zip(widths) {
            standing.push(if stands(column) {
                let (lines, tall) = self.standing(column, width)?;
                height = height.max(tall);
                lines
            } else {
                Vec::new()
            });
        }
        let row = self.tags.open("TR", Some(parent));
        let mut lying = Vec::new();
        for (column, &width) in columns.iter().zip(widths) {
            let tag = self.tags.open("TH", Some(row));
            let inner = width - 2.0 * PAD;
            let mut parts = Vec::new();
            if !stands(column) {
                for text in [column.head.all_bold(), column.under.clone()] {
                    if !text.is_empty() {
                        parts.push(self.aligned(&text, SMALL, inner, column.align, tag)?);
                    }
                }
            }
            let part = stack(parts);
            height = height.max(part.height);
            lying.push((tag, part));
        }
        let height = height + 2.0 * TOP_PAD + 1.0;
        let mut piece = Piece {
            height,
            ..Piece::default()
        };
        let total: f64 = widths.iter().sum();
        piece.push(
            Shape::Rect {
                x: 0.0,
                y: 0.0,
                width: total,
                height,
                fill: Some(Ink::HEAD),
                frame: None,
            },
            None,
        );
        let mut x = 0.0;
        for (((tag, part), lines), &width) in lying.into_iter().zip(&standing).zip(widths) {
            let y = height - part.height - TOP_PAD;
            piece.draws.extend(part.moved(x + PAD, y).draws);
            let first = x + (width - STEP * lines.len() as f64) / 2.0;
            for (index, line) in lines.iter().enumerate() {
                for span in &line.spans {
                    piece.push(
                        Shape::Text(TextShape {
                            x: first + STEP * index as f64 + SMALL * 0.82,
                            y: height - TOP_PAD - span.x,
                            size: SMALL,
                            anchor: Anchor::Start,
                            face: span.face,
                            italic: false,
                            turned: true,
                            text: span.text.clone(),
                        }),
                        Some(tag),
                    );
                }
            }
            x += width;
        }
        edges(&mut piece, widths, height, 1.0);
        piece.push(
            Shape::line(0.0, height, total, height, 1.0, Ink::BLACK),
            None,
        );
        Ok(piece)
    }

    /// The lines of a standing head, and how tall they make it.
    fn standing(&self, column: &Column, width: f64) -> Result<(Vec<LineOfText>, f64), PdfError> {
        let most = ((width - 1.0) / STEP).floor().max(1.0) as usize;
        // No word is cut: a standing head is at least as tall as its longest.
        let under = on_one_line(&column.under);
        let mut room = longest_word(self.fonts, &column.head.all_bold(), SMALL)?
            .max(longest_word(self.fonts, &under, SMALL)?)
            .max(40.0);
        loop {
            let mut lines = wrap(self.fonts, &column.head.all_bold(), SMALL, room)?;
            if !column.under.is_empty() {
                lines.extend(wrap(self.fonts, &under, SMALL, room)?);
            }
            if lines.len() <= most {
                let tall = lines.iter().map(|line| line.width).fold(0.0, f64::max);
                return Ok((lines, tall));
            }
            room += 5.0;
            if room > TALLEST {
                return Err(PdfError::DoesNotFit {
                    what: format!("column head {}", column.head.plain()),
                });
            }
        }
    }
}

/// Forced breaks are for heads that lie.
fn on_one_line(text: &Rich) -> Rich {
    let mut copy = text.clone();
    for run in &mut copy.0 {
        run.text = run.text.replace('\n', "; ");
    }
    copy
}
