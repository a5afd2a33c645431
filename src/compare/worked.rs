//! What one dose, and the pump, come to in both versions, at a weight at which they differ.

use super::doses::weights;
use crate::model::{Medication, Protocol};
use crate::quantity::{Base, Exact};
use crate::words::shown;
use std::collections::BTreeSet;

/// At the lightest and the heaviest patient for whom the two differ, among those whom both
/// versions allow; empty where they differ for none.
pub(super) fn worked(old: &Protocol, new: &Protocol, name: &str) -> String {
    let (Some(before), Some(now)) = (named(old, name), named(new, name)) else {
        return String::new();
    };
    let allowed: BTreeSet<Option<Exact>> = weights(new).into_iter().collect();
    let mut differ: Vec<(Option<Exact>, String, String)> = weights(old)
        .into_iter()
        .filter(|weight| allowed.contains(weight))
        .map(|weight| (weight, given(before, weight), given(now, weight)))
        .filter(|(_, before, now)| before != now)
        .collect();
    // From the heaviest down; one is enough where the weight does not matter.
    let alike = differ.windows(2).all(|pair| match pair {
        [a, b] => (&a.1, &a.2) == (&b.1, &b.2),
        _ => true,
    });
    if alike {
        differ.truncate(1);
    } else {
        let last = differ.pop();
        differ.truncate(1);
        differ.extend(last);
        differ.reverse();
    }
    let said: Vec<String> = differ
        .iter()
        .map(|(weight, before, now)| match weight {
            Some(weight) if !alike => format!("at {weight}\u{a0}kg: {before} → {now}"),
            _ => format!("{before} → {now}"),
        })
        .collect();
    said.join("; ")
}

fn named<'p>(protocol: &'p Protocol, name: &str) -> Option<&'p Medication> {
    protocol
        .medications()
        .find(|(_, one)| one.name.name == name)
        .map(|(_, one)| one)
}

/// `500 mcg (10 mL)`, `pump from 5.2 mL/h to 12.2 mL/h`
fn given(medication: &Medication, weight: Option<Exact>) -> String {
    let mut said = Vec::new();
    if let Some(line) = medication.dose_line_for(weight) {
        if let Some(work) = medication.work_dose(line, weight) {
            let amount = amount(work.given, line.dose.base);
            let volume = medication
                .concentration
                .as_ref()
                .filter(|liquid| liquid.base == line.dose.base && liquid.per_ml > Exact::ZERO)
                .map(|liquid| {
                    format!(
                        " ({})",
                        self::amount(work.given / liquid.per_ml, Base::Volume)
                    )
                });
            said.push(format!("{amount}{}", volume.unwrap_or_default()));
        }
    } else if !medication.doses.is_empty() {
        said.push("no dose".to_owned());
    }
    if let Some(infusion) = &medication.infusion
        && let Some(first) = medication.work_rate(&infusion.first, weight)
    {
        let rate = |value: Exact| format!("{}\u{a0}mL/h", shown(value, 2));
        let top = infusion
            .top
            .as_ref()
            .and_then(|top| medication.work_rate(top, weight));
        said.push(match top {
            Some(top) => format!("pump from {} to {}", rate(first.set), rate(top.set)),
            None => format!("pump at {}", rate(first.set)),
        });
    }
    said.join(", ")
}

pub(super) fn amount(value: Exact, base: Base) -> String {
    // What is counted is said in full; what is drawn up, as finely as it can be.
    let places = if base == Base::Volume { 2 } else { 4 };
    let (value, unit) = match base {
        Base::Mass if value >= Exact::int(1000) => (value / Exact::int(1000), "g"),
        Base::Mass if value < Exact::ONE && value > Exact::ZERO => {
            (value * Exact::int(1000), "mcg")
        }
        Base::Mass => (value, "mg"),
        Base::Moles => (value, "mmol"),
        Base::Volume => (value, "mL"),
        Base::Units => (value, "units"),
        Base::None => (value, ""),
    };
    format!("{}\u{a0}{unit}", shown(value, places))
}
