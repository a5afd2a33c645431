//! What to say about a statement that does not parse.
//!
//! Takes the grammar's error; gives one finding in the author's words: the
//! furthest point that could be read, what was expected there, and the nearest
//! word of the language.

use super::nearest::nearest;
use super::odd_signs::{foreign, unseen};
use super::statements::{FIRST_WORDS, first_words, pattern};
use super::{CONNECTING_WORDS, Grammar, Place, Rule, outline::shorten};
use crate::diag::Diagnostic;
use crate::source::Span;
use pest::Parser as _;
use pest::error::{Error, InputLocation};
use std::sync::{Mutex, PoisonError};

const WHY: &str = "this line was left out of everything that follows, so the sheet would lack it";

/// The word with which a statement begins.
pub(super) fn leading_word(text: &str) -> &str {
    let end = text
        .find(|character: char| !(character.is_alphanumeric() || character == '-'))
        .unwrap_or(text.len());
    text.get(..end).unwrap_or("")
}

pub(super) fn stray(span: Span, text: &str) -> Diagnostic {
    Diagnostic::error(
        "misplaced-statement",
        span,
        format!("`{}` stands outside every block", shorten(text)),
    )
    .why(WHY)
    .help("move it into the `protocol`, `library`, `rung` or `step` that it belongs to")
    .source("structural")
}

pub(super) fn no_block_here(span: Span, text: &str, place: Place) -> Diagnostic {
    Diagnostic::error(
        "misplaced-statement",
        span,
        format!("no block can stand {}", place.words()),
    )
    .here(format!("`{}` opens one", shorten(text)))
    .why(WHY)
    .help("close the block before it with `}`, or move this one out")
    .source("structural")
}

pub(super) fn explain(
    error: &Error<Rule>,
    text: &str,
    span: Span,
    place: Place,
    is_head: bool,
) -> Diagnostic {
    let word = leading_word(text);
    let known = first_words(place);
    if place != Place::People && !known.contains(&word) {
        return unknown_first_word(word, text, span, place);
    }
    let offset = match error.location {
        InputLocation::Pos(at) | InputLocation::Span((at, _)) => at,
    };
    let (offset, expected) = expected_at(text, place, is_head).unwrap_or((offset, Vec::new()));
    let rest = text.get(offset..).unwrap_or("");
    let found = found_word(rest);
    let end = (offset + found.len())
        .max(offset + 1)
        .min(text.len().max(offset));
    let start = span.start as usize + offset;
    let at = Span::new(span.file, start, span.start as usize + end);
    let title = if found.is_empty() {
        format!("`{word}` is not finished")
    } else {
        format!("`{word}` cannot be read at `{found}`")
    };
    let mut finding = Diagnostic::error("syntax", at, title)
        .why(WHY)
        .source("structural");
    if !expected.is_empty() {
        finding = finding.here(format!("expected {} here", list(&expected)));
    }
    let mut helps = particular_help(text, offset, found, &expected);
    let wanted = expected
        .iter()
        .filter_map(|word| word.strip_prefix('`')?.strip_suffix('`'))
        // A lone sign is one letter away from every other: nobody meant it.
        .filter(|word| word.chars().filter(|one| one.is_alphabetic()).count() > 1);
    if let Some(near) = nearest(found, wanted).filter(|near| *near != found) {
        helps.push(format!("did you mean `{near}`?"));
        finding = finding.fix(at, near);
    }
    if helps.is_empty() {
        finding.help(format!(
            "a line of this kind reads: {}",
            pattern(word, place)
        ))
    } else {
        helps.into_iter().fold(finding, Diagnostic::help)
    }
}

