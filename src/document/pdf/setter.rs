//! Sets blocks into pieces of a given width.

use super::PdfError;
use super::flow::{LineOfText, wrap};
use super::fonts::Fonts;
use super::galley::Piece;
use super::mm;
use super::tags::{TagId, Tags};
use crate::document::chart;
use crate::document::runs;
use crate::document::shape::{Anchor, Face, Ink, Shape, TextShape};
use crate::document::{Block, Chart, List, Rich};

/// Sizes in points. Nothing is set smaller than 9 pt.
pub(super) const BODY: f64 = 9.5;
pub(super) const SMALL: f64 = 9.0;
pub(super) const LEADING: f64 = 1.15;

/// Height of a line that is written on by hand.
pub(super) const HAND_LINE: f64 = 19.85;

pub(super) struct Setter<'a> {
    pub fonts: &'a Fonts,
    pub tags: Tags,
    /// Height of a page's text, below its strip.
    pub page: f64,
}

impl Setter<'_> {
    /// Pieces of all blocks, one after the other.
    pub fn blocks(
        &mut self,
        blocks: &[Block],
        width: f64,
        parent: TagId,
    ) -> Result<Vec<Piece>, PdfError> {
        let mut out: Vec<Piece> = Vec::new();
        let mut break_next = false;
        let mut below_heading = false;
        for block in blocks {
            if matches!(block, Block::PageBreak) {
                break_next = true;
                continue;
            }
            let mut pieces = self.block(block, width, parent)?;
            // A heading, what explains it and the first of what follows stay together.
            let explains = below_heading && matches!(block, Block::Paragraph(_));
            if explains {
                for piece in &mut pieces {
                    piece.keep = true;
                }
            }
            below_heading = explains || matches!(block, Block::Heading { .. });
            if let Some(first) = pieces.first_mut() {
                first.break_before |= break_next;
                break_next = false;
            }
            out.extend(pieces);
        }
        Ok(out)
    }

    fn block(&mut self, block: &Block, width: f64, parent: TagId) -> Result<Vec<Piece>, PdfError> {
        match block {
            Block::Heading { level, text } => self.heading(*level, text, width, parent),
            Block::Paragraph(text) => self.paragraph(text, width, parent),
            Block::List(list) => {
                let mut pieces = self.list(list, BODY, width, parent)?;
                if let Some(first) = pieces.first_mut() {
                    first.gap = 3.0;
                }
                Ok(pieces)
            }
            Block::Notice(notice) => self.notice(notice, width, parent),
            Block::KeyValues(rows) => self.key_values(rows, width, parent),
            Block::Fields(fields) => self.fields_in_a_row(fields, width, parent),
            Block::Chart(chart) => Ok(vec![self.chart(chart, width, parent)]),
            Block::Runs(found) => {
                let tag = self.tags.open_with("Figure", Some(parent), &found.summary);
                let mut piece = Piece {
                    height: runs::HEIGHT,
                    gap: 6.0,
                    ..Piece::default()
                };
                for shape in runs::shapes(found, width) {
                    piece.push(shape, Some(tag));
                }
                Ok(vec![piece])
            }
            Block::Checklist(list) => self.table(&list.table(), width, parent),
            Block::Table(table) => self.table(table, width, parent),
            Block::Columns(columns) => self.columns(columns, width, parent),
            Block::Halves(blocks) => self.halves(blocks, width, parent),
            Block::Keep(blocks) => {
                let mut pieces = self.blocks(blocks, width, parent)?;
                let count = pieces.len();
                for piece in pieces.iter_mut().take(count.saturating_sub(1)) {
                    piece.keep = true;
                }
                Ok(pieces)
            }
            Block::PageBreak => Ok(Vec::new()),
        }
    }

    fn heading(
        &mut self,
        level: u8,
        text: &Rich,
        width: f64,
        parent: TagId,
    ) -> Result<Vec<Piece>, PdfError> {
        let (size, role, gap) = match level {
            1 => (13.0, "H2", 8.0),
            2 => (11.0, "H3", 6.0),
            _ => (10.5, "H4", 7.0),
        };
        let tag = self.tags.open(role, Some(parent));
        let mut piece = self.text(&text.all_bold(), size, width, tag)?;
        piece.gap = gap;
        piece.keep = true;
        piece.headings = vec![(level, text.plain(), 0.0)];
        if level == 1 {
            let y = piece.height + 1.5;
            piece.push(Shape::line(0.0, y, width, y, 1.2, Ink::BLACK), None);
            piece.height += 4.0;
        }
        Ok(vec![piece])
    }

    /// Lines of a text as one piece.
    pub fn text(
        &mut self,
        rich: &Rich,
        size: f64,
        width: f64,
        tag: TagId,
    ) -> Result<Piece, PdfError> {
        let lines = wrap(self.fonts, rich, size, width)?;
        let mut piece = Piece::default();
        for line in lines {
            let top = piece.height;
            self.line(&mut piece, &line, 0.0, top, size, tag);
            piece.height += size * LEADING;
        }
        Ok(piece)
    }

    /// Draws one line with its top left corner there.
    pub fn line(
        &mut self,
        piece: &mut Piece,
        line: &LineOfText,
        x: f64,
        top: f64,
        size: f64,
        tag: TagId,
    ) {
        let baseline = top + size * 0.96;
        for span in &line.spans {
            let tag = match &span.link {
                None => tag,
                Some(address) => {
                    let link = self.tags.open("Link", Some(tag));
                    piece.push(
                        Shape::Link {
                            x: x + span.x,
                            y: top,
                            width: span.width,
                            height: size * LEADING,
                            address: address.clone(),
                        },
                        Some(link),
                    );
                    let under = baseline + 1.5;
                    piece.push(
                        Shape::line(
                            x + span.x,
                            under,
                            x + span.x + span.width,
                            under,
                            0.5,
                            Ink::BLACK,
                        ),
                        None,
                    );
                    link
                }
            };
            piece.push(
                Shape::Text(TextShape {
                    x: x + span.x,
                    y: baseline,
                    size,
                    anchor: Anchor::Start,
                    face: span.face,
                    italic: span.italic,
                    turned: false,
                    text: span.text.clone(),
                }),
                Some(tag),
            );
        }
    }

    fn paragraph(
        &mut self,
        text: &Rich,
        width: f64,
        parent: TagId,
    ) -> Result<Vec<Piece>, PdfError> {
        let tag = self.tags.open("P", Some(parent));
        let lines = wrap(self.fonts, text, BODY, width)?;
        let count = lines.len();
        let mut out = Vec::new();
        for (index, line) in lines.iter().enumerate() {
            let mut piece = Piece {
                height: BODY * LEADING,
                gap: if index == 0 { 4.0 } else { 0.0 },
                // No line stands alone at a page's foot or head.
                keep: index + 1 < count && (index == 0 || index + 2 == count),
                ..Piece::default()
            };
            self.line(&mut piece, line, 0.0, 0.0, BODY, tag);
            out.push(piece);
        }
        Ok(out)
    }

    /// A list; each item is one piece.
    pub fn list(
        &mut self,
        list: &List,
        size: f64,
        width: f64,
        parent: TagId,
    ) -> Result<Vec<Piece>, PdfError> {
        let tag = self.tags.open("L", Some(parent));
        let mut indent: f64 = if list.ordered { 13.0 } else { 10.0 };
        if list.first.is_some() {
            // A large number needs more room than the usual ones.
            let last = list.mark(list.items.len());
            indent = indent.max(self.fonts.width(&last, Face::Regular, size)? + 4.0);
        }
        let mut out = Vec::new();
        for (index, item) in list.items.iter().enumerate() {
            let li = self.tags.open("LI", Some(tag));
            let label = self.tags.open("Lbl", Some(li));
            let body = self.tags.open("LBody", Some(li));
            let mut piece = self
                .text(&item.text, size, width - indent, body)?
                .moved(indent, 0.0);
            piece.gap = if index == 0 { 0.0 } else { 0.6 };
            let mark = list.mark(index);
            self.fonts.width(&mark, Face::Regular, size)?;
            piece.draws.insert(
                0,
                super::galley::Draw {
                    shape: Shape::text(0.0, size * 0.96, size, Anchor::Start, Face::Regular, &mark),
                    tag: Some(label),
                },
            );
            out.push(piece);
            if let Some(inner) = &item.inner {
                let pieces = self.list(inner, size, width - indent, body)?;
                out.extend(pieces.into_iter().map(|piece| piece.moved(indent, 0.0)));
            }
        }
        Ok(out)
    }

    fn key_values(
        &mut self,
        rows: &[(Rich, Rich)],
        width: f64,
        parent: TagId,
    ) -> Result<Vec<Piece>, PdfError> {
        let mut key_width: f64 = 0.0;
        for (key, _) in rows {
            let natural = super::flow::natural_width(self.fonts, &key.all_bold(), BODY)?;
            key_width = key_width.max(natural);
        }
        let key_width = key_width.min(width * 0.4) + 8.0;
        let list = self.tags.open("L", Some(parent));
        let mut out = Vec::new();
        for (key, value) in rows {
            let item = self.tags.open("LI", Some(list));
            let label = self.tags.open("Lbl", Some(item));
            let body = self.tags.open("LBody", Some(item));
            let mut left = self.text(&key.all_bold(), BODY, key_width - 8.0, label)?;
            let right = self
                .text(value, BODY, width - key_width, body)?
                .moved(key_width, 0.0);
            left.height = left.height.max(right.height);
            left.draws.extend(right.draws);
            left.gap = 1.5;
            out.push(left);
        }
        Ok(out)
    }

    fn chart(&mut self, chart: &Chart, width: f64, parent: TagId) -> Piece {
        let tag = self.tags.open_with("Figure", Some(parent), &chart.summary);
        let rows = (chart.high - chart.low) / chart.step.max(1);
        let height = (rows as f64 * mm(3.3)).clamp(mm(38.0), mm(80.0)) + 43.0;
        let fonts = self.fonts;
        let measure = |text: &str, face: Face| fonts.width(text, face, SMALL).unwrap_or(0.0);
        let mut piece = Piece {
            height,
            gap: 6.0,
            ..Piece::default()
        };
        for shape in chart::shapes(chart, width, height, &measure) {
            piece.push(shape, Some(tag));
        }
        piece
    }
}
