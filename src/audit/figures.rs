//! From the tally of a case to its figures.

use super::built_in::About;
use super::figure::{Figure, Part, Unit};
use super::goals;
use super::phase_tally::PhaseTally;
use super::tally::{LISTED, Tally};
use super::{Fired, PhaseRun};
use crate::eval::{Measured, wording};
use crate::model::*;
use crate::quantity::{Exact, difference_to_fahrenheit};

/// Every number, in the order of the report. The list has the same keys for every case
/// of a protocol.
pub(super) fn figures(tally: &Tally<'_>, own: usize) -> Vec<Figure> {
    let measured = tally.run.measures(tally.until);
    let mut found = Vec::new();
    target(tally, &mut found);
    held(tally, &measured, &mut found);
    speed(tally, &mut found);
    guard(tally, &measured, &mut found);
    for (measure, sum) in tally.protocol.measures.iter().zip(&measured).take(own) {
        goals::measure(tally, measure, sum, &mut found);
    }
    entries(tally, &mut found);
    rules(tally, &mut found);
    found
}

fn target(tally: &Tally<'_>, found: &mut Vec<Figure>) {
    let protocol = tally.protocol;
    let mut first = None;
    for (id, phase) in protocol.phases() {
        let Aim::Reach { to, way, .. } = &phase.aim else {
            continue;
        };
        let passed = tally.phases.get(id.index()).and_then(|phase| phase.arrived);
        let name = &phase.name.name;
        let verb = match way {
            Way::Cool => "cooled",
            Way::Warm => "warmed",
        };
        let figure = Figure::new(
            Part::Target,
            format!("{name}.time-to-target"),
            format!("`{name}`: time until {verb} to {to}"),
            passed.map(|(from, to)| to - from),
            Unit::Minutes,
        );
        found.push(goals::due(tally, id, phase, figure));
        if first.is_none() {
            first = Some(passed.map(|(_, at)| at));
            for (mark, stated) in protocol.marks() {
                let (Some(Some(at)), Some(made)) = (first, tally.marks.get(&mark)) else {
                    continue;
                };
                if *made <= Exact::ZERO {
                    found.push(Figure::new(
                        Part::Target,
                        format!("{name}.time-to-target-from-{}", stated.name.name),
                        format!("`{name}`: the same, from `{}`", stated.name.name),
                        Some(at - *made),
                        Unit::Minutes,
                    ));
                }
            }
        }
    }
}

fn held(tally: &Tally<'_>, measured: &[Measured], found: &mut Vec<Figure>) {
    for (id, phase) in tally.protocol.phases() {
        let Some(seen) = tally.phases.get(id.index()) else {
            continue;
        };
        let sum = |about: About| {
            tally
                .built_in
                .iter()
                .find(|built_in| built_in.phase == id && built_in.about == about)
                .and_then(|built_in| measured.get(built_in.index))
        };
        let Some(in_band) = sum(About::InBand) else {
            continue;
        };
        let name = &phase.name.name;
        let mut add = |key: &str, title: String, value: Option<Exact>, unit: Unit| {
            found.push(Figure::new(
                Part::Held,
                format!("{name}.{key}"),
                title,
                value,
                unit,
            ));
        };
        let band = band_words(phase);
        let share = |part: u64| (seen.readings > 0).then(|| count(part) / count(seen.readings));
        add(
            "readings",
            format!("`{name}`: readings"),
            Some(count(seen.readings)),
            Unit::Count,
        );
        add(
            "share-of-readings-in-band",
            format!("`{name}`: share of readings {band}"),
            share(seen.in_band),
            Unit::Share,
        );
        add(
            "share-of-time-in-band",
            format!("`{name}`: share of time {band}"),
            in_band.share(),
            Unit::Share,
        );
        if let Some(within_one) = sum(About::WithinOne) {
            add(
                "share-of-readings-within-1",
                format!("`{name}`: share of readings within 1 °C of the target"),
                share(seen.within_one),
                Unit::Share,
            );
            add(
                "share-of-time-within-1",
                format!("`{name}`: share of time within 1 °C of the target"),
                within_one.share(),
                Unit::Share,
            );
        }
        add(
            "time-known",
            format!("`{name}`: time for which the reading was known"),
            Some(in_band.known),
            Unit::Minutes,
        );
        add(
            "time-unknown",
            format!("`{name}`: time for which it was not known"),
            Some(in_band.unknown),
            Unit::Minutes,
        );
        sides(tally, id, phase, seen, &sum, &mut add);
    }
}

/// Takes a figure: key, title, value, unit.
type Add<'a> = &'a mut dyn FnMut(&str, String, Option<Exact>, Unit);

