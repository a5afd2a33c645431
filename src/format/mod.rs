//! One style for protocol files, with no options.
//!
//! Takes a file's text; gives the same protocol with uniform spacing, units and
//! indentation: two spaces a level, one statement a line, one blank line at most,
//! comments where they were, numbers exactly as written. A statement that cannot
//! be parsed is left as it stands. A file whose braces or quotes do not close is
//! refused, since nobody can tell what belongs where.
//!
//! INVARIANT: the result is read again, and given only if every token, every
//! comment and every block stands in it as before.

mod tokens;

use crate::diag::Diagnostic;
use crate::source::{FileId, SourceFile};
use crate::syntax::{self, Block, Comment, Item, Outline, Piece};
use tokens::{Token, tokens};

/// A block with one statement stands on one line where it is no longer than this.
const ONE_LINE: usize = 80;
const INDENT: &str = "  ";

/// Why a file was not formatted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Refusal {
    /// Braces, quotes or parentheses do not close.
    Outline(Vec<Diagnostic>),
    /// The result would not say the same: a fault of this program.
    Changed,
}

/// The text in the one style.
pub fn format(text: &str) -> Result<String, Refusal> {
    let outline = syntax::outline(text, FileId::default());
    if !outline.diagnostics.is_empty() {
        return Err(Refusal::Outline(outline.diagnostics));
    }
    let broken = broken_lines(text);
    let mut printer = Printer {
        text,
        broken,
        comments: outline.comments.iter().copied().peekable(),
        out: String::new(),
        last_end: 0,
    };
    printer.items(&outline.items, 0, text.len());
    let mut formatted = printer.out;
    while formatted.ends_with("\n\n") {
        formatted.pop();
    }
    if said(text, &outline) != said(&formatted, &syntax::outline(&formatted, FileId::default())) {
        return Err(Refusal::Changed);
    }
    Ok(formatted)
}

/// Everything that a file says, without its spacing.
fn said(text: &str, outline: &Outline) -> (Vec<String>, Vec<String>) {
    let mut tokens = Vec::new();
    say(text, &outline.items, &mut tokens);
    let comments = outline
        .comments
        .iter()
        .map(|comment| text.get(comment.span.range()).unwrap_or("").to_owned())
        .collect();
    (tokens, comments)
}

fn say(text: &str, items: &[Item], into: &mut Vec<String>) {
    let piece = |piece: &Piece, into: &mut Vec<String>| {
        let slice = text.get(piece.span.range()).unwrap_or("");
        into.extend(
            tokens(slice)
                .into_iter()
                .filter(|token| !matches!(token, Token::Comment(_) | Token::Break))
                .map(|token| token.said().to_owned()),
        );
    };
    for item in items {
        match item {
            Item::Statement(statement) => {
                piece(statement, into);
                into.push(";".to_owned());
            }
            Item::Block(block) => {
                piece(&block.head, into);
                into.push("{".to_owned());
                say(text, &block.items, into);
                into.push("}".to_owned());
            }
        }
    }
}

/// Where a statement that cannot be parsed begins.
fn broken_lines(text: &str) -> Vec<u32> {
    let source = SourceFile::new("", text);
    let tree = syntax::parse(FileId::default(), &source);
    tree.diagnostics
        .iter()
        .map(|found| found.place.span.start)
        .collect()
}

struct Printer<'t, I: Iterator<Item = Comment>> {
    text: &'t str,
    broken: Vec<u32>,
    comments: std::iter::Peekable<I>,
    out: String,
    /// Where the last thing that was printed ends in the source.
    last_end: usize,
}

