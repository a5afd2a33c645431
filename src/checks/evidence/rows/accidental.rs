//! Accidental hypothermia.

use super::super::facts::{amounts, control, limit_in_unit, number, planned};
use super::*;
use crate::checks::facts::{Covered, Origin, covering};
use crate::checks::timing;
use crate::checks::words::{celsius, name, per_hour};
use crate::model::words::{Analyte, Means, Medium, Sign, Topic};
use crate::model::*;
use crate::quantity::Exact;

const BLANK: Row = Row {
    patients: "any",
    intent: "rewarming of accidental hypothermia",
    ..blank(Section::Accidental)
};

const WMS: &str = "WMS guideline 2019, Dow et al., Wilderness Environ Med 2019;30(4S):S47-69";
const PAAL: &str =
    "Paal et al., Scand J Trauma Resusc Emerg Med 2016;24:111, doi 10.1186/s13049-016-0303-7";
const STAGES: &str = "stages are taught, not ordered; of the staging rows only staging by temperature alone is decided";

pub(super) const ROWS: &[Row] = &[
    Row {
        id: "acc-definition",
        quantity: "core temperature",
        limit: "35 °C or less (other texts: below 35 °C)",
        protects: "two readings of one word",
        source: WMS,
        standing: Standing::Reported,
        seen: "\"Summary of Wilderness Medical Society ... 2019 Update\"",
        decision: Decision::Never(DEFINES),
        ..BLANK
    },
    Row {
        id: "acc-wms-stages",
        quantity: "stages",
        limit: "cold-stressed above 35 °C; mild 35 °C to 32 °C; moderate 32 °C to 28 °C; severe or profound below 28 °C",
        protects: "two readings of one word",
        source: WMS,
        standing: Standing::Reported,
        seen: "\"Summary of Wilderness Medical Society ... 2019 Update\"",
        decision: Decision::Never(STAGES),
        ..BLANK
    },
    Row {
        id: "acc-swiss-classic",
        quantity: "stages HT I to IV",
        limit: "by signs and temperature: I 35 °C to 32 °C, shivering, conscious; II below 32 °C to 28 °C, impaired; III below 28 °C to 24 °C, unconscious; IV below 24 °C, no vital signs",
        level: Level::Warning,
        protects: "sending patients to the wrong place by their temperature alone",
        source: "Durrer / Brugger, reproduced in J R Army Med Corps, table 2",
        standing: Standing::Seen,
        seen: "\"The Swiss hypothermia staging system with recommendations for management\"",
        decision: Decision::Fires {
            decided_by: "a ladder of rungs on a body temperature, where no rule, ladder or look has a reading of consciousness, pulse or rhythm",
            applies: |scope| scope.accidental(),
            run: stages,
        },
        ..BLANK
    },
    Row {
        id: "acc-swiss-later",
        quantity: "stages HT I to IV",
        limit: "III below 28 °C; IV below 28 °C (variable), no vital signs; shivering may persist in II. The classic line of 24 °C is gone",
        protects: "relying on the line of 24 °C",
        source: "CMAJ, box 2 \"Staging and treatment of accidental hypothermia\"",
        standing: Standing::Seen,
        seen: "the box",
        decision: Decision::Never(STAGES),
        ..BLANK
    },
    Row {
        id: "acc-swiss-revised-2021",
        quantity: "stages 1 to 4 by consciousness",
        limit: "alert, verbal, pain or unconscious, no vital signs; temperature only as risk",
        protects: "sending patients to the wrong place by their temperature alone",
        source: "Musi et al., Resuscitation 2021;162:182-187",
        standing: Standing::Memory,
        seen: "not found",
        decision: Decision::Never(STAGES),
        ..BLANK
    },
    Row {
        id: "acc-ecls-triage",
        quantity: "any of: below 28 °C, ventricular arrhythmia, systolic pressure below 90 mmHg, arrest",
        patients: "adults",
        limit: "direct transfer to a centre with extracorporeal support, from 28.0 °C down",
        level: Level::Error,
        protects: "cardiac arrest away from help",
        source: PAAL,
        standing: Standing::Seen,
        seen: "abstract; that ERC 2021 uses 30 °C for patients at high risk is from memory",
        decision: Decision::Fires {
            decided_by: "something that covers extracorporeal-transfer, unless extracorporeal is a means of this protocol; a rule that gives it by temperature must do so from 28.0 °C down",
            applies: |scope| scope.adult_accidental() && !scope.uses(&[Means::Extracorporeal]),
            run: transfer,
        },
        ..BLANK
    },
    Row {
        id: "acc-hope",
        quantity: "decision to rewarm an arrested patient by extracorporeal support",
        patients: "adults",
        limit: "HOPE survival probability of 10 % or more; never a single potassium value",
        level: Level::Error,
        protects: "futile treatment, or treatment withheld",
        source: "Hall et al., SJTREM 2025, doi 10.1186/s13049-025-01445-9; ERC 2021 adopts tools of several variables",
        standing: Standing::Seen,
        seen: "both pages",
        decision: Decision::Fires {
            decided_by: "an order that covers rewarming-futile, given by a rule or ladder on potassium alone",
            applies: |scope| scope.adult_accidental(),
            run: single_potassium,
        },
        ..BLANK
    },
    Row {
        id: "acc-potassium-cutoff",
        quantity: "potassium in hypothermic arrest",
        patients: "adults",
        limit: "above 8 mmol/L (avalanche, asphyxia) and above 12 mmol/L were lines of futility; superseded by HOPE",
        level: Level::Note,
        protects: "lines that are no longer used",
        source: "older ICAR / ERC texts",
        standing: Standing::Memory,
        seen: "not found",
        decision: Decision::Fires {
            decided_by: "a rule or ladder with a potassium of 8 mmol/L or more",
            applies: |scope| scope.adult_accidental(),
            run: old_cutoff,
        },
        ..BLANK
    },
    Row {
        id: "acc-rewarm-rates",
        quantity: "what rate a method can give",
        limit: "passive 0.5 °C/h to 4 °C/h; active external 0.5 °C/h to 4 °C/h; lavage adds about 0.5 °C/h to 1 °C/h; extracorporeal to about 9 °C/h",
        level: Level::Warning,
        protects: "a plan that cannot be met",
        source: PAAL,
        standing: Standing::Seen,
        seen: "table 3; the extracorporeal rates from memory",
        decision: Decision::Fires {
            decided_by: "planned rates and `at least` of phases that warm; esophageal and intravascular warming have no figure and are not judged",
            applies: |scope| scope.accidental(),
            run: method_rates,
        },
        ..BLANK
    },
    Row {
        id: "acc-afterdrop",
        quantity: "further fall of the core after rewarming starts",
        limit: "about 0.3 °C at rest to 1.0 °C after exercise",
        level: Level::Warning,
        protects: "an alarm that means nothing, a missed fall and a dangerous rhythm",
        source: PAAL,
        standing: Standing::Seen,
        seen: "table 3",
        decision: Decision::Fires {
            decided_by: "low thresholds of rules on the control temperature, at or less than 1.0 °C below the coldest start of the first phase",
            applies: |scope| scope.accidental(),
            run: afterdrop,
        },
        ..BLANK
    },
    Row {
        id: "acc-warm-fluids",
        quantity: "temperature of iv fluid",
        limit: "38 °C to 42 °C (WMS: 40 °C to 42 °C)",
        level: Level::Warning,
        protects: "burns, or warming that does nothing",
        source: "emergency handbook table \"Rewarming Methods\" (38 °C to 42 °C); WMS 2019",
        standing: Standing::Seen,
        seen: "the handbook; WMS's 40 °C to 42 °C from memory",
        decision: Decision::Fires {
            decided_by: "`limit` on a temperature of fluid",
            applies: |scope| scope.accidental(),
            run: |find| {
                let outside = |value: Exact| value < number("38") || value > number("42");
                find.limit_hits(
                    Medium::Fluid,
                    Side::Above,
                    outside,
                    "is outside 38 °C to 42 °C",
                );
                find.limit_hits(
                    Medium::Fluid,
                    Side::Below,
                    outside,
                    "is outside 38 °C to 42 °C",
                );
            },
        },
        ..BLANK
    },
    Row {
        id: "acc-slow-passive",
        quantity: "passive goal in mild hypothermia",
        patients: "adults",
        limit: "about 0.5 °C/h",
        level: Level::Note,
        protects: "warming the elderly too fast",
        source: "emergency handbook table \"Rewarming Methods\"",
        standing: Standing::Seen,
        seen: "the handbook",
        decision: Decision::Fires {
            decided_by: "planned rates and `at least` of passive phases that warm from 32.0 °C or more",
            applies: |scope| scope.adult_accidental(),
            run: slow_passive,
        },
        ..BLANK
    },
    Row {
        id: "acc-arrest-drugs",
        quantity: "drugs and shocks in hypothermic arrest",
        patients: "adults",
        limit: "below 30 °C no adrenaline and at most 3 shocks; 30 °C to 34 °C double the interval (another box: up to 3 doses and 3 shocks)",
        protects: "drugs that add up in the cold",
        source: "ERC 2021 special circumstances, Lott et al., Resuscitation 2021;161:152-219",
        standing: Standing::Memory,
        seen: "the numbers were not seen; the CMAJ box (up to 3 doses and 3 shocks) was: the two disagree",
        decision: Decision::Never(IN_TEXT),
        ..BLANK
    },
];

