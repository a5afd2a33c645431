//! Paralysis without sedation.

use super::super::words::name;
use super::super::{Check, Context, Family, Run};
use crate::diag::{Diagnostic, Level};
use crate::model::words::DrugClass;

pub const CHECK: Check = Check {
    name: "unsedated-block",
    family: Family::Medication,
    level: Level::Error,
    since: "0.1.0",
    summary: "a neuromuscular blocker can be given to a patient who is awake",
    catches: "A medication of class neuromuscular-blocker without `only with` a medication of class sedative.",
    why: "The patient is awake, cannot move and cannot tell anybody.",
    fires: "\
# without medication magnesium
ladder shivering-steps \"Shivering\" on shiver {
  rung 0 \"None\"           { continue }
  rung 1 \"Mild\"           { do \"Warm the skin of hands, feet and face\" }
  rung 2 \"Moderate\"       { give dexmedetomidine otherwise call doctor now }
  rung 3 \"Severe\"         { give rocuronium otherwise call doctor now
                              call doctor now }
}
medication rocuronium \"Rocuronium\" {
  class         neuromuscular-blocker
  dose          0.6 mg/kg iv over 1 min, not again within 30 min
  concentration 10 mg/mL
  rounded to    1 mg
  ceiling       300 mg per 24 h
}
",
    passes: "\
# without medication magnesium
ladder shivering-steps \"Shivering\" on shiver {
  rung 0 \"None\"           { continue }
  rung 1 \"Mild\"           { do \"Warm the skin of hands, feet and face\" }
  rung 2 \"Moderate\"       { give dexmedetomidine otherwise call doctor now }
  rung 3 \"Severe\"         { give rocuronium otherwise call doctor now
                              call doctor now }
}
medication rocuronium \"Rocuronium\" {
  class         neuromuscular-blocker
  dose          0.6 mg/kg iv over 1 min, not again within 30 min
  concentration 10 mg/mL
  rounded to    1 mg
  ceiling       300 mg per 24 h
  only with     dexmedetomidine
}
",
    source: "Choi HA, et al. Neurocrit Care 2011;14:389-394, doi 10.1007/s12028-010-9474-7: deep sedation comes \
             before paralysis",
    run: Run::Over(run),
};

fn run(context: &Context) -> Vec<Diagnostic> {
    let protocol = context.protocol;
    let is = |medication: &crate::model::Medication, class: DrugClass| {
        medication
            .class
            .as_ref()
            .is_some_and(|of| of.value == class)
    };
    protocol
        .medications()
        .filter(|(_, medication)| is(medication, DrugClass::NeuromuscularBlocker))
        .filter(|(_, medication)| {
            // Any one of `only with` lets it be given, so each must sedate.
            medication.only_with.is_empty()
                || !medication
                    .only_with
                    .iter()
                    .all(|with| is(&protocol[with.value], DrugClass::Sedative))
        })
        .map(|(_, medication)| {
            CHECK
                .found(
                    medication.span,
                    format!("{} can be given without a sedative", name(&medication.name)),
                )
                .why("the patient would be awake, unable to move and unable to tell anybody")
                .help("add `only with MED`, a medication of class sedative that is running")
                .about(&medication.name.name)
        })
        .collect()
}
