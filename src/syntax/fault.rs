//! What to say about a statement that does not parse.
//!
//! Takes the grammar's error; gives one finding in the author's words: the
//! furthest point that could be read, what was expected there, and the nearest
//! word of the language.

use super::{CONNECTING_WORDS, Grammar, Place, Rule, outline::shorten};
use crate::diag::Diagnostic;
use crate::source::Span;
use pest::Parser as _;
use pest::error::{Error, InputLocation};

const WHY: &str = "this line was left out of everything that follows, so the sheet would lack it";

/// The words that begin a statement or a block, by the place where they stand.
const FIRST_WORDS: &[(Place, &[&str])] = &[
    (Place::File, &["protocol", "library", "scenario"]),
    (
        Place::Protocol,
        &[
            "title",
            "unit",
            "version",
            "review",
            "purpose",
            "patients",
            "method",
            "timezone",
            "guideline",
            "start",
            "shifts",
            "workload",
            "show",
            "approved",
            "use",
            "cite",
            "let",
            "mark",
            "include",
            "exclude",
            "caution",
            "limit",
            "reading",
            "every",
            "at",
            "accept",
            "measure",
            "people",
            "phase",
            "rule",
            "ladder",
            "checklist",
            "medication",
        ],
    ),
    (
        Place::Library,
        &[
            "title",
            "version",
            "review",
            "use",
            "cite",
            "let",
            "mark",
            "include",
            "exclude",
            "caution",
            "limit",
            "reading",
            "every",
            "at",
            "people",
            "phase",
            "rule",
            "ladder",
            "checklist",
            "medication",
        ],
    ),
    (Place::People, &[]),
    (
        Place::Phase,
        &[
            "cool", "warm", "hold", "keep", "lasts", "ends", "by", "never", "at", "due", "target",
        ],
    ),
    (
        Place::Rule,
        &["when", "then", "ready", "again", "overrides"],
    ),
    (Place::Ladder, &["rung", "step"]),
    (
        Place::Rung,
        &[
            "record", "score", "test", "follow", "call", "do", "continue", "begin", "set", "raise",
            "lower", "keep", "pause", "stop", "give", "withhold", "recheck",
        ],
    ),
    (Place::Checklist, &["step"]),
    (
        Place::Medication,
        &[
            "class",
            "dose",
            "infuse",
            "concentration",
            "rounded",
            "ceiling",
            "only",
            "avoid",
        ],
    ),
    (Place::Scenario, &["given", "at", "from", "expect"]),
];

/// Whether a statement that begins so stands in a protocol and cannot stand in the
/// block of that word. In `people` any word may be a name.
pub(super) fn only_in_a_protocol(word: &str, block: &str) -> bool {
    match Place::inside(block) {
        None | Some(Place::Protocol | Place::Library | Place::People | Place::Scenario) => false,
        Some(place) => {
            first_words(Place::Protocol).contains(&word) && !first_words(place).contains(&word)
        }
    }
}

/// The words that can begin a line in a place.
pub(crate) fn first_words(place: Place) -> &'static [&'static str] {
    FIRST_WORDS
        .iter()
        .find(|(of, _)| *of == place)
        .map_or(&[], |(_, words)| words)
}

/// The word with which a statement begins.
pub(super) fn leading_word(text: &str) -> &str {
    let end = text
        .find(|character: char| !(character.is_alphanumeric() || character == '-'))
        .unwrap_or(text.len());
    text.get(..end).unwrap_or("")
}

/// How many letters must change to make one word the other, swaps counted once.
pub(crate) fn distance(a: &str, b: &str) -> usize {
    let (a, b): (Vec<char>, Vec<char>) = (a.chars().collect(), b.chars().collect());
    let mut before: Vec<usize> = Vec::new();
    let mut last: Vec<usize> = (0..=b.len()).collect();
    for (i, from) in a.iter().enumerate() {
        let mut row = vec![i + 1];
        for (j, to) in b.iter().enumerate() {
            let get = |row: &[usize], at: usize| row.get(at).copied().unwrap_or(usize::MAX - 1);
            let mut best = (get(&last, j) + usize::from(from != to))
                .min(get(&last, j + 1) + 1)
                .min(get(&row, j) + 1);
            let swapped = i > 0 && j > 0 && a.get(i - 1) == Some(to) && b.get(j - 1) == Some(from);
            if swapped {
                best = best.min(get(&before, j - 1) + 1);
            }
            row.push(best);
        }
        before = last;
        last = row;
    }
    last.last().copied().unwrap_or(0)
}

