//! The words for conditions, orders, phases and quantities, in one place.
//!
//! Takes parts of a typed protocol; gives sentences as a nurse would say them with the sheet in
//! hand: `for 1 h` on an hourly check is *two hourly boxes in a row* (M9). The sentences are
//! CommonMark, because the protocol's own texts in them are. Nothing can go wrong, and no number
//! is typed in: what was written is what is said.
//!
//! ```text
//! when water below 10.0 °C for 1 h   ->   two hourly **Exchanger water** boxes in a row below 10.0 °C
//! ```

mod boxes;
mod condition;
mod dose;
mod order;
mod phase;
mod scales;

pub use boxes::{Run, row_of_boxes};
pub use dose::{amount_in, shown};
pub use scales::OnScale;

use crate::model::{LookWhen, MarkRef, PhaseId, Protocol, ReadingId, RoleId};
use crate::quantity::{Duration, Exact};

/// Says parts of one protocol.
#[derive(Clone, Copy, Debug)]
pub struct Words<'a> {
    pub protocol: &'a Protocol,
}

impl<'a> Words<'a> {
    pub fn of(protocol: &'a Protocol) -> Self {
        Words { protocol }
    }

    /// The title of a reading, as its column is headed.
    pub fn reading(&self, id: ReadingId) -> &'a str {
        self.protocol[id].title.markdown.trim()
    }

    /// A reading inside a sentence: set off, so that it is found in the column heads.
    pub fn reading_marked(&self, id: ReadingId) -> String {
        format!("**{}**", whole(self.reading(id)))
    }

    pub fn role(&self, id: RoleId) -> &'a str {
        self.protocol[id].title.markdown.trim()
    }

    /// `2 Hold at target`: the number in the strip, and the title.
    pub fn phase(&self, id: PhaseId) -> String {
        format!(
            "{} {}",
            id.index() + 1,
            whole(&self.protocol[id].title.markdown)
        )
    }

    /// Phases one after the other: `phase 2 Hold at target`, `phases 1, 3`.
    pub fn phases(&self, ids: &[PhaseId]) -> String {
        match ids {
            [one] => format!("phase {}", self.phase(*one)),
            many => {
                let numbers: Vec<String> =
                    many.iter().map(|id| (id.index() + 1).to_string()).collect();
                format!("phases {}", listed(&numbers, "and"))
            }
        }
    }

    /// A moment that the protocol names.
    pub fn mark(&self, mark: MarkRef) -> String {
        match mark {
            MarkRef::Start => "the start".to_string(),
            MarkRef::PhaseStart(id) => format!("the beginning of phase {}", self.phase(id)),
            MarkRef::PhaseEnd(id) => format!("the end of phase {}", self.phase(id)),
            MarkRef::Named(id) => whole(&self.protocol[id].title.markdown),
        }
    }

    /// When something is asked for: `every 2 h`, `4 h before phase 3 begins`.
    pub fn when(&self, when: &LookWhen) -> String {
        match when {
            LookWhen::Every { interval, .. } => format!("every {interval}"),
            LookWhen::At { after: None, mark } => format!("at {}", self.mark(mark.value)),
            LookWhen::At {
                after: Some(after),
                mark,
            } => format!("{after} after {}", self.mark(mark.value)),
            LookWhen::Before { before, phase } => {
                format!("{before} before phase {} begins", self.phase(phase.value))
            }
        }
    }

    /// `Too cold` from `too-cold`.
    pub fn name(&self, name: &str) -> String {
        sentence(&name.replace('-', " "))
    }
}

/// A title to stand in a sentence: a backtick that it opens and does not close would reach into the
/// next title, and print what lies between as code.
pub(crate) fn whole(title: &str) -> String {
    let title = title.trim();
    let mut parts = vec![String::new()];
    let mut escaped = false;
    for letter in title.chars() {
        if letter == '`' && !escaped {
            parts.push(String::new());
        } else if let Some(part) = parts.last_mut() {
            part.push(letter);
        }
        escaped = letter == '\\' && !escaped;
    }
    parts.join(if parts.len().is_multiple_of(2) {
        "\\`"
    } else {
        "`"
    })
}

/// The first letter large.
pub fn sentence(text: &str) -> String {
    let mut letters = text.chars();
    match letters.next() {
        Some(first) => first.to_uppercase().chain(letters).collect(),
        None => String::new(),
    }
}

/// `a, b and c`
pub fn listed(items: &[String], joint: &str) -> String {
    match items {
        [] => String::new(),
        [one] => one.clone(),
        [most @ .., last] => format!("{} {joint} {last}", most.join(", ")),
    }
}

/// A number of boxes in words up to twelve.
pub fn count(number: i64) -> String {
    const WORDS: [&str; 13] = [
        "no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten",
        "eleven", "twelve",
    ];
    usize::try_from(number)
        .ok()
        .and_then(|number| WORDS.get(number))
        .map_or_else(|| number.to_string(), |word| (*word).to_string())
}

/// Minutes as `30 min`, `1 h`, `1 h 30 min`; exact parts of a minute stay.
pub fn minutes(at: Exact) -> String {
    let hour = Exact::int(60);
    if at.is_negative() {
        return format!("-{}", minutes(-at));
    }
    let hours = (at / hour).floor();
    let rest = at - hours * hour;
    if hours.is_zero() {
        format!("{rest}\u{a0}min")
    } else if rest.is_zero() {
        format!("{hours}\u{a0}h")
    } else {
        format!("{hours}\u{a0}h {rest}\u{a0}min")
    }
}

/// How often, as a word before `boxes`: `hourly`, `15-min`.
pub fn rhythm(interval: Exact) -> String {
    let hour = Exact::int(60);
    if interval == hour {
        "hourly".to_string()
    } else if (interval / hour).is_integer() {
        format!("{}-hourly", interval / hour)
    } else {
        format!("{interval}-min")
    }
}

/// `for 1 h`, as written.
pub(crate) fn lasting(duration: &Duration) -> String {
    format!("for {duration}")
}

#[cfg(test)]
mod tests;
