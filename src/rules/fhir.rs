//! A protocol as a PlanDefinition of HL7 FHIR R4 (version 4.0.1), for systems that
//! speak that standard.
//!
//! Takes a protocol, gives JSON. It is for reading and for filing: what fires when
//! is said by the rule file, not by this.
//!
//! What the standard cannot carry, and where it went:
//! - a condition in looks (`for 1 h`, `rises … in`), readiness, `again after` and
//!   `overrides`: as words in the description of the rule; its trigger names the
//!   rule, which the rule file decides;
//! - the course of a target and its moves, caps and dues: as words of the phase;
//! - what ends an order: as words of the order;
//! - weight bands, ceilings and `only with`: as words of the dose;
//! - fractions without a finite decimal: as words only;
//! - reasons (`because`): left out, the citations stand; limits: as words;
//! - measures, exceptions, scenarios, approvals of another meaning: left out.
//!
//! Nothing is turned into a number that is not exactly the protocol's.

mod actions;
mod medicines;

use super::fingerprint::fingerprint;
use crate::model::{Aim, Protocol};
use crate::quantity::Exact;
use crate::words::{Words, sentence};
use serde_json::{Map, Value, json};

/// The PlanDefinition of a protocol.
pub fn fhir(protocol: &Protocol) -> Value {
    fhir_of(protocol, &fingerprint(protocol))
}

/// The same for who knows its fingerprint, which takes longer than all the rest.
pub fn fhir_of(protocol: &Protocol, meaning: &str) -> Value {
    let words = Words::of(protocol);
    let head = &protocol.head;
    let approved = head
        .approvals
        .iter()
        .filter(|approval| stands_for(&approval.fingerprint.markdown, meaning))
        .map(|approval| approval.on.value)
        .max();
    let mut plan = Map::new();
    let mut put = |name: &str, value: Value| {
        if !is_empty(&value) {
            plan.insert(name.to_owned(), value);
        }
    };
    put("resourceType", json!("PlanDefinition"));
    put("id", json!(id(&protocol.name.name)));
    put("contained", Value::Array(medicines::all(protocol, &words)));
    put(
        "identifier",
        json!([{ "type": { "text": "SHA-256 of the meaning" }, "value": meaning }]),
    );
    put("version", json!(head.version.value.to_string()));
    put("name", json!(computable(&protocol.name.name)));
    put("title", json!(head.title.markdown));
    put(
        "type",
        json!({ "coding": [{
            "system": "http://terminology.hl7.org/CodeSystem/plan-definition-type",
            "code": "clinical-protocol"
        }] }),
    );
    // Active only while an approval is for this very meaning (M34).
    let status = if approved.is_some() {
        "active"
    } else {
        "draft"
    };
    put("status", json!(status));
    put(
        "subjectCodeableConcept",
        json!({ "text": patients(protocol) }),
    );
    put("publisher", json!(head.unit.markdown));
    put("description", json!(description(protocol)));
    put("purpose", json!(purpose(protocol)));
    if let Some(date) = approved {
        put("approvalDate", json!(date.to_string()));
    }
    put(
        "effectivePeriod",
        json!({ "end": head.review.value.to_string() }),
    );
    put("relatedArtifact", Value::Array(artifacts(protocol)));
    put("goal", Value::Array(goals(protocol, &words)));
    put("action", Value::Array(actions::all(protocol, &words)));
    plain_spaces(Value::Object(plan))
}

/// The standard's texts know no other space than the plain one.
fn plain_spaces(value: Value) -> Value {
    match value {
        Value::String(text) => Value::String(
            text.chars()
                .map(|c| match c {
                    '\n' | '\r' | '\t' => c,
                    other if other.is_whitespace() || other == '\u{feff}' => ' ',
                    other => other,
                })
                .collect(),
        ),
        Value::Array(list) => Value::Array(list.into_iter().map(plain_spaces).collect()),
        Value::Object(members) => members
            .into_iter()
            .map(|(name, member)| (name, plain_spaces(member)))
            .collect(),
        Value::Null | Value::Bool(_) | Value::Number(_) => value,
    }
}

/// A fingerprint may be written short in an approval.
fn stands_for(written: &str, meaning: &str) -> bool {
    written.len() >= 8 && meaning.starts_with(written)
}

fn is_empty(value: &Value) -> bool {
    match value {
        Value::Null => true,
        Value::String(text) => text.trim().is_empty(),
        Value::Array(list) => list.is_empty(),
        Value::Object(members) => members.is_empty(),
        Value::Bool(_) | Value::Number(_) => false,
    }
}

/// An id of the standard: 64 letters, digits, hyphens and points at most.
pub(super) fn id(name: &str) -> String {
    name.chars()
        .filter(|c| c.is_ascii_alphanumeric() || matches!(c, '-' | '.'))
        .take(64)
        .collect()
}

