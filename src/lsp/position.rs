//! Byte offsets and an editor's lines and columns, in one place.
//!
//! Columns count UTF-16 code units unless the editor offers UTF-8: `°` and `µ`
//! are one unit of UTF-16 and two bytes, an emoji is two units and four bytes.

use lsp_types::{Position, Range};

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Columns {
    Utf8,
    Utf16,
}

impl Columns {
    fn width(self, character: char) -> usize {
        match self {
            Columns::Utf8 => character.len_utf8(),
            Columns::Utf16 => character.len_utf16(),
        }
    }

    /// The position of a byte offset; past the end is the end.
    pub fn position(self, text: &str, offset: usize) -> Position {
        let mut end = offset.min(text.len());
        while !text.is_char_boundary(end) {
            end -= 1;
        }
        let before = text.get(..end).unwrap_or("");
        let line_start = before.rfind('\n').map_or(0, |newline| newline + 1);
        let line = before.matches('\n').count();
        let column: usize = before
            .get(line_start..)
            .unwrap_or("")
            .chars()
            .map(|character| self.width(character))
            .sum();
        Position::new(
            u32::try_from(line).unwrap_or(u32::MAX),
            u32::try_from(column).unwrap_or(u32::MAX),
        )
    }

    /// The byte offset of a position; a column past the line's end is its end.
    pub fn offset(self, text: &str, position: Position) -> usize {
        let mut start = 0;
        for _ in 0..position.line {
            match text.get(start..).and_then(|rest| rest.find('\n')) {
                Some(newline) => start += newline + 1,
                None => return text.len(),
            }
        }
        let mut column = 0;
        let wanted = position.character as usize;
        for (at, character) in text.get(start..).unwrap_or("").char_indices() {
            if column >= wanted || character == '\n' {
                return start + at;
            }
            column += self.width(character);
        }
        text.len()
    }

    pub fn range(self, text: &str, range: std::ops::Range<usize>) -> Range {
        Range::new(
            self.position(text, range.start),
            self.position(text, range.end),
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn degree_signs_and_emoji_have_the_editors_widths() {
        let text = "a\nµ 33 °C 🥶 x\n";
        let x = text.find('x').expect("there");
        for (columns, wanted) in [(Columns::Utf16, 11), (Columns::Utf8, 15)] {
            let position = columns.position(text, x);
            assert_eq!((position.line, position.character), (1, wanted));
            assert_eq!(columns.offset(text, position), x);
        }
        assert_eq!(Columns::Utf16.offset(text, Position::new(9, 9)), text.len());
        assert_eq!(Columns::Utf16.offset(text, Position::new(0, 9)), 1);
    }
}
