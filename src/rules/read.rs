//! Reads a rule file, and refuses what is none or was changed.

use super::file::{FORMAT, RuleFile, checksum_of_value};
use super::fingerprint::fingerprint_of_value;
use super::refusal::{Refusal, RefusedFor};
use serde_json::Value;

/// A rule file that was read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Read {
    pub file: RuleFile,
    /// What a newer minor version says besides, and this program leaves out.
    pub left_out: Vec<String>,
}

const MAJOR: u32 = 1;
const MINOR: u32 = 0;

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

/// Whether the file is of a newer minor version than this reader.
fn version(text: &str) -> Result<bool, Refusal> {
    let parts = text
        .split_once('.')
        .and_then(|(major, minor)| Some((major.parse().ok()?, minor.parse::<u32>().ok()?)));
    match parts {
        Some((MAJOR, minor)) => Ok(minor > MINOR),
        Some((major, _)) => {
            let major: u32 = major;
            Err(Refusal::new(
                RefusedFor::OtherMajor,
                format!("this rule file is of format {major}; this program reads format {MAJOR}"),
            ))
        }
        None => Err(Refusal::new(
            RefusedFor::NotARuleFile,
            "this is no rule file: it does not say of which version it is",
        )),
    }
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
