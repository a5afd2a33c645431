//! Contact with the skin, accuracy of thermometers, probe site.

use super::super::burn_times;
use super::super::facts::{active_phases, control, number, planned};
use super::*;
use crate::checks::facts::conditions;
use crate::checks::looking::second_site_missing::sites;
use crate::checks::timing;
use crate::checks::words::{name, time};
use crate::model::words::{FixedWord, Medium, Site};
use crate::model::*;
use crate::quantity::Exact;

const BLANK: Row = Row {
    patients: "any",
    intent: "any",
    ..blank(Section::Skin)
};

pub(super) const ROWS: &[Row] = &[
    Row {
        id: "skin-applied-part",
        quantity: "surface in long contact with skin, not meant to heat",
        limit: "41 °C or less (2nd edition); 3rd edition 43 °C for contact of 10 min or more, above 41 °C to be disclosed",
        level: Level::Warning,
        protects: "burns",
        source: "IEC 60601-1, 2nd and 3rd editions",
        standing: Standing::Reported,
        seen: "41 °C in \"DSH 422 Temperature limit applied part\"; table 24 of the 3rd edition, with its 43 °C, from memory, so no error hangs on it",
        decision: Decision::Fires {
            decided_by: "`limit … never above` on a temperature of surface",
            applies: |_| true,
            run: |find| {
                find.limit_hits(
                    Medium::Surface,
                    Side::Above,
                    |value| value > number("41"),
                    "is above 41 °C",
                );
            },
        },
        ..BLANK
    },
    Row {
        id: "skin-heating-device",
        quantity: "blankets, pads, mattresses, forced air",
        limit: "contact-surface limits of IEC 60601-2-35:2020, which replaces IEC 80601-2-35:2009; heating only, cooling devices are excluded",
        protects: "burns",
        source: "IEC 60601-2-35:2020 + A1:2023",
        standing: Standing::Seen,
        seen: "its scope; its numbers were not found, so none is used here",
        decision: Decision::Never("its numbers were not found"),
        ..BLANK
    },
    Row {
        id: "skin-burn-curve",
        quantity: "time of contact to injury",
        limit: "less than exp(116.4 - 28.3 ln T) seconds to injury, less than exp(113.4 - 28.3 ln T) to the safety line: at 43 °C 5.9 h, 44 °C 3.1 h, 47 °C 0.47 h, 50 °C 296 s to injury",
        level: Level::Error,
        protects: "burns",
        source: "Moritz and Henriques' data, regression in PLoS ONE 2021, doi 10.1371/journal.pone.0254790",
        standing: Standing::Seen,
        seen: "figure caption (coefficients, R² 0.98, safety line through 300 s at 45 °C); natural logarithms are ours. Moritz's own often-quoted 44 °C for 6 h is longer: the two disagree",
        decision: Decision::Fires {
            decided_by: "`limit … never above` on a temperature of surface or water from 43.0 °C on, and how long the phases that warm last",
            applies: |scope| scope.active,
            run: burns,
        },
        ..BLANK
    },
    Row {
        id: "skin-water-max",
        quantity: "circulating water used for warming",
        limit: "42 °C or less",
        level: Level::Warning,
        protects: "burns",
        source: "common practice, no source; 42 °C is the fluid temperature in one heat-exchanger study (Kalasbail 2018)",
        standing: Standing::Memory,
        seen: "the study was seen; as a limit it is from memory",
        decision: Decision::Fires {
            decided_by: "`limit … never above` on a temperature of water",
            applies: |scope| scope.active,
            run: |find| {
                find.limit_hits(
                    Medium::Water,
                    Side::Above,
                    |value| value > number("42"),
                    "is above 42 °C",
                );
            },
        },
        ..BLANK
    },
    Row {
        id: "skin-counterwarm",
        quantity: "warming of the skin while the core is cooled",
        limit: "42 °C (one unit's published rule) to 43 °C (Choi's table), unless it is the temperature of air",
        level: Level::Warning,
        protects: "burns of skin with narrow vessels",
        source: "Choi et al., Neurocrit Care 2011;14:389-394, doi 10.1007/s12028-010-9474-7; summary page",
        standing: Standing::Reported,
        seen: "42 °C; 43 °C from memory. Clashes with 41 °C for contact: say whether the figure is of air or of the surface",
        decision: Decision::Fires {
            decided_by: "`limit … never above` on a temperature of surface, in protocols that cool or prevent fever",
            applies: |scope| scope.hypothermia() || scope.fever_control(),
            run: |find| {
                find.limit_hits(
                    Medium::Surface,
                    Side::Above,
                    |value| value > number("42"),
                    "is above 42 °C",
                );
            },
        },
        ..BLANK
    },
    Row {
        id: "thermo-accuracy",
        quantity: "laboratory accuracy of a clinical thermometer",
        limit: "0.3 °C on either side within its range: no band narrower than that without a better probe that is stated",
        level: Level::Note,
        protects: "false precision",
        source: "ISO 80601-2-56:2017",
        standing: Standing::Reported,
        seen: "standards forum thread \"Clinical Accuracy and Repeatability ...\"; 0.2 °C for continuous probes from memory",
        decision: Decision::Fires {
            decided_by: "bands held and ranges kept, against the stated `accurate to`",
            applies: |_| true,
            run: accuracy,
        },
        ..BLANK
    },
    Row {
        id: "thermo-edition",
        quantity: "edition",
        limit: "2017 edition; a new draft appeared in 2025",
        protects: "use of a superseded edition",
        source: "ISO 80601-2-56",
        standing: Standing::Seen,
        seen: "standards catalogue pages",
        decision: Decision::Never(
            "a protocol does not state the edition of a thermometer's standard",
        ),
        ..BLANK
    },
    Row {
        id: "site-peripheral",
        quantity: "ear, armpit, mouth",
        limit: "not to steer therapy: 95 % limits in fever -1.44 to +1.46 °C (adults), -1.49 to +0.43 °C (children), in hypothermia -2.07 to +1.90 °C; acceptable was 0.5 °C; sensitivity for fever 64 %",
        level: Level::Error,
        protects: "wrong decisions",
        source: "Niven et al., Ann Intern Med 2015;163:768-777, doi 10.7326/M15-1150",
        standing: Standing::Seen,
        seen: "abstract",
        decision: Decision::Fires {
            decided_by: "the site of the control reading while control is active (error), and sites of all body readings otherwise (warning)",
            applies: |_| true,
            run: peripheral,
        },
        ..BLANK
    },
    Row {
        id: "site-icu-noninvasive",
        quantity: "armpit, ear, zero heat flux",
        patients: "adults",
        limit: "they read less than blood; only the esophagus was clinically acceptable",
        level: Level::Warning,
        protects: "wrong decisions",
        source: "Cutuli et al., Crit Care Resusc 2021;23:6-13, doi 10.51893/2021.1.sr1",
        standing: Standing::Seen,
        seen: "abstract",
        decision: Decision::Fires {
            decided_by: "a rule or ladder on a reading at armpit, ear or forehead that does not steer",
            applies: |scope| scope.adult() && scope.active,
            run: noninvasive,
        },
        ..BLANK
    },
    Row {
        id: "site-temporal",
        quantity: "artery of the temple",
        limit: "not to steer therapy: pooled difference -0.19 °C (-1.16 to +0.77 °C)",
        level: Level::Error,
        protects: "wrong decisions",
        source: "BMJ Open meta-analysis, table 2",
        standing: Standing::Seen,
        seen: "table 2",
        decision: Decision::Fires {
            decided_by: "a control reading at the forehead while control is active",
            applies: |scope| scope.active,
            run: |find| steering_at(find, &[Site::Forehead]),
        },
        ..BLANK
    },
    Row {
        id: "site-two-probes",
        quantity: "two independent core sites during active control",
        limit: "recommended",
        level: Level::Warning,
        protects: "control that runs away on a displaced probe",
        source: "good practice",
        standing: Standing::Memory,
        seen: "not found",
        decision: Decision::Fires {
            decided_by: "core sites asked for in active phases; without any second body temperature `second-site-missing` speaks",
            applies: |scope| scope.active,
            run: two_probes,
        },
        ..BLANK
    },
    Row {
        id: "site-lag",
        quantity: "bladder and rectum lag behind blood in fast change",
        limit: "10 min to 20 min or more; 1 °C/h or less when they steer",
        level: Level::Warning,
        protects: "overshoot",
        source: "several agreement studies",
        standing: Standing::Memory,
        seen: "no number could be read",
        decision: Decision::Fires {
            decided_by: "the site of the reading that a phase goes by, with its planned rate or cap",
            applies: |scope| scope.active,
            run: lag,
        },
        ..BLANK
    },
    Row {
        id: "measure-interval",
        quantity: "measurement during active control",
        limit: "continuous",
        level: Level::Error,
        protects: "drift",
        source: "ERC-ESICM 2022, doi 10.1016/j.resuscitation.2022.01.009; ESICM/NACCS 2024, doi 10.1186/s13054-024-04951-x",
        standing: Standing::Seen,
        seen: "both",
        decision: Decision::Fires {
            decided_by: "`continuous` of the readings that active phases go by",
            applies: |scope| scope.active,
            run: |find| {
                let protocol = find.protocol;
                let mut said: Vec<ReadingId> = Vec::new();
                for id in active_phases(protocol) {
                    let reading = &protocol[protocol[id].aim.reading()];
                    let seen = said.contains(&protocol[id].aim.reading());
                    if reading.kind.is_body() && !reading.continuous && !seen {
                        said.push(protocol[id].aim.reading());
                        find.hit(
                            reading.span,
                            &reading.name.name,
                            format!(
                                "{} steers active control and is not continuous",
                                name(&reading.name)
                            ),
                        );
                    }
                }
            },
        },
        ..BLANK
    },
];

