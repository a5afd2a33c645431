//! The outline of a file: blocks in braces, one statement a line.
//!
//! Takes a file's text, gives its statements and blocks with their places, the
//! comments, and a finding for every brace, quote or parenthesis that does not
//! close. It looks at no word except to see which block a brace was left out
//! of, so a broken statement never hides the next one.
//!
//! A statement goes on after a line that ends in a comma, inside parentheses,
//! and onto a line that begins with `and` or `or`.

use super::fault;
use crate::diag::Diagnostic;
use crate::source::{FileId, Span};

/// A statement, or the head of a block: trimmed, comments inside it included.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Piece {
    pub span: Span,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Item {
    Statement(Piece),
    Block(Block),
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Block {
    pub head: Piece,
    pub items: Vec<Item>,
    /// From the head's beginning through the closing brace.
    pub span: Span,
}

/// From `#` to the end of its line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Comment {
    pub span: Span,
    /// Nothing but white space stands before it on its line.
    pub own_line: bool,
}

#[derive(Debug, Clone, Default)]
pub struct Outline {
    pub items: Vec<Item>,
    pub comments: Vec<Comment>,
    pub diagnostics: Vec<Diagnostic>,
}

/// Blocks lie in blocks no deeper than this; a protocol needs three.
const MAX_DEPTH: usize = 12;
/// Parentheses lie in parentheses no deeper than this.
const MAX_PARENTHESES: usize = 32;
/// After so many faults in one file nobody reads on.
pub(super) const MAX_FAULTS: usize = 50;

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

/// A block whose closing brace has not come yet.
struct Open {
    head: Piece,
    brace: usize,
    word: String,
    items: Vec<Item>,
}

struct Scanner<'t> {
    text: &'t str,
    file: FileId,
    open: Vec<Open>,
    items: Vec<Item>,
    out: Outline,
    /// First and last byte of the piece being read.
    piece: Option<(usize, usize)>,
    parentheses: Vec<usize>,
    after_comma: bool,
}

pub fn outline(text: &str, file: FileId) -> Outline {
    let mut scanner = Scanner {
        text,
        file,
        open: Vec::new(),
        items: Vec::new(),
        out: Outline::default(),
        piece: None,
        parentheses: Vec::new(),
        after_comma: false,
    };
    scanner.run();
    scanner.out.items = scanner.items;
    scanner.out
}

