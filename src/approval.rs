//! The statement with which somebody approves a protocol (M34).
//!
//! Takes the text of a protocol's file and who approves which fingerprint; gives the
//! text with one line more and every other byte as it was. What may go wrong: a name
//! that cannot stand in a statement.
//!
//! ```text
//!   version 2.1.0
//!   approved by "Dr A <a@example.org>" on 2026-11-25 as "8e84eb4d…"
//!   review 2027-06-30
//! ```

use crate::model::{Approval, Protocol};

/// What is signed, where an approval is: this statement and the end of its line.
pub const NAMESPACE: &str = "tempwright-approval";

/// `approved by … on … as …`, on one line and without an end of line.
pub fn statement(by: &str, on: jiff::civil::Date, fingerprint: &str) -> Result<String, String> {
    let name = by.trim();
    if name.is_empty() {
        return Err("nobody is named; write who approves".to_owned());
    }
    if name.chars().count() > 200 {
        return Err("the name is longer than 200 characters".to_owned());
    }
    let strange = |c: char| {
        c.is_control()
            || matches!(c, '"' | '\\' | '`' | '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{feff}')
    };
    if let Some(sign) = name.chars().find(|c| strange(*c)) {
        return Err(format!(
            "a name cannot hold `{}`; write it in plain letters",
            sign.escape_debug()
        ));
    }
    Ok(format!(
        "approved by \"{name}\" on {on} as \"{fingerprint}\""
    ))
}

/// The statement of an approval as it is signed, however the file sets it out.
pub fn signed_text(approval: &Approval) -> Option<String> {
    statement(
        &approval.by.markdown,
        approval.on.value,
        approval.fingerprint.markdown.trim(),
    )
    .ok()
    .map(|line| line + "\n")
}

/// The approvals that are of this very meaning: by the whole fingerprint, since a
/// part of one can be met by trying.
pub fn of_this<'p>(protocol: &'p Protocol, fingerprint: &str) -> Vec<&'p Approval> {
    protocol
        .head
        .approvals
        .iter()
        .filter(|approval| {
            !fingerprint.is_empty() && approval.fingerprint.markdown.trim() == fingerprint
        })
        .collect()
}

/// The text with the statement before `review`, which every protocol has. `None`
/// where the place cannot be found.
pub fn inserted(text: &str, protocol: &Protocol, statement: &str) -> Option<String> {
    let date = protocol.head.review.span.start as usize;
    let before = text.get(..date)?;
    let at = before.rfind("review")?;
    // Only space stands between the word and its date.
    if !before.get(at + "review".len()..)?.trim().is_empty() {
        return None;
    }
    let line = before.get(..at)?.rfind('\n').map_or(0, |end| end + 1);
    let lead = before.get(line..at)?;
    let indent = if lead.trim().is_empty() { lead } else { "" };
    let end = if before.contains("\r\n") {
        "\r\n"
    } else {
        "\n"
    };
    let after = text.get(at..)?;
    Some(format!(
        "{}{statement}{end}{indent}{after}",
        before.get(..at)?
    ))
}

/// The review that is over on that day, of the protocol or of what it uses.
pub fn review_over(protocol: &Protocol, on: jiff::civil::Date) -> Option<String> {
    let own = std::iter::once((protocol.name.name.as_str(), protocol.head.review.value));
    let used = protocol
        .uses
        .iter()
        .filter_map(|used| Some((used.name.as_str(), used.review.as_ref()?.value)));
    own.chain(used)
        .find(|(_, review)| *review < on)
        .map(|(name, review)| format!("the review of {name} was due on {review}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_that_would_end_the_statement_is_refused() {
        let on = jiff::civil::date(2026, 11, 25);
        for name in ["", "  ", "a\" on", "a\nb", "a\\", "x\u{202e}y", "\u{200b}"] {
            assert!(statement(name, on, "ab").is_err(), "{name:?}");
        }
        assert_eq!(
            statement(" Dr Ö <o@example.org> ", on, "ab").as_deref(),
            Ok("approved by \"Dr Ö <o@example.org>\" on 2026-11-25 as \"ab\"")
        );
    }
}
