//! Slips of the published lists that take more than a word to find.
//!
//! Each takes a line and gives the places in it.

use super::line::{Line, Word, is_dose_unit, is_number, number_and_rest};
use std::ops::Range;

fn has_trailing_zero(number: &str) -> bool {
    number
        .split_once('.')
        .is_some_and(|(whole, part)| !whole.is_empty() && part.ends_with('0'))
}

pub fn trailing_zero(line: &Line) -> Vec<Range<usize>> {
    let mut found = Vec::new();
    for (at, word) in line.words.iter().enumerate() {
        let (number, rest) = number_and_rest(word.text);
        let unit = if rest.is_empty() {
            line.next(at).map_or("", |next| next.text)
        } else {
            rest
        };
        if has_trailing_zero(number) && is_dose_unit(unit) {
            found.push(word.start..word.start + number.len());
        }
    }
    found
}

pub fn naked_decimal(line: &Line) -> Vec<Range<usize>> {
    line.words
        .iter()
        .filter(|word| {
            word.text
                .strip_prefix('.')
                .is_some_and(|rest| rest.starts_with(|c: char| c.is_ascii_digit()))
        })
        .map(Word::range)
        .collect()
}

pub fn microgram(line: &Line) -> Vec<Range<usize>> {
    line.words
        .iter()
        .filter(|word| {
            let (_, unit) = number_and_rest(word.text);
            let first = unit.split('/').next().unwrap_or("");
            matches!(first, "ug" | "µg" | "μg" | "ugm" | "µgm")
        })
        .map(Word::range)
        .collect()
}

pub fn no_space_before_unit(line: &Line) -> Vec<Range<usize>> {
    line.words
        .iter()
        .filter(|word| {
            let (number, unit) = number_and_rest(word.text);
            !number.is_empty() && is_dose_unit(unit)
        })
        .map(Word::range)
        .collect()
}

pub fn no_space_after_name(line: &Line) -> Vec<Range<usize>> {
    let mut found = Vec::new();
    for (at, word) in line.words.iter().enumerate() {
        let Some(digit) = word.text.find(|c: char| c.is_ascii_digit()) else {
            continue;
        };
        let (name, rest) = word.text.split_at(digit);
        let (number, unit) = number_and_rest(rest);
        let unit = if unit.is_empty() {
            line.next(at).map_or("", |next| next.text)
        } else {
            unit
        };
        let is_name = name.chars().count() >= 4 && name.chars().all(char::is_alphabetic);
        if is_name && !number.is_empty() && is_dose_unit(unit) {
            found.push(word.range());
        }
    }
    found
}

pub fn ratio(line: &Line) -> Vec<Range<usize>> {
    let mut found = Vec::new();
    for (at, word) in line.words.iter().enumerate() {
        let Some(second) = word.text.strip_prefix("1:") else {
            continue;
        };
        let digits = second.chars().filter(char::is_ascii_digit).count();
        let plain = second.chars().all(|c| c.is_ascii_digit() || c == ',');
        // `1:10 000` stands in two words.
        let spaced = line
            .next(at)
            .is_some_and(|next| next.text.len() == 3 && is_number(next.text));
        if plain && (digits >= 3 || (digits >= 1 && spaced)) {
            found.push(word.range());
        }
    }
    found
}

pub fn greater_less(line: &Line) -> Vec<Range<usize>> {
    if line.is_table {
        return Vec::new();
    }
    let mut found = Vec::new();
    for (at, word) in line.words.iter().enumerate() {
        let Some(rest) = word.text.strip_prefix(['>', '<']) else {
            continue;
        };
        let rest = rest.strip_prefix('=').unwrap_or(rest);
        let value = if rest.is_empty() {
            line.next(at).map_or("", |next| next.text)
        } else {
            rest
        };
        // A tag is followed by a letter, a quotation by words. Before a number the sign
        // would be taken for that of a quotation, and not be printed at all.
        if value.starts_with(|c: char| c.is_ascii_digit()) {
            found.push(word.range());
        }
    }
    // `T>38`
    for word in &line.words {
        let between = word.text.char_indices().find(|(at, c)| {
            matches!(c, '>' | '<')
                && *at > 0
                && word
                    .text
                    .get(at + 1..)
                    .is_some_and(|rest| rest.starts_with(|c: char| c.is_ascii_digit()))
        });
        if between.is_some() {
            found.push(word.range());
        }
    }
    found
}

pub fn at_sign(line: &Line) -> Vec<Range<usize>> {
    line.words
        .iter()
        .filter(|word| {
            word.text == "@"
                || word
                    .text
                    .strip_prefix('@')
                    .is_some_and(|rest| rest.starts_with(|c: char| c.is_ascii_digit()))
        })
        .map(Word::range)
        .collect()
}

