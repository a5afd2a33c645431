//! The rule file as a whole: the meaning, and what stands beside it.

use super::fingerprint::{canonical, fingerprint_of, sha256};
use super::head::Approval;
use super::names::Out;
use super::protocol::Meaning;
use super::scenario::Scenario;
use super::timeline::{PhaseTimes, timeline};
use crate::model::Protocol;
use schemars::JsonSchema;
use schemars::generate::SchemaSettings;
use serde::{Deserialize, Serialize};

/// What every rule file says it is.
pub const FORMAT: &str = "temperature-protocol-rules";

/// `major.minor`. A minor version adds members that a reader may leave out without changing
/// what fires, is ordered or is printed, and words that an older reader refuses, with the file
/// that uses one; everything else is a new major.
pub const FORMAT_VERSION: &str = "1.4";

/// One protocol for programs.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct RuleFile {
    #[schemars(regex(pattern = r"^temperature-protocol-rules$"))]
    pub format: String,
    #[schemars(regex(pattern = r"^1\.[0-9]+$"))]
    pub format_version: String,
    /// SHA-256, in hexadecimal, of the normal form of `protocol`.
    #[schemars(regex(pattern = r"^[0-9a-f]{64}$"))]
    pub fingerprint: String,
    /// SHA-256 of the canonical form of this file without this member.
    #[schemars(regex(pattern = r"^[0-9a-f]{64}$"))]
    pub checksum: String,
    pub protocol: Meaning,
    /// Where each of the libraries was found, in their order.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub library_files: Vec<LibraryFile>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub approvals: Vec<Approval>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub scenarios: Vec<Scenario>,
    /// When each phase begins and ends in the blank form, in their order. Absent
    /// where a number of the protocol is too large to plan with.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub timeline: Vec<PhaseTimes>,
}

/// The path of a library's file, counted from the folder of the project.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct LibraryFile {
    pub path: String,
}

/// The rule file of a protocol.
pub fn export(protocol: &Protocol) -> RuleFile {
    let out = Out(protocol);
    let meaning = Meaning::from_model(protocol);
    let mut file = RuleFile {
        format: FORMAT.to_owned(),
        format_version: FORMAT_VERSION.to_owned(),
        fingerprint: fingerprint_of(&meaning),
        checksum: String::new(),
        protocol: meaning,
        library_files: protocol
            .uses
            .iter()
            .map(|used| LibraryFile {
                path: used.path.clone(),
            })
            .collect(),
        approvals: protocol
            .head
            .approvals
            .iter()
            .map(|approval| Approval::from_model(approval, out))
            .collect(),
        scenarios: protocol
            .scenarios
            .iter()
            .map(|scenario| Scenario::from_model(scenario, out))
            .collect(),
        timeline: timeline(protocol),
    };
    file.checksum = checksum_of(&file);
    file
}

/// The bytes of a rule file: canonical JSON, the same on every machine.
pub fn to_bytes(file: &RuleFile) -> Vec<u8> {
    canonical(file)
}

/// The JSON Schema (draft 2020-12) of this version's rule files.
pub fn schema() -> serde_json::Value {
    let mut schema = SchemaSettings::draft2020_12()
        .into_generator()
        .into_root_schema_for::<RuleFile>();
    schema.insert(
        "title".to_owned(),
        serde_json::Value::String(format!("{FORMAT} {FORMAT_VERSION}")),
    );
    schema.into()
}

fn checksum_of(file: &RuleFile) -> String {
    let mut value = serde_json::to_value(file).unwrap_or_default();
    if let Some(members) = value.as_object_mut() {
        members.remove("checksum");
    }
    sha256(&canonical(&value))
}

/// The same for a file that may be of a newer minor version.
pub(super) fn checksum_of_value(value: &serde_json::Value) -> String {
    let mut value = value.clone();
    if let Some(members) = value.as_object_mut() {
        members.remove("checksum");
    }
    sha256(&canonical(&value))
}
