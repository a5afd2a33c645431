//! Where in a text the pointer stands.

use crate::source::FileId;
use crate::syntax::{Item, Place, outline};

/// The block that the end of `before` lies in, by its open braces.
pub fn place(before: &str) -> Place {
    let outline = outline(before, FileId::default());
    let mut items = &outline.items;
    let mut place = Place::File;
    // Blocks without their brace end with the text.
    while let Some(Item::Block(block)) = items.last() {
        let closed = before
            .get(block.span.range())
            .is_some_and(|text| text.ends_with('}'))
            && outline
                .diagnostics
                .iter()
                .all(|found| found.place.span != block.head.span);
        if closed {
            break;
        }
        let head = before.get(block.head.span.range()).unwrap_or("");
        let word = head.split(char::is_whitespace).next().unwrap_or("");
        place = Place::inside(word).unwrap_or(place);
        items = &block.items;
    }
    place
}

/// The statement under way at the end of `before`: its last line, and those before it
/// that go on into it.
pub fn statement(before: &str) -> &str {
    let mut start = before.rfind('\n').map_or(0, |at| at + 1);
    while start > 0 {
        let line = before.get(start..).unwrap_or("").trim_start();
        let above = before.get(..start - 1).unwrap_or("");
        let goes_on = above.trim_end().ends_with(',')
            || ["and ", "or "].iter().any(|word| line.starts_with(word));
        if !goes_on {
            break;
        }
        start = above.rfind('\n').map_or(0, |at| at + 1);
    }
    let lines = before.get(start..).unwrap_or("");
    // A block may stand on one line with its braces.
    let own = lines.rfind(['{', '}']).map_or(0, |at| at + 1);
    lines.get(own..).unwrap_or("").trim_start()
}

/// The word at a byte, and where it begins.
pub fn word_at(text: &str, offset: usize) -> Option<(&str, usize)> {
    let is_part = |character: char| character.is_ascii_alphanumeric() || character == '-';
    let before = text.get(..offset)?;
    let start = before.trim_end_matches(is_part).len();
    let rest = text.get(start..)?;
    let end = rest
        .find(|character| !is_part(character))
        .unwrap_or(rest.len());
    rest.get(..end)
        .filter(|word| !word.is_empty())
        .map(|word| (word, start))
}

/// Words in a text or a comment are not the language's.
pub fn is_in_text_or_comment(text: &str, offset: usize) -> bool {
    let mut at = 0;
    while at < offset {
        let rest = text.get(at..).unwrap_or("");
        let (length, is_closed) = if let Some(long) = rest.strip_prefix("\"\"\"") {
            match long.find("\"\"\"") {
                Some(length) => (length + 6, true),
                None => (rest.len(), false),
            }
        } else if rest.starts_with('"') {
            quoted(rest)
        } else if rest.starts_with('#') {
            (rest.find('\n').unwrap_or(rest.len()), false)
        } else {
            at += rest.chars().next().map_or(1, char::len_utf8);
            continue;
        };
        let end = at + length;
        // Behind what is open one is still in it.
        if offset < end || (offset == end && !is_closed) {
            return true;
        }
        at = end;
    }
    false
}

/// How long a text in quotes is, and whether it is closed on its line.
fn quoted(rest: &str) -> (usize, bool) {
    let mut escaped = false;
    for (at, character) in rest.char_indices().skip(1) {
        match character {
            '\n' => return (at, false),
            '"' if !escaped => return (at + 1, true),
            _ => escaped = character == '\\' && !escaped,
        }
    }
    (rest.len(), false)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn texts_and_comments_are_told_from_statements() {
        let text =
            "title \"a \\\" # b\" x # c \" d\ncaution \"\"\"\ne \" f\n\"\"\" y\nunit \"open\nz";
        for (word, inside) in [
            ("title", false),
            ("a \\", true),
            ("b\"", true),
            ("x #", false),
            ("c \"", true),
            ("caution", false),
            ("e \" f", true),
            ("f\n", true),
            ("y\n", false),
            ("open", true),
            ("z", false),
        ] {
            let at = text.find(word).expect("there");
            assert_eq!(is_in_text_or_comment(text, at), inside, "{word}");
        }
        assert!(is_in_text_or_comment("# µ", 4));
        assert!(!is_in_text_or_comment("\"µ\" ", 4));
    }

    #[test]
    fn a_statement_goes_on_over_lines() {
        assert_eq!(
            statement("a\n  patients adult,\n    weight "),
            "patients adult,\n    weight "
        );
        assert_eq!(
            statement("x\nwhen core above 1 °C\n  and "),
            "when core above 1 °C\n  and "
        );
        assert_eq!(statement("lasts 24 h\n  by "), "by ");
        assert_eq!(statement("rung 0 \"None\" { call "), "call ");
        assert_eq!(statement(""), "");
    }
}
