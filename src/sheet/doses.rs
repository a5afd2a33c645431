//! Medications: what was ordered, what it makes for this patient with the working shown, the
//! ceiling, and a box for the second person's own calculation.

use super::Sheet;
use crate::document::{Block, Cell, Column, Field, Rich, Row, Table, Width, text};
use crate::model::{DoseLine, FixedWord, InfusionRate, Medication};
use crate::quantity::{Base, Exact, unit_named};
use crate::words::{amount_in, shown};

impl Sheet<'_> {
    pub(super) fn doses(&self) -> Vec<Block> {
        let rows: Vec<Row> = self
            .protocol
            .medications
            .iter()
            .flat_map(|medication| self.medication(medication))
            .collect();
        if rows.is_empty() {
            return Vec::new();
        }
        let worked = match &self.case.weight {
            Some(weight) => format!("Worked out for {weight}"),
            None => "Work out for this patient".to_string(),
        };
        vec![
            Block::heading(1, "Doses"),
            Block::paragraph(
                "The second person works it out alone, without looking at the first result; the \
                 two must agree before anything is given.",
            ),
            Block::Table(Table {
                caption: Rich::default(),
                columns: vec![
                    Column::new(worked, Width::Share(1)),
                    Column::new("Second person, alone", Width::Mm(36)),
                    Column::new("Initials of both", Width::Mm(24)),
                ],
                rows,
                row_height: 70,
                fill: false,
            }),
        ]
    }

    /// A medicine: what was ordered, then a row for each dose and each rate.
    fn medication(&self, medication: &Medication) -> Vec<Row> {
        let weight = self.weight();
        let mut order: Vec<Rich> = Vec::new();
        let mut worked: Vec<(Rich, String)> = Vec::new();
        for line in &medication.doses {
            order.push(dose_words(line).into());
            if line.band.is_empty() || self.weight().is_none() || line.is_for(weight) {
                let each = work_dose(medication, line, weight);
                worked.extend(each.into_iter().map(|words| (words, dose_unit(line))));
            }
        }
        if let Some(infusion) = &medication.infusion {
            let mut words = format!("infuse {}", rate_words(&infusion.first));
            if let Some(top) = &infusion.top {
                words.push_str(&format!(" to {}", rate_words(top)));
            }
            if let (Some(step), Some(every)) = (&infusion.step, &infusion.step_every) {
                words.push_str(&format!(", steps of {} every {every}", rate_words(step)));
            }
            if let Some(most) = &infusion.at_most {
                words.push_str(&format!(", for at most {most}"));
            }
            order.push(words.into());
            // Each rate is worked out by both.
            worked.extend(
                rungs(infusion)
                    .iter()
                    .map(|rate| (work_rate(medication, rate, weight), "mL/h".to_string())),
            );
        }
        if let Some(concentration) = &medication.concentration {
            order.push(format!("concentration {}", written(&concentration.written)).into());
        }
        if let Some(rounding) = &medication.rounded_to {
            order.push(format!("rounded down to {}", written(&rounding.written)).into());
        }
        if let Some(ceiling) = &medication.ceiling {
            let per = &ceiling.per;
            let most = written(&ceiling.dose.written);
            let mut words = format!("never more than {most} in any {per}");
            if ceiling.dose.per_kg {
                words.push_str(&ceiling_words(&ceiling.dose, weight));
            }
            order.push(Rich::bold(words));
        }
        if !medication.only_with.is_empty() {
            let names: Vec<String> = medication
                .only_with
                .iter()
                .map(|at| self.protocol[at.value].title.markdown.trim().to_string())
                .collect();
            order.push(text::inline(&format!(
                "**only while this runs: {}**",
                crate::words::listed(&names, "or")
            )));
        }
        for (avoid, _) in &medication.avoid {
            order.push(Rich::bold("avoid: ").then(text::inline(&avoid.markdown)));
        }
        let title = text::inline(&medication.title.markdown).all_bold();
        let mut words = title.clone().then(": ");
        for (index, part) in order.into_iter().enumerate() {
            if index > 0 {
                words = words.then("; ");
            }
            words = words.then(part);
        }
        let mut rows = vec![Row::Section {
            text: words,
            fields: Vec::new(),
            again: title.then(" (continued)"),
        }];
        rows.extend(worked.into_iter().map(|(words, unit)| {
            Row::cells(vec![
                Cell::Text(words),
                Cell::WriteIn(Field::open("", unit, 24)),
                Cell::Initials,
            ])
        }));
        rows
    }

    fn weight(&self) -> Option<Exact> {
        self.case.weight.as_ref().map(|weight| weight.value)
    }
}

fn written(written: &crate::quantity::Written) -> String {
    format!("{}\u{a0}{}", written.number, written.unit)
}

fn rate_words(rate: &InfusionRate) -> String {
    written(&rate.written)
}

fn dose_words(line: &DoseLine) -> String {
    let mut words = format!("dose {}", written(&line.dose.written));
    if let Some(route) = &line.route {
        words.push_str(&format!(" {}", route.value.word()));
    }
    if let Some(over) = &line.over {
        words.push_str(&format!(" over {over}"));
    }
    if let Some(most) = &line.at_most {
        words.push_str(&format!(", at most {}", written(&most.written)));
    }
    if let Some(again) = &line.not_again {
        words.push_str(&format!(", not again within {again}"));
    }
    for (index, band) in line.band.iter().enumerate() {
        let joint = if index == 0 { ", for a weight" } else { " and" };
        words.push_str(&format!("{joint} {} {}", band.cmp.words(), band.weight));
    }
    words
}