fn unknown_first_word(word: &str, text: &str, span: Span, place: Place) -> Diagnostic {
    let shown = if word.is_empty() {
        found_word(text)
    } else {
        word
    };
    let at = Span::new(
        span.file,
        span.start as usize,
        span.start as usize + shown.len().max(1),
    );
    let finding = Diagnostic::error(
        "unknown-word",
        at,
        format!("`{shown}` begins no statement {}", place.words()),
    )
    .why(WHY)
    .source("structural");
    let finding = match foreign(shown) {
        Some(help) => finding.help(help),
        None => finding,
    };
    let home = FIRST_WORDS
        .iter()
        .find(|(of, words)| *of != place && words.contains(&word));
    if let Some(near) = nearest(word, first_words(place).iter().copied()) {
        return finding
            .here(format!("did you mean `{near}`?"))
            .help(format!("write `{near}`: {}", pattern(near, place)))
            .fix(at, near);
    }
    match home {
        Some((of, _)) => finding.help(format!(
            "`{word}` belongs {}: {}",
            of.words().trim_start_matches("at "),
            pattern(word, *of)
        )),
        None => finding.help(format!(
            "a line {} begins with one of: {}",
            place.words(),
            first_words(place).join(", ")
        )),
    }
}

const NAME: &str = "a name";
const NUMBER: &str = "a number";
const UNIT: &str = "a unit";

/// The furthest point to which the rule could be read, and what was tried there, each
/// once; `None` where the text can be read.
fn attempted(text: &str, rule: Rule) -> Option<(usize, Vec<String>)> {
    let error = {
        // The switch is global to the process. A thread that turned it off would take the
        // words from what another one reads; one that reads without asking only sees more.
        static ASKING: Mutex<()> = Mutex::new(());
        let _alone = ASKING.lock().unwrap_or_else(PoisonError::into_inner);
        pest::set_error_detail(true);
        let read = Grammar::parse(rule, text);
        pest::set_error_detail(false);
        read.err()?
    };
    let attempts = error.parse_attempts()?;
    let mut told = std::collections::BTreeSet::new();
    let tokens = attempts
        .expected_tokens()
        .into_iter()
        // The token's type cannot be named from here; its printed form can.
        .map(|token| token.to_string())
        .map(|token| match token.as_str() {
            range if range.starts_with("a..") => NAME.to_owned(),
            range if range.starts_with("0..") => NUMBER.to_owned(),
            // Signs with which a unit can begin: alone they say nothing.
            "µ" | "μ" | "°" | "℃" | "℉" | "%" => UNIT.to_owned(),
            _ => token,
        })
        .filter(|token| !token.contains("..") && token != "BUILTIN_RULE")
        .filter(|token| told.insert(token.clone()))
        .collect();
    Some((attempts.max_position, tokens))
}

/// What can follow a statement, or a head, that has been written so far.
#[derive(Debug, Default)]
pub(crate) struct Following {
    /// Words of the language.
    pub words: Vec<String>,
    pub name: bool,
    pub number: bool,
    pub unit: bool,
}

pub(crate) fn following(written: &str, place: Place) -> Following {
    let mut found = Following::default();
    // A sign that nothing can be: the parser stops at it and says what it tried.
    let text = format!("{} \u{1}", written.trim_end());
    for rule in [place.statement(), place.head()].into_iter().flatten() {
        let Some((at, tokens)) = attempted(&text, rule) else {
            continue;
        };
        if at < written.trim_end().len() {
            continue;
        }
        for token in tokens {
            match token.as_str() {
                NAME => found.name = true,
                NUMBER => found.number = true,
                UNIT => found.unit = true,
                // A lone sign is no word that somebody meant.
                word if word.chars().filter(|one| one.is_alphabetic()).count() > 1
                    && !found.words.contains(&token) =>
                {
                    found.words.push(token);
                }
                _ => {}
            }
        }
    }
    found
}

