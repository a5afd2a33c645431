//! What stands in a cell, and what lies under it.

use super::PdfError;
use super::flow::wrap;
use super::galley::{Draw, Piece, stack};
use super::mm;
use super::setter::{BODY, HAND_LINE, LEADING, Setter};
use super::table::PAD;
use super::tags::TagId;
use crate::document::shape::{Anchor, Face, Ink, Shape};
use crate::document::{Align, Cell, Field, Rich};

/// Size of the box to tick.
pub(super) const TICK: f64 = 12.0;

impl Setter<'_> {
    pub(super) fn cell(
        &mut self,
        cell: &Cell,
        width: f64,
        align: Align,
        tag: TagId,
    ) -> Result<Piece, PdfError> {
        let inner = width - 2.0 * PAD;
        let piece = match cell {
            Cell::Text(text) => self.aligned(text, BODY, inner, align, tag)?,
            Cell::Value(text) => {
                self.aligned(&Rich::bold(text.clone()), BODY, inner, align, tag)?
            }
            Cell::List(list) => stack(self.list(list, BODY, inner, tag)?),
            Cell::WriteIn(field) => {
                let mut piece = self.field(field, inner, tag)?;
                if field.label.is_empty() {
                    // The row itself is room enough above the line.
                    let spare = HAND_LINE - mm(6.0);
                    piece = piece.moved(0.0, -spare);
                    piece.height -= spare;
                }
                piece
            }
            Cell::Fields(fields) => {
                let mut pieces = Vec::new();
                for field in fields {
                    pieces.push(self.field(field, inner, tag)?);
                }
                stack(pieces)
            }
            Cell::Step(text, fields) => self.step(text, fields, inner, tag)?,
            Cell::Tick => {
                let piece = self.tick(tag)?;
                let x = if align == Align::Middle {
                    (inner - TICK) / 2.0
                } else {
                    0.0
                };
                piece.moved(x, 0.0)
            }
            Cell::Due | Cell::NotDue | Cell::Initials | Cell::Empty => Piece::default(),
        };
        Ok(piece.moved(PAD, 0.0))
    }

    /// A text with its fields: on the text's last line where there is room, or else below.
    pub(super) fn step(
        &mut self,
        text: &Rich,
        fields: &[Field],
        width: f64,
        tag: TagId,
    ) -> Result<Piece, PdfError> {
        let mut piece = self.text(text, BODY, width, tag)?;
        let lines = wrap(self.fonts, text, BODY, width)?;
        let mut x = lines.last().map_or(0.0, |line| line.width) + 9.0;
        // The first line to write on is the text's own last one.
        let mut top = piece.height - BODY * LEADING + 3.0 - (HAND_LINE - BODY * LEADING);
        for field in fields {
            let wide = self.field_width(field)?;
            if x + wide > width {
                x = 0.0;
                top = piece.height - 4.0;
            }
            let drawn = self.field(field, width, tag)?;
            piece.height = piece.height.max(top + drawn.height);
            piece.draws.extend(drawn.moved(x, top).draws);
            x += wide + 10.0;
        }
        Ok(piece)
    }

    /// The box to tick: a sign of the typeface, so that it can be found and read aloud.
    pub(super) fn tick(&mut self, tag: TagId) -> Result<Piece, PdfError> {
        self.fonts.width("☐", Face::Regular, TICK)?;
        let mut piece = Piece {
            height: TICK,
            ..Piece::default()
        };
        let shape = Shape::text(0.0, TICK * 0.85, TICK, Anchor::Start, Face::Regular, "☐");
        piece.draws.push(Draw {
            shape,
            tag: Some(tag),
        });
        Ok(piece)
    }
}

/// What lies under a cell's content.
pub(super) fn cell_ground(piece: &mut Piece, cell: &Cell, x: f64, width: f64, height: f64) {
    match cell {
        Cell::NotDue => {
            piece.push(
                Shape::Rect {
                    x,
                    y: 0.0,
                    width,
                    height,
                    fill: Some(Ink::NOT_DUE),
                    frame: None,
                },
                None,
            );
            let middle = height / 2.0;
            let (from, to) = (x + width / 2.0 - 6.0, x + width / 2.0 + 6.0);
            piece.push(Shape::line(from, middle, to, middle, 0.8, Ink::BLACK), None);
        }
        Cell::Due => piece.push(
            Shape::Line {
                from: (x + 4.0, height - 4.0),
                to: (x + width - 4.0, height - 4.0),
                thickness: 0.6,
                ink: Ink::GREY,
                dashed: true,
            },
            None,
        ),
        _ => {}
    }
}