fn stages(find: &mut Finder) {
    let protocol = find.protocol;
    let is_sign = |id: ReadingId| {
        matches!(&protocol[id].kind, ReadingKind::Choice { of: Some(of), .. }
            if matches!(of.value, Sign::Consciousness | Sign::Pulse | Sign::Rhythm))
            || matches!(&protocol[id].kind, ReadingKind::Score { of: Some(of), .. }
                if of.value == crate::model::words::Scale::Coma)
    };
    let has_sign = protocol.readings().any(|(id, _)| is_sign(id));
    if has_sign {
        return;
    }
    for (_, ladder) in protocol.ladders() {
        let by_temperature = protocol[ladder.reading.value].kind.is_body();
        if by_temperature && matches!(&ladder.form, LadderForm::Rungs(rungs) if rungs.len() > 1) {
            find.hit(
                ladder.span,
                &ladder.name.name,
                format!("{} goes by temperature alone", name(&ladder.name)),
            );
        }
    }
}

fn transfer(find: &mut Finder) {
    let protocol = find.protocol;
    let limit = number("28");
    let covered = covering(protocol, Topic::ExtracorporealTransfer);
    if covered.is_empty() {
        find.missing("nothing covers extracorporeal-transfer");
        return;
    }
    let mut late = None;
    for covered in covered {
        let Covered::Order(order) = covered else {
            return;
        };
        let Origin::Rule(rule) = order.origin else {
            return;
        };
        let rule = &protocol[rule];
        // Only a rule on one low temperature says from where on it transfers.
        let Cond::Test(Test {
            kind:
                TestKind::Compare {
                    reading,
                    cmp: Cmp::Below | Cmp::AtOrBelow,
                    level,
                },
            ..
        }) = &rule.when
        else {
            return;
        };
        if !protocol[*reading].kind.is_body() || level.value >= limit {
            return;
        }
        late = Some((level.span, rule.name.name.clone(), level.to_string()));
    }
    if let Some((span, about, level)) = late {
        find.hit(
            span,
            &about,
            format!(
                "`{about}` transfers only from {level} down, and patients below 28.0 °C are kept"
            ),
        );
    }
}

