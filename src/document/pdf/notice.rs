//! A framed text: kept on one page unless it is long.

use super::PdfError;
use super::galley::Piece;
use super::mm;
use super::setter::{BODY, Setter};
use super::tags::TagId;
use crate::document::shape::{Ink, Shape};
use crate::document::{Notice, NoticeKind, Rich};

impl Setter<'_> {
    pub(super) fn notice(
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
}
