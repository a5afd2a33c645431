//! What stands in the column of a mark: yes, no, or nothing that can be taken for either.
//!
//! INVARIANT: a mark moves the ends of phases, so only what plainly says yes makes one.

/// `None` where it is neither: it is not guessed.
pub(super) fn is_made(text: &str, names: &[&str]) -> Option<bool> {
    const YES: &[&str] = &["yes", "y", "x", "1", "true", "made", "done", "✓", "✔", "*"];
    const NO: &[&str] = &["no", "n", "0", "false", "-", "–"];
    let is = |words: &[&str]| words.iter().any(|word| word.eq_ignore_ascii_case(text));
    if is(YES) || is(names) {
        Some(true)
    } else if is(NO) {
        Some(false)
    } else {
        None
    }
}

/// The start of the case; nothing beside the name says so too.
pub(super) fn is_start(text: &str) -> Option<bool> {
    if text.is_empty() {
        Some(true)
    } else {
        is_made(text, &["start"])
    }
}

/// What is said of a cell that is neither.
pub(super) fn unclear(name: &str, text: &str) -> String {
    let short: String = text.chars().take(40).collect();
    format!(
        "`{short}` in the column of `{name}` says neither yes nor no, so the mark was not counted: \
         write `yes` in the row of its time"
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_plainly_says_yes_is_a_mark() {
        let made = |text| is_made(text, &["rosc", "Return of circulation"]);
        for yes in [
            "yes",
            "Yes",
            "x",
            "1",
            "true",
            "ROSC",
            "return of circulation",
        ] {
            assert_eq!(made(yes), Some(true), "{yes}");
        }
        for no in ["no", "NO", "0", "false", "-"] {
            assert_eq!(made(no), Some(false), "{no}");
        }
        for unclear in ["13:05", "maybe", "yes?", "2", "not yet", "unknown"] {
            assert_eq!(made(unclear), None, "{unclear}");
        }
    }
}
