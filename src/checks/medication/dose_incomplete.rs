//! A dose that nobody could give as it is written.

use super::super::words::name;
use super::super::{Check, Context, Family, Run};
use crate::diag::{Diagnostic, Level};
use crate::model::DoseLine;
use crate::model::words::Route;
use crate::quantity::Base;

pub const CHECK: Check = Check {
    name: "dose-incomplete",
    family: Family::Medication,
    level: Level::Error,
    since: "0.1.0",
    summary: "a dose lacks what is needed to give it",
    catches: "A dose without a route; a dose into a vein without the time over which it is given; a dose per kilogram \
              without `rounded to`; an infusion that is not in mL/h, or a dose into a vein, bone, muscle or under the skin \
              that is not in mL, without a `concentration`; a medication with neither dose nor infusion.",
    why: "What is not written is decided at the bedside: 2 g of magnesium are given in one minute or in thirty.",
    fires: "\
medication magnesium \"Magnesium sulfate\" {
  class         electrolyte
  dose          2 g iv, not again within 6 h
  concentration 100 mg/mL
  ceiling       4 g per 24 h
}
",
    passes: "\
medication magnesium \"Magnesium sulfate\" {
  class         electrolyte
  dose          2 g iv over 30 min, not again within 6 h
  concentration 100 mg/mL
  ceiling       4 g per 24 h
}
",
    source: "common practice, no source",
    run: Run::Over(run),
};

fn run(context: &Context) -> Vec<Diagnostic> {
    let mut found = Vec::new();
    for (_, medication) in context.protocol.medications() {
        let mut lacks = |span, what: &str, why: &str, help: &str| {
            found.push(
                CHECK
                    .found(span, format!("{} {what}", name(&medication.name)))
                    .why(why)
                    .help(help)
                    .about(&medication.name.name),
            );
        };
        if medication.doses.is_empty() && medication.infusion.is_none() {
            lacks(
                medication.span,
                "has neither a dose nor an infusion",
                "the sheet names a medicine and not how much of it",
                "add `dose DOSE ROUTE`, or `infuse RATE`",
            );
        }
        for line in &medication.doses {
            match &line.route {
                None => lacks(
                    line.span,
                    "has a dose without a route",
                    "one dose by another route can be several times too much",
                    "add the route after the dose: `2 g iv over 30 min`",
                ),
                Some(route) if route.value == Route::Iv && line.over.is_none() => lacks(
                    line.span,
                    "is given iv without a time",
                    "whether it runs in one minute or in thirty is decided at the bedside",
                    "add `over D` after `iv`",
                ),
                Some(_) => {}
            }
        }
        if let Some(line) = medication.doses.iter().find(|line| line.dose.per_kg)
            && medication.rounded_to.is_none()
        {
            lacks(
                line.span,
                "has a dose per kilogram and nothing to round it to",
                "the product has digits that no syringe can measure, and each nurse rounds in her own way",
                "add `rounded to DOSE`, the step that can be drawn up",
            );
        }
        if let Some(infusion) = &medication.infusion
            && infusion.first.base != Base::Volume
            && medication.concentration.is_none()
        {
            lacks(
                infusion.span,
                "has an infusion without a concentration",
                "the pump is set in mL/h, and nobody can work that out from the sheet",
                "add `concentration V`, what is in the syringe or bag",
            );
        }
        // One finding for a medicine, though it is injected and infused.
        let infused = medication.infusion.as_ref();
        if let Some(line) = medication.doses.iter().find(|line| is_drawn_up(line))
            && medication.concentration.is_none()
            && infused.is_none_or(|infusion| infusion.first.base == Base::Volume)
        {
            lacks(
                line.span,
                "is injected and has no concentration",
                "the dose is drawn up in mL, and nobody can work that out from the sheet",
                "add `concentration V`, what is in the syringe that is given",
            );
        }
        if let Some(infusion) = &medication.infusion
            && infusion.first.per_kg
            && medication.rounded_to.is_none()
        {
            lacks(
                infusion.span,
                "has a rate per kilogram and nothing to round it to",
                "the product has digits that no pump can be set to, and each nurse rounds in her own way",
                "add `rounded to 0.1 mL/h`, the step of the pump",
            );
        }
    }
    found
}

/// Whether the dose goes into a syringe by its volume.
fn is_drawn_up(line: &DoseLine) -> bool {
    let injected = line.route.as_ref().is_some_and(|route| {
        matches!(
            route.value,
            Route::Iv | Route::Im | Route::Intraosseous | Route::Subcut
        )
    });
    injected && line.dose.base != Base::Volume
}
