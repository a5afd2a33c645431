//! More than the ceiling allows.

use super::super::words::{name, time};
use super::super::{Check, Context, Family, Run};
use super::given::{Way, doses_within, ways};
use crate::diag::{Diagnostic, Level};
use crate::model::*;
use crate::quantity::{Base, Exact};

pub const CHECK: Check = Check {
    name: "over-ceiling",
    family: Family::Medication,
    level: Level::Error,
    since: "0.1.0",
    summary: "what is ordered comes to more than the ceiling",
    catches: "A single dose at the heaviest patient the protocol allows, regular doses, the top rate of an infusion, \
              or the worst path through the rechecks of a ladder, when it passes the ceiling and no `otherwise` says \
              what to do then; and a medication that a rule or a ladder can give again and again without any ceiling.",
    why: "A dose that may not be given is skipped without a word at four in the morning (M27), or given all the same.",
    fires: "\
medication paracetamol \"Paracetamol\" {
  class   antipyretic
  dose    1 g nasogastric, not again within 4 h
  ceiling 3 g per 24 h
}
",
    passes: "\
medication paracetamol \"Paracetamol\" {
  class   antipyretic
  dose    1 g nasogastric, not again within 4 h
  ceiling 4 g per 24 h
}
",
    source: "structural; the ceiling is the protocol's own",
    run: Run::Over(run),
};

fn run(context: &Context) -> Vec<Diagnostic> {
    let protocol = context.protocol;
    let mut found = Vec::new();
    for (id, medication) in protocol.medications() {
        let ways = ways(protocol, id);
        match &medication.ceiling {
            None => found.extend(without_ceiling(medication, &ways)),
            Some(ceiling) => {
                // The plainest reason speaks; the others follow from it.
                let finding = single_dose(protocol, medication, ceiling)
                    .or_else(|| repeated(protocol, medication, ceiling, &ways))
                    .or_else(|| top_rate(protocol, medication, ceiling, &ways));
                found.extend(finding);
            }
        }
    }
    found
}

fn without_ceiling(medication: &Medication, ways: &[Way]) -> Option<Diagnostic> {
    // A regular dose is bounded by its interval, an infusion by its top rate.
    let way = ways
        .iter()
        .find(|way| !way.raises && way.apart.is_some() && !way.words.starts_with("every"))?;
    (!medication.doses.is_empty()).then(|| {
        CHECK
            .found(
                medication.span,
                format!(
                    "{} can be given again and again without a ceiling",
                    name(&medication.name)
                ),
            )
            .also(way.span, format!("given by {}", way.words))
            .why("nothing on the sheet says when it has been enough")
            .help("add `ceiling DOSE per D`, with the figure that this unit's pharmacist gives")
            .about(&medication.name.name)
    })
}

/// The heaviest weight that a line is for.
fn heaviest(protocol: &Protocol, line: &DoseLine) -> Option<Exact> {
    let range = protocol.head.patients.dosing_weight()?;
    let mut high = range.high.value;
    for band in &line.band {
        match band.cmp {
            // Weights are read in steps of 0.1 kg (M29).
            Cmp::Below => high = high.min(band.weight.value - Exact::ratio(1, 10)),
            Cmp::AtOrBelow => high = high.min(band.weight.value),
            Cmp::Above | Cmp::AtOrAbove => {}
        }
    }
    Some(high)
}

/// The largest dose of any line with the weight it is for.
fn largest_dose<'a>(
    protocol: &Protocol,
    medication: &'a Medication,
    base: Base,
) -> Option<(&'a DoseLine, Exact, Option<Exact>)> {
    medication
        .doses
        .iter()
        .filter(|line| line.dose.base == base)
        .filter_map(|line| {
            let weight = heaviest(protocol, line);
            let dose = medication.work_dose(line, weight)?;
            Some((line, dose.given, weight.filter(|_| line.dose.per_kg)))
        })
        .max_by_key(|(_, dose, _)| *dose)
}

fn ceiling_at(protocol: &Protocol, ceiling: &Ceiling) -> Option<Exact> {
    let weight = protocol
        .head
        .patients
        .dosing_weight()
        .map(|range| range.high.value);
    ceiling.dose.for_weight(weight)
}

fn amount(value: Exact, base: Base) -> String {
    let unit = match base {
        Base::Mass if value >= Exact::int(1000) => {
            return format!("{}\u{a0}g", value / Exact::int(1000));
        }
        Base::Mass if value < Exact::ONE => {
            return format!("{}\u{a0}mcg", value * Exact::int(1000));
        }
        Base::Mass => "mg",
        Base::Moles => "mmol",
        Base::Volume => "mL",
        Base::Units => "units",
        Base::None => "",
    };
    format!("{value}\u{a0}{unit}")
}

