//! Sets blocks into pieces of a given width.

use super::PdfError;
use super::flow::{LineOfText, wrap};
use super::fonts::Fonts;
use super::galley::{Piece, stack};
use super::mm;
use super::tags::{TagId, Tags};
use crate::document::chart;
use crate::document::shape::{Anchor, Face, Ink, Shape, TextShape};
use crate::document::{Block, Chart, Field, List, Notice, NoticeKind, PhaseBox, Rich};

/// Sizes in points. Nothing is set smaller than 9 pt.
pub(super) const BODY: f64 = 10.0;
pub(super) const SMALL: f64 = 9.0;
pub(super) const LEADING: f64 = 1.22;

/// Height of a line that is written on by hand.
pub(super) const HAND_LINE: f64 = 21.5;

pub(super) struct Setter<'a> {
    pub fonts: &'a Fonts,
    pub tags: Tags,
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
        for block in blocks {
            if matches!(block, Block::PageBreak) {
                break_next = true;
                continue;
            }
            let mut pieces = self.block(block, width, parent)?;
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
            Block::List(list) => self.list(list, BODY, width, parent),
            Block::Notice(notice) => self.notice(notice, width, parent),
            Block::KeyValues(rows) => self.key_values(rows, width, parent),
            Block::Fields(fields) => self.fields_in_a_row(fields, width, parent),
            Block::Strip(phases) => self.strip(phases, width, parent),
            Block::Chart(chart) => Ok(vec![self.chart(chart, width, parent)]),
            Block::Checklist(list) => self.table(&list.table(), width, parent),
            Block::Table(table) => self.table(table, width, parent),
            Block::Columns(columns) => self.columns(columns, width, parent),
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
            1 => (15.0, "H2", 14.0),
            2 => (12.0, "H3", 10.0),
            _ => (10.5, "H4", 7.0),
        };
        let tag = self.tags.open(role, Some(parent));
        let mut piece = self.text(&text.all_bold(), size, width, tag)?;
        piece.gap = gap;
        piece.keep = true;
        piece.heading = Some((level, text.plain()));
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
        let indent = if list.ordered { 16.0 } else { 11.0 };
        let mut out = Vec::new();
        for (index, item) in list.items.iter().enumerate() {
            let li = self.tags.open("LI", Some(tag));
            let label = self.tags.open("Lbl", Some(li));
            let body = self.tags.open("LBody", Some(li));
            let mut piece = self
                .text(&item.text, size, width - indent, body)?
                .moved(indent, 0.0);
            piece.gap = if index == 0 { 3.0 } else { 1.5 };
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

    fn notice(
        &mut self,
        notice: &Notice,
        width: f64,
        parent: TagId,
    ) -> Result<Vec<Piece>, PdfError> {
        let tag = self.tags.open("Sect", Some(parent));
        let pad = 6.0;
        let inner = width - 2.0 * pad - 3.0;
        let word = notice.kind.word();
        let title = match (word.is_empty(), notice.title.is_empty()) {
            (true, _) => notice.title.all_bold(),
            (false, true) => Rich::bold(word),
            (false, false) => Rich::bold(format!("{word}: ")).then(notice.title.all_bold()),
        };
        let mut pieces = Vec::new();
        if !title.is_empty() {
            let paragraph = self.tags.open("P", Some(tag));
            let mut piece = self.text(&title, BODY, inner, paragraph)?;
            piece.keep = !notice.body.is_empty();
            pieces.push(piece);
        }
        pieces.extend(self.blocks(&notice.body, inner, tag)?);
        let bar = match notice.kind {
            NoticeKind::Caution => 3.0,
            NoticeKind::Note | NoticeKind::Plain => 0.6,
        };
        let total: f64 = pieces.iter().map(|piece| piece.height + piece.gap).sum();
        let whole = total < mm(130.0);
        let count = pieces.len();
        let mut out = Vec::new();
        for (index, piece) in pieces.into_iter().enumerate() {
            let (first, last) = (index == 0, index + 1 == count);
            let above = if first { 4.0 } else { piece.gap };
            let below = if last { 5.0 } else { 0.0 };
            let mut framed = Piece {
                height: above + piece.height + below,
                gap: if first { 7.0 } else { 0.0 },
                keep: !last && (whole || piece.keep),
                ..Piece::default()
            };
            let height = framed.height;
            let edge =
                |x: f64, thickness: f64| Shape::line(x, 0.0, x, height, thickness, Ink::BLACK);
            framed.push(edge(bar / 2.0, bar), None);
            framed.push(edge(width, 0.6), None);
            if first {
                framed.push(Shape::line(0.0, 0.0, width, 0.0, 0.6, Ink::BLACK), None);
            }
            if last {
                framed.push(
                    Shape::line(0.0, height, width, height, 0.6, Ink::BLACK),
                    None,
                );
            }
            framed.draws.extend(piece.moved(pad + 3.0, above).draws);
            out.push(framed);
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

    fn fields_in_a_row(
        &mut self,
        fields: &[Field],
        width: f64,
        parent: TagId,
    ) -> Result<Vec<Piece>, PdfError> {
        let tag = self.tags.open("P", Some(parent));
        let mut out = Vec::new();
        let mut row = Piece {
            height: HAND_LINE,
            gap: 2.0,
            ..Piece::default()
        };
        let mut x = 0.0;
        for field in fields {
            let wide = self.field_width(field)?;
            if x > 0.0 && x + wide > width {
                let next = Piece {
                    height: HAND_LINE,
                    ..Piece::default()
                };
                out.push(std::mem::replace(&mut row, next));
                x = 0.0;
            }
            let mut drawn = self.field(field, width, tag)?;
            if field.value.is_some() {
                drawn = drawn.moved(0.0, HAND_LINE - BODY * LEADING - 3.0);
            }
            row.height = row.height.max(drawn.height);
            row.draws.extend(drawn.moved(x, 0.0).draws);
            x += wide + 14.0;
        }
        out.push(row);
        Ok(out)
    }

    /// Width that a field takes on one line.
    pub fn field_width(&self, field: &Field) -> Result<f64, PdfError> {
        let label = super::flow::natural_width(self.fonts, &field.label, BODY)?;
        let after = match &field.value {
            Some(value) => self.fonts.width(value, Face::Bold, BODY)? + 4.0,
            None => {
                mm(f64::from(field.room))
                    + 7.0
                    + self.fonts.width(&field.unit, Face::Regular, BODY)?
            }
        };
        Ok(label + after)
    }

    /// A field: label, line to write on, unit; the label above when there is no room beside it.
    pub fn field(&mut self, field: &Field, width: f64, tag: TagId) -> Result<Piece, PdfError> {
        if let Some(value) = &field.value {
            let rich = field
                .label
                .clone()
                .then(" ")
                .then(Rich::bold(value.clone()));
            return self.text(&rich, BODY, width, tag);
        }
        let mut piece = Piece::default();
        let beside = self.field_width(field)? <= width + 0.01;
        let mut x = 0.0;
        if !field.label.is_empty() {
            let label = if beside {
                let label = self.text(&field.label, BODY, width, tag)?;
                x = super::flow::natural_width(self.fonts, &field.label, BODY)? + 3.0;
                label.moved(0.0, HAND_LINE - BODY * LEADING - 3.0)
            } else {
                let label = self.text(&field.label, BODY, width, tag)?;
                piece.height = label.height - 4.0;
                label
            };
            piece.draws.extend(label.draws);
        }
        let unit = self.fonts.width(&field.unit, Face::Regular, BODY)?;
        let room = mm(f64::from(field.room)).min(width - x - unit - 4.0);
        let y = piece.height + HAND_LINE - 4.5;
        piece.push(Shape::line(x, y, x + room, y, 0.6, Ink::BLACK), None);
        if !field.unit.is_empty() {
            let shape = Shape::text(
                x + room + 3.0,
                y - 0.5,
                BODY,
                Anchor::Start,
                Face::Regular,
                &field.unit,
            );
            piece.push(shape, Some(tag));
        }
        piece.height += HAND_LINE;
        Ok(piece)
    }

    fn strip(
        &mut self,
        phases: &[PhaseBox],
        width: f64,
        parent: TagId,
    ) -> Result<Vec<Piece>, PdfError> {
        let list = self.tags.open("L", Some(parent));
        let per_row = phases.len().clamp(1, 5);
        let gap = 9.0;
        let cell = (width - gap * (per_row as f64 - 1.0)) / per_row as f64;
        let mut out = Vec::new();
        for row in phases.chunks(per_row) {
            let mut boxes = Vec::new();
            for phase in row {
                let item = self.tags.open("LI", Some(list));
                let body = self.tags.open("LBody", Some(item));
                let mut pieces =
                    vec![self.text(&phase.name.all_bold(), 11.0, cell - 10.0, body)?];
                for line in &phase.lines {
                    let mut piece = self.text(line, SMALL + 0.5, cell - 10.0, body)?;
                    piece.gap = 1.0;
                    pieces.push(piece);
                }
                for field in &phase.fields {
                    pieces.push(self.field(field, cell - 10.0, body)?);
                }
                boxes.push(stack(pieces));
            }
            let height = boxes.iter().map(|piece| piece.height).fold(0.0, f64::max) + 9.0;
            let mut piece = Piece {
                height,
                gap: 6.0,
                ..Piece::default()
            };
            for (index, inner) in boxes.into_iter().enumerate() {
                let x = (cell + gap) * index as f64;
                piece.push(
                    Shape::Rect {
                        x,
                        y: 0.0,
                        width: cell,
                        height,
                        fill: None,
                        frame: Some(1.0),
                    },
                    None,
                );
                if index > 0 {
                    let points = vec![
                        (x - gap + 1.5, height / 2.0 - 5.0),
                        (x - 1.5, height / 2.0),
                        (x - gap + 1.5, height / 2.0 + 5.0),
                    ];
                    piece.push(
                        Shape::Polygon {
                            points,
                            fill: Ink::BLACK,
                        },
                        None,
                    );
                }
                piece.draws.extend(inner.moved(x + 5.0, 3.0).draws);
            }
            out.push(piece);
        }
        Ok(out)
    }

    fn chart(&mut self, chart: &Chart, width: f64, parent: TagId) -> Piece {
        let tag = self.tags.open_with("Figure", Some(parent), &chart.summary);
        let rows = (chart.high - chart.low) / chart.step.max(1);
        let height = (rows as f64 * mm(3.8)).clamp(mm(38.0), mm(80.0)) + 43.0;
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

    fn columns(
        &mut self,
        columns: &[Vec<Block>],
        width: f64,
        parent: TagId,
    ) -> Result<Vec<Piece>, PdfError> {
        let gap = 14.0;
        let count = columns.len().max(1) as f64;
        let each = (width - gap * (count - 1.0)) / count;
        let mut whole = Piece {
            gap: 6.0,
            ..Piece::default()
        };
        for (index, blocks) in columns.iter().enumerate() {
            let section = self.tags.open("Sect", Some(parent));
            let mut column = stack(self.blocks(blocks, each, section)?);
            if whole.heading.is_none() {
                whole.heading = column.heading.take();
            }
            whole.height = whole.height.max(column.height);
            let x = (each + gap) * index as f64;
            whole.draws.extend(column.moved(x, 0.0).draws);
        }
        Ok(vec![whole])
    }
}
