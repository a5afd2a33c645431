//! A brace that was forgotten, or that is one too many: which block it was, by which
//! block may stand in which.

use super::outline::{Block, Item, Open, Piece, Scanner, first_word, shorten};
use super::statements::only_in_a_protocol;
use crate::diag::Diagnostic;

/// Words that begin a block, and the blocks that they may stand in.
const NESTING: &[(&str, &[&str])] = &[
    ("protocol", &[""]),
    ("library", &[""]),
    ("scenario", &[""]),
    ("people", &["protocol", "library"]),
    ("phase", &["protocol", "library"]),
    ("rule", &["protocol", "library"]),
    ("ladder", &["protocol", "library"]),
    ("checklist", &["protocol", "library"]),
    ("medication", &["protocol", "library"]),
    ("rung", &["ladder"]),
];

fn may_stand_in(word: &str, parent: &str) -> Option<bool> {
    NESTING
        .iter()
        .find(|(inner, _)| *inner == word)
        .map(|(_, parents)| parents.contains(&parent))
}

impl Scanner<'_> {
    /// `phase …` inside a phase: the brace of the block before was forgotten.
    pub(super) fn close_left_open(&mut self, word: &str, head: Piece) {
        let parent = self.open.last().map_or("", |open| open.word.as_str());
        if may_stand_in(word, parent) != Some(false) {
            return;
        }
        let Some(home) = (0..=self.open.len()).rev().find(|depth| {
            let word_of = |depth: usize| {
                depth
                    .checked_sub(1)
                    .and_then(|index| self.open.get(index))
                    .map_or("", |open| open.word.as_str())
            };
            may_stand_in(word, word_of(*depth)) == Some(true)
        }) else {
            return;
        };
        while self.open.len() > home {
            if let Some(open) = self.open.last() {
                let text = shorten(self.span_text(open.head.span)).to_owned();
                let open_span = open.head.span;
                self.out.diagnostics.push(
                    Diagnostic::error(
                        "missing-brace",
                        open_span,
                        format!("`{text}` is not closed before the next block begins"),
                    )
                    .also(head.span, "this cannot stand inside it")
                    .why("what follows could be read as a part of it, and the sheet would be wrong")
                    .help(format!("write `}}` where `{text}` ends"))
                    .source("structural"),
                );
            }
            let foreign = match self.open.last_mut() {
                Some(open) => split_foreign(self.text, &open.word, &mut open.items),
                None => Vec::new(),
            };
            self.finish_block(head.span.start as usize);
            foreign.into_iter().for_each(|item| self.push(item));
        }
    }

    /// A protocol is left open at the end of the file because an inner block took
    /// its brace: `every …` inside a phase shows which.
    pub(super) fn give_back_at_the_end(&mut self) {
        let [open] = self.open.as_mut_slice() else {
            return;
        };
        let text = self.text;
        let head_of = |block: &Block| text.get(block.head.span.range()).unwrap_or("");
        let mut found = None;
        for (index, item) in open.items.iter_mut().enumerate() {
            let Item::Block(block) = item else { continue };
            let word = first_word(head_of(block)).to_owned();
            let foreign = split_foreign(text, &word, &mut block.items);
            if let Some(Item::Statement(first)) = foreign.first() {
                found = Some((index, block.head.span, first.span, foreign));
                break;
            }
        }
        let Some((index, head, first, foreign)) = found else {
            return;
        };
        open.items
            .splice(index + 1..index + 1, foreign)
            .for_each(drop);
        let name = shorten(self.span_text(head)).to_owned();
        let word = first_word(self.span_text(first)).to_owned();
        self.out.diagnostics.push(
            Diagnostic::error(
                "missing-brace",
                head,
                format!("`{name}` is not closed before `{word}`"),
            )
            .also(first, "this cannot stand inside it")
            .why("what follows could be read as a part of it, and the sheet would be wrong")
            .help(format!("write `}}` where `{name}` ends"))
            .source("structural"),
        );
        self.finish_block(self.text.len());
    }

    /// A part of a protocol after the protocol's end: one brace too many.
    pub(super) fn reopen_closed_early(&mut self, word: &str, head: Piece) {
        if !self.open.is_empty() || may_stand_in(word, "protocol") != Some(true) {
            return;
        }
        let Some(Item::Block(block)) = self.items.last() else {
            return;
        };
        let outer = first_word(self.span_text(block.head.span)).to_owned();
        if outer != "protocol" && outer != "library" {
            return;
        }
        let end = block.span.end as usize;
        let (block_head, brace) = (block.head, end.saturating_sub(1));
        self.out.diagnostics.push(
            Diagnostic::error(
                "missing-brace",
                self.span(brace, end),
                format!(
                    "this brace closes `{}` too early",
                    shorten(self.span_text(block_head.span))
                ),
            )
            .also(head.span, "this still belongs inside it")
            .why("what stands after it would be left out of the sheet")
            .help("take this brace away, or the one before it that is too many")
            .source("structural"),
        );
        if let Some(Item::Block(block)) = self.items.pop() {
            self.open.push(Open {
                head: block.head,
                brace,
                word: outer,
                items: block.items,
            });
        }
    }
}

/// Takes out of a block the first statement that can only stand in a protocol, and
/// all that follows it.
fn split_foreign(text: &str, word: &str, items: &mut Vec<Item>) -> Vec<Item> {
    let first = items.iter().position(|item| match item {
        Item::Statement(piece) => {
            let statement = text.get(piece.span.range()).unwrap_or("");
            only_in_a_protocol(first_word(statement), word)
        }
        Item::Block(_) => false,
    });
    first.map_or_else(Vec::new, |at| items.split_off(at))
}
