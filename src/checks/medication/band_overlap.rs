//! Weights for which there are two doses.

use super::super::words::name;
use super::super::{Check, Context, Family, Run};
use super::bands::bands;
use crate::diag::{Diagnostic, Level};

pub const CHECK: Check = Check {
    name: "band-overlap",
    family: Family::Medication,
    level: Level::Error,
    since: "0.1.0",
    summary: "patients of some weights have two doses",
    catches: "Weights within `patients`, in steps of 0.1 kg, for which two doses of the medication stand.",
    why: "The nurse has two doses to choose from, or gives both.",
    fires: "\
medication magnesium \"Magnesium sulfate\" {
  class         electrolyte
  dose          30 mg/kg iv over 30 min, not again within 6 h  when weight at or below 50 kg
  dose          2 g iv over 30 min, not again within 6 h       when weight at or above 50 kg
  concentration 100 mg/mL
  rounded to    100 mg
  ceiling       4 g per 24 h
}
",
    passes: "\
medication magnesium \"Magnesium sulfate\" {
  class         electrolyte
  dose          30 mg/kg iv over 30 min, not again within 6 h  when weight at or below 50 kg
  dose          2 g iv over 30 min, not again within 6 h       when weight above 50 kg
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
        for (stretch, first, second) in bands(protocol, medication).overlaps {
            let (Some(first), Some(second)) =
                (medication.doses.get(first), medication.doses.get(second))
            else {
                continue;
            };
            found.push(
                CHECK
                    .found(
                        second.span,
                        format!(
                            "{} has two doses for {}",
                            name(&medication.name),
                            stretch.words()
                        ),
                    )
                    .also(first.span, "the other")
                    .why("the nurse has two doses to choose from, or gives both")
                    .help("let the bands meet without a common weight: `below 50 kg` and `at or above 50 kg`")
                    .about(&medication.name.name),
            );
        }
    }
    found
}