/// `25 units/10 units`: a slash between two doses.
pub fn slash(line: &Line) -> Vec<Range<usize>> {
    let mut found = Vec::new();
    for (at, word) in line.words.iter().enumerate() {
        let Some((unit, next)) = word.text.split_once('/') else {
            continue;
        };
        let follows_number = line.before(at).is_some_and(|before| is_number(before.text));
        if follows_number && is_dose_unit(unit) && next.starts_with(|c: char| c.is_ascii_digit()) {
            found.push(word.range());
        }
    }
    found
}

/// `+` between words; at the beginning of a line it makes a list.
pub fn plus(line: &Line) -> Vec<Range<usize>> {
    line.words
        .iter()
        .enumerate()
        .filter(|(at, word)| {
            word.text == "+"
                && line
                    .before(*at)
                    .is_some_and(|before| !is_number(before.text))
                && line.next(*at).is_some()
        })
        .map(|(_, word)| word.range())
        .collect()
}

/// `every 6°`, `q6º`; an angle such as `head up 30°` has no such word before it.
pub fn degree_for_hours(line: &Line) -> Vec<Range<usize>> {
    let mut found = Vec::new();
    for (at, word) in line.words.iter().enumerate() {
        let Some(rest) = word
            .text
            .strip_suffix('°')
            .or_else(|| word.text.strip_suffix('º'))
        else {
            continue;
        };
        let number = rest.trim_start_matches(['q', 'Q']);
        let by_prefix = number.len() < rest.len();
        let by_word = line.before(at).is_some_and(|before| {
            matches!(
                before.text,
                "q" | "Q" | "every" | "Every" | "for" | "after" | "in" | "each"
            )
        });
        let scale = line
            .next(at)
            .is_some_and(|next| matches!(next.text, "C" | "F" | "Celsius" | "Fahrenheit"));
        if is_number(number) && (by_prefix || by_word) && !scale {
            found.push(word.range());
        }
    }
    found
}

pub fn every_evening(line: &Line) -> Vec<Range<usize>> {
    line.words
        .iter()
        .filter(|word| {
            let lower = word.text.to_ascii_lowercase();
            lower
                .strip_prefix('q')
                .and_then(|rest| rest.strip_suffix("pm").or_else(|| rest.strip_suffix("am")))
                .is_some_and(is_number)
        })
        .map(Word::range)
        .collect()
}

pub fn subcutaneous(line: &Line) -> Vec<Range<usize>> {
    let mut found = line.capitals(&["SC", "SQ"]);
    for (at, word) in line.words.iter().enumerate() {
        if matches!(word.text, "sub" | "Sub")
            && let Some(next) = line.next(at)
            && matches!(next.text, "q" | "Q")
        {
            found.push(word.start..next.range().end);
        }
    }
    found
}

pub fn lower_l(line: &Line) -> Vec<Range<usize>> {
    let mut found = Vec::new();
    for (at, word) in line.words.iter().enumerate() {
        let first = word.text.split('/').next().unwrap_or("");
        let is_litre = first == "ml"
            || (first == "l" && line.before(at).is_some_and(|before| is_number(before.text)));
        let (number, unit) = number_and_rest(word.text);
        let run_together =
            !number.is_empty() && matches!(unit.split('/').next().unwrap_or(""), "ml" | "l");
        if is_litre || run_together {
            found.push(word.range());
        }
    }
    found
}

/// `10 mg. then`: at the end of a sentence the point is not the unit's.
pub fn point_after_unit(line: &Line) -> Vec<Range<usize>> {
    let mut found = Vec::new();
    for (at, word) in line.words.iter().enumerate() {
        let goes_on = line.next(at).is_some_and(|next| {
            next.full
                .starts_with(|c: char| c.is_lowercase() || c.is_ascii_digit())
        });
        let follows_number = line.before(at).is_some_and(|before| is_number(before.text));
        let full = word.full.trim_end_matches([',', ';']);
        if full.ends_with('.') && is_dose_unit(word.text) && follows_number && goes_on {
            found.push(word.start..word.range().end + 1);
        }
    }
    found
}

pub fn long_number(line: &Line) -> Vec<Range<usize>> {
    let mut found = Vec::new();
    for (at, word) in line.words.iter().enumerate() {
        let long = word.text.len() >= 5 && word.text.chars().all(|c| c.is_ascii_digit());
        if long && line.next(at).is_some_and(|next| is_dose_unit(next.text)) {
            found.push(word.range());
        }
    }
    found
}

pub fn by_mouth(line: &Line) -> Vec<Range<usize>> {
    let mut found = line.words(&["OJ"]);
    for (at, word) in line.words.iter().enumerate() {
        if word.text == "per"
            && let Some(next) = line.next(at)
            && next.text == "os"
        {
            found.push(word.start..next.range().end);
        }
    }
    found
}