fn burns(find: &mut Finder) {
    let protocol = find.protocol;
    let warming: Vec<PhaseId> = protocol
        .phases()
        .filter(|(_, phase)| {
            matches!(phase.aim, Aim::Reach { way: Way::Warm, .. }) && protocol.is_active(phase)
        })
        .map(|(id, _)| id)
        .collect();
    let limits: Vec<(crate::source::Span, String, crate::quantity::Level)> =
        [Medium::Surface, Medium::Water]
            .into_iter()
            .flat_map(|medium| find.limits_on(medium, Side::Above))
            .map(|(limit, reading)| (limit.span, reading.name.name.clone(), limit.level.clone()))
            .collect();
    for (span, about, level) in limits {
        let Some((injury, safety)) = burn_times::at(level.value) else {
            continue;
        };
        for id in &warming {
            let Some(length) = timing::length(find.context, *id) else {
                continue;
            };
            let contact = length.longest.unwrap_or(length.shortest);
            let phase = &protocol[*id];
            let (gravity, bound, line) = if contact > injury {
                (Level::Error, injury, "injury")
            } else if contact > safety {
                (Level::Warning, safety, "the safety line")
            } else {
                continue;
            };
            find.hit_at(
                gravity,
                span,
                &about,
                format!(
                    "{level} for {} in {} is longer than the {} to {line}",
                    time(contact),
                    name(&phase.name),
                    time(bound)
                ),
            );
            break;
        }
    }
}

