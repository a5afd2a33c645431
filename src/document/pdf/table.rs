//! Sets a table: widths first, then a head that is repeated, then one piece a row.

use super::PdfError;
use super::cell::{TICK, cell_ground};
use super::flow::{longest_word, natural_width, wrap};
use super::galley::{Piece, stack};
use super::mm;
use super::setter::{BODY, LEADING, SMALL, Setter};
use super::tags::TagId;
use crate::document::shape::{Face, Ink, Shape};
use crate::document::{Align, Cell, Column, Row, Table, Width};
use std::rc::Rc;

pub(super) const PAD: f64 = 3.2;
pub(super) const TOP_PAD: f64 = 1.6;
/// Above and below the words of a row that divides a table: the line of text has its own white above.
const DIVIDER_PADS: (f64, f64) = (0.6, 1.5);
/// Least height of a row that is only ticked, in millimetres.
const TICKED: f64 = 5.6;

impl Setter<'_> {
    pub fn table(
        &mut self,
        table: &Table,
        width: f64,
        parent: TagId,
    ) -> Result<Vec<Piece>, PdfError> {
        // Heads lie where there is room; where there is not, those of the narrow columns stand.
        let (widths, turned) = match self.widths(table, width, false) {
            Ok(widths) => (widths, false),
            Err(PdfError::DoesNotFit { .. }) => (self.widths(table, width, true)?, true),
            Err(other) => return Err(other),
        };
        let tag = self.tags.open("Table", Some(parent));
        let mut out = Vec::new();
        if !table.caption.is_empty() {
            let caption = self.tags.open("Caption", Some(tag));
            let mut piece = self.text(&table.caption.all_bold(), 11.0, width, caption)?;
            piece.gap = 9.0;
            piece.keep = true;
            piece.captioned = true;
            piece.height += 2.5;
            out.push(piece);
        }
        let mut head = None;
        if table.is_headed() {
            let mut piece = if turned {
                self.turned_head(&table.columns, &widths, tag)?
            } else {
                self.head(&table.columns, &widths, tag)?
            };
            if out.is_empty() {
                piece.gap = 7.0;
            }
            piece.keep = true;
            head = Some(piece.untagged());
            out.push(piece);
        }
        // The caption is repeated with the head, so that no page of a table is nameless.
        let caption = out.first().filter(|_| !table.caption.is_empty());
        let repeated: Vec<Piece> = caption
            .map(Piece::untagged)
            .into_iter()
            .chain(head)
            .collect();
        let whole_head = (!repeated.is_empty()).then(|| Rc::new(stack(repeated.clone())));
        let mut head = whole_head.clone();
        let count = table.rows.len();
        for (index, row) in table.rows.iter().enumerate() {
            let mut piece = self.row(table, row, &widths, tag)?;
            let opens = matches!(row, Row::Section { .. });
            piece
                .head
                .clone_from(if opens { &whole_head } else { &head });
            if let Row::Section { again, .. } = row {
                // A part that goes on over the page says there which it is.
                let total = widths.iter().sum();
                let again = self.band(again, (false, true), &[total], 0.0, tag)?;
                let all = repeated.iter().cloned().chain([again.untagged()]);
                head = Some(Rc::new(stack(all.collect())));
            }
            // Two rows at least at a table's foot and head; a divider stays with its rows.
            // What is done between two rows stands with the row after it.
            let leads = opens || matches!(row, Row::Band { .. });
            piece.keep = index + 1 < count && (index == 0 || index + 2 == count || leads);
            if index == 0 && out.is_empty() {
                piece.gap = 7.0;
            }
            if table.fill && index + 1 == count {
                piece.filler = Some(Rc::new(piece.untagged()));
            }
            out.push(piece);
        }
        Ok(out)
    }

    fn widths(&self, table: &Table, width: f64, turned: bool) -> Result<Vec<f64>, PdfError> {
        let mut widths = Vec::new();
        let mut shares = 0.0;
        for (index, column) in table.columns.iter().enumerate() {
            widths.push(match column.width {
                Width::Mm(fixed) => mm(f64::from(fixed)),
                Width::Fit(most) => self.fit(table, index, column)?.min(mm(f64::from(most))),
                Width::Word(least) => {
                    let heads = if turned { None } else { Some(column) };
                    self.word(table, index, heads)?.max(mm(f64::from(least)))
                }
                Width::Share(share) => {
                    shares += f64::from(share);
                    0.0
                }
            });
        }
        // What fits its own text is never squeezed: a time or a number would be cut in two.
        let rigid: f64 = table
            .columns
            .iter()
            .zip(&widths)
            .filter(|(column, _)| matches!(column.width, Width::Fit(_)))
            .map(|(_, width)| width)
            .sum();
        let soft = widths.iter().sum::<f64>() - rigid;
        // A share needs room for a few words; a box squeezed thinner than nine tenths of what
        // was asked could not be written in.
        let least = shares.min(1.0) * mm(20.0);
        let shrink = if width - rigid - soft >= least {
            1.0
        } else {
            (width - rigid - least) / soft.max(1.0)
        };
        if shrink < if turned { 0.895 } else { 0.999 } {
            return Err(PdfError::DoesNotFit {
                what: format!("table {}", table.caption.plain()),
            });
        }
        let rest = width - rigid - soft * shrink;
        for (column, width) in table.columns.iter().zip(&mut widths) {
            match column.width {
                Width::Share(share) => *width = rest * f64::from(share) / shares.max(1.0),
                Width::Mm(_) | Width::Word(_) => *width *= shrink,
                Width::Fit(_) => {}
            }
        }
        // What is left over goes to the boxes that are written in.
        let boxes = |column: &Column| matches!(column.width, Width::Word(_));
        let count = table.columns.iter().filter(|column| boxes(column)).count();
        if shares == 0.0 && count > 0 {
            let spare = (width - widths.iter().sum::<f64>()).max(0.0) / count as f64;
            for (column, width) in table.columns.iter().zip(&mut widths) {
                if boxes(column) {
                    *width += spare.min(mm(6.0));
                }
            }
        }
        Ok(widths)
    }

    fn fit(&self, table: &Table, index: usize, column: &Column) -> Result<f64, PdfError> {
        let mut widest = natural_width(self.fonts, &column.head.all_bold(), SMALL)?
            .max(natural_width(self.fonts, &column.under, SMALL)?);
        for row in &table.rows {
            let Row::Cells { cells, .. } = row else {
                continue;
            };
            let natural = match cells.get(index) {
                Some(Cell::Text(text)) => natural_width(self.fonts, text, BODY)?,
                Some(Cell::Value(text)) => self.fonts.width(text, Face::Bold, BODY)?,
                Some(Cell::WriteIn(field)) => self.field_width(field)?,
                _ => 0.0,
            };
            widest = widest.max(natural);
        }
        Ok(widest + 2.0 * PAD + 0.5)
    }

    /// Width of the longest word in the head, if it lies, and of the longest printed value.
    fn word(&self, table: &Table, index: usize, head: Option<&Column>) -> Result<f64, PdfError> {
        let mut widest: f64 = 0.0;
        if let Some(column) = head {
            for text in [column.head.all_bold(), column.under.clone()] {
                widest = widest.max(longest_word(self.fonts, &text, SMALL)?);
            }
        }
        for row in &table.rows {
            if let Row::Cells { cells, .. } = row {
                let natural = match cells.get(index) {
                    Some(Cell::Text(text)) => natural_width(self.fonts, text, BODY)?,
                    Some(Cell::Value(text)) => self.fonts.width(text, Face::Bold, BODY)?,
                    _ => 0.0,
                };
                widest = widest.max(natural);
            }
        }
        Ok(widest + 2.0 * PAD + 0.5)
    }

    pub(super) fn aligned(
        &mut self,
        text: &crate::document::Rich,
        size: f64,
        width: f64,
        align: Align,
        tag: TagId,
    ) -> Result<Piece, PdfError> {
        if align == Align::Start {
            return self.text(text, size, width, tag);
        }
        let mut piece = Piece::default();
        for line in wrap(self.fonts, text, size, width)? {
            let x = (width - line.width) / 2.0;
            let top = piece.height;
            self.line(&mut piece, &line, x, top, size, tag);
            piece.height += size * LEADING;
        }
        Ok(piece)
    }

    fn row(
        &mut self,
        table: &Table,
        row: &Row,
        widths: &[f64],
        parent: TagId,
    ) -> Result<Piece, PdfError> {
        let least = mm(f64::from(table.row_height) / 10.0);
        let tag = self.tags.open("TR", Some(parent));
        match row {
            Row::Band {
                text,
                tick,
                initials,
                divider,
            } => {
                let signs = widths.last().filter(|_| *initials).copied();
                let total: f64 = widths.iter().sum();
                let spanned = widths.len() - usize::from(signs.is_some());
                let cell = self.tags.spanning("TD", tag, spanned);
                if signs.is_some() {
                    self.tags.open("TD", Some(tag));
                }
                // Only ticked, it needs no more room than a step of a list does.
                let least = match (divider, initials) {
                    (true, _) => 0.0,
                    (false, false) => least.min(mm(TICKED)),
                    (false, true) => least,
                };
                let columns = [total - signs.unwrap_or(0.0)]
                    .into_iter()
                    .chain(signs)
                    .collect::<Vec<_>>();
                self.band(text, (*tick, *divider), &columns, least, cell)
            }
            Row::Section { text, fields, .. } => {
                let total: f64 = widths.iter().sum();
                let cell = self.tags.spanning("TD", tag, widths.len());
                self.section(text, fields, total, cell)
            }
            Row::Cells { cells, heavy } => {
                let mut contents = Vec::new();
                for ((cell, column), &width) in cells.iter().zip(&table.columns).zip(widths) {
                    let cell_tag = match cell {
                        Cell::Step(..) if !table.is_headed() => self.tags.row_head(tag),
                        _ => self.tags.open("TD", Some(tag)),
                    };
                    contents.push(self.cell(cell, width, column.align, cell_tag)?);
                }
                let tallest = contents
                    .iter()
                    .map(|piece| piece.height)
                    .fold(0.0, f64::max);
                let height = (tallest + 2.0 * TOP_PAD).max(least);
                let mut piece = Piece {
                    height,
                    ..Piece::default()
                };
                let single = tallest <= BODY * LEADING * 1.6;
                let mut x = 0.0;
                for ((content, cell), &width) in contents.into_iter().zip(cells).zip(widths) {
                    cell_ground(&mut piece, cell, x, width, height);
                    let y = if single {
                        (height - content.height) / 2.0
                    } else {
                        TOP_PAD
                    };
                    piece.draws.extend(content.moved(x, y).draws);
                    x += width;
                }
                edges(&mut piece, widths, height, if *heavy { 1.3 } else { 0.5 });
                Ok(piece)
            }
        }
    }

    /// The row that opens a part of a table.
    fn section(
        &mut self,
        text: &crate::document::Rich,
        fields: &[crate::document::Field],
        width: f64,
        tag: TagId,
    ) -> Result<Piece, PdfError> {
        let inner = self.step(text, fields, width - 2.0 * PAD, tag)?;
        let height = inner.height + DIVIDER_PADS.0 + DIVIDER_PADS.1;
        let mut piece = Piece {
            height,
            ..Piece::default()
        };
        piece.push(
            Shape::Rect {
                x: 0.0,
                y: 0.0,
                width,
                height,
                fill: Some(Ink::HEAD),
                frame: None,
            },
            None,
        );
        piece.draws.extend(inner.moved(PAD, DIVIDER_PADS.0).draws);
        edges(&mut piece, &[width], height, 1.3);
        Ok(piece)
    }

    fn band(
        &mut self,
        text: &crate::document::Rich,
        (tick, divider): (bool, bool),
        columns: &[f64],
        least: f64,
        tag: TagId,
    ) -> Result<Piece, PdfError> {
        let left = if tick { PAD + TICK + 5.0 } else { PAD };
        let width = columns.first().copied().unwrap_or_default();
        let text = if divider {
            text.all_bold()
        } else {
            text.clone()
        };
        let inner = self.text(&text, BODY, width - left - PAD, tag)?;
        let (above, below) = if divider {
            DIVIDER_PADS
        } else {
            (TOP_PAD, TOP_PAD)
        };
        let height = (inner.height + above + below).max(least);
        let mut piece = Piece {
            height,
            ..Piece::default()
        };
        if divider {
            piece.push(
                Shape::Rect {
                    x: 0.0,
                    y: 0.0,
                    width,
                    height,
                    fill: Some(Ink::HEAD),
                    frame: None,
                },
                None,
            );
        }
        if tick {
            let sign = self.tick(tag)?.moved(PAD, (height - TICK) / 2.0);
            piece.draws.extend(sign.draws);
        }
        let y = (height - inner.height - below + above) / 2.0;
        piece.draws.extend(inner.moved(left, y).draws);
        edges(&mut piece, columns, height, 0.8);
        let whole: f64 = columns.iter().sum();
        piece.push(
            Shape::line(0.0, height, whole, height, 0.8, Ink::BLACK),
            None,
        );
        Ok(piece)
    }
}

/// The lines around cells: left, between, right; above in the given thickness; thin below.
pub(super) fn edges(piece: &mut Piece, widths: &[f64], height: f64, above: f64) {
    let total: f64 = widths.iter().sum();
    let mut x = 0.0;
    piece.push(Shape::line(0.0, 0.0, 0.0, height, 0.8, Ink::BLACK), None);
    for width in widths {
        x += width;
        let thickness = if x >= total - 0.01 { 0.8 } else { 0.5 };
        piece.push(Shape::line(x, 0.0, x, height, thickness, Ink::BLACK), None);
    }
    piece.push(Shape::line(0.0, 0.0, total, 0.0, above, Ink::BLACK), None);
    piece.push(
        Shape::line(0.0, height, total, height, 0.5, Ink::BLACK),
        None,
    );
}
