//! A measured number as people write it, apart from its unit.
//!
//! A decimal comma is asked about, never read: in some countries it parts thousands.

use super::fields::Choice;
use crate::plan::CaseError;

/// Digits with a point, and whatever stands behind them.
pub struct Number<'a> {
    pub number: &'a str,
    pub unit: &'a str,
}

/// What is offered where the text has no one meaning.
pub type Unclear = (CaseError, Vec<Choice>);

pub fn read(text: &str) -> Result<Number<'_>, Unclear> {
    let text = text.trim();
    let end = text
        .find(|character: char| !(character.is_ascii_digit() || matches!(character, '.' | ',')))
        .unwrap_or(text.len());
    let (number, unit) = text.split_at_checked(end).unwrap_or((text, ""));
    let unit = unit.trim();
    if let Some((whole, part)) = number.split_once(',')
        && is_whole(whole)
        && is_whole(part)
    {
        return Err((
            CaseError::new(format!("`{text}` has a comma")).why(
                "a comma may stand before the decimals or between thousands, and the two are far apart",
            ),
            vec![Choice::of(format!("{whole}.{part}"))],
        ));
    }
    let (whole, part) = number.split_once('.').unwrap_or((number, "0"));
    if !is_whole(whole) || !is_whole(part) {
        return Err((
            CaseError::new(format!("`{text}` is not a number"))
                .help("write digits, with a point before decimals, such as 82.5"),
            Vec::new(),
        ));
    }
    if whole.len() > 1 && whole.starts_with('0') {
        let plain = number.trim_start_matches('0');
        let plain = if plain.is_empty() || plain.starts_with('.') {
            format!("0{plain}")
        } else {
            plain.to_owned()
        };
        return Err((
            CaseError::new(format!("`{text}` begins with a 0"))
                .why("a point may have been left out behind it"),
            vec![Choice::of(plain)],
        ));
    }
    Ok(Number { number, unit })
}

fn is_whole(text: &str) -> bool {
    !text.is_empty() && text.len() <= 9 && text.bytes().all(|byte| byte.is_ascii_digit())
}
