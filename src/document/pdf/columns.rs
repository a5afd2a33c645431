//! Blocks side by side: given columns, or a run that goes down the left half of the page and on
//! in the right half.

use super::PdfError;
use super::galley::{Piece, stack};
use super::mm;
use super::setter::Setter;
use super::tags::TagId;
use crate::document::Block;

/// Between two columns, in points.
const GAP: f64 = 13.0;
/// What the taller half may be taller for not cutting a list, in millimetres.
const UNEVEN: f64 = 20.0;

impl Setter<'_> {
    pub(super) fn columns(
        &mut self,
        columns: &[Vec<Block>],
        width: f64,
        parent: TagId,
    ) -> Result<Vec<Piece>, PdfError> {
        let count = columns.len().max(1) as f64;
        let each = (width - GAP * (count - 1.0)) / count;
        let mut whole = Piece {
            gap: 6.0,
            ..Piece::default()
        };
        for (index, blocks) in columns.iter().enumerate() {
            let section = self.tags.open("Sect", Some(parent));
            let column = stack(self.blocks(blocks, each, section)?);
            beside(&mut whole, column, (each + GAP) * index as f64);
        }
        Ok(vec![whole])
    }

    /// Pieces of a whole page's width, each two halves of even height; as many as the run needs.
    pub(super) fn halves(
        &mut self,
        blocks: &[Block],
        width: f64,
        parent: TagId,
    ) -> Result<Vec<Piece>, PdfError> {
        let each = (width - GAP) / 2.0;
        let section = self.tags.open("Sect", Some(parent));
        let mut rest = Run {
            groups: groups(self.blocks(blocks, each, section)?),
            right: each + GAP,
        };
        // Room for a heading above, which must stay with the first rows.
        let most = self.page - mm(14.0);
        let mut out = Vec::new();
        while !rest.groups.is_empty() {
            let (mut piece, later) = rest.part(most);
            piece.gap = if out.is_empty() { 6.0 } else { 9.0 };
            out.push(piece);
            rest = later;
        }
        Ok(out)
    }
}

/// What runs down the left half and goes on in the right one, in parts that must stay whole.
#[derive(Clone, Debug, Default)]
pub(super) struct Run {
    groups: Vec<Vec<Piece>>,
    /// Where the right half begins.
    right: f64,
}

impl Run {
    /// As much as stands in that height, and the rest.
    pub fn part(self, most: f64) -> (Piece, Run) {
        let (count, left) = split(&self.groups, most);
        self.divided(count, left)
    }

    /// The same without the last list where that height would cut it, though it is short enough
    /// to stand whole below what comes first on the next page.
    pub fn part_before_list(self, most: f64, page: f64) -> Option<(Piece, Run)> {
        let (count, _) = split(&self.groups, most);
        let (before, after) = self.groups.split_at(count.min(self.groups.len()));
        if after.first().is_none_or(|group| opens(group)) {
            return None;
        }
        let begin = before
            .iter()
            .rposition(|group| opens(group))
            .filter(|begin| *begin > 0)?;
        let end = after.iter().position(|group| opens(group));
        let end = end.map_or(self.groups.len(), |more| count + more);
        let list = self.groups.get(begin..end)?;
        if split(list, page).0 < list.len() {
            return None;
        }
        let first = self.groups.get(..begin)?;
        // The rest of this page stays white anyway.
        let left = between_lists(first, most, most).unwrap_or_else(|| split(first, most).1);
        Some(self.divided(begin, left))
    }

    /// All of it in that height, no list in both halves; nothing where that is far from even, or
    /// is so anyway.
    pub fn parted_between_lists(&self, most: f64) -> Option<Piece> {
        let left = between_lists(&self.groups, most, mm(UNEVEN))?;
        Some(self.clone().divided(self.groups.len(), left).0)
    }

