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
    catches: "A single dose at the heaviest patient the protocol allows, or the top rate of an infusion over the time \
              that it may run, when it passes the ceiling; regular doses, or the worst path through the rechecks of a \
              ladder, when they pass it and no `otherwise` says what to do then; and a medication, infused ones too, that a rule or a ladder can give again and again \
              without any ceiling.",
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
    // A regular dose is bounded by its interval.
    let way = ways
        .iter()
        .find(|way| !way.raises && way.apart.is_some() && !way.words.starts_with("every"))?;
    let how = if medication.doses.is_empty() {
        "started"
    } else {
        "given"
    };
    Some(
        CHECK
            .found(
                medication.span,
                format!(
                    "{} can be {how} again and again without a ceiling",
                    name(&medication.name)
                ),
            )
            .also(way.span, format!("{how} by {}", way.words))
            .why("nothing on the sheet says when it has been enough")
            .help("add `ceiling DOSE per D`, with the figure that this unit's pharmacist gives")
            .about(&medication.name.name),
    )
}

/// What comes of one line at one weight, against the ceiling there.
struct Worst<'a> {
    line: &'a DoseLine,
    dose: Exact,
    total: Exact,
    limit: Exact,
    /// Where the dose or the ceiling goes by it.
    weight: Option<Exact>,
}

/// The weight and line at which `times` doses go farthest past the ceiling.
/// `times` is asked for each line, since a line has its own `not again within`.
fn worst<'a>(
    protocol: &Protocol,
    medication: &'a Medication,
    ceiling: &Ceiling,
    times: impl Fn(&DoseLine, Exact, Exact) -> Exact,
) -> Option<Worst<'a>> {
    let mut worst: Option<Worst> = None;
    for weight in weights(protocol) {
        let Some(limit) = ceiling.dose.for_weight(weight) else {
            continue;
        };
        for line in &medication.doses {
            if line.dose.base != ceiling.dose.base || !line.is_for(weight) {
                continue;
            }
            let Some(dose) = medication.work_dose(line, weight).map(|dose| dose.given) else {
                continue;
            };
            let total = dose * times(line, dose, limit);
            let past = total - limit;
            if past > Exact::ZERO
                && worst
                    .as_ref()
                    .is_none_or(|other| past > other.total - other.limit)
            {
                let by_weight = line.dose.per_kg || ceiling.dose.per_kg;
                worst = Some(Worst {
                    line,
                    dose,
                    total,
                    limit,
                    weight: weight.filter(|_| by_weight),
                });
            }
        }
    }
    worst
}

/// Every weight that the protocol allows, in steps of 0.1 kg (M29): heaviest
/// first, so that of equal ones the heaviest is named.
fn weights(protocol: &Protocol) -> Vec<Option<Exact>> {
    let Some(range) = protocol.head.patients.dosing_weight() else {
        return vec![None];
    };
    let step = Exact::ratio(1, 10);
    let mut found = vec![Some(range.high.value)];
    let mut weight = range.high.value.round_down_to(step);
    while weight >= range.low.value && found.len() < MOST_WEIGHTS {
        found.push(Some(weight));
        weight = weight - step;
    }
    found
}

/// To 400 kg in steps of 0.1 kg.
const MOST_WEIGHTS: usize = 4_001;

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
    let worst = worst(protocol, medication, ceiling, |_, _, _| Exact::ONE)?;
    let base = ceiling.dose.base;
    Some(
        too_much(
            medication,
            ceiling,
            format!(
                "one dose of {} is {}{}, more than its ceiling of {}",
                name(&medication.name),
                amount(worst.dose, base),
                at_weight(worst.weight),
                amount(worst.limit, base)
            ),
        )
        .also(worst.line.span, "the dose")
        .help("hold the dose with `at most DOSE`, or correct the ceiling"),
    )
}

