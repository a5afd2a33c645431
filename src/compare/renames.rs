//! Renames are found first and taken out of the older version, so that a new name
//! is told once and not wherever the thing is spoken of.

use super::pairs::{Pair, pairs, things_alike};
use super::say::text;
use crate::model::{Named, Protocol};
use crate::rules;
use serde_json::Value;

/// One thing with another name.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Rename {
    /// `rule`, `phase`, …
    pub sort: &'static str,
    pub from: String,
    pub to: String,
}

/// The member of the meaning in which named things stand, and what one is called.
pub(super) const NAMED: &[(&str, &str)] = &[
    ("citations", "cite"),
    ("people", "role"),
    ("marks", "mark"),
    ("readings", "reading"),
    ("phases", "phase"),
    ("rules", "rule"),
    ("ladders", "ladder"),
    ("checklists", "checklist"),
    ("medications", "medication"),
    ("measures", "measure"),
    ("lets", "let"),
];

pub(super) fn meaning(protocol: &Protocol) -> Value {
    serde_json::to_value(rules::export(protocol).protocol).unwrap_or_default()
}

/// The older version with the names of the newer one.
pub(super) fn aligned(old: &Protocol, new: &Protocol) -> (Protocol, Vec<Rename>) {
    let mut aligned = old.clone();
    let mut found = Vec::new();
    let new_meaning = meaning(new);
    // One sort after the other: what is spoken of has its new name by then.
    for (member, sort) in NAMED {
        let old_meaning = meaning(&aligned);
        let lists = (
            super::say::list(&old_meaning, member),
            super::say::list(&new_meaning, member),
        );
        for pair in pairs(
            lists.0,
            lists.1,
            |one| text(one, "name").to_owned(),
            things_alike,
        ) {
            let Pair::Both(o, n) = pair else { continue };
            let name = |list: &[Value], at: usize| {
                list.get(at).map_or("", |one| text(one, "name")).to_owned()
            };
            let (from, to) = (name(lists.0, o), name(lists.1, n));
            // A name that was another thing's before is no rename that anybody could read.
            if from == to || is_taken(&old_meaning, &to) || is_taken(&new_meaning, &from) {
                continue;
            }
            if let Some(named) = names_of(&mut aligned, sort).find(|named| named.name == from) {
                named.name.clone_from(&to);
                found.push(Rename { sort, from, to });
            }
        }
    }
    (aligned, found)
}

/// Whether anything of the older version has that name already.
fn is_taken(meaning: &Value, name: &str) -> bool {
    NAMED
        .iter()
        .flat_map(|(member, _)| super::say::list(meaning, member))
        .any(|one| text(one, "name") == name)
}

fn names_of<'p>(
    protocol: &'p mut Protocol,
    sort: &str,
) -> Box<dyn Iterator<Item = &'p mut Named> + 'p> {
    match sort {
        "cite" => Box::new(protocol.cites.iter_mut().map(|one| &mut one.name)),
        "role" => Box::new(protocol.roles.iter_mut().map(|one| &mut one.name)),
        "mark" => Box::new(protocol.marks.iter_mut().map(|one| &mut one.name)),
        "reading" => Box::new(protocol.readings.iter_mut().map(|one| &mut one.name)),
        "phase" => Box::new(protocol.phases.iter_mut().map(|one| &mut one.name)),
        "rule" => Box::new(protocol.rules.iter_mut().map(|one| &mut one.name)),
        "ladder" => Box::new(protocol.ladders.iter_mut().map(|one| &mut one.name)),
        "checklist" => Box::new(protocol.checklists.iter_mut().map(|one| &mut one.name)),
        "medication" => Box::new(protocol.medications.iter_mut().map(|one| &mut one.name)),
        "measure" => Box::new(protocol.measures.iter_mut().map(|one| &mut one.name)),
        "let" => Box::new(protocol.lets.iter_mut().map(|one| &mut one.name)),
        _ => Box::new(std::iter::empty()),
    }
}
