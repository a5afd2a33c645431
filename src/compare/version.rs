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
    /// Where the step is large enough and yet not the next one.
    pub note: Option<String>,
    /// Libraries that say something else under the same version.
    pub libraries: Vec<String>,
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
    let note = match made {
        Some(made) if complaint.is_none() && demanded != Step::None && new != wanted => {
            Some(if made == demanded {
                format!(
                    "{old} → {new} is a {} step, as demanded; the next version would be {wanted}",
                    made.word()
                )
            } else {
                format!(
                    "{old} → {new} is a {} step; these changes demand only a {} step, {wanted}",
                    made.word(),
                    demanded.word()
                )
            })
        }
        _ => None,
    };
    Versions {
        old: old.to_string(),
        new: new.to_string(),
        demanded,
        complaint,
        note,
        libraries: Vec::new(),
    }
}

/// Libraries of both that say something else and have not got a newer version.
pub(super) fn libraries(old: &super::Version<'_>, new: &super::Version<'_>) -> Vec<String> {
    let text = |version: &super::Version<'_>, path: &str| {
        version
            .sources
            .iter()
            .find(|(_, file)| file.path == path)
            .map(|(_, file)| super::sheet::without_layout(&file.text))
    };
    new.protocol
        .uses
        .iter()
        .filter_map(|now| {
            let then = old
                .protocol
                .uses
                .iter()
                .find(|then| then.name == now.name)?;
            let (before, after) = (then.version.as_ref()?.value, now.version.as_ref()?.value);
            let parts = |version: Version| (version.major, version.minor, version.patch);
            let differs = text(old, &then.path)? != text(new, &now.path)?;
            (differs && parts(after) <= parts(before)).then(|| {
                if after == before {
                    format!(
                        "library `{}` has changed and is still version {after}",
                        now.name
                    )
                } else {
                    format!(
                        "the version of library `{}` goes back from {before} to {after}",
                        now.name
                    )
                }
            })
        })
        .collect()
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::compare::{Area, Kind};

    fn judged(old: (u32, u32, u32), new: (u32, u32, u32), step: Step) -> Versions {
        let version = |(major, minor, patch)| Version {
            major,
            minor,
            patch,
        };
        let change = Change::new(Area::Rules, Kind::Changed, "rule `a`").step(step);
        judge(version(old), version(new), &[change], false)
    }

    #[test]
    fn only_the_next_version_is_simply_right() {
        let right = judged((2, 1, 0), (3, 0, 0), Step::Major);
        assert_eq!((right.complaint, right.note), (None, None));
        for (new, step, said) in [
            (
                (4, 0, 0),
                Step::Major,
                "2.1.0 → 4.0.0 is a major step, as demanded; the next version would be 3.0.0",
            ),
            (
                (3, 0, 0),
                Step::Patch,
                "2.1.0 → 3.0.0 is a major step; these changes demand only a patch step, 2.1.1",
            ),
        ] {
            let judged = judged((2, 1, 0), new, step);
            assert_eq!(judged.complaint, None);
            assert_eq!(judged.note.as_deref(), Some(said));
        }
        for (new, step) in [
            ((2, 1, 0), Step::Patch),
            ((2, 2, 0), Step::Major),
            ((1, 9, 9), Step::Patch),
        ] {
            assert!(judged((2, 1, 0), new, step).complaint.is_some(), "{new:?}");
        }
    }
}