/// The furthest point that could be read and the words that could stand there.
fn expected_at(text: &str, place: Place, is_head: bool) -> Option<(usize, Vec<String>)> {
    let rule = if is_head {
        place.head()?
    } else {
        place.statement()?
    };
    let (furthest, tokens) = attempted(text, rule)?;
    let mut words: Vec<String> = tokens
        .into_iter()
        .filter(|token| {
            token.chars().any(|character| character.is_alphabetic())
                || matches!(token.as_str(), "\"" | "," | "(" | "=")
        })
        .map(|token| match token.as_str() {
            "\"" => "a text in quotes".to_owned(),
            NAME | NUMBER | UNIT => token,
            _ => format!("`{token}`"),
        })
        .collect();
    let mut at = furthest;
    // Where a unit can stand neither a name nor a number can: those were its letters and
    // digits. Directly behind one it could only be longer, which nobody means.
    if words.iter().any(|word| word == UNIT) {
        let inside = text.get(..at).is_some_and(|before| {
            before.ends_with(|one: char| !one.is_whitespace() && !one.is_ascii_digit())
        });
        words.retain(|word| word != NAME && word != NUMBER && !(inside && word == UNIT));
    }
    // A word that was looked at only to see that it is no name ends here.
    let before = text.get(..at)?;
    let word = before.len()
        - before
            .trim_end_matches(|character: char| character.is_ascii_alphanumeric())
            .len();
    let last = before.get(before.len() - word..)?;
    if at < text.len() && CONNECTING_WORDS.contains(&last) {
        return Some((before.len() - word, Vec::new()));
    }
    // Point at the word, not at the space before it.
    let rest = text.get(at..)?;
    at += rest.len() - rest.trim_start().len();
    words.truncate(8);
    Some((at.min(text.len()), words))
}

fn found_word(rest: &str) -> &str {
    let end = rest
        .char_indices()
        .find(|(at, character)| {
            *at > 0 && (character.is_whitespace() || matches!(character, ',' | '"' | '(' | ')'))
        })
        .map_or(rest.len(), |(at, _)| at);
    rest.get(..end).unwrap_or("").trim_end()
}

fn list(words: &[String]) -> String {
    match words {
        [] => String::new(),
        [one] => one.clone(),
        [most @ .., last] => format!("{} or {last}", most.join(", ")),
    }
}