fn single_potassium(find: &mut Finder) {
    let protocol = find.protocol;
    let potassium = amounts(protocol, Analyte::Potassium);
    for covered in covering(protocol, Topic::RewarmingFutile) {
        let Covered::Order(order) = covered else {
            continue;
        };
        let alone = match order.origin {
            Origin::Rule(rule) => {
                let readings = protocol[rule].when.readings();
                !readings.is_empty() && readings.iter().all(|reading| potassium.contains(reading))
            }
            Origin::Ladder(ladder, _) => potassium.contains(&protocol[ladder].reading.value),
            Origin::Look => false,
        };
        if alone {
            let about = order.name.unwrap_or(&protocol.name);
            find.hit(
                order.action.span,
                &about.name,
                format!("{} decides by a single potassium value", name(about)),
            );
        }
    }
}

fn old_cutoff(find: &mut Finder) {
    let protocol = find.protocol;
    for id in amounts(protocol, Analyte::Potassium) {
        let Some(limit) = limit_in_unit(&protocol[id], &[("mmol/L", number("8"))]) else {
            continue;
        };
        for (_, rule) in protocol.rules() {
            for test in rule.when.tests() {
                if let TestKind::Compare { reading, level, .. } = &test.kind
                    && *reading == id
                    && level.value >= limit
                {
                    find.hit(
                        test.span,
                        &rule.name.name,
                        format!("{} has a line of {level}", name(&rule.name)),
                    );
                }
            }
        }
    }
}