    /// So many groups, that many of them on the left; and the rest.
    fn divided(self, count: usize, left: usize) -> (Piece, Run) {
        let whole = count == self.groups.len();
        let run = whole.then(|| Box::new(self.clone()));
        let mut first = self.groups;
        let later = first.split_off(count.min(first.len()));
        let second = first.split_off(left.min(first.len()));
        let mut piece = Piece {
            run,
            ..Piece::default()
        };
        let first = column(first);
        piece.captioned = first.captioned;
        beside(&mut piece, first, 0.0);
        beside(&mut piece, column(second), self.right);
        let rest = Run {
            groups: later,
            right: self.right,
        };
        (piece, rest)
    }

    pub fn is_empty(&self) -> bool {
        self.groups.is_empty()
    }
}

fn beside(whole: &mut Piece, mut column: Piece, x: f64) {
    whole.headings.append(&mut column.headings);
    whole.height = whole.height.max(column.height);
    whole.draws.extend(column.moved(x, 0.0).draws);
}

/// Pieces that must stay together.
fn groups(pieces: Vec<Piece>) -> Vec<Vec<Piece>> {
    let mut out: Vec<Vec<Piece>> = Vec::new();
    let mut open = false;
    for piece in pieces {
        let keep = piece.keep;
        match out.last_mut() {
            Some(group) if open => group.push(piece),
            _ => out.push(vec![piece]),
        }
        open = keep;
    }
    out
}

/// A column's pieces as one; a table that goes on from the column before has its head again.
fn column(groups: Vec<Vec<Piece>>) -> Piece {
    let mut pieces: Vec<Piece> = groups.into_iter().flatten().collect();
    if let Some(head) = pieces.first().and_then(|piece| piece.head.clone()) {
        let mut head = head.as_ref().clone();
        head.gap = 0.0;
        pieces.insert(0, head);
    }
    if let Some(first) = pieces.first_mut() {
        first.gap = 0.0;
    }
    stack(pieces)
}

/// How many groups stand on the left where the right half begins with a list, and all fit.
/// The taller half may be taller by so much for it.
fn between_lists(groups: &[Vec<Piece>], most: f64, uneven: f64) -> Option<usize> {
    let tall = |left: usize| {
        let (one, other) = groups.split_at(left);
        height(one).max(height(other))
    };
    let (count, left) = split(groups, most);
    let opens_right = groups.get(left).is_none_or(|group| opens(group));
    if count < groups.len() || opens_right {
        return None;
    }
    let bound = most.min(tall(left) + uneven);
    (1..groups.len())
        .filter(|&left| groups.get(left).is_some_and(|group| opens(group)))
        .map(|left| (tall(left), left))
        .filter(|(tall, _)| *tall <= bound)
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, left)| left)
}

/// Whether a list begins with this group.
fn opens(group: &[Piece]) -> bool {
    group
        .first()
        .is_some_and(|piece| piece.captioned || !piece.headings.is_empty())
}

/// Height of these groups as one column.
fn height(groups: &[Vec<Piece>]) -> f64 {
    let pieces: Vec<&Piece> = groups.iter().flatten().collect();
    let head = pieces
        .first()
        .and_then(|piece| piece.head.as_ref())
        .map_or(0.0, |head| head.height);
    let gap = pieces.first().map_or(0.0, |piece| piece.gap);
    let own: f64 = pieces.iter().map(|piece| piece.gap + piece.height).sum();
    own - gap + head
}

/// How many groups stand on this page, and how many of them on the left: as many as fit, and of
/// all ways to part them the one with the least height.
fn split(groups: &[Vec<Piece>], most: f64) -> (usize, usize) {
    let mut count = groups.len();
    loop {
        let of = groups.get(..count).unwrap_or(groups);
        let parted = (1..=count)
            .map(|left| {
                let (one, other) = of.split_at(left);
                (height(one).max(height(other)), left)
            })
            .min_by(|a, b| a.0.total_cmp(&b.0));
        match parted {
            Some((tall, left)) if tall <= most || count == 1 => return (count, left),
            Some(_) => count -= 1,
            None => return (count.max(1), count.max(1)),
        }
    }
}
