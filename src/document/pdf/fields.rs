//! Places to write: a label, a line, a unit.

use super::PdfError;
use super::galley::Piece;
use super::mm;
use super::setter::{BODY, HAND_LINE, LEADING, Setter};
use super::tags::TagId;
use crate::document::shape::{Anchor, Face, Ink, Shape};
use crate::document::{Field, Rich};

impl Setter<'_> {
    pub(super) fn fields_in_a_row(
        &mut self,
        fields: &[Field],
        width: f64,
        parent: TagId,
    ) -> Result<Vec<Piece>, PdfError> {
        let tag = self.tags.open("P", Some(parent));
        let mut rows: Vec<Vec<(f64, &Field)>> = vec![Vec::new()];
        let mut x = 0.0;
        for field in fields {
            let wide = self.field_width(field)?;
            if x > 0.0 && x + wide > width {
                rows.push(Vec::new());
                x = 0.0;
            }
            if let Some(row) = rows.last_mut() {
                row.push((x, field));
            }
            x += wide + 12.0;
        }
        let mut out = Vec::new();
        for row in rows {
            // Only a line that is written on is as tall as handwriting.
            let open = row.iter().any(|(_, field)| field.value.is_none());
            let mut piece = Piece {
                height: if open { HAND_LINE } else { BODY * LEADING },
                gap: 2.0,
                ..Piece::default()
            };
            for (x, field) in row {
                let mut drawn = self.field(field, width, tag)?;
                if field.value.is_some() && open {
                    drawn = drawn.moved(0.0, HAND_LINE - BODY * LEADING - 3.0);
                }
                piece.height = piece.height.max(drawn.height);
                piece.draws.extend(drawn.moved(x, 0.0).draws);
            }
            out.push(piece);
        }
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
}
