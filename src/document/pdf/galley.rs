//! Pieces: what the page builder stacks. A piece is never cut.

use super::columns::Run;
use super::tags::TagId;
use crate::document::shape::Shape;
use std::rc::Rc;

/// A shape and the tag that it belongs to; without one it is decoration.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Draw {
    pub shape: Shape,
    pub tag: Option<TagId>,
}

#[derive(Clone, Debug, Default)]
pub(super) struct Piece {
    pub height: f64,
    /// Space before it, left out at the top of a page.
    pub gap: f64,
    /// Must stand on the same page as the piece after it.
    pub keep: bool,
    pub break_before: bool,
    /// Level and words of the headings in it, and how far below its top they stand.
    pub headings: Vec<(u8, String, f64)>,
    /// Drawn again above this piece when it opens a page: the head of its table.
    pub head: Option<Rc<Piece>>,
    /// It begins with the caption of a table, which says what stands there.
    pub captioned: bool,
    /// Drawn again below this piece as often as the rest of the page would stay white.
    pub filler: Option<Rc<Piece>>,
    /// What it was composed of, where it is two halves that may be parted again.
    pub run: Option<Box<Run>>,
    pub draws: Vec<Draw>,
}

impl Piece {
    pub fn push(&mut self, shape: Shape, tag: Option<TagId>) {
        self.draws.push(Draw { shape, tag });
    }

    /// Moves everything drawn so far.
    #[must_use]
    pub fn moved(mut self, dx: f64, dy: f64) -> Piece {
        self.draws = self
            .draws
            .into_iter()
            .map(|draw| Draw {
                shape: draw.shape.moved(dx, dy),
                tag: draw.tag,
            })
            .collect();
        self
    }

    /// The same, as decoration: for a head that is repeated.
    pub fn untagged(&self) -> Piece {
        let mut copy = self.clone();
        for draw in &mut copy.draws {
            draw.tag = None;
        }
        copy
    }
}

/// One piece from many, one under the other.
pub(super) fn stack(pieces: Vec<Piece>) -> Piece {
    let mut out = Piece::default();
    for (index, piece) in pieces.into_iter().enumerate() {
        if index == 0 {
            out.gap = piece.gap;
            out.captioned = piece.captioned;
        } else {
            out.height += piece.gap;
        }
        let top = out.height;
        out.height += piece.height;
        let headings = piece.headings.iter();
        out.headings
            .extend(headings.map(|(level, words, at)| (*level, words.clone(), at + top)));
        out.draws.extend(piece.moved(0.0, top).draws);
    }
    out
}