fn sides<'m>(
    tally: &Tally<'_>,
    id: PhaseId,
    phase: &Phase,
    seen: &PhaseTally,
    sum: &dyn Fn(About) -> Option<&'m Measured>,
    add: Add<'_>,
) {
    let name = &phase.name.name;
    let unit = degrees(tally, phase.aim.reading());
    let before = tally
        .protocol
        .phases()
        .filter(|(other, _)| *other < id)
        .filter_map(|(_, phase)| match &phase.aim {
            Aim::Reach { way, .. } => Some(*way),
            _ => None,
        })
        .last();
    // Past the far side of the band is overshoot; short of the near side, undershoot.
    let named = |side: Side| match (before, side) {
        (Some(Way::Cool), Side::Below) | (Some(Way::Warm), Side::Above) => "overshoot",
        (Some(Way::Cool), Side::Above) | (Some(Way::Warm), Side::Below) => "undershoot",
        (None, Side::Below) => "below",
        (None, Side::Above) => "above",
    };
    let hold = matches!(phase.aim, Aim::Hold { .. });
    for (about, side, depth, word) in [
        (About::BelowBand, Side::Below, seen.below.0, "below"),
        (About::AboveBand, Side::Above, seen.above.0, "above"),
    ] {
        let Some(sum) = sum(about) else { continue };
        // Above a range that is kept is told as a breach of the fever guard.
        if !hold && side == Side::Above {
            continue;
        }
        let what = match named(side) {
            named if hold && named != word => format!(" ({named})"),
            _ => String::new(),
        };
        add(
            &format!("time-{word}-band"),
            format!("`{name}`: time {word} the band{what}"),
            Some(sum.held),
            Unit::Minutes,
        );
        add(
            &format!("depth-{word}-band"),
            format!("`{name}`: farthest {word} the band{what}"),
            (seen.readings > 0).then(|| shown_change(depth, &unit)),
            Unit::Change(unit),
        );
    }
}

fn speed(tally: &Tally<'_>, found: &mut Vec<Figure>) {
    for (id, phase) in tally.protocol.phases() {
        let (Aim::Reach { way, reading, .. }, Some((sliding, window))) = (
            &phase.aim,
            tally
                .phases
                .get(id.index())
                .and_then(|phase| phase.sliding.as_ref()),
        ) else {
            continue;
        };
        let (key, word) = match way {
            Way::Cool => ("fastest-fall", "fall"),
            Way::Warm => ("fastest-rise", "rise"),
        };
        let name = &phase.name.name;
        let unit = degrees(tally, reading.value);
        found.push(Figure::new(
            Part::Speed,
            format!("{name}.{key}"),
            format!("`{name}`: largest {word} within {}", window_words(*window)),
            sliding
                .largest()
                .map(|(change, _)| shown_change(change, &unit)),
            Unit::Change(unit),
        ));
    }
}

fn guard(tally: &Tally<'_>, measured: &[Measured], found: &mut Vec<Figure>) {
    let protocol = tally.protocol;
    for (id, phase) in protocol.phases() {
        let Aim::Keep {
            high: Some(high),
            reading,
            ..
        } = &phase.aim
        else {
            continue;
        };
        let Some(seen) = tally.phases.get(id.index()) else {
            continue;
        };
        let above = tally
            .built_in
            .iter()
            .find(|built_in| built_in.phase == id && built_in.about == About::AboveBand)
            .and_then(|built_in| measured.get(built_in.index));
        let name = &phase.name.name;
        found.push(Figure::count(
            Part::Guard,
            format!("{name}.guard-breaches"),
            format!("`{name}`: how often above {high} anew"),
            seen.episodes,
        ));
        found.push(Figure::new(
            Part::Guard,
            format!("{name}.time-above-guard"),
            format!("`{name}`: time above {high}"),
            above.map(|above| above.held),
            Unit::Minutes,
        ));
        let unit = degrees(tally, reading.value);
        found.push(Figure::new(
            Part::Guard,
            format!("{name}.farthest-above-guard"),
            format!("`{name}`: farthest above {high}"),
            (seen.readings > 0).then(|| shown_change(seen.above.0, &unit)),
            Unit::Change(unit),
        ));
    }
    for (limit, passed) in protocol.limits.iter().zip(&tally.limits) {
        let name = &protocol[limit.reading].name.name;
        let side = match limit.side {
            Side::Above => "above",
            Side::Below => "below",
        };
        found.push(Figure::count(
            Part::Guard,
            format!("limit.{name}.{side}.{}", limit.level.written.number),
            format!("`{name}`: records {side} the limit, {}", limit.level),
            *passed,
        ));
    }
}