fn accuracy(find: &mut Finder) {
    let protocol = find.protocol;
    let usual = number("0.3");
    for (_, phase) in protocol.phases() {
        let (band, span) = match &phase.aim {
            Aim::Hold { within, .. } => (within.value, within.span),
            Aim::Keep {
                low: Some(low),
                high: Some(high),
                ..
            } => ((high.value - low.value) / Exact::int(2), high.span),
            Aim::Keep { .. } | Aim::Reach { .. } => continue,
        };
        let better = protocol[phase.aim.reading()]
            .accurate_to
            .as_ref()
            .is_some_and(|accuracy| accuracy.value <= band);
        if band < usual && !better {
            find.hit(
                span,
                &phase.name.name,
                format!(
                    "the band of {} is narrower than its thermometer is accurate",
                    name(&phase.name)
                ),
            );
        }
    }
}

const PERIPHERAL: &[Site] = &[Site::Ear, Site::Armpit, Site::Mouth];

fn steering_at(find: &mut Finder, wanted: &[Site]) {
    if let Some((_, reading, site)) = control(find.protocol)
        && wanted.contains(&site)
    {
        find.hit(
            reading.span,
            &reading.name.name,
            format!(
                "{} steers and is measured at the {}",
                name(&reading.name),
                site.word()
            ),
        );
    }
}

