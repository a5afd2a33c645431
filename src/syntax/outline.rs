//! The outline of a file: blocks in braces, one statement a line.
//!
//! Takes a file's text, gives its statements and blocks with their places, the
//! comments, and a finding for every brace, quote or parenthesis that does not
//! close. It looks at no word except to see which block a brace was left out
//! of, so a broken statement never hides the next one.
//!
//! A statement goes on after a line that ends in a comma, inside parentheses,
//! and onto a line that begins with `and` or `or`.

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

/// A block whose closing brace has not come yet.
pub(super) struct Open {
    pub head: Piece,
    pub brace: usize,
    pub word: String,
    pub items: Vec<Item>,
}

pub(super) struct Scanner<'t> {
    pub text: &'t str,
    file: FileId,
    pub open: Vec<Open>,
    pub items: Vec<Item>,
    pub out: Outline,
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

/// Of what most text is made.
fn is_of_word(byte: u8) -> bool {
    byte.is_ascii_alphanumeric() || matches!(byte, b'-' | b'.' | b'/' | b':')
}

impl Scanner<'_> {
    pub(super) fn span(&self, start: usize, end: usize) -> Span {
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
                _ if is_of_word(byte) => {
                    let word = bytes.get(at..).unwrap_or_default();
                    let len = word.iter().take_while(|byte| is_of_word(**byte)).count();
                    self.extend(at, at + len);
                    at += len;
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

    pub(super) fn span_text(&self, span: Span) -> &str {
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
                        let goes_on = |next: char| next.is_alphanumeric() || "-_".contains(next);
                        !after.starts_with(goes_on)
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

    pub(super) fn push(&mut self, item: Item) {
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
                    self.next_statement(at)
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

    /// The first line after `at` that nobody would write into a text: one that closes a block or
    /// begins a statement. What stands there would otherwise be lost with the open text.
    fn next_statement(&self, at: usize) -> usize {
        let rest = self.text.get(at..).unwrap_or("");
        let mut start = at;
        for line in rest.split_inclusive('\n') {
            let words = line.trim();
            if start > at && (words == "}" || begins_statement(words)) {
                return start;
            }
            start += line.len();
        }
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

    pub(super) fn finish_block(&mut self, end: usize) {
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

pub(super) fn first_word(text: &str) -> &str {
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