fn particular_help(text: &str, offset: usize, found: &str, expected: &[String]) -> Vec<String> {
    let mut helps: Vec<String> = unseen(text).into_iter().chain(foreign(text)).collect();
    let before = text.get(..offset).unwrap_or("");
    let digit_comma_digit = text
        .as_bytes()
        .windows(3)
        .any(|three| matches!(three, [a, b',', c] if a.is_ascii_digit() && c.is_ascii_digit()));
    if digit_comma_digit {
        helps.push("a decimal has a point, not a comma: write `33.5`".to_owned());
    }
    if (found == "and" || found == "or") && (before.contains(" and ") || before.contains(" or ")) {
        helps.push(
            "`and` beside `or` can be read two ways: put parentheses round the part that belongs together"
                .to_owned(),
        );
    } else if CONNECTING_WORDS.contains(&found) && expected.iter().any(|word| word == "a name") {
        helps.push(format!(
            "`{found}` joins a statement together, so it can be no name"
        ));
    } else if found.chars().any(char::is_uppercase) && expected.iter().any(|word| word == "a name")
    {
        helps.push(format!(
            "a name is in lower case with hyphens: `{}`",
            found.to_lowercase().replace('_', "-")
        ));
    }
    for sign in ['<', '>', '≤', '≥'] {
        if found.starts_with(sign) {
            helps.push(
                "write the comparison in words: `below`, `above`, `at or below`, `at or above`"
                    .to_owned(),
            );
        }
    }
    helps
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::syntax::parse_statement;

    fn fault(text: &str, place: Place) -> Diagnostic {
        *parse_statement(text, place).expect_err("does not parse")
    }

    #[test]
    fn the_nearest_word_is_offered() {
        let found = fault("pahse hold \"Hold\"", Place::Protocol);
        assert_eq!(found.name, "unknown-word");
        assert_eq!(
            found.fix.map(|fix| fix.replacement).as_deref(),
            Some("phase")
        );
    }

    #[test]
    fn a_wrong_word_inside_a_statement_has_its_mend() {
        let text = "show °C und °F";
        let found = fault(text, Place::Protocol);
        let fix = found.fix.expect("a mend");
        assert_eq!(fix.replacement, "and");
        assert_eq!(text.get(fix.span.range()), Some("und"));
        let short = fault("show °C", Place::Protocol);
        assert_eq!(short.place.text, "", "{short:?}");
    }

    #[test]
    fn particular_slips_get_particular_help() {
        let comma = fault("hold core at 33,0 °C within 0.5 °C", Place::Phase);
        assert!(
            comma
                .help
                .iter()
                .any(|help| help.contains("point, not a comma")),
            "{comma:?}"
        );
        let mixed = fault("when a above 1 and b above 1 or c above 1", Place::Rule);
        assert!(
            mixed.help.iter().any(|help| help.contains("parentheses")),
            "{mixed:?}"
        );
        let sign = fault("when core > 37.7 °C", Place::Rule);
        assert!(
            sign.help.iter().any(|help| help.contains("in words")),
            "{sign:?}"
        );
    }

    #[test]
    fn a_lone_sign_is_never_what_was_meant() {
        for (text, place) in [
            (
                "measure a \"A\" share of time when core above , goal at least 90 %",
                Place::Protocol,
            ),
            ("when core above , during hold", Place::Rule),
            ("hold core at , within 0.5 °C", Place::Phase),
            ("hold core at 33.0 , within 0.5 °C", Place::Phase),
            ("shifts 07:30; 19:30", Place::Protocol),
            ("let goal : 33.0 °C", Place::Protocol),
            ("dose 2 , iv", Place::Medication),
            ("every , record core", Place::Protocol),
        ] {
            let found = fault(text, place);
            let said = format!("{:?} {:?}", found.help, found.place.text);
            for sign in ['µ', 'μ', '°', '℃', '℉'] {
                assert!(!said.contains(&format!("`{sign}`")), "{text}: {said}");
            }
            for help in &found.help {
                let Some((_, meant)) = help.split_once("did you mean `") else {
                    continue;
                };
                let meant = meant.split('`').next().unwrap_or("");
                assert!(
                    meant.chars().filter(|one| one.is_alphabetic()).count() > 1,
                    "{text}: {help}"
                );
            }
        }
        let unit = fault("hold core at 33.0 , within 0.5 °C", Place::Phase);
        assert!(
            unit.place.text.contains("a unit") && !unit.place.text.contains("a name"),
            "{unit:?}"
        );
    }

    /// Several files are read at once; the parser's switch is one for all of them.
    #[test]
    fn what_is_expected_does_not_hang_on_what_other_threads_read() {
        let ask = || {
            let hold = fault("hold core at 33.0 , within 0.5 °C", Place::Phase);
            (hold.place.text, following("lasts 24", Place::Phase).unit)
        };
        let alone = ask();
        assert!(alone.0.contains("a unit") && alone.1, "{alone:?}");
        std::thread::scope(|scope| {
            for _ in 0..4 {
                scope.spawn(|| {
                    for _ in 0..250 {
                        assert_eq!(ask(), alone);
                    }
                });
            }
        });
    }

    #[test]
    fn the_grammar_says_what_can_follow() {
        let measure = "measure a \"A\" share of time when core above 37.0 °C";
        for (written, place, words) in [
            (
                "measure a \"A\" ",
                Place::Protocol,
                &["area", "length", "share"][..],
            ),
            (&format!("{measure},"), Place::Protocol, &["goal"]),
            (
                "warm core from 33.0 °C to 36.5 °C",
                Place::Phase,
                &["at", "because", "source", "within"],
            ),
            ("then call doctor", Place::Rule, &["now", "within"]),
            ("show °C ", Place::Protocol, &["and"]),
            // What is wrong already goes on with nothing.
            ("lasts h now ", Place::Phase, &[]),
        ] {
            assert_eq!(following(written, place).words, words, "{written}");
        }
        let goal = following(
            "measure a \"A\" area of core above 37.7 °C, goal at least",
            Place::Protocol,
        );
        assert!(goal.number && goal.name && !goal.unit, "{goal:?}");
        assert!(following("lasts 24", Place::Phase).unit);
    }
}
