//! An infusion or a step too small for a pump.

use super::super::words::name;
use super::super::{Check, Context, Family, Run};
use crate::diag::{Diagnostic, Level};
use crate::quantity::Exact;

pub const CHECK: Check = Check {
    name: "rate-not-settable",
    family: Family::Medication,
    level: Level::Error,
    since: "0.1.0",
    summary: "a rate or a step is too small to set on a pump",
    catches: "An infusion, or a step of it, below 0.1 mL/h for the lightest patient that the protocol allows, or below \
              the step to which its rates are rounded.",
    why: "The pump cannot be set to it: it runs at nothing, or at more than was ordered.",
    fires: "\
medication dexmedetomidine \"Dexmedetomidine\" {
  class         sedative
  infuse        0.2 mcg/kg/h to 0.7 mcg/kg/h, steps of 0.1 mcg/kg/h every 30 min, for at most 24 h
  concentration 100 mcg/mL
  rounded to    0.1 mL/h
  ceiling       16.8 mcg/kg per 24 h
}
",
    passes: "\
medication dexmedetomidine \"Dexmedetomidine\" {
  class         sedative
  infuse        0.2 mcg/kg/h to 0.7 mcg/kg/h, steps of 0.1 mcg/kg/h every 30 min, for at most 24 h
  concentration 4 mcg/mL
  rounded to    0.1 mL/h
  ceiling       16.8 mcg/kg per 24 h
}
",
    source: "common practice, no source: 0.1 mL/h is the usual smallest step of a syringe pump",
    run: Run::Over(run),
};

fn run(context: &Context) -> Vec<Diagnostic> {
    let protocol = context.protocol;
    let lightest = protocol
        .head
        .patients
        .dosing_weight()
        .map(|range| range.low.value);
    let mut found = Vec::new();
    for (_, medication) in protocol.medications() {
        let Some(infusion) = &medication.infusion else {
            continue;
        };
        let pump = Exact::ratio(1, 10);
        let smallest = medication
            .rounded_to
            .as_ref()
            .filter(|rounding| rounding.is_rate)
            .map_or(pump, |rounding| rounding.value.max(pump));
        let rates = [
            ("the first rate", Some(&infusion.first)),
            ("a step", infusion.step.as_ref()),
        ];
        for (what, rate) in rates {
            let Some(rate) = rate else { continue };
            let Some(set) = medication.work_rate(rate, lightest) else {
                continue;
            };
            if set.exact >= smallest {
                continue;
            }
            let at = lightest
                .filter(|_| rate.per_kg)
                .map_or_else(String::new, |weight| format!(" at {weight}\u{a0}kg"));
            found.push(
                CHECK
                    .found(
                        rate.span,
                        format!(
                            "{what} of {} is {}{at}, too small to set",
                            name(&medication.name),
                            per_hour(set.exact)
                        ),
                    )
                    .here(format!("a pump can be set to {}", per_hour(smallest)))
                    .why("the pump runs at nothing, or at more than was ordered")
                    .help("use a weaker concentration, a larger step, or a finer `rounded to`")
                    .about(&medication.name.name),
            );
            break;
        }
    }
    found
}

/// Shown in hundredths where it has more digits: rounded down, so never larger
/// than it is.
fn per_hour(rate: Exact) -> String {
    let shown = if rate.to_decimal(3).is_some() {
        rate
    } else {
        rate.round_down_to(Exact::ratio(1, 1000))
    };
    format!("{shown}\u{a0}mL/h")
}
