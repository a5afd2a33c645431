//! Signs that Markdown reads only at the beginning of a line.
//!
//! A committee that writes `- 0.5` means minus 0.5, and `> 30` more than 30. As a bullet or a
//! quotation the sign would be another one or none. So they are words, both when a text of the
//! protocol is read ([`shield`]) and when Markdown is written ([`escape`]).

/// The text with `mark` in front of every line that would open a block, so that it opens none.
/// A list of words over two lines or more stays one: nothing in it can be taken for a number.
pub(super) fn shield(source: &str, mark: char) -> String {
    let is_list = is_list_of_words(source);
    let mut out = String::with_capacity(source.len());
    for line in source.trim_start().split_inclusive('\n') {
        let start = line.trim_start_matches([' ', '\t']);
        let is_item = is_bullet(start) && !is_rule(start);
        if is_list && (is_item || opens_nothing(start)) {
            out.push_str(line);
            continue;
        }
        if !opens_nothing(start) {
            out.push(mark);
        }
        out.push_str(start);
    }
    out
}

/// A sign that no text means and that does not stand in this one.
pub(super) fn unused(source: &str) -> char {
    ('\u{FDD0}'..='\u{FDEF}')
        .find(|sign| !source.contains(*sign))
        .unwrap_or('\u{FDD0}')
}

/// A line of Markdown that is to be read as these words, whatever they begin with.
pub(super) fn escape(line: &str) -> String {
    let start = line.trim_start();
    let digits = start.len() - start.trim_start_matches(|c: char| c.is_ascii_digit()).len();
    let (head, rest) = start.split_at(digits);
    let opens = match (digits, rest.chars().next()) {
        (0, Some('-' | '+')) => is_bullet(rest) || is_rule(rest),
        (0, Some('=')) => true,
        (1.., Some('.' | ')')) => ends_word(rest.get(1..)),
        _ => false,
    };
    let slash = if opens { "\\" } else { "" };
    format!("{head}{slash}{rest}")
}

fn is_list_of_words(source: &str) -> bool {
    let mut bullets = source
        .lines()
        .map(str::trim_start)
        .filter(|line| is_bullet(line) && !is_rule(line));
    let sign = source.trim_start().chars().next();
    bullets.clone().count() > 1
        && bullets.all(|line| {
            let words = line.get(1..).unwrap_or_default().trim_start();
            line.chars().next() == sign && words.starts_with(char::is_alphabetic)
        })
}

fn is_bullet(line: &str) -> bool {
    line.strip_prefix(['-', '+', '*'])
        .is_some_and(|rest| ends_word(Some(rest)))
}

/// A line across the page, or one that would make the line above it a heading.
fn is_rule(line: &str) -> bool {
    let line = line.trim_end();
    ['-', '=', '*', '_']
        .iter()
        .any(|sign| !line.is_empty() && line.chars().all(|c| c == *sign || c == ' ' || c == '\t'))
}

fn ends_word(rest: Option<&str>) -> bool {
    rest.is_some_and(|rest| rest.is_empty() || rest.starts_with(char::is_whitespace))
}

/// Whether Markdown reads the line as words. What only may open something counts as if it did.
fn opens_nothing(line: &str) -> bool {
    let rest = line.trim_start_matches(|c: char| c.is_ascii_digit());
    let is_number = rest.len() < line.len()
        && rest
            .strip_prefix(['.', ')'])
            .is_some_and(|rest| ends_word(Some(rest)));
    let is_code = line.starts_with("```") || line.starts_with("~~~");
    // `[a]: b` gives an address to a name, and would not be printed at all.
    let is_address = line.starts_with('[') && line.contains("]:");
    !(is_number
        || is_code
        || is_address
        || is_bullet(line)
        || is_rule(line)
        || line.starts_with(['#', '>', '<']))
}

#[cfg(test)]
mod tests {
    use super::super::text::inline;
    use super::*;

    #[test]
    fn a_sign_that_begins_a_line_is_printed_as_it_stands() {
        for text in [
            "- 30 minutes",
            "+ 30 minutes",
            "* 30 minutes",
            "- 0.5",
            "-",
            "- words",
            "> 30 minutes",
            ">30",
            "# 3 tubes",
            "###### six",
            "#",
            "1) open",
            "30. minutes",
            "007. seven",
            "---",
            "***",
            "_ _ _",
            "===",
            "~~~",
            "~~~ 3",
            "```",
            "[a]: b",
            "[a]: <b> 'c'",
            "<div> 3",
            "<!-- 3",
            "- - - 3",
            "- > # 3",
        ] {
            assert_eq!(inline(text).plain(), text);
            assert!(
                inline(text)
                    .0
                    .iter()
                    .all(|run| run.style == super::super::Style::default())
            );
            assert_eq!(inline(&format!("    {text}")).plain(), text, "set in");
            assert_eq!(
                inline(&format!("\t{text}")).plain(),
                text,
                "set in by a tab"
            );
            // And in a later line, where it would end a paragraph or make it a heading.
            let after = format!("Raise by\n{text}\nand wait");
            assert_eq!(inline(&after).plain(), format!("Raise by {text} and wait"));
            let apart = format!("Raise by\n\n{text}");
            assert_eq!(inline(&apart).plain(), format!("Raise by {text}"));
        }
    }

    #[test]
    fn numbers_in_a_list_keep_their_signs_and_words_their_bullets() {
        assert_eq!(inline("- a\n- b").plain(), "• a • b");
        assert_eq!(inline("* a\n  more\n* b").plain(), "• a more • b");
        assert_eq!(inline("- a\n- 0.5").plain(), "- a - 0.5");
        assert_eq!(inline("- a\n- .5").plain(), "- a - .5");
        assert_eq!(inline("- a\n+ b").plain(), "- a + b");
        assert_eq!(inline("Of these:\n- a\n- b").plain(), "Of these: - a - b");
        assert_eq!(inline("- a\n> b\n- c").plain(), "• a > b • c");
    }

    #[test]
    fn what_stands_within_a_line_is_read_as_before() {
        assert_eq!(inline("**- 30** *mL* `- x`").plain(), "- 30 mL - x");
        assert_eq!(
            inline("[a](https://b.example): c").plain(),
            "a (https://b.example): c"
        );
        assert_eq!(
            inline("<https://b.example> now").plain(),
            "https://b.example now"
        );
        assert_eq!(inline("*a*  \nb").plain(), "a\nb");
        assert_eq!(inline("a \u{FDD0} b").plain(), "a \u{FDD0} b");
    }

    #[test]
    fn a_line_of_markdown_is_read_as_its_words() {
        for (line, written) in [
            ("- 30", "\\- 30"),
            ("+ 30", "\\+ 30"),
            ("-", "\\-"),
            ("--", "\\--"),
            ("30. x", "30\\. x"),
            ("1) x", "1\\) x"),
            ("1)", "1\\)"),
            ("= 3", "\\= 3"),
            ("-30", "-30"),
            ("30.5 x", "30.5 x"),
            ("30 x", "30 x"),
            ("a - 30", "a - 30"),
        ] {
            assert_eq!(escape(line), written);
        }
    }
}