/// The nearest of `words`, if it is near enough to be meant.
pub(crate) fn nearest<'w>(text: &str, words: impl IntoIterator<Item = &'w str>) -> Option<&'w str> {
    let most = match text.chars().count() {
        0 => return None,
        1..=3 => 1,
        4..=7 => 2,
        _ => 3,
    };
    words
        .into_iter()
        .map(|word| (distance(text, word), word))
        .filter(|(far, _)| *far <= most)
        .min()
        .map(|(_, word)| word)
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
    let helps = particular_help(text, offset, found, &expected);
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

/// The furthest point that could be read and the words that could stand there.
fn expected_at(text: &str, place: Place, is_head: bool) -> Option<(usize, Vec<String>)> {
    let rule = if is_head {
        place.head()?
    } else {
        place.statement()?
    };
    // The switch is global to the process; another thread at worst sees more detail.
    pest::set_error_detail(true);
    let failed = Grammar::parse(rule, text);
    pest::set_error_detail(false);
    let error = failed.err()?;
    let attempts = error.parse_attempts()?;
    let mut words: Vec<String> = attempts
        .expected_tokens()
        .into_iter()
        // The token's type cannot be named from here; its printed form can.
        .map(|token| match token.to_string() {
            range if range.starts_with("a..") => "a name".to_owned(),
            range if range.starts_with("0..") => "a number".to_owned(),
            other => other,
        })
        .filter(|token| !token.contains("..") && token != "BUILTIN_RULE")
        .filter(|token| {
            token.chars().any(|character| character.is_alphabetic())
                || matches!(token.as_str(), "\"" | "," | "(" | "=")
        })
        .map(|token| match token.as_str() {
            "\"" => "a text in quotes".to_owned(),
            "a name" | "a number" => token,
            _ => format!("`{token}`"),
        })
        .collect();
    words.dedup();
    let mut at = attempts.max_position;
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

/// A statement pasted from elsewhere may hold what looks like a space, or like
/// nothing at all. Told only where the statement cannot be read.
fn unseen(text: &str) -> Option<String> {
    let odd = text.chars().find(|character| match character {
        ' ' | '\t' | '\r' | '\n' => false,
        '\u{ad}' | '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' => true,
        '\u{2060}'..='\u{2069}' | '\u{feff}' => true,
        other => other.is_whitespace() || other.is_control(),
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

fn particular_help(text: &str, offset: usize, found: &str, expected: &[String]) -> Vec<String> {
    let mut helps: Vec<String> = unseen(text).into_iter().collect();
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
    let wanted: Vec<&str> = expected
        .iter()
        .filter_map(|word| word.strip_prefix('`')?.strip_suffix('`'))
        .collect();
    if let Some(near) = nearest(found, wanted.iter().copied()).filter(|near| *near != found) {
        helps.push(format!("did you mean `{near}`?"));
    }
    helps
}

/// How a statement with this first word reads.
fn pattern(word: &str, place: Place) -> &'static str {
    match (word, place) {
        ("at", Place::Phase) => "`at least 0.5 °C/h`",
        ("at", Place::Scenario) => "`at 3:00 core 33.0 °C, water 14.0 °C`",
        ("step", Place::Checklist) => {
            "`step \"Mark the depth\", record depth in cm, two people, covers depth`"
        }
        ("protocol", _) => "`protocol adult-arrest-33 { … }`",
        ("library", _) => "`library shivering { … }`",
        ("scenario", _) => "`scenario \"Water stays cold\" for adult-arrest-33 { … }`",
        (
            "title" | "unit" | "timezone" | "use" | "include" | "exclude" | "caution" | "avoid",
            _,
        ) => "the word, then a text in quotes",
        ("version", _) => "`version 2.1.0`",
        ("review", _) => "`review 2027-06-30`",
        ("purpose", _) => "`purpose therapeutic-hypothermia after cardiac-arrest`",
        ("patients", _) => {
            "`patients adult, weight 40 kg to 140 kg, core 33.0 °C to 37.5 °C on arrival`"
        }
        ("method", _) => "`method esophageal feedback from core`",
        ("guideline", _) => "`guideline erc-2022`",
        ("start", _) => "`start within 6 h of rosc`",
        ("shifts", _) => "`shifts 07:30, 19:30`",
        ("workload", _) => "`workload 20 entries per hour`",
        ("show", _) => "`show °C and °F`",
        ("approved", _) => "`approved by \"Dr …\" on 2026-05-01 as \"fingerprint\"`",
        ("cite", _) => "`cite ttm2-2021 \"Dankiewicz J, et al. N Engl J Med 2021;384:2283-2294\"`",
        ("let", _) => "`let goal = 33.0 °C`",
        ("mark", _) => "`mark rosc \"Return of spontaneous circulation\"`",
        ("limit", _) => "`limit potassium never below 3.0 mmol/L`",
        ("reading", _) => {
            "`reading core \"Core temperature\" temperature at bladder, continuous, shown to 0.1 °C, accurate to 0.2 °C`"
        }
        ("every", _) => "`every 1 h record core during hold, guard`",
        ("at", _) => "`at 4 h before rewarm.start do \"Stop potassium replacement\"`",
        ("accept", _) => "`accept FINDING on NAME because \"…\" by \"…\" until 2027-01-31`",
        ("measure", _) => {
            "`measure in-band \"Time in the band\" share of time when core within 0.5 °C of target during hold, goal at least 95 %`"
        }
        ("people", _) => "`people { … }`",
        ("phase", _) => "`phase hold \"Hold at target\" { … }`",
        ("rule", _) => "`rule too-cold { … }`",
        ("ladder", _) => "`ladder shivering-steps \"Shivering\" on shiver { … }`",
        ("checklist", _) => "`checklist placing \"Placing\" at placing { … }`",
        ("medication", _) => "`medication magnesium \"Magnesium sulfate\" { … }`",
        ("cool" | "warm", _) => "`warm core from 33.0 °C to 36.5 °C within 0.2 °C at 0.25 °C/h`",
        ("hold", _) => "`hold core at 33.0 °C within 0.5 °C`",
        ("keep", Place::Phase) => "`keep core 36.0 °C to 37.7 °C`",
        ("keep", _) => "`keep target here until core at or above 33.0 °C`",
        ("lasts", _) => "`lasts 24 h`",
        ("ends", _) => {
            "`ends 72 h after rosc`, or `ends when core at or above 36.0 °C, plan for 4 h to 8 h`"
        }
        ("by", _) => "`by surface, cold-fluids`",
        ("never", _) => "`never faster than 0.5 °C/h`",
        ("due", _) => "`due within 4 h`",
        ("target", _) => "`target moves every 1 h in steps of 0.1 °C`",
        ("when", _) => "`when core below 32.5 °C for 30 min during hold`",
        ("then", _) => "`then call intensivist within 15 min`",
        ("ready", _) => "`ready again when core at or above 32.8 °C`",
        ("again", _) => "`again after 1 h`",
        ("overrides", _) => "`overrides too-cold, warming-too-fast`",
        ("rung", _) => "`rung 2 to 3 \"Moderate or severe\" { … }`",
        ("step", _) => "`step \"Warm the skin\" { … }`",
        ("recheck", _) => "`recheck in 30 min`",
        ("call", _) => "`call consultant now`, or `call consultant within 15 min`",
        ("do", _) => "`do \"Warm the hands and feet\"`",
        ("give", _) => "`give magnesium otherwise call consultant now`",
        ("pause", _) => "`pause temperature control until core at or above 32.8 °C`",
        ("record" | "score" | "test", _) => "`score shiver now`, or `test potassium in 30 min`",
        ("set", _) => "`set target 33.0 °C`, or `set rate 0.25 °C/h`",
        ("raise" | "lower", _) => "`lower target by 0.5 °C, at least 32.0 °C`, or `raise propofol`",
        ("withhold", _) => "`withhold potassium-chloride until potassium at or below 4.0 mmol/L`",
        ("stop", _) => "`stop temperature control`, or `stop propofol`",
        ("follow", _) => "`follow shivering-steps`",
        ("begin", _) => "`begin rewarm`",
        ("continue", _) => "`continue`",
        ("class", _) => "`class sedative`",
        ("dose", _) => "`dose 2 g iv over 30 min, not again within 6 h`",
        ("infuse", _) => {
            "`infuse 0.2 mcg/kg/h to 0.7 mcg/kg/h, steps of 0.1 mcg/kg/h every 30 min`"
        }
        ("concentration", _) => "`concentration 4 mcg/mL`",
        ("rounded", _) => "`rounded to 0.1 mL/h`",
        ("ceiling", _) => "`ceiling 4 g per 24 h`",
        ("only", _) => "`only with propofol`",
        ("given", _) => {
            "`given weight 82 kg`, `given start 2026-10-25 01:30`, or `given rosc 2 h before start`"
        }
        ("from", _) => "`from 4:00 to 6:00 every 30 min core 33.0 °C`",
        ("expect", _) => "`expect cold-water at 5:00`, or `expect no too-cold`",
        _ => "see the language reference",
    }
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
        assert_eq!(
            nearest("magnezium", ["magnesium", "potassium"]),
            Some("magnesium")
        );
        assert_eq!(nearest("x", ["magnesium"]), None);
        assert_eq!(distance("hodl", "hold"), 1);
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
    fn every_first_word_has_a_pattern() {
        for (place, words) in FIRST_WORDS {
            for word in *words {
                assert_ne!(
                    pattern(word, *place),
                    "see the language reference",
                    "{word} {place:?}"
                );
            }
        }
    }
}
