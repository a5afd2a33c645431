//! Weights for which there is no dose.

use super::super::words::{list, name};
use super::super::{Check, Context, Family, Run};
use super::bands::{Stretch, bands};
use crate::diag::{Diagnostic, Level};

pub const CHECK: Check = Check {
    name: "band-gap",
    family: Family::Medication,
    level: Level::Error,
    since: "0.1.0",
    summary: "patients of some weights have no dose",
    catches: "Weights within `patients`, in steps of 0.1 kg, for which no dose of the medication stands.",
    why: "A patient of that weight gets none, or the dose of the neighbouring line.",
    fires: "\
medication magnesium \"Magnesium sulfate\" {
  class         electrolyte
  dose          30 mg/kg iv over 30 min, not again within 6 h  when weight below 50 kg
  dose          2 g iv over 30 min, not again within 6 h       when weight at or above 50.1 kg
  concentration 100 mg/mL
  rounded to    100 mg
  ceiling       4 g per 24 h
}
",
    passes: "\
medication magnesium \"Magnesium sulfate\" {
  class         electrolyte
  dose          30 mg/kg iv over 30 min, not again within 6 h  when weight below 50 kg
  dose          2 g iv over 30 min, not again within 6 h       when weight at or above 50 kg
  concentration 100 mg/mL
  rounded to    100 mg
  ceiling       4 g per 24 h
}
",
    source: "structural",
    run: Run::Over(run),
};

fn run(context: &Context) -> Vec<Diagnostic> {
    let protocol = context.protocol;
    let mut found = Vec::new();
    for (_, medication) in protocol.medications() {
        let gaps = bands(protocol, medication).gaps;
        let Some(first) = medication.doses.first() else {
            continue;
        };
        if gaps.is_empty() {
            continue;
        }
        let words: Vec<String> = gaps.iter().copied().map(Stretch::words).collect();
        found.push(
            CHECK
                .found(
                    first.span,
                    format!(
                        "{} has no dose for {}",
                        name(&medication.name),
                        list(&words)
                    ),
                )
                .also(protocol.head.patients.span, "the patients of this protocol")
                .why("a patient of that weight gets none, or the dose of a neighbouring line")
                .help("let the bands meet: `when weight below 50 kg` and `when weight at or above 50 kg`")
                .about(&medication.name.name),
        );
    }
    found
}