/// Regular doses, and doses that rechecks lead to.
fn repeated(
    protocol: &Protocol,
    medication: &Medication,
    ceiling: &Ceiling,
    ways: &[Way],
) -> Option<Diagnostic> {
    let base = ceiling.dose.base;
    let unanswered = ways
        .iter()
        .filter(|way| !way.has_otherwise && !way.raises)
        .filter_map(|way| Some((way, way.apart?)));
    for (way, apart) in unanswered {
        let apart_for = |line: &DoseLine| {
            let again = line.not_again.as_ref();
            again.map_or(apart, |again| again.value.max(apart))
        };
        let found = worst(protocol, medication, ceiling, |line, dose, limit| {
            // Where nothing keeps two apart only the ceiling does, and nothing
            // says what to do when it is reached.
            doses_within(ceiling.per.value, apart_for(line))
                .unwrap_or_else(|| (limit / dose).floor() + Exact::ONE)
        });
        let Some(worst) = found else { continue };
        let dose = format!("{}{}", amount(worst.dose, base), at_weight(worst.weight));
        let (title, how) = match doses_within(ceiling.per.value, apart_for(worst.line)) {
            Some(times) => (
                format!(
                    "{} comes to {}, and its ceiling is {}",
                    name(&medication.name),
                    amount(worst.total, base),
                    amount(worst.limit, base)
                ),
                format!("{times} doses of {dose} in {}", time(ceiling.per.value)),
            ),
            None => (
                format!(
                    "nothing says what to do when {} has reached its ceiling of {}",
                    name(&medication.name),
                    amount(worst.limit, base)
                ),
                format!("doses of {dose} as often as it comes up"),
            ),
        };
        return Some(
            too_much(medication, ceiling, title)
                .also(way.span, format!("given by {}: {how}", way.words))
                .help("give it less often, give less, or say what to do past the ceiling: `give … otherwise …`"),
        );
    }
    None
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
    // A raise is refused only once the ceiling is reached; what was raised before runs
    // on past it by time alone, and no `otherwise` is asked then.
    let (rate, words) = if ways.iter().any(|way| way.raises) {
        (top, "at its top rate")
    } else {
        (&infusion.first, "at its first rate")
    };
    let runs = infusion
        .at_most
        .as_ref()
        .map_or(ceiling.per.value, |most| most.value.min(ceiling.per.value));
    let base = ceiling.dose.base;
    let mut found: Option<(Exact, Exact, Option<Exact>)> = None;
    for weight in weights(protocol) {
        let (Some(per_hour), Some(limit)) =
            (rate.for_weight(weight), ceiling.dose.for_weight(weight))
        else {
            continue;
        };
        // `give` starts the infusion after the single dose (M30).
        let single = medication
            .dose_line_for(weight)
            .filter(|line| line.dose.base == base)
            .and_then(|line| medication.work_dose(line, weight))
            .map_or(Exact::ZERO, |dose| dose.given);
        let total = per_hour * runs / Exact::int(60) + single;
        let past = total - limit;
        if past > Exact::ZERO && found.is_none_or(|(total, limit, _)| past > total - limit) {
            let by_weight = rate.per_kg || ceiling.dose.per_kg;
            found = Some((total, limit, weight.filter(|_| by_weight)));
        }
    }
    let (total, limit, weight) = found?;
    Some(
        too_much(
            medication,
            ceiling,
            format!(
                "{} comes to {} in {} {words}, and its ceiling is {}",
                name(&medication.name),
                amount(total, base),
                time(ceiling.per.value),
                amount(limit, base)
            ),
        )
        .also(infusion.span, format!("{}{}", rate_words(rate), at_weight(weight)))
        .help(
            "lower the rate, bound it with `for at most D`, or correct the ceiling; an `otherwise` is not asked while it \
             runs on",
        ),
    )
}

fn rate_words(rate: &InfusionRate) -> String {
    format!("{}\u{a0}{}", rate.written.number, rate.written.unit)
}
