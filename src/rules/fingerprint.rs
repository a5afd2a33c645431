//! The fingerprint of a protocol's meaning (M34).
//!
//! It is the SHA-256 of the canonical JSON (RFC 8785) of the rule file's member
//! `protocol` in normal form. In normal form every list whose order means nothing
//! is sorted: bytewise, by the canonical JSON of its members, from the innermost
//! list outwards. Which lists those are is told by the name of the member that
//! holds them, see [`UNORDERED`]; `grammar/MEANING.md` says the same.
//!
//! So comments, layout, positions, scenarios, approvals, the folders in which
//! libraries lie, and the order of statements that run side by side change
//! nothing; every number, unit, word and text, and the order of phases, of orders
//! and of steps, does.

use super::protocol::Meaning;
use crate::model::Protocol;
use serde::Serialize;
use serde_json::Value;
use sha2::{Digest, Sha256};

/// The members whose lists have no order, wherever in the meaning they stand.
pub(super) const UNORDERED: &[&str] = &[
    "accepts",
    "avoid",
    "by",
    "checklists",
    "citations",
    "covers",
    "criteria",
    "doses",
    "during",
    "guidelines",
    "ladders",
    "lets",
    "libraries",
    "limits",
    "looks",
    "marks",
    "measures",
    "medications",
    "method",
    "on_arrival",
    "only_with",
    "overrides",
    "people",
    "readings",
    "reasons",
    "rules",
    "rungs",
    "shifts",
    "sources",
    "when_weight",
];

/// SHA-256, in hexadecimal, of what the protocol means.
pub fn fingerprint(protocol: &Protocol) -> String {
    fingerprint_of(&Meaning::from_model(protocol))
}

pub(super) fn fingerprint_of(meaning: &Meaning) -> String {
    fingerprint_of_value(&serde_json::to_value(meaning).unwrap_or_default())
}

pub(super) fn fingerprint_of_value(meaning: &Value) -> String {
    sha256(&canonical(&normal(meaning.clone())))
}

/// The same value with its unordered lists sorted.
fn normal(value: Value) -> Value {
    match value {
        Value::Object(members) => Value::Object(
            members
                .into_iter()
                .map(|(name, member)| {
                    let member = match normal(member) {
                        Value::Array(mut list) if UNORDERED.contains(&name.as_str()) => {
                            list.sort_by_cached_key(canonical::<Value>);
                            Value::Array(list)
                        }
                        other => other,
                    };
                    (name, member)
                })
                .collect(),
        ),
        Value::Array(list) => Value::Array(list.into_iter().map(normal).collect()),
        other => other,
    }
}

/// Canonical JSON. Our types hold texts, truth values, whole numbers, lists and
/// members only, all of which have one.
pub(super) fn canonical<T: Serialize>(value: &T) -> Vec<u8> {
    serde_json_canonicalizer::to_vec(value).unwrap_or_default()
}

pub(super) fn sha256(bytes: &[u8]) -> String {
    Sha256::digest(bytes)
        .iter()
        .map(|byte| format!("{byte:02x}"))
        .collect()
}