fn at_weight(weight: Option<Exact>) -> String {
    weight.map_or_else(String::new, |weight| format!(" at {weight}\u{a0}kg"))
}

fn too_much(medication: &Medication, ceiling: &Ceiling, title: String) -> Diagnostic {
    CHECK
        .found(ceiling.span, title)
        .here("the ceiling")
        .why(
            "past the ceiling a dose is skipped without a word, or given all the same: the sheet does not say which",
        )
        .about(&medication.name.name)
}

fn single_dose(
    protocol: &Protocol,
    medication: &Medication,
    ceiling: &Ceiling,
) -> Option<Diagnostic> {
    let (line, dose, weight) = largest_dose(protocol, medication, ceiling.dose.base)?;
    let limit = ceiling_at(protocol, ceiling)?;
    (dose > limit).then(|| {
        too_much(
            medication,
            ceiling,
            format!(
                "one dose of {} is {}{}, more than its ceiling of {}",
                name(&medication.name),
                amount(dose, ceiling.dose.base),
                at_weight(weight),
                amount(limit, ceiling.dose.base)
            ),
        )
        .also(line.span, "the dose")
        .help("hold the dose with `at most DOSE`, or correct the ceiling")
    })
}

/// Regular doses, and doses that rechecks lead to.
fn repeated(
    protocol: &Protocol,
    medication: &Medication,
    ceiling: &Ceiling,
    ways: &[Way],
) -> Option<Diagnostic> {
    let (line, dose, weight) = largest_dose(protocol, medication, ceiling.dose.base)?;
    let limit = ceiling_at(protocol, ceiling)?;
    let not_again = line
        .not_again
        .as_ref()
        .map_or(Exact::ZERO, |not_again| not_again.value);
    ways.iter()
        .filter(|way| !way.has_otherwise && !way.raises)
        .find_map(|way| {
            let apart = way.apart?.max(not_again);
            let times = match doses_within(ceiling.per.value, apart) {
                Some(times) => times,
                // Nothing keeps two apart: the ceiling alone does, and nothing
                // says what to do when it is reached.
                None => (limit / dose).floor() + Exact::ONE,
            };
            let total = dose * times;
            (total > limit).then(|| {
                let how = if apart > Exact::ZERO {
                    format!("{times} doses of {}{} in {}", amount(dose, ceiling.dose.base), at_weight(weight), time(ceiling.per.value))
                } else {
                    "as often as it comes up".to_owned()
                };
                too_much(
                    medication,
                    ceiling,
                    format!(
                        "{} comes to {}, and its ceiling is {}",
                        name(&medication.name),
                        amount(total, ceiling.dose.base),
                        amount(limit, ceiling.dose.base)
                    ),
                )
                .also(way.span, format!("given by {}: {how}", way.words))
                .help("give it less often, give less, or say what to do past the ceiling: `give … otherwise …`")
            })
        })
}

fn top_rate(
    protocol: &Protocol,
    medication: &Medication,
    ceiling: &Ceiling,
    ways: &[Way],
) -> Option<Diagnostic> {
    let infusion = medication.infusion.as_ref()?;
    let top = infusion.top.as_ref().unwrap_or(&infusion.first);
    if top.base != ceiling.dose.base || ways.is_empty() {
        return None;
    }
    // Where every way up has an `otherwise`, the ceiling is answered.
    let raised = ways.iter().any(|way| way.raises && !way.has_otherwise);
    let (rate, words) = if raised || infusion.top.is_none() {
        (top, "at its top rate")
    } else {
        (&infusion.first, "at its first rate")
    };
    let weight = protocol
        .head
        .patients
        .dosing_weight()
        .map(|range| range.high.value);
    let runs = infusion
        .at_most
        .as_ref()
        .map_or(ceiling.per.value, |most| most.value.min(ceiling.per.value));
    let single = largest_dose(protocol, medication, ceiling.dose.base)
        .map_or(Exact::ZERO, |(_, dose, _)| dose);
    let total = rate.for_weight(weight)? * runs / Exact::int(60) + single;
    let limit = ceiling_at(protocol, ceiling)?;
    (total > limit).then(|| {
        too_much(
            medication,
            ceiling,
            format!(
                "{} comes to {} in {} {words}, and its ceiling is {}",
                name(&medication.name),
                amount(total, ceiling.dose.base),
                time(ceiling.per.value),
                amount(limit, ceiling.dose.base)
            ),
        )
        .also(
            infusion.span,
            format!(
                "{} {}",
                rate_words(rate),
                at_weight(weight.filter(|_| rate.per_kg)).trim_start()
            )
            .trim_end()
            .to_owned(),
        )
        .help("lower the top rate, bound it with `for at most D`, or say what to do past the ceiling: `raise … otherwise …`")
    })
}

fn rate_words(rate: &InfusionRate) -> String {
    format!("{}\u{a0}{}", rate.written.number, rate.written.unit)
}