/// What the means of a phase can give at most; `None` where one has no figure.
fn most(protocol: &Protocol, phase: &Phase) -> Option<Exact> {
    let mut rate = Exact::int(4);
    for means in protocol.means(phase) {
        match means.value {
            Means::Passive
            | Means::Surface
            | Means::ForcedAir
            | Means::Immersion
            | Means::WarmFluids => {}
            Means::Lavage => rate = rate + Exact::ONE,
            Means::Extracorporeal => rate = rate.max(Exact::int(9)),
            Means::Esophageal
            | Means::Intravascular
            | Means::Evaporative
            | Means::IcePacks
            | Means::ColdFluids => return None,
        }
    }
    Some(rate)
}

fn expected(phase: &Phase) -> Option<&crate::quantity::Rate> {
    planned(phase)
        .map(RateRange::faster)
        .into_iter()
        .chain(phase.at_least.as_ref())
        .max_by_key(|rate| rate.value)
}

fn is_warming(phase: &Phase) -> bool {
    matches!(phase.aim, Aim::Reach { way: Way::Warm, .. })
}

fn method_rates(find: &mut Finder) {
    let protocol = find.protocol;
    for (_, phase) in protocol.phases() {
        let (Some(rate), Some(most)) = (expected(phase), most(protocol, phase)) else {
            continue;
        };
        if is_warming(phase) && rate.value > most {
            find.hit(
                rate.span,
                &phase.name.name,
                format!(
                    "{} expects {rate}, and its means give {} at most",
                    name(&phase.name),
                    per_hour(most)
                ),
            );
        }
    }
}

fn afterdrop(find: &mut Finder) {
    let protocol = find.protocol;
    let (Some((id, _, _)), Some((first, phase))) = (control(protocol), protocol.phases().next())
    else {
        return;
    };
    let Aim::Reach {
        way: Way::Warm,
        from,
        ..
    } = &phase.aim
    else {
        return;
    };
    let start = from
        .as_ref()
        .map(|from| from.value)
        .or_else(|| timing::arrival(protocol, id).map(|range| range.low.value));
    let Some(start) = start else {
        return;
    };
    for (_, rule) in protocol.rules() {
        if !crate::checks::facts::during(protocol, &rule.during).contains(&first) {
            continue;
        }
        for test in rule.when.tests() {
            let level = match &test.kind {
                TestKind::Compare {
                    reading,
                    cmp: Cmp::Below | Cmp::AtOrBelow,
                    level,
                } if *reading == id => level,
                TestKind::Outside { reading, low, .. } if *reading == id => low,
                _ => continue,
            };
            // A line above the coldest start is no alarm for a further fall.
            if level.value <= start && level.value > start - Exact::ONE {
                find.hit(
                    test.span,
                    &rule.name.name,
                    format!(
                        "{} speaks at {level}, less than 1.0 °C below a start at {}",
                        name(&rule.name),
                        celsius(start)
                    ),
                );
            }
        }
    }
}

fn slow_passive(find: &mut Finder) {
    let protocol = find.protocol;
    for (id, phase) in protocol.phases() {
        let start = timing::farthest_start(find.context, id);
        let mild = start.is_none_or(|start| start >= Exact::int(32));
        let Some(rate) = expected(phase) else {
            continue;
        };
        if is_warming(phase)
            && !protocol.is_active(phase)
            && mild
            && rate.value > Exact::ratio(1, 2)
        {
            find.hit(
                rate.span,
                &phase.name.name,
                format!("{} expects {rate} by passive warming", name(&phase.name)),
            );
        }
    }
}
