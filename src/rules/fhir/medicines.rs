//! Medications as contained ActivityDefinitions.

use super::{id, is_empty, quantity};
use crate::model::{Band, DoseLine, FixedWord, Medication, MedicationId, Protocol};
use crate::quantity::Base;
use crate::words::Words;
use serde_json::{Map, Value, json};

pub(super) fn all(protocol: &Protocol, _: &Words<'_>) -> Vec<Value> {
    protocol
        .medications
        .iter()
        .map(|one| medicine(protocol, one))
        .collect()
}

/// How an action points at it.
pub(super) fn reference(protocol: &Protocol, medication: MedicationId) -> String {
    format!("#{}", name(&protocol[medication]))
}

fn name(medication: &Medication) -> String {
    id(&format!("medication.{}", medication.name.name))
}

fn medicine(protocol: &Protocol, medication: &Medication) -> Value {
    let mut doses: Vec<Value> = medication.doses.iter().map(dose).collect();
    if let Some(infusion) = &medication.infusion {
        let mut text = format!("infuse {}", written(&infusion.first.written));
        if let Some(top) = &infusion.top {
            text.push_str(&format!(" to {}", written(&top.written)));
        }
        if let (Some(step), Some(every)) = (&infusion.step, &infusion.step_every) {
            let step = written(&step.written);
            text.push_str(&format!(", steps of {step} every {every}"));
        }
        if let Some(most) = &infusion.at_most {
            text.push_str(&format!(", for at most {most}"));
        }
        doses.push(json!({ "text": text }));
    }
    let mut notes = Vec::new();
    if let Some(ceiling) = &medication.ceiling {
        let dose = written(&ceiling.dose.written);
        notes.push(format!("ceiling {dose} per {}", ceiling.per));
    }
    if let Some(strength) = &medication.concentration {
        notes.push(format!("concentration {}", written(&strength.written)));
    }
    if let Some(step) = &medication.rounded_to {
        notes.push(format!("rounded down to {}", written(&step.written)));
    }
    if !medication.only_with.is_empty() {
        let others: Vec<&str> = medication
            .only_with
            .iter()
            .map(|other| protocol[other.value].title.markdown.as_str())
            .collect();
        notes.push(format!("only with {}", others.join(" or ")));
    }
    for (avoid, _) in &medication.avoid {
        notes.push(format!("avoid: {}", avoid.markdown));
    }
    let mut made = Map::new();
    for (member, value) in [
        ("resourceType", json!("ActivityDefinition")),
        ("id", json!(name(medication))),
        ("title", json!(medication.title.markdown)),
        ("status", json!("draft")),
        ("description", json!(notes.join("; "))),
        ("kind", json!("MedicationRequest")),
        (
            "productCodeableConcept",
            json!({ "text": medication.title.markdown }),
        ),
        ("dosage", Value::Array(doses)),
    ] {
        if !is_empty(&value) {
            made.insert(member.to_owned(), value);
        }
    }
    Value::Object(made)
}

fn written(written: &crate::quantity::Written) -> String {
    format!("{} {}", written.number, written.unit)
}

fn dose(line: &DoseLine) -> Value {
    let mut text = written(&line.dose.written);
    if let Some(route) = &line.route {
        text.push_str(&format!(" {}", route.value.word()));
    }
    if let Some(over) = &line.over {
        text.push_str(&format!(" over {over}"));
    }
    if let Some(most) = &line.at_most {
        text.push_str(&format!(", at most {}", written(&most.written)));
    }
    if let Some(again) = &line.not_again {
        text.push_str(&format!(", not again within {again}"));
    }
    for (index, Band { cmp, weight }) in line.band.iter().enumerate() {
        let joint = if index == 0 { ", when" } else { " and" };
        text.push_str(&format!("{joint} weight {} {weight}", cmp.words()));
    }
    let mut made = Map::new();
    made.insert("text".to_owned(), json!(text));
    if let Some(route) = &line.route {
        made.insert("route".to_owned(), json!({ "text": route.value.word() }));
    }
    // Per kilogram there is no quantity without a patient.
    let (unit, ucum) = match line.dose.base {
        Base::Mass => ("mg", "mg"),
        Base::Moles => ("mmol", "mmol"),
        Base::Volume => ("mL", "mL"),
        Base::Units => ("units", "[U]"),
        Base::None => ("", ""),
    };
    if !line.dose.per_kg
        && !unit.is_empty()
        && let Some(quantity) = quantity(line.dose.value, unit, ucum)
    {
        made.insert(
            "doseAndRate".to_owned(),
            json!([{ "doseQuantity": quantity }]),
        );
    }
    Value::Object(made)
}
