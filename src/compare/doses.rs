//! The most of a medication that can be given in 24 h.
//!
//! Over every weight that the protocol allows: doses as often as `not again within`
//! and the statements that give them allow, an infusion at its top rate, both held
//! by the ceiling where there is one. Deliberately the worst, not the usual.

use crate::checks::medication::given::{doses_within, ways};
use crate::model::*;
use crate::quantity::{Base, Exact};

const DAY: i64 = 24 * 60;

pub(super) fn worst_day(protocol: &Protocol, id: MedicationId) -> String {
    let medication = &protocol[id];
    let ways = ways(protocol, id);
    if ways.is_empty() {
        return "never given".to_owned();
    }
    let mut worst: Option<(Exact, Base, Option<Exact>, bool)> = None;
    for weight in weights(protocol) {
        let Some((amount, base, held)) = at_weight(medication, &ways, weight) else {
            continue;
        };
        if worst.as_ref().is_none_or(|(most, ..)| amount > *most) {
            worst = Some((amount, base, weight, held));
        }
    }
    match worst {
        Some((amount, base, weight, held)) => {
            let by_weight = weight.filter(|_| goes_by_weight(medication));
            format!(
                "{}{}{}",
                super::worked::amount(amount, base),
                by_weight.map_or_else(String::new, |kg| format!(" at {kg}\u{a0}kg")),
                if held { ", held by the ceiling" } else { "" }
            )
        }
        None => "without a bound".to_owned(),
    }
}

fn goes_by_weight(medication: &Medication) -> bool {
    medication.doses.iter().any(|line| line.dose.per_kg)
        || medication
            .infusion
            .as_ref()
            .is_some_and(|line| line.first.per_kg)
        || medication
            .ceiling
            .as_ref()
            .is_some_and(|ceiling| ceiling.dose.per_kg)
}

/// Amount in 24 h, and whether the ceiling holds it. `None` where nothing does.
fn at_weight(
    medication: &Medication,
    ways: &[crate::checks::medication::given::Way],
    weight: Option<Exact>,
) -> Option<(Exact, Base, bool)> {
    let day = Exact::int(DAY);
    let mut total = Exact::ZERO;
    let mut base = None;
    let mut open = false;
    if let Some(line) = medication.dose_line_for(weight) {
        let dose = medication.work_dose(line, weight)?.given;
        base = Some(line.dose.base);
        let again = line
            .not_again
            .as_ref()
            .map_or(Exact::ZERO, |again| again.value);
        let mut times = Exact::ZERO;
        for way in ways.iter().filter(|way| !way.raises) {
            match way.apart {
                None => times = times + Exact::ONE,
                Some(apart) => match doses_within(day, apart.max(again)) {
                    Some(more) => times = times + more,
                    None => open = true,
                },
            }
        }
        // Whatever orders it, no two doses are closer than that.
        if let Some(most) = doses_within(day, again) {
            times = times.min(most);
            open = false;
        }
        total = dose * times;
    }
    if let Some(infusion) = &medication.infusion {
        let raised = ways.iter().any(|way| way.raises);
        let top = match &infusion.top {
            Some(top) if raised => top,
            _ => &infusion.first,
        };
        if base.is_none_or(|base| base == top.base) {
            base = Some(top.base);
            let runs = infusion
                .at_most
                .as_ref()
                .map_or(day, |most| most.value.min(day));
            total = total + top.for_weight(weight)? * runs / Exact::int(60);
        }
    }
    let base = base?;
    if let Some(ceiling) = &medication.ceiling
        && ceiling.dose.base == base
    {
        // So many stretches of the ceiling begin within a day.
        let most = ceiling.dose.for_weight(weight)? * (day / ceiling.per.value).ceil();
        if open || most < total {
            return Some((most, base, true));
        }
    }
    (!open).then_some((total, base, false))
}

pub(super) fn weights(protocol: &Protocol) -> Vec<Option<Exact>> {
    const MOST: usize = 4_001;
    let Some(range) = protocol.head.patients.dosing_weight() else {
        return vec![None];
    };
    let step = Exact::ratio(1, 10);
    let mut found = vec![Some(range.high.value)];
    let mut weight = range.high.value.round_down_to(step);
    while weight >= range.low.value && found.len() < MOST {
        found.push(Some(weight));
        weight = weight - step;
    }
    found
}