impl Scanner<'_> {
    fn span(&self, start: usize, end: usize) -> Span {
        Span::new(self.file, start, end)
    }

    fn run(&mut self) {
        let bytes = self.text.as_bytes();
        let mut at = 0;
        // A byte order mark is no text.
        if self.text.starts_with('\u{feff}') {
            at = '\u{feff}'.len_utf8();
        }
        while let Some(&byte) = bytes.get(at) {
            if self.out.diagnostics.len() >= MAX_FAULTS {
                self.out.diagnostics.push(too_many(self.span(at, at)));
                self.open.clear();
                return;
            }
            match byte {
                b'\n' => {
                    if !self.goes_on(at + 1) {
                        self.end_statement();
                    }
                    at += 1;
                }
                b' ' | b'\t' | b'\r' => at += 1,
                b'#' => at = self.comment(at),
                b'"' => at = self.quoted(at),
                b'{' => {
                    if !self.open_block(at) {
                        return;
                    }
                    at += 1;
                }
                b'}' => {
                    self.close_block(at);
                    at += 1;
                }
                b'(' => {
                    self.parentheses.push(at);
                    if self.parentheses.len() > MAX_PARENTHESES {
                        self.too_deep(at, "parentheses", MAX_PARENTHESES);
                        return;
                    }
                    self.extend(at, at + 1);
                    at += 1;
                }
                b')' => {
                    self.parentheses.pop();
                    self.extend(at, at + 1);
                    at += 1;
                }
                _ => {
                    let len = self
                        .text
                        .get(at..)
                        .and_then(|rest| rest.chars().next())
                        .map_or(1, char::len_utf8);
                    self.extend(at, at + len);
                    self.after_comma = byte == b',';
                    at += len;
                }
            }
        }
        self.end_statement();
        self.give_back_at_the_end();
        while let Some(open) = self.open.last() {
            let span = self.span(open.brace, open.brace + 1);
            let head = self.span_text(open.head.span).to_owned();
            self.out.diagnostics.push(
                Diagnostic::error(
                    "missing-brace",
                    open.head.span,
                    format!("`{}` has no closing brace", shorten(&head)),
                )
                .also(span, "this brace is never closed")
                .why("what follows could be read as a part of it, and the sheet would be wrong")
                .help("write `}` on a line of its own where the block ends")
                .source("structural"),
            );
            self.finish_block(self.text.len());
        }
    }

    fn span_text(&self, span: Span) -> &str {
        self.text.get(span.range()).unwrap_or("")
    }

    fn extend(&mut self, start: usize, end: usize) {
        self.after_comma = false;
        self.piece = Some(match self.piece {
            Some((first, _)) => (first, end),
            None => (start, end),
        });
    }

    /// Does the statement go on in the line that begins at `next`?
    fn goes_on(&self, next: usize) -> bool {
        if self.piece.is_none() {
            return false;
        }
        let rest = self.text.get(next..).unwrap_or("");
        let mut lines = rest.lines().map(str::trim_start);
        if self.after_comma || !self.parentheses.is_empty() {
            // A forgotten `)` must not swallow what follows.
            let first = lines.find(|line| !line.is_empty() && !line.starts_with('#'));
            return first.is_some_and(|line| !line.starts_with('}') && !begins_statement(line));
        }
        lines
            .find(|line| !line.is_empty() && !line.starts_with('#'))
            .is_some_and(|line| {
                ["and", "or"].iter().any(|word| {
                    line.strip_prefix(word).is_some_and(|after| {
                        after.is_empty() || after.starts_with([' ', '\t', '('])
                    })
                })
            })
    }

    fn end_statement(&mut self) {
        self.parentheses.clear();
        self.after_comma = false;
        if let Some((start, end)) = self.piece.take() {
            let piece = Piece {
                span: self.span(start, end),
            };
            self.push(Item::Statement(piece));
        }
    }

    fn push(&mut self, item: Item) {
        match self.open.last_mut() {
            Some(open) => open.items.push(item),
            None => self.items.push(item),
        }
    }

    fn comment(&mut self, at: usize) -> usize {
        let rest = self.text.get(at..).unwrap_or("");
        let end = at + rest.find('\n').unwrap_or(rest.len());
        let trimmed = at + self.text.get(at..end).unwrap_or("").trim_end().len();
        let before = self.text.get(..at).unwrap_or("");
        let line = before.rfind('\n').map_or(0, |newline| newline + 1);
        let own_line = before.get(line..).unwrap_or("").trim().is_empty();
        let span = self.span(at, trimmed);
        self.out.comments.push(Comment { span, own_line });
        end
    }

    fn quoted(&mut self, at: usize) -> usize {
        let rest = self.text.get(at..).unwrap_or("");
        if let Some(body) = rest.strip_prefix("\"\"\"") {
            return match body.find("\"\"\"") {
                Some(length) => {
                    let end = at + 3 + length + 3;
                    self.extend(at, end);
                    end
                }
                None => {
                    self.unclosed(at, at + 3, "\"\"\"");
                    self.text.len()
                }
            };
        }
        let mut escaped = false;
        for (offset, character) in rest.char_indices().skip(1) {
            match character {
                '\n' => {
                    let end = at + rest.get(..offset).unwrap_or("").trim_end().len();
                    self.unclosed(at, end, "\"");
                    return at + offset;
                }
                '"' if !escaped => {
                    self.extend(at, at + offset + 1);
                    return at + offset + 1;
                }
                _ => escaped = character == '\\' && !escaped,
            }
        }
        self.unclosed(at, self.text.len(), "\"");
        self.text.len()
    }

    /// The statement with the open quote is dropped: its own error has been given.
    fn unclosed(&mut self, start: usize, end: usize, quote: &str) {
        let help = if quote.len() == 1 {
            "close the text with `\"` on the same line, or use `\"\"\"` for a text over several lines"
        } else {
            "close the text with `\"\"\"`"
        };
        self.out.diagnostics.push(
            Diagnostic::error(
                "unclosed-text",
                self.span(start, end),
                "a text in quotes is not closed",
            )
            .here("begins here")
            .why("the rest of the line would be printed as if it belonged to the text")
            .help(help)
            .source("structural"),
        );
        self.piece = None;
        self.after_comma = false;
        self.parentheses.clear();
    }

    fn too_deep(&mut self, at: usize, what: &str, limit: usize) {
        self.out.diagnostics.push(
            Diagnostic::error(
                "nested-too-deep",
                self.span(at, at + 1),
                format!("{what} lie in one another more than {limit} deep"),
            )
            .why("nobody can read such a line aloud; the rest of the file was not read")
            .help("split it into several rules")
            .source("structural"),
        );
        self.piece = None;
    }

    /// False where reading must stop.
    fn open_block(&mut self, at: usize) -> bool {
        self.parentheses.clear();
        self.after_comma = false;
        let head = match self.piece.take() {
            Some((start, end)) => Piece {
                span: self.span(start, end),
            },
            None => match self.take_last_statement() {
                // The brace stands on a line of its own.
                Some(piece) => piece,
                None if self.open.last().is_some_and(|open| open.word.is_empty()) => Piece {
                    span: self.span(at, at),
                },
                None => {
                    self.out.diagnostics.push(
                        Diagnostic::error(
                            "brace-without-head",
                            self.span(at, at + 1),
                            "a brace opens a block that has no name",
                        )
                        .why("it cannot be known what the block is")
                        .help("write what it is before the brace, such as `rule too-cold {`")
                        .source("structural"),
                    );
                    Piece {
                        span: self.span(at, at),
                    }
                }
            },
        };
        if self.open.len() >= MAX_DEPTH {
            self.too_deep(at, "blocks", MAX_DEPTH);
            self.open.clear();
            return false;
        }
        let word = first_word(self.span_text(head.span)).to_owned();
        self.close_left_open(&word, head);
        self.reopen_closed_early(&word, head);
        self.open.push(Open {
            head,
            brace: at,
            word,
            items: Vec::new(),
        });
        true
    }

    fn take_last_statement(&mut self) -> Option<Piece> {
        let items = match self.open.last_mut() {
            Some(open) => &mut open.items,
            None => &mut self.items,
        };
        match items.last() {
            Some(Item::Statement(piece)) => {
                let piece = *piece;
                items.pop();
                Some(piece)
            }
            _ => None,
        }
    }

    /// `phase …` inside a phase: the brace of the block before was forgotten.
    fn close_left_open(&mut self, word: &str, head: Piece) {
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
    fn give_back_at_the_end(&mut self) {
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
    fn reopen_closed_early(&mut self, word: &str, head: Piece) {
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

    fn close_block(&mut self, at: usize) {
        self.end_statement();
        if self.open.is_empty() {
            self.out.diagnostics.push(
                Diagnostic::error(
                    "brace-without-head",
                    self.span(at, at + 1),
                    "a closing brace closes nothing",
                )
                .why("a block may have ended earlier than was meant")
                .help("take it away, or look for a `}` too many before it")
                .source("structural"),
            );
            return;
        }
        self.finish_block(at + 1);
    }

    fn finish_block(&mut self, end: usize) {
        if let Some(open) = self.open.pop() {
            let block = Block {
                head: open.head,
                items: open.items,
                span: self.span(open.head.span.start as usize, end),
            };
            self.push(Item::Block(block));
        }
    }
}

/// Takes out of a block the first statement that can only stand in a protocol, and
/// all that follows it.
fn split_foreign(text: &str, word: &str, items: &mut Vec<Item>) -> Vec<Item> {
    let first = items.iter().position(|item| match item {
        Item::Statement(piece) => {
            let statement = text.get(piece.span.range()).unwrap_or("");
            fault::only_in_a_protocol(first_word(statement), word)
        }
        Item::Block(_) => false,
    });
    first.map_or_else(Vec::new, |at| items.split_off(at))
}

/// What is said once, in place of all further faults of a file.
pub(super) fn too_many(span: Span) -> Diagnostic {
    Diagnostic::error(
        "too-many-faults",
        span,
        format!("more than {MAX_FAULTS} faults: the rest of the file was not read"),
    )
    .why("a file like this is no protocol, or something early in it makes all of it unreadable")
    .help("mend the first faults and check again")
    .source("structural")
}

fn first_word(text: &str) -> &str {
    text.split(|character: char| character.is_whitespace() || character == '"')
        .next()
        .unwrap_or("")
}

/// Words that can only begin a statement: a list or a parenthesis that was left
/// open ends before them.
fn begins_statement(line: &str) -> bool {
    matches!(
        first_word(line),
        "then"
            | "when"
            | "overrides"
            | "rule"
            | "phase"
            | "ladder"
            | "checklist"
            | "medication"
            | "reading"
            | "rung"
    )
}

/// The first line of a text, for a message.
pub(crate) fn shorten(text: &str) -> &str {
    text.lines().next().unwrap_or("").trim_end()
}

#[cfg(test)]
#[path = "outline_tests.rs"]
mod tests;
