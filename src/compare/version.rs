//! Which step of the version a change demands, and whether the file makes it.
//!
//! | step | when |
//! |---|---|
//! | major | patients, method, a target, phase, limit, dose, rule, ladder or reading means something else |
//! | minor | what is looked at, asked, told, listed or measured, whom to call, exceptions, names |
//! | patch | titles, reasons, citations, spelling, the review date |
//!
//! A dose or an order at a set time is major, like a dose in a ladder.

use super::change::{Change, Step};
use crate::model::Version;
use serde::Serialize;

#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Versions {
    pub old: String,
    pub new: String,
    /// The step that the changes demand.
    pub demanded: Step,
    /// What is wrong with the version of the newer file.
    pub complaint: Option<String>,
}

pub(super) fn judge(old: Version, new: Version, changes: &[Change], same: bool) -> Versions {
    let demanded = if same {
        Step::None
    } else {
        changes
            .iter()
            .map(|change| change.step)
            .max()
            // Something is printed otherwise, if only the version.
            .unwrap_or(Step::None)
    };
    let made = step(old, new);
    let wanted = next(old, demanded);
    let complaint = match (demanded, made) {
        (Step::None, _) => None,
        (_, None) if new == old => Some(format!(
            "the version is still {old}; these changes demand a {} step, {wanted}",
            demanded.word()
        )),
        (_, None) => Some(format!(
            "the version goes back from {old} to {new}; these changes demand a {} step, {wanted}",
            demanded.word()
        )),
        (demanded, Some(made)) if made < demanded => Some(format!(
            "{old} to {new} is a {} step; these changes demand a {} step, {wanted}",
            made.word(),
            demanded.word()
        )),
        _ => None,
    };
    Versions {
        old: old.to_string(),
        new: new.to_string(),
        demanded,
        complaint,
    }
}

/// The step from one to the other; `None` where it is no step forward.
fn step(old: Version, new: Version) -> Option<Step> {
    let parts = |version: Version| (version.major, version.minor, version.patch);
    if parts(new) <= parts(old) {
        None
    } else if new.major != old.major {
        Some(Step::Major)
    } else if new.minor != old.minor {
        Some(Step::Minor)
    } else {
        Some(Step::Patch)
    }
}

fn next(old: Version, step: Step) -> Version {
    let mut next = old;
    match step {
        Step::Major => {
            next.major = next.major.saturating_add(1);
            (next.minor, next.patch) = (0, 0);
        }
        Step::Minor => {
            next.minor = next.minor.saturating_add(1);
            next.patch = 0;
        }
        Step::Patch => next.patch = next.patch.saturating_add(1),
        Step::None => {}
    }
    next
}
