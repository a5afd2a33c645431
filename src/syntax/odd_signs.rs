//! Signs that cannot be seen, and letters that look like others, where a statement
//! cannot be read because of them.

use super::outline::shorten;
use crate::diag::steers;

/// A statement pasted from elsewhere may hold what looks like a space, or like
/// nothing at all. Told only where the statement cannot be read.
pub(super) fn unseen(text: &str) -> Option<String> {
    let odd = text.chars().find(|character| match *character {
        ' ' | '\t' | '\r' | '\n' => false,
        other => other == '\u{ad}' || other.is_whitespace() || steers(other),
    })?;
    let code = u32::from(odd);
    Some(if odd.is_whitespace() {
        format!(
            "a space of another kind (U+{code:04X}) stands in this line, as word processors \
             write it: type a plain space instead"
        )
    } else {
        format!(
            "a character that cannot be seen (U+{code:04X}) stands in this line: delete it, or \
             type the line anew"
        )
    })
}

/// The first word outside texts in quotes with a letter that is none of a to z: it may
/// look just like the word that belongs here.
pub(super) fn foreign(text: &str) -> Option<String> {
    // A sign of a unit is no letter that somebody mistook.
    let odd = |one: char| one.is_alphabetic() && !one.is_ascii() && !matches!(one, 'µ' | 'μ');
    let (word, letter) = text
        .split('"')
        .step_by(2)
        .map(|part| part.split('#').next().unwrap_or(""))
        .flat_map(|part| part.split(|one: char| !one.is_alphanumeric() && one != '-'))
        .find_map(|word| Some((word, word.chars().find(|one| odd(*one))?)))?;
    let word = shorten(word);
    Some(if matches!(letter, '\u{c0}'..='\u{24f}') {
        format!(
            "`{word}` has the letter `{letter}`: names and words of the language have a to z only"
        )
    } else {
        format!(
            "`{word}` has the letter U+{:04X}, which may look like a Latin one: type the word again \
             with the letters a to z",
            u32::from(letter)
        )
    })
}

#[cfg(test)]
mod tests {
    use crate::diag::Diagnostic;
    use crate::syntax::{Place, parse_statement};

    fn fault(text: &str, place: Place) -> Diagnostic {
        *parse_statement(text, place).expect_err("does not parse")
    }

    #[test]
    fn a_letter_that_looks_like_another_is_named() {
        for (text, place, code) in [
            (
                "reading \u{441}ore \"Core\" temperature of water",
                Place::Protocol,
                "U+0441",
            ),
            ("\u{440}hase hold \"Hold\"", Place::Protocol, "U+0440"),
            (
                "hold \u{441}ore at 33.0 °C within 0.5 °C",
                Place::Phase,
                "U+0441",
            ),
            (
                "hold core at 33.0 °C w\u{456}thin 0.5 °C",
                Place::Phase,
                "U+0456",
            ),
            ("when \u{ff43}ore above 37.7 °C", Place::Rule, "U+FF43"),
        ] {
            let found = fault(text, place);
            assert!(
                found.help.iter().any(|help| help.contains(code)),
                "{found:?}"
            );
        }
        let accent = fault(
            "reading t\u{ea}te \"Head\" temperature of water",
            Place::Protocol,
        );
        assert!(
            accent.help.iter().any(|help| help.contains("`ê`")),
            "{accent:?}"
        );
        // In a text, and in a unit, other letters are at home.
        let text = fault(
            "reading Core \"Température à l'entrée\" temperature of water",
            Place::Protocol,
        );
        assert!(
            !text.help.iter().any(|help| help.contains("letter")),
            "{text:?}"
        );
    }
}
