//! Findings as OASIS SARIF 2.1.0, for the programs that collect those of many tools.

use super::project::CannotRun;
use crate::diag::{Diagnostic, render};
use crate::source::Sources;
use serde_json::{Value, json};
use std::fmt::Write as _;

/// The log of one run: its findings, or why there was none.
pub fn sarif(findings: &[&Diagnostic], sources: &Sources, failure: Option<&CannotRun>) -> Value {
    let mut names: Vec<&str> = findings.iter().map(|found| found.name).collect();
    names.sort_unstable();
    names.dedup();
    let rules: Vec<Value> = names
        .iter()
        .map(|name| {
            let page = crate::checks::explain(name);
            let text = page.map_or((*name).to_owned(), |page| page.summary.clone());
            json!({ "id": name, "shortDescription": { "text": text } })
        })
        .collect();
    let results: Vec<Value> = findings
        .iter()
        .map(|found| {
            let record = render::record(found, sources);
            let location = |place: &render::Place| {
                json!({
                    "physicalLocation": {
                        "artifactLocation": { "uri": uri(&place.path) },
                        "region": {
                            "startLine": place.line,
                            "startColumn": place.column,
                            "endLine": place.end_line,
                            "endColumn": place.end_column.max(1),
                        },
                    },
                    "message": { "text": if place.text.is_empty() { &record.title } else { &place.text } },
                })
            };
            let mut message = record.title.clone();
            for part in std::iter::once(&record.why).chain(&record.help) {
                let _ = write!(message, ". {part}");
            }
            let mark = format!(
                "{}:{}:{}",
                record.name,
                record.about.as_deref().unwrap_or(""),
                record.title
            );
            json!({
                "ruleId": record.name,
                "ruleIndex": names.iter().position(|name| *name == record.name),
                "level": record.level,
                "message": { "text": message },
                "locations": record.places.first().map(location).into_iter().collect::<Vec<_>>(),
                "relatedLocations": record.places.iter().skip(1).map(location).collect::<Vec<_>>(),
                "partialFingerprints": { "finding/v1": mark },
            })
        })
        .collect();
    let notes: Vec<Value> = failure
        .iter()
        .map(|error| json!({ "level": "error", "message": { "text": error.to_string() } }))
        .collect();
    json!({
        "$schema": "https://json.schemastore.org/sarif-2.1.0.json",
        "version": "2.1.0",
        "runs": [{
            "tool": { "driver": {
                "name": "tempwright",
                "semanticVersion": env!("CARGO_PKG_VERSION"),
                "rules": rules,
            }},
            "columnKind": "unicodeCodePoints",
            "invocations": [{
                "executionSuccessful": failure.is_none(),
                "toolExecutionNotifications": notes,
            }],
            "results": results,
        }],
    })
}

/// A relative path as a URI reference.
fn uri(path: &str) -> String {
    let mut out = String::new();
    for byte in path.bytes() {
        match byte {
            b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'-' | b'.' | b'_' | b'~' | b'/' => {
                out.push(char::from(byte));
            }
            other => {
                let _ = write!(out, "%{other:02X}");
            }
        }
    }
    out
}