fn peripheral(find: &mut Finder) {
    if !active_phases(find.protocol).is_empty() {
        steering_at(find, PERIPHERAL);
        return;
    }
    let body: Vec<(&Reading, Site)> = find
        .protocol
        .readings()
        .filter_map(|(_, reading)| match &reading.kind {
            ReadingKind::Body(site) => Some((reading, site.value)),
            _ => None,
        })
        .collect();
    let all = !body.is_empty()
        && body
            .iter()
            .all(|(_, site)| PERIPHERAL.contains(site) || *site == Site::Forehead);
    if let Some((reading, site)) = body.first().filter(|_| all) {
        let (span, about) = (reading.span, reading.name.name.clone());
        let title = format!(
            "the only body temperature is measured at the {}",
            site.word()
        );
        find.hit_at(Level::Warning, span, &about, title);
    }
}

fn noninvasive(find: &mut Finder) {
    let protocol = find.protocol;
    let steering = control(protocol).map(|(id, ..)| id);
    let used: Vec<ReadingId> = conditions(protocol)
        .iter()
        .flat_map(|waiting| waiting.cond.readings())
        .chain(protocol.ladders().map(|(_, ladder)| ladder.reading.value))
        .collect();
    for (id, reading) in protocol.readings() {
        let ReadingKind::Body(site) = &reading.kind else {
            continue;
        };
        let poor = matches!(site.value, Site::Armpit | Site::Ear | Site::Forehead);
        if poor && steering != Some(id) && used.contains(&id) {
            find.hit(
                reading.span,
                &reading.name.name,
                format!(
                    "a rule goes by {}, measured at the {}",
                    name(&reading.name),
                    site.value.word()
                ),
            );
        }
    }
}

fn is_core(site: Site) -> bool {
    match site {
        Site::Esophagus
        | Site::Nasopharynx
        | Site::Bladder
        | Site::Rectum
        | Site::PulmonaryArtery => true,
        Site::Mouth | Site::Ear | Site::Armpit | Site::Forehead | Site::Skin => false,
    }
}

fn two_probes(find: &mut Finder) {
    let protocol = find.protocol;
    let phases: Vec<PhaseId> = active_phases(protocol)
        .into_iter()
        .filter(|phase| {
            let sites = sites(protocol, *phase);
            sites.len() > 1 && sites.iter().filter(|site| is_core(**site)).count() < 2
        })
        .collect();
    if let (false, Some((_, reading, _))) = (phases.is_empty(), control(protocol)) {
        let title = format!(
            "fewer than two core sites are asked for in {}",
            crate::checks::words::phases(protocol, &phases)
        );
        find.hit(reading.span, &reading.name.name, title);
    }
}

fn lag(find: &mut Finder) {
    let protocol = find.protocol;
    for (_, phase) in protocol.phases() {
        let reading = &protocol[phase.aim.reading()];
        let ReadingKind::Body(site) = &reading.kind else {
            continue;
        };
        let lags = matches!(site.value, Site::Bladder | Site::Rectum);
        let rate = planned(phase)
            .map(RateRange::faster)
            .or(phase.never_faster.as_ref());
        if let Some(rate) = rate
            && lags
            && protocol.is_active(phase)
            && rate.value > Exact::ONE
        {
            find.hit(
                rate.span,
                &reading.name.name,
                format!(
                    "{} goes by {} at the {} with up to {rate}",
                    name(&phase.name),
                    name(&reading.name),
                    site.value.word()
                ),
            );
        }
    }
}
