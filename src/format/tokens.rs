//! The tokens of one statement, as far as spacing is concerned.

use crate::quantity::unit_named;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Token<'t> {
    Word(&'t str),
    /// A unit behind a number, by its printed name.
    Unit(&'static str),
    /// In quotes.
    Text(&'t str),
    Comment(&'t str),
    Comma,
    Open,
    Close,
    Equals,
    /// A line's end inside the statement.
    Break,
}

impl<'t> Token<'t> {
    /// The token as it is printed.
    pub fn said(&self) -> &'t str {
        match self {
            Token::Word(text) | Token::Text(text) | Token::Comment(text) => text,
            Token::Unit(name) => name,
            Token::Comma => ",",
            Token::Open => "(",
            Token::Close => ")",
            Token::Equals => "=",
            Token::Break => "",
        }
    }
}

pub(super) fn tokens(text: &str) -> Vec<Token<'_>> {
    let mut found = Vec::new();
    let mut rest = text;
    while let Some(character) = rest.chars().next() {
        let (token, length) = match character {
            '\n' => (Some(Token::Break), 1),
            ' ' | '\t' | '\r' => (None, 1),
            ',' => (Some(Token::Comma), 1),
            '(' => (Some(Token::Open), 1),
            ')' => (Some(Token::Close), 1),
            '=' => (Some(Token::Equals), 1),
            '#' => {
                let length = rest.find('\n').unwrap_or(rest.len());
                let comment = rest.get(..length).unwrap_or(rest).trim_end();
                (Some(Token::Comment(comment)), length)
            }
            '"' => {
                let length = quoted(rest);
                (
                    Some(Token::Text(rest.get(..length).unwrap_or(rest))),
                    length,
                )
            }
            _ => {
                let length = rest
                    // Only the white space of the grammar: a no-break space is none, and
                    // a word that began at one would have no length.
                    .find([' ', '\t', '\r', '\n', ',', '(', ')', '=', '"', '#'])
                    .unwrap_or(rest.len());
                let word = rest.get(..length).unwrap_or(rest);
                let number = number_length(word);
                let unit = word.get(number..).and_then(unit_named);
                match unit {
                    Some(_) if number > 0 => (word.get(..number).map(Token::Word), number),
                    _ => (Some(Token::Word(word)), length),
                }
            }
        };
        // Blank lines inside a statement go.
        if let Some(token) = token
            && !(token == Token::Break && matches!(found.last(), None | Some(Token::Break)))
        {
            found.push(after_number(found.last(), token));
        }
        rest = rest.get(length..).unwrap_or("");
    }
    while found.last() == Some(&Token::Break) {
        found.pop();
    }
    found
}

fn after_number<'t>(before: Option<&Token<'t>>, token: Token<'t>) -> Token<'t> {
    if let (Some(Token::Word(number)), Token::Word(word)) = (before, token)
        && !number.is_empty()
        && number_length(number) == number.len()
        && let Some(unit) = unit_named(word)
    {
        return Token::Unit(unit.name);
    }
    token
}

/// How much of a word is a number: `33.0` of `33.0°C`, all of `1/3`.
fn number_length(word: &str) -> usize {
    let bytes = word.as_bytes();
    let digit = |at: usize| bytes.get(at).is_some_and(u8::is_ascii_digit);
    let mut at = 0;
    while digit(at) || (at > 0 && matches!(bytes.get(at), Some(b'.' | b'/')) && digit(at + 1)) {
        at += 1;
    }
    at
}

fn quoted(rest: &str) -> usize {
    if let Some(body) = rest.strip_prefix("\"\"\"") {
        return body.find("\"\"\"").map_or(rest.len(), |end| end + 6);
    }
    let mut escaped = false;
    for (at, character) in rest.char_indices().skip(1) {
        if character == '"' && !escaped {
            return at + 1;
        }
        escaped = character == '\\' && !escaped;
    }
    rest.len()
}
