//! Reads a rule file, and refuses what is none or was changed.

use super::file::{FORMAT, FORMAT_VERSION, RuleFile, checksum_of_value, export};
use super::fingerprint::fingerprint_of_value;
use super::protocol::to_model;
use super::refusal::{Refusal, RefusedFor};
use crate::model::Protocol;
use serde_json::Value;

/// A rule file that was read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Read {
    pub file: RuleFile,
    /// What a newer minor version says besides, and this program leaves out.
    pub left_out: Vec<String>,
}

/// The rule file in these bytes.
pub fn read(bytes: &[u8]) -> Result<Read, Refusal> {
    let value: Value = serde_json::from_slice(bytes).map_err(|error| {
        Refusal::new(
            RefusedFor::NotJson,
            format!(
                "this is no rule file: it stops making sense in line {}, column {}",
                error.line(),
                error.column()
            ),
        )
    })?;
    let of = |name: &str| value.get(name).and_then(Value::as_str).unwrap_or("");
    if of("format") != FORMAT {
        return Err(Refusal::new(
            RefusedFor::NotARuleFile,
            "this is no rule file: it does not say that it is one",
        ));
    }
    let newer = version(of("format_version"))?;
    // What was changed is told before what is strange about it.
    let meaning = value.get("protocol").unwrap_or(&Value::Null);
    if fingerprint_of_value(meaning) != of("fingerprint") {
        return Err(Refusal::new(
            RefusedFor::BrokenFingerprint,
            "the protocol in this rule file was changed after it was written: its fingerprint does not fit",
        ));
    }
    if checksum_of_value(&value) != of("checksum") {
        return Err(Refusal::new(
            RefusedFor::Changed,
            "this rule file was changed by hand after it was written: its checksum does not fit",
        ));
    }
    // From the bytes, since a member that stands twice is refused there only.
    let file: RuleFile = serde_json::from_slice(bytes).map_err(|error| {
        Refusal::new(
            RefusedFor::UnknownField,
            format!("this rule file says what its version cannot say: {error}"),
        )
    })?;
    let mut left_out = Vec::new();
    let known = serde_json::to_value(&file).unwrap_or_default();
    unknown(&value, &known, "", &mut left_out);
    if !newer && let Some(first) = left_out.first() {
        return Err(Refusal::new(
            RefusedFor::UnknownField,
            format!("this rule file holds `{first}`, which its version does not have"),
        ));
    }
    Ok(Read { file, left_out })
}

/// The rule file in these bytes and the protocol that it says. What stands in it
/// twice, as in words and in exact numbers, or in the phases and in their
/// timeline, must be the same.
pub fn read_protocol(bytes: &[u8]) -> Result<(Read, Protocol), Refusal> {
    let read = read(bytes)?;
    let protocol = to_model(&read.file)?;
    let again = export(&protocol);
    // An older minor version has less, a newer one may have more.
    if read.file.format_version == FORMAT_VERSION && again != read.file {
        let mut before = serde_json::to_value(&read.file).unwrap_or_default();
        let after = serde_json::to_value(&again).unwrap_or_default();
        // It fits the file as it is; what it was taken of is what differs.
        before["checksum"] = after["checksum"].clone();
        let place = difference(&before, &after, "").unwrap_or_default();
        return Err(Refusal::inconsistent(format!(
            "`{place}` in this rule file is not what its protocol comes to"
        )));
    }
    Ok((read, protocol))
}

/// The first place at which two values part.
fn difference(one: &Value, other: &Value, path: &str) -> Option<String> {
    let below = |name: &str| {
        if path.is_empty() {
            name.to_owned()
        } else {
            format!("{path}.{name}")
        }
    };
    match (one, other) {
        (Value::Object(a), Value::Object(b)) => {
            let own = a.iter().find_map(|(name, member)| match b.get(name) {
                Some(other) => difference(member, other, &below(name)),
                None => Some(below(name)),
            });
            own.or_else(|| {
                let more = b.keys().find(|name| !a.contains_key(*name));
                more.map(|name| below(name))
            })
        }
        (Value::Array(a), Value::Array(b)) if a.len() == b.len() => {
            let mut both = a.iter().zip(b).enumerate();
            both.find_map(|(index, (one, other))| {
                difference(one, other, &format!("{path}[{index}]"))
            })
        }
        _ => (one != other).then(|| path.to_owned()),
    }
}

/// Whether the file is of a newer minor version than this reader.
fn version(text: &str) -> Result<bool, Refusal> {
    let own = version_parts(FORMAT_VERSION).unwrap_or_default();
    match version_parts(text) {
        Some((major, minor)) if major == own.0 => Ok(minor > own.1),
        Some((major, _)) => Err(Refusal::new(
            RefusedFor::OtherMajor,
            format!(
                "this rule file is of format {major}; this program reads format {}",
                own.0
            ),
        )),
        None => Err(Refusal::new(
            RefusedFor::NotARuleFile,
            "this is no rule file: it does not say of which version it is",
        )),
    }
}

fn version_parts(text: &str) -> Option<(u32, u32)> {
    let (major, minor) = text.split_once('.')?;
    Some((major.parse().ok()?, minor.parse().ok()?))
}

/// Members of `found` that are not in `known`, by their path.
fn unknown(found: &Value, known: &Value, path: &str, out: &mut Vec<String>) {
    match (found, known) {
        (Value::Object(found), Value::Object(known)) => {
            for (name, member) in found {
                let path = if path.is_empty() {
                    name.clone()
                } else {
                    format!("{path}.{name}")
                };
                match known.get(name) {
                    Some(known) => unknown(member, known, &path, out),
                    None => out.push(path),
                }
            }
        }
        (Value::Array(found), Value::Array(known)) => {
            for (index, (member, known)) in found.iter().zip(known).enumerate() {
                unknown(member, known, &format!("{path}[{index}]"), out);
            }
        }
        _ => {}
    }
}