fn entries(tally: &Tally<'_>, found: &mut Vec<Figure>) {
    for ((_, reading), look) in tally.protocol.readings().zip(&tally.looks) {
        if look.due == 0 {
            continue;
        }
        let name = &reading.name.name;
        let made = look.in_time + look.late;
        let mut add = |key: &str, title: String, value: u64| {
            found.push(Figure::count(
                Part::Entries,
                format!("entries.{name}.{key}"),
                title,
                value,
            ));
        };
        add("due", format!("`{name}`: entries due"), look.due);
        add("made", format!("`{name}`: made"), made);
        add("late", format!("`{name}`: of these, late"), look.late);
        add("missed", format!("`{name}`: missed"), look.missed);
        let open = look.due.saturating_sub(made + look.missed);
        if open > 0 {
            add("open", format!("`{name}`: fell away or still open"), open);
        }
        found.push(Figure::new(
            Part::Entries,
            format!("entries.{name}.share-made"),
            format!("`{name}`: share made of those made or missed"),
            (made + look.missed > 0).then(|| count(made) / count(made + look.missed)),
            Unit::Share,
        ));
    }
}

fn rules(tally: &Tally<'_>, found: &mut Vec<Figure>) {
    for ((_, rule), seen) in tally.protocol.rules().zip(&tally.rules) {
        if seen.fired == 0 {
            continue;
        }
        let name = &rule.name.name;
        found.push(Figure::count(
            Part::Rules,
            format!("rule.{name}.fired"),
            format!("`{name}` fired"),
            seen.fired,
        ));
        if seen.asks.is_empty() {
            continue;
        }
        found.push(Figure::new(
            Part::Rules,
            format!("rule.{name}.mean-answer"),
            format!("`{name}`: until the ordered entry was recorded, mean"),
            seen.answered.mean(),
            Unit::Minutes,
        ));
        found.push(Figure::new(
            Part::Rules,
            format!("rule.{name}.longest-answer"),
            format!("`{name}`: until the ordered entry was recorded, longest"),
            (seen.answered.count > 0).then_some(seen.answered.longest),
            Unit::Minutes,
        ));
        found.push(Figure::count(
            Part::Rules,
            format!("rule.{name}.unanswered"),
            format!("`{name}`: fired without the ordered entry after it"),
            seen.unanswered + u64::from(seen.is_open()),
        ));
    }
}

pub(super) fn phase_runs(tally: &Tally<'_>) -> Vec<PhaseRun> {
    tally
        .passes
        .iter()
        .map(|pass| {
            let phase = &tally.protocol[pass.phase];
            PhaseRun {
                phase: phase.name.name.clone(),
                title: phase.title.markdown.clone(),
                from: wording::time(pass.from),
                to: pass.to.map(wording::time),
                by_order: pass.by_order,
            }
        })
        .collect()
}

pub(super) fn fired(tally: &Tally<'_>) -> Vec<Fired> {
    let protocol = tally.protocol;
    protocol
        .rules()
        .zip(&tally.rules)
        .filter(|(_, seen)| seen.fired > 0)
        .map(|((_, rule), seen)| Fired {
            rule: rule.name.name.clone(),
            fired: seen.fired,
            times: seen
                .times
                .iter()
                .take(LISTED)
                .map(|at| wording::time(*at))
                .collect(),
            asks: seen
                .asks
                .iter()
                .map(|(reading, _)| protocol[*reading].name.name.clone())
                .collect(),
            answered: seen.answered.count,
            unanswered: seen.unanswered,
            open: seen.is_open(),
            mean_answer: seen.answered.mean().map(wording::time),
            longest_answer: (seen.answered.count > 0).then(|| wording::time(seen.answered.longest)),
            mean_until_ready: seen.ready.mean().map(wording::time),
        })
        .collect()
}

fn band_words(phase: &Phase) -> String {
    match &phase.aim {
        Aim::Hold { within, .. } => format!("within {within} of the target"),
        Aim::Reach {
            within: Some(within),
            ..
        } => format!("within {within} of the moving target"),
        Aim::Keep { low, high, .. } => match (low, high) {
            (Some(low), Some(high)) => format!("from {low} to {high}"),
            (Some(low), None) => format!("at or above {low}"),
            (None, Some(high)) => format!("at or below {high}"),
            (None, None) => "in the range".to_owned(),
        },
        Aim::Reach { .. } => "in the band".to_owned(),
    }
}

fn window_words(minutes: Exact) -> String {
    let hours = minutes / Exact::int(60);
    if hours.is_integer() {
        format!("{hours} h")
    } else {
        format!("{minutes} min")
    }
}

fn degrees(tally: &Tally<'_>, reading: ReadingId) -> &'static str {
    wording::unit(tally.protocol, reading)
}

/// A difference in the unit that the reading is shown in.
pub(super) fn shown_change(change: Exact, unit: &&'static str) -> Exact {
    if *unit == "°F" {
        difference_to_fahrenheit(change)
    } else {
        change
    }
}

fn count(number: u64) -> Exact {
    i64::try_from(number).map_or(Exact::OVERFLOW, Exact::int)
}