/// A name that programs can use: letters, digits and `_`, a capital first.
fn computable(name: &str) -> String {
    name.split('-').map(sentence).collect()
}

/// A decimal number, where the value is one to the last digit.
pub(super) fn number(value: Exact) -> Option<Value> {
    let text = value.to_string();
    let number: serde_json::Number = serde_json::from_str(&text).ok()?;
    // The way through a binary number must not have changed it.
    (number.to_string() == text).then_some(Value::Number(number))
}

/// A quantity in UCUM; `None` where it has no finite decimal.
pub(super) fn quantity(value: Exact, unit: &str, ucum: &str) -> Option<Value> {
    Some(json!({
        "value": number(value)?,
        "unit": unit,
        "system": "http://unitsofmeasure.org",
        "code": ucum
    }))
}

fn patients(protocol: &Protocol) -> String {
    let patients = &protocol.head.patients;
    let mut parts = vec![crate::model::FixedWord::word(patients.group.value).to_owned()];
    for (what, range) in [
        ("weight", &patients.weight),
        ("birth weight", &patients.birth_weight),
    ] {
        if let Some(range) = range {
            parts.push(format!("{what} {} to {}", range.low, range.high));
        }
    }
    for (what, range) in [("age", &patients.age), ("gestation", &patients.gestation)] {
        if let Some(range) = range {
            parts.push(format!("{what} {} to {}", range.low, range.high));
        }
    }
    for (reading, range) in &patients.on_arrival {
        let title = Words::of(protocol).reading(*reading);
        parts.push(format!(
            "{title} {} to {} on arrival",
            range.low, range.high
        ));
    }
    parts.join(", ")
}

fn purpose(protocol: &Protocol) -> String {
    use crate::model::FixedWord;
    let spoken = |word: &str| word.replace('-', " ");
    let purpose = spoken(protocol.head.purpose.value.word());
    match &protocol.head.after {
        Some(event) => format!("{purpose} after {}", spoken(event.value.word())),
        None => purpose,
    }
}

/// Who is in and out, what to mind, and the limits, as a list.
fn description(protocol: &Protocol) -> String {
    use crate::model::{CriterionKind, Side};
    let mut lines = vec![
        "Made from a temperature-management protocol. What is ordered when is said by its rule file; \
         this resource is for reading and filing."
            .to_owned(),
        String::new(),
    ];
    for criterion in &protocol.criteria {
        let kind = match criterion.kind {
            CriterionKind::Include => "Include",
            CriterionKind::Exclude => "Exclude",
            CriterionKind::Caution => "Caution",
        };
        lines.push(format!("- {kind}: {}", criterion.text.markdown));
    }
    for limit in &protocol.limits {
        let side = match limit.side {
            Side::Above => "above",
            Side::Below => "below",
        };
        let title = Words::of(protocol).reading(limit.reading);
        lines.push(format!("- Limit: {title} never {side} {}", limit.level));
    }
    lines.join("\n").trim_end().to_owned()
}

fn artifacts(protocol: &Protocol) -> Vec<Value> {
    let cites = protocol.cites.iter().map(|cite| {
        json!({ "type": "citation", "label": cite.name.name, "citation": cite.text.markdown })
    });
    let libraries = protocol.uses.iter().map(|used| {
        let version = used
            .version
            .as_ref()
            .map(|version| format!(" {}", version.value))
            .unwrap_or_default();
        json!({ "type": "composed-of", "display": format!("{}{version}", used.name) })
    });
    cites.chain(libraries).collect()
}

/// The target of each phase.
fn goals(protocol: &Protocol, words: &Words<'_>) -> Vec<Value> {
    protocol
        .phases
        .iter()
        .map(|phase| {
            let detail = detail(&phase.aim);
            let mut goal = json!({
                "id": id(&phase.name.name),
                "description": { "text": words.aim(phase) },
            });
            if let (Some((name, value)), Some(members)) = (detail, goal.as_object_mut()) {
                let measure = words.reading(phase.aim.reading());
                members.insert(
                    "target".to_owned(),
                    json!([{ "measure": { "text": measure }, name: value }]),
                );
            }
            goal
        })
        .collect()
}

fn detail(aim: &Aim) -> Option<(&'static str, Value)> {
    let celsius = |value: Exact| quantity(value, "°C", "Cel");
    match aim {
        Aim::Reach { to, .. } => Some(("detailQuantity", celsius(to.value)?)),
        Aim::Hold { at, within, .. } => Some((
            "detailRange",
            json!({
                "low": celsius(at.value - within.value)?,
                "high": celsius(at.value + within.value)?
            }),
        )),
        Aim::Keep { low, high, .. } => {
            let mut range = Map::new();
            for (name, end) in [("low", low), ("high", high)] {
                if let Some(end) = end {
                    range.insert(name.to_owned(), celsius(end.value)?);
                }
            }
            Some(("detailRange", Value::Object(range)))
        }
    }
}