impl<I: Iterator<Item = Comment>> Printer<'_, I> {
    fn slice(&self, start: usize, end: usize) -> &str {
        self.text.get(start..end).unwrap_or("")
    }

    fn items(&mut self, items: &[Item], depth: usize, end: usize) {
        for item in items {
            let start = match item {
                Item::Statement(piece) => piece.span.start,
                Item::Block(block) => block.span.start,
            } as usize;
            self.comments_before(start, depth);
            self.blank_line_before(start);
            match item {
                Item::Statement(piece) => {
                    self.indent(depth);
                    self.piece(piece, depth);
                    self.last_end = piece.span.end as usize;
                    self.rest_of_line();
                }
                Item::Block(block) => self.block(block, depth),
            }
        }
        self.comments_before(end, depth);
    }

    fn block(&mut self, block: &Block, depth: usize) {
        self.indent(depth);
        self.piece(&block.head, depth);
        let inside_start = block.head.span.end as usize;
        let block_end = block.span.end as usize;
        let has_comment = self
            .comments
            .peek()
            .is_some_and(|comment| (comment.span.start as usize) < block_end);
        if let [Item::Statement(only)] = block.items.as_slice()
            && !has_comment
        {
            let line = self.out.rsplit('\n').next().unwrap_or("").chars().count();
            let statement = self.printed(only, depth);
            if line + statement.chars().count() + 5 <= ONE_LINE && !statement.contains('\n') {
                self.out.push_str(" { ");
                self.out.push_str(&statement);
                self.out.push_str(" }");
                self.last_end = block_end;
                self.rest_of_line();
                return;
            }
        }
        self.out.push_str(" {");
        let brace = self.slice(inside_start, block_end).find('{');
        self.last_end = inside_start + brace.map_or(0, |at| at + 1);
        if block.items.is_empty() && !has_comment {
            self.out.push('}');
            self.last_end = block_end;
            self.rest_of_line();
            return;
        }
        self.rest_of_line();
        let opened = self.out.len();
        self.items(&block.items, depth + 1, block_end.saturating_sub(1));
        // No blank line just inside a brace.
        if self
            .out
            .get(opened..)
            .is_some_and(|body| body.starts_with('\n'))
        {
            self.out.remove(opened);
        }
        self.indent(depth);
        self.out.push('}');
        self.last_end = block_end;
        self.rest_of_line();
    }

    fn indent(&mut self, depth: usize) {
        for _ in 0..depth {
            self.out.push_str(INDENT);
        }
    }

    /// A comment behind what was just printed, on the same line, stays there.
    fn rest_of_line(&mut self) {
        if let Some(comment) = self.comments.peek().copied() {
            let start = comment.span.start as usize;
            // Something else between, and the comment is that one's.
            let between = self.slice(self.last_end.min(start), start);
            if start >= self.last_end && between.bytes().all(|byte| b" \t\r".contains(&byte)) {
                let text = self.slice(start, comment.span.end as usize).to_owned();
                self.out.push_str("  ");
                self.out.push_str(&text);
                self.last_end = comment.span.end as usize;
                self.comments.next();
            }
        }
        self.out.push('\n');
    }

    fn comments_before(&mut self, start: usize, depth: usize) {
        while let Some(comment) = self.comments.peek().copied() {
            let at = comment.span.start as usize;
            if at >= start {
                return;
            }
            self.comments.next();
            self.blank_line_before(at);
            self.indent(depth);
            let text = self.slice(at, comment.span.end as usize).to_owned();
            self.out.push_str(&text);
            self.out.push('\n');
            self.last_end = comment.span.end as usize;
        }
    }

    fn blank_line_before(&mut self, start: usize) {
        let gap = self.slice(self.last_end.min(start), start);
        let lines = gap.matches('\n').count();
        if lines > 1 && !self.out.is_empty() && !self.out.ends_with("\n\n") {
            self.out.push('\n');
        }
    }

    /// A statement or head; the comments inside it are used up.
    fn piece(&mut self, piece: &Piece, depth: usize) {
        let printed = self.printed(piece, depth);
        self.out.push_str(&printed);
        while self
            .comments
            .peek()
            .is_some_and(|comment| comment.span.start < piece.span.end)
        {
            self.comments.next();
        }
        self.last_end = piece.span.end as usize;
    }

    fn printed(&self, piece: &Piece, depth: usize) -> String {
        let slice = self.text.get(piece.span.range()).unwrap_or("");
        let is_broken = self
            .broken
            .iter()
            .any(|at| (piece.span.start..piece.span.end.max(piece.span.start + 1)).contains(at));
        if is_broken {
            return slice.to_owned();
        }
        let mut out = String::new();
        let mut before: Option<Token<'_>> = None;
        for token in tokens(slice) {
            match token {
                Token::Break => {}
                _ if before == Some(Token::Break) => {
                    out.push('\n');
                    out.push_str(&INDENT.repeat(depth + 2));
                }
                Token::Comma | Token::Close => {}
                _ if before.is_none() || before == Some(Token::Open) => {}
                _ => out.push(' '),
            }
            if let Token::Comment(comment) = token {
                // Two spaces before a comment behind something.
                if out.ends_with(' ') && before != Some(Token::Break) {
                    out.push(' ');
                }
                out.push_str(comment);
            } else {
                out.push_str(token.said());
            }
            before = Some(token);
        }
        out
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn once(text: &str) -> String {
        format(text).expect("formatted")
    }

    #[test]
    fn spacing_units_and_indentation_become_uniform() {
        let text = "protocol  p {\ntitle   \"T\"   # why\n\n\n phase a \"A\"   {\n hold core at 33.0C within 0.5 degC\n   }\n rung 0 \"x\" {\n continue\n }\n}\n";
        assert_eq!(
            once(text),
            "protocol p {\n  title \"T\"  # why\n\n  phase a \"A\" { hold core at 33.0 °C within 0.5 °C }\n  rung 0 \"x\" { continue }\n}\n"
        );
    }

    #[test]
    fn an_area_is_written_with_its_hours_apart() {
        let text = "protocol p {\n  title \"T\"\n  measure m \"M\" area of core above 37.9 C,goal  at most 2.0degC   h\n}\n";
        assert_eq!(
            once(text),
            "protocol p {\n  title \"T\"\n  measure m \"M\" area of core above 37.9 °C, goal at most 2.0 °C h\n}\n"
        );
    }

    #[test]
    fn comments_stay_in_place_and_order() {
        let text = "# top\nprotocol p {  # beside\n  # own\n  use \"a\"\n  every 1 h record core during a,  # in the middle\n    b\n  # last\n}\n# end\n";
        assert_eq!(once(text), text.replace("    b", "      b"));
    }

    #[test]
    fn a_comment_stays_with_what_stands_before_it() {
        assert_eq!(
            once("g {\n  a { x } y # why\n  b { c { z }} # both\n}\n"),
            "g {\n  a { x }\n  y  # why\n  b {\n    c { z }\n  }  # both\n}\n"
        );
        // Inside a statement that is left as it stands, it was printed twice.
        let text = "g {\n a {\n x\nor}y#c\nor}#r\n";
        assert_eq!(once(&once(text)), once(text));
    }

    #[test]
    fn a_broken_statement_is_left_as_it_stands() {
        let text = "protocol p {\n  phase a \"A\" {\n    hodl   core at   33.0C\n    lasts   24 h\n  }\n}\n";
        assert!(once(text).contains("hodl   core at   33.0C\n    lasts 24 h\n"));
    }

    #[test]
    fn a_joining_word_left_at_the_end_of_a_block_goes_with_its_statement() {
        let text = "protocol p {\n  review 2027-06-30\n and }\n";
        let after = once(text);
        assert_eq!(once(&after), after);
        assert!(after.contains("2027-06-30\n and"), "{after}");
        for text in [
            "a {\n  w\n or}\n",
            "a {\n  w\n or# why\n}\n",
            "a {\n  w\n and\"x\"\n}\n",
        ] {
            let after = once(text);
            assert_eq!(once(&after), after, "{text}");
        }
    }

    #[test]
    fn what_does_not_close_is_refused() {
        assert!(matches!(format("protocol p {\n"), Err(Refusal::Outline(_))));
        assert!(matches!(format("title \"x\n"), Err(Refusal::Outline(_))));
    }

    #[test]
    fn numbers_are_kept_as_written() {
        let text = "protocol p {\n  let a = 1/3 °C/h\n  let b = 33.00 °C\n  workload 20 entries per hour\n  version 2.1.0\n  review 2027-06-30\n}\n";
        assert_eq!(once(text), text);
    }
}
