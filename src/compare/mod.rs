//! What does this change do to a patient?
//!
//! Takes two versions of a protocol, gives a [`Comparison`]: every change with what
//! it was, what it is, what follows, and whether the newer version is stricter or
//! looser; what both come to at the bedside; the step of the version that is
//! demanded. Nothing here can fail: a question that cannot be decided is said to be
//! so, and a version with findings is compared all the same.
//!
//! ```text
//! renames   names that changed, taken out first     pairs  what goes with what
//! walk, things, acting, tending, head, looks   every member of the meaning, older beside newer
//! weigh     which way a bound is stricter           say    a member in words
//! acts, parting   does the newer condition hold on more records, and on which? (solve, replayed)
//! effects, doses, worked   plan, schedule, checks of both   version  the step demanded
//! text, markdown, html   the same for people
//! ```
//!
//! INVARIANT: the two fingerprints are equal exactly where there is no change; a
//! value that changed is never of the same meaning; the comparison the other way
//! round has the same changes with from and to, added and removed, stricter and
//! looser exchanged.

mod acting;
mod acts;
mod beside;
mod change;
mod courses;
mod doses;
mod effects;
mod head;
pub mod html;
mod looks;
pub mod markdown;
mod pairs;
mod parting;
mod renames;
mod report;
mod say;
pub mod sheet;
mod tending;
pub mod text;
mod things;
mod version;
mod walk;
mod weigh;
mod worked;

pub use change::{Area, Change, Kind, PartingCase, Step, Verdict};
pub use courses::{Courses, Drawn};
pub use effects::{Effects, FindingSaid, Row, SheetLine, SheetPart, Topic};
pub use report::Report;
pub use version::Versions;

use crate::diag::Diagnostic;
use crate::model::Protocol;
use crate::rules;
use crate::source::Sources;
use serde::Serialize;

/// One version of a protocol, with the texts that it was read from.
#[derive(Clone, Copy)]
pub struct Version<'a> {
    pub protocol: &'a Protocol,
    pub sources: &'a Sources,
    /// What reading its files has found.
    pub reading: &'a [Diagnostic],
}

/// Everything that differs.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Comparison {
    /// The protocol's name, in the newer version.
    pub protocol: String,
    pub old_fingerprint: String,
    pub new_fingerprint: String,
    /// In the order of a report: by area, as they stand in the newer version.
    pub changes: Vec<Change>,
    pub versions: Versions,
    pub effects: Effects,
    /// Both planned courses, where they differ.
    pub courses: Option<Courses>,
    /// What the texts say about themselves: comments and layout.
    pub layout: Vec<String>,
    /// The comparison was ended before all was found out: what was not says so.
    pub given_up: bool,
}

impl Comparison {
    /// Whether the two mean the same: their fingerprints are equal.
    pub fn same_meaning(&self) -> bool {
        self.old_fingerprint == self.new_fingerprint
    }

    pub fn of_meaning(&self) -> impl Iterator<Item = &Change> {
        self.changes.iter().filter(|change| !change.wording)
    }

    pub fn of_wording(&self) -> impl Iterator<Item = &Change> {
        self.changes.iter().filter(|change| change.wording)
    }
}

/// The whole comparison.
pub fn compare(old: &Version<'_>, new: &Version<'_>) -> Comparison {
    compared(old, new, true)
}

/// Without what the checks and the sheet make of it: for a long history.
pub fn step(old: &Version<'_>, new: &Version<'_>) -> Comparison {
    compared(old, new, false)
}

fn compared(old: &Version<'_>, new: &Version<'_>, whole: bool) -> Comparison {
    let old_fingerprint = rules::fingerprint(old.protocol);
    let new_fingerprint = rules::fingerprint(new.protocol);
    let same = old_fingerprint == new_fingerprint;
    let (mut changes, given_up) = if same {
        (Vec::new(), false)
    } else {
        counted(old.protocol, new.protocol)
    };
    let mut effects = if same {
        Effects::default()
    } else {
        let (aligned, _) = renames::aligned(old.protocol, new.protocol);
        effects::effects(old, &aligned, new, whole)
    };
    if !same {
        if whole {
            effects.sheet = sheet::parts(old.protocol, new.protocol);
        }
        effects::annotate(&mut changes, &effects.rows);
    }
    let mut versions = version::judge(
        old.protocol.head.version.value,
        new.protocol.head.version.value,
        &changes,
        same,
    );
    if !same {
        versions.libraries = version::libraries(old, new);
    }
    Comparison {
        protocol: new.protocol.name.name.clone(),
        versions,
        changes,
        effects,
        courses: if same || !whole {
            None
        } else {
            courses::courses(old, new)
        },
        layout: sheet::layout(old, new),
        given_up,
        old_fingerprint,
        new_fingerprint,
    }
}

/// The changes alone, without what both versions come to.
pub fn changes(old: &Protocol, new: &Protocol) -> Vec<Change> {
    counted(old, new).0
}

/// The changes, and whether it was ended before all was found out about them.
fn counted(old: &Protocol, new: &Protocol) -> (Vec<Change>, bool) {
    let (aligned, renames) = renames::aligned(old, new);
    let sides = acts::Sides::new(&aligned, new);
    let (before, after) = (renames::meaning(&aligned), renames::meaning(new));
    let mut walk = walk::Walk {
        sides: &sides,
        changes: Vec::new(),
    };
    walk.head(&before, &after);
    walk.criteria(&before, &after);
    walk.limits(&before, &after);
    walk.things(&before, &after);
    walk.looks(&before, &after);
    walk.exceptions(&before, &after);
    walk.libraries(&before, &after);
    for rename in renames {
        walk.changes.push(
            Change::new(
                Area::Names,
                Kind::Renamed,
                format!("{} `{}`", rename.sort, rename.to),
            )
            .between(
                Some(format!("`{}`", rename.from)),
                Some(format!("`{}`", rename.to)),
            )
            .verdict(Verdict::SameMeaning)
            .consequence("the sheet, records and findings show the new name")
            .wording()
            .step(match rename.sort {
                "cite" | "let" => Step::Patch,
                _ => Step::Minor,
            }),
        );
    }
    let mut changes = walk.changes;
    if changes.is_empty() && rules::fingerprint(old) != rules::fingerprint(new) {
        changes.extend(unexplained(&before, &after));
    }
    // Steady: within an area they stay as the newer version has them.
    changes.sort_by_key(|change| (change.wording, change.area));
    (changes, sides.budget.has_refused())
}

/// The fingerprint differs and nothing above says why: the version alone, or
/// statements that are grouped otherwise.
fn unexplained(before: &serde_json::Value, after: &serde_json::Value) -> Option<Change> {
    let without_version = |meaning: &serde_json::Value| {
        let mut meaning = meaning.clone();
        if let Some(head) = meaning
            .get_mut("head")
            .and_then(|head| head.as_object_mut())
        {
            head.remove("version");
        }
        meaning
    };
    (without_version(before) != without_version(after)).then(|| {
        Change::new(Area::Names, Kind::Changed, "statements")
            .verdict(Verdict::SameMeaning)
            .consequence("the same looks and values, put into statements otherwise")
            .wording()
    })
}