/// The unit of a dose without its `/kg`.
fn dose_unit(line: &DoseLine) -> String {
    bare(line.dose.written.unit).to_string()
}

fn bare(unit: &str) -> &str {
    unit.split_once("/kg").map_or(unit, |(bare, _)| bare)
}

fn work_dose(medication: &Medication, line: &DoseLine, weight: Option<Exact>) -> Vec<Rich> {
    let unit = dose_unit(line);
    let dose = written(&line.dose.written);
    let work = medication.work_dose(line, weight);
    let (mut words, work) = match (work, line.dose.per_kg, weight) {
        (Some(work), false, _) if work.given == work.product => (String::new(), work),
        (Some(work), false, _) => (dose, work),
        (Some(work), true, Some(kg)) => {
            let product = amount_in(work.product, &unit);
            (format!("{dose} × {} kg = {product}", shown(kg, 3)), work)
        }
        (None, false, _) => return vec![Rich::from(format!("give {dose}"))],
        (_, true, _) => {
            return vec![Rich::from(format!(
                "{dose} × ______ kg = __________ {unit}"
            ))];
        }
    };
    if work.capped != work.product {
        words.push_str(&format!("; at most {}", amount_in(work.capped, &unit)));
    }
    if work.given != work.capped {
        words.push_str("; rounded down");
    }
    if !words.is_empty() {
        words.push_str(": ");
    }
    let mut rich =
        Rich::from(format!("{words}give ")).then(Rich::bold(amount_in(work.given, &unit)));
    if let Some(volume) = volume(medication, line.dose.base, work.given) {
        rich = rich.then(format!(" = {volume}"));
    }
    vec![rich]
}

/// How much of the solution holds that amount.
fn volume(medication: &Medication, base: Base, amount: Exact) -> Option<String> {
    let concentration = medication
        .concentration
        .as_ref()
        .filter(|concentration| concentration.base == base && base != Base::Volume)?;
    Some(format!(
        "{}\u{a0}mL of {}",
        shown(amount / concentration.per_ml, 3),
        written(&concentration.written)
    ))
}

/// Every rate of an infusion, from the first in its steps to the top.
fn rungs(infusion: &crate::model::InfusionLine) -> Vec<InfusionRate> {
    let mut rates = vec![infusion.first.clone()];
    let (Some(top), Some(step)) = (&infusion.top, &infusion.step) else {
        return rates;
    };
    if step.per_hour <= Exact::ZERO || step.base != infusion.first.base {
        return rates;
    }
    // More rates than this no sheet can hold; the top stands in the order all the same.
    while rates.len() < 12 {
        let next = match rates.last() {
            Some(last) => last.per_hour + step.per_hour,
            None => break,
        };
        if next > top.per_hour || next.is_overflow() {
            // The last step goes no farther than the top (M30).
            if rates
                .last()
                .is_some_and(|last| last.per_hour < top.per_hour)
            {
                rates.push(top.clone());
            }
            break;
        }
        let mut rate = infusion.first.clone();
        rate.per_hour = next;
        rate.written.number = unit_named(rate.written.unit)
            .map_or_else(|| shown(next, 4), |unit| shown(next / unit.factor(), 4));
        rates.push(rate);
    }
    rates
}

fn work_rate(medication: &Medication, rate: &InfusionRate, weight: Option<Exact>) -> Rich {
    let said = rate_words(rate);
    let unit = rate.written.unit.replace("/kg", "");
    let strength = medication
        .concentration
        .as_ref()
        .map(|concentration| format!(" ÷ {}", written(&concentration.written)))
        .unwrap_or_default();
    let kg = match (rate.per_kg, weight) {
        (true, Some(kg)) => format!(" × {} kg", shown(kg, 3)),
        (true, None) => " × ______ kg".to_string(),
        (false, _) => String::new(),
    };
    match medication.work_rate(rate, weight) {
        Some(work) => {
            let amount = match unit_named(&unit) {
                Some(known) => format!(
                    " = {}\u{a0}{unit}",
                    shown(work.per_hour / known.factor(), 3)
                ),
                None => String::new(),
            };
            let exact = if work.set == work.exact {
                String::new()
            } else {
                format!(" = {}\u{a0}mL/h", shown(work.exact, 3))
            };
            Rich::from(format!("{said}{kg}{amount}{strength}{exact}: pump "))
                .then(Rich::bold(format!("{}\u{a0}mL/h", shown(work.set, 3))))
        }
        None => Rich::from(format!(
            "{said}{kg} = ________ {unit}{strength} = ________ mL/h"
        )),
    }
}

/// What a ceiling per kilogram makes for this patient.
fn ceiling_words(dose: &crate::model::Dose, weight: Option<Exact>) -> String {
    let unit = bare(dose.written.unit);
    match (weight, dose.for_weight(weight)) {
        (Some(kg), Some(most)) => {
            format!(" (× {} kg = {})", shown(kg, 3), amount_in(most, unit))
        }
        _ => format!(" (× ______ kg = ________ {unit})"),
    }
}
