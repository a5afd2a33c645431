//! Targets, fever and durations after cardiac arrest, adults.

use super::super::facts::{FeverWatch, holding, planned, rewarmings, together};
use super::*;
use crate::checks::words::{name, time};
use crate::model::words::{Guideline as G, Means};
use crate::model::{Aim, MarkRef, PhaseId, Way};
use crate::quantity::Exact;

const BLANK: Row = blank(Section::AfterArrest);
const ADULT: &str = "adults, comatose after return of circulation";

pub(super) const ROWS: &[Row] = &[
    Row {
        id: "pa-target-range-aha-2015-2020",
        quantity: "target temperature, constant",
        patients: ADULT,
        intent: "hypothermia after arrest; guideline aha-2015 or aha-2020",
        limit: "32.0 °C to 36.0 °C",
        level: Level::Error,
        protects: "too deep or too warm a target",
        source: "AHA, Guidelines update part 8, Circulation 2015, doi 10.1161/CIR.0000000000000262 (doi from memory); AHA part 3, Circulation 2020, doi 10.1161/CIR.0000000000000916",
        standing: Standing::Reported,
        seen: "\"What are the 2015 AHA recommendations for postresuscitation TTM?\"; the same range for 2020 from memory",
        decision: Decision::Fires {
            decided_by: "the aims before rewarming, and the targets that rules can set there",
            applies: |scope| scope.arrest_hypothermia() && scope.follows(&[G::Aha2015, G::Aha2020]),
            run: |find| find.targets_within("32.0", "36.0"),
        },
        ..BLANK
    },
    Row {
        id: "pa-target-range-aha-2023",
        quantity: "target temperature, constant",
        patients: ADULT,
        intent: "hypothermia or normal temperature after arrest; guideline aha-2023 or later",
        limit: "32.0 °C to 37.5 °C",
        level: Level::Error,
        protects: "too deep or too warm a target",
        source: "AHA focused update ACLS, Circulation 2024;149:e254, doi 10.1161/CIR.0000000000001194 (doi from memory)",
        standing: Standing::Reported,
        seen: "page \"Indications for ... TTM\"",
        decision: Decision::Fires {
            decided_by: "the aims before rewarming, and the targets that rules can set there",
            applies: |scope| scope.adult_after_arrest() && scope.follows(&[G::Aha2023, G::Aha2025]),
            run: |find| find.targets_within("32.0", "37.5"),
        },
        ..BLANK
    },
    Row {
        id: "pa-duration-aha-24",
        quantity: "time at controlled temperature after the target is reached",
        patients: ADULT,
        intent: "hypothermia after arrest; guideline aha-2015, aha-2020 or aha-2023",
        limit: "24 h or more",
        level: Level::Warning,
        protects: "too short a course",
        source: "AHA 2015, doi 10.1161/CIR.0000000000000262 (doi from memory); 2020, doi 10.1161/CIR.0000000000000916; 2023, doi 10.1161/CIR.0000000000001194 (doi from memory)",
        standing: Standing::Reported,
        seen: "the pages of the two rows above",
        decision: Decision::Fires {
            decided_by: "the length of the phases that hold or keep before rewarming",
            applies: |scope| {
                scope.arrest_hypothermia() && scope.follows(&[G::Aha2015, G::Aha2020, G::Aha2023])
            },
            run: |find| at_least(find, &holding(find.protocol), 24, "at its target"),
        },
        ..BLANK
    },
    Row {
        id: "pa-duration-aha-2025-36",
        quantity: "duration of temperature control",
        patients: "adults, not following commands after return of circulation",
        intent: "any target after arrest; guideline aha-2025",
        limit: "36 h or more",
        level: Level::Warning,
        protects: "too short a course",
        source: "AHA Guidelines part 11, post-cardiac-arrest care, Circulation 2025",
        standing: Standing::Memory,
        seen: "not found; verify before use",
        decision: Decision::Fires {
            decided_by: "the length of all phases together",
            applies: |scope| scope.adult_after_arrest() && scope.follows(&[G::Aha2025]),
            run: |find| {
                let all: Vec<PhaseId> = find.protocol.phases().map(|(id, _)| id).collect();
                at_least(find, &all, 36, "under temperature control");
            },
        },
        ..BLANK
    },
    Row {
        id: "pa-fever-erc-2022",
        quantity: "temperature not to be exceeded (fever is above 37.7 °C)",
        patients: ADULT,
        intent: "fever control after arrest; guideline erc-2022",
        limit: "37.7 °C or less, monitored continuously, for 72 h or more",
        level: Level::Error,
        protects: "secondary brain injury",
        source: "Sandroni et al., ERC-ESICM temperature control guideline, Resuscitation 2022;172:229-236, doi 10.1016/j.resuscitation.2022.01.009",
        standing: Standing::Seen,
        seen: "\"ERC-ESICM guidelines on temperature control after cardiac arrest in adults\"",
        decision: Decision::Fires {
            decided_by: "the upper limits of phases and how long they stand, from the mark that an `ends … after` names",
            applies: |scope| scope.adult_after_arrest() && scope.follows(&[G::Erc2022]),
            run: |find| {
                find.fever_watch(&FeverWatch {
                    upper: "37.7",
                    without: Level::Error,
                    above: Level::Warning,
                    hours: (72, None),
                    window: Level::Warning,
                });
            },
        },
        ..BLANK
    },
    Row {
        id: "pa-fever-erc-2021",
        quantity: "edition for temperature control",
        patients: ADULT,
        intent: "guideline erc-2021",
        limit: "target 32 °C to 36 °C for 24 h or more, above 37.7 °C avoided for 72 h or more; superseded by erc-2022 for temperature",
        level: Level::Note,
        protects: "use of a superseded edition",
        source: "Nolan et al., ERC-ESICM post-resuscitation care 2021, Intensive Care Med 2021;47:369-421, doi 10.1007/s00134-021-06368-4",
        standing: Standing::Seen,
        seen: "that the 2022 text replaces its temperature part; 37.7 °C for 72 h in a page that reports it (\"Post-resuscitation care\"); 32 °C to 36 °C for 24 h from memory",
        decision: Decision::Fires {
            decided_by: "`guideline`",
            applies: |scope| scope.adult_after_arrest() && scope.follows(&[G::Erc2021]),
            run: |find| {
                let edition = find
                    .protocol
                    .head
                    .guidelines
                    .iter()
                    .find(|guideline| guideline.value == G::Erc2021);
                if let Some(edition) = edition {
                    find.hit(
                        edition.span,
                        "erc-2021",
                        "`erc-2021` is superseded for temperature by the 2022 document",
                    );
                }
            },
        },
        ..BLANK
    },
    Row {
        id: "pa-fever-erc-2025",
        quantity: "upper temperature and window",
        patients: ADULT,
        intent: "fever control after arrest; guideline erc-2025",
        limit: "37.5 °C or less for 36 h to 72 h",
        level: Level::Warning,
        protects: "secondary brain injury",
        source: "ERC-ESICM post-resuscitation care 2025, Resuscitation / Intensive Care Med 2025",
        standing: Standing::Memory,
        seen: "only that the edition exists and follows the ILCOR 2025 consensus was seen, in a page that reports it",
        decision: Decision::Fires {
            decided_by: "the upper limits of phases and how long they stand",
            applies: |scope| scope.adult_after_arrest() && scope.follows(&[G::Erc2025]),
            run: |find| {
                find.fever_watch(&FeverWatch {
                    upper: "37.5",
                    without: Level::Warning,
                    above: Level::Warning,
                    hours: (36, Some(72)),
                    window: Level::Warning,
                });
            },
        },
        ..BLANK
    },
    Row {
        id: "pa-fever-ilcor-2022",
        quantity: "temperature to aim at or below",
        patients: ADULT,
        intent: "fever control after arrest; guideline ilcor-2022",
        limit: "37.5 °C or less; fever prevented for 72 h or more",
        level: Level::Warning,
        protects: "secondary brain injury",
        source: "ILCOR CoSTR 2022 (ALS), Circulation / Resuscitation 2022; review Granfeldt et al., Resuscitation 2021;167:160-172",
        standing: Standing::Seen,
        seen: "guideline summary \"Cardiopulmonary Resuscitation and Emergency Cardiovascular Care\" (2022), and a page that reports it",
        decision: Decision::Fires {
            decided_by: "the upper limits of phases and how long they stand",
            applies: |scope| scope.adult_after_arrest() && scope.follows(&[G::Ilcor2022]),
            run: |find| {
                find.fever_watch(&FeverWatch {
                    upper: "37.5",
                    without: Level::Warning,
                    above: Level::Warning,
                    hours: (72, None),
                    window: Level::Warning,
                });
            },
        },
        ..BLANK
    },
    Row {
        id: "pa-fever-ilcor-2024-window",
        quantity: "window of fever prevention",
        patients: ADULT,
        intent: "fever control after arrest; guideline ilcor-2024",
        limit: "36 h to 72 h",
        level: Level::Note,
        protects: "claiming that 72 h is required",
        source: "ILCOR CoSTR draft, Granfeldt et al., Dec 2023, and 2025 CoSTR",
        standing: Standing::Memory,
        seen: "the draft's existence was seen; the window of 36 h to 72 h is from memory",
        decision: Decision::Fires {
            decided_by: "how long the upper limits of phases stand",
            applies: |scope| scope.adult_after_arrest() && scope.follows(&[G::Ilcor2024]),
            run: |find| {
                find.fever_watch(&FeverWatch {
                    // The row is about the window alone.
                    upper: "45",
                    without: Level::Note,
                    above: Level::Note,
                    hours: (36, Some(72)),
                    window: Level::Note,
                });
            },
        },
        ..BLANK
    },
    Row {
        id: "pa-duration-no-gain-72",
        quantity: "window of fever prevention",
        patients: ADULT,
        intent: "normal temperature after arrest",
        limit: "36 h and 72 h gave the same primary outcome (32.3 % and 33.6 %)",
        protects: "presenting 72 h as proven better",
        source: "Hassager et al., N Engl J Med 2023;388:888-897, doi 10.1056/NEJMoa2212528 (doi from memory)",
        standing: Standing::Seen,
        seen: "\"Duration of Device-Based Fever Prevention after Cardiac Arrest\" (n = 789)",
        decision: Decision::Never(REPORTS),
        ..BLANK
    },
    Row {
        id: "pa-spontaneous-hypothermia",
        quantity: "active warming of mild hypothermia found after return of circulation",
        patients: ADULT,
        intent: "after arrest",
        limit: "no active rewarming to normal temperature",
        level: Level::Error,
        protects: "rebound fever and harm to the circulation",
        source: "ERC-ESICM 2022, doi 10.1016/j.resuscitation.2022.01.009; ILCOR 2022 (good practice)",
        standing: Standing::Seen,
        seen: "both pages",
        decision: Decision::Fires {
            decided_by: "a first phase that warms by active means",
            applies: |scope| scope.adult_after_arrest(),
            run: |find| {
                if let Some((_, first)) = find.protocol.phases().next()
                    && matches!(first.aim, Aim::Reach { way: Way::Warm, .. })
                    && find.protocol.is_active(first)
                {
                    find.hit(
                        first.aim_span,
                        &first.name.name,
                        format!("{} warms actively on admission", name(&first.name)),
                    );
                }
            },
        },
        ..BLANK
    },
    Row {
        id: "pa-spontaneous-hypothermia-rate",
        quantity: "rewarming of hypothermia found after return of circulation",
        patients: "adults",
        intent: "after arrest",
        limit: "0.5 °C/h or less",
        level: Level::Warning,
        protects: "rebound fever and harm to the circulation",
        source: "AHA 2023 focused update, doi 10.1161/CIR.0000000000001194 (doi from memory)",
        standing: Standing::Reported,
        seen: "a secondary page gives 0.5 °C/h; class of recommendation from memory",
        decision: Decision::Fires {
            decided_by: "the rates of a first phase that warms",
            applies: |scope| scope.adult_after_arrest(),
            run: |find| {
                if let Some((_, first)) = find.protocol.phases().next()
                    && matches!(first.aim, Aim::Reach { way: Way::Warm, .. })
                {
                    find.rate_at_most(first, Exact::ratio(1, 2));
                }
            },
        },
        ..BLANK
    },
    Row {
        id: "pa-no-prehospital-cold-bolus",
        quantity: "large rapid cold iv fluid right after return of circulation, before hospital",
        patients: "adults",
        intent: "after arrest",
        limit: "not used",
        level: Level::Error,
        protects: "another arrest and fluid in the lungs",
        source: "ERC-ESICM 2022, doi 10.1016/j.resuscitation.2022.01.009; ILCOR 2022 (strong); AHA 2015 (class III)",
        standing: Standing::Seen,
        seen: "the ERC-ESICM and ILCOR pages",
        decision: Decision::Fires {
            decided_by: "cold-fluids in the first phase, unless the start is counted from `arrival` in hospital",
            applies: |scope| scope.adult_after_arrest() && scope.uses(&[Means::ColdFluids]),
            run: cold_bolus,
        },
        ..BLANK
    },
    Row {
        id: "pa-hypothermia-below-36-research-only",
        quantity: "target below 36 °C",
        patients: "adults",
        intent: "hypothermia after arrest; guideline nice-2024",
        limit: "36.0 °C or more, unless in formal research",
        level: Level::Warning,
        protects: "using an intervention that this body limits to research",
        source: "NICE IPG782, 2024",
        standing: Standing::Seen,
        seen: "\"1 Recommendations\" (IPG782)",
        decision: Decision::Fires {
            decided_by: "the aims before rewarming",
            applies: |scope| scope.arrest_hypothermia() && scope.follows(&[G::Nice2024]),
            run: |find| find.first_target(|value| value < Exact::int(36), "is below 36.0 °C"),
        },
        ..BLANK
    },
    Row {
        id: "pa-feedback-device",
        quantity: "kind of temperature control",
        patients: "adults",
        intent: "any active control after arrest",
        limit: "feedback control with continuous core measurement",
        level: Level::Warning,
        protects: "overshoot and drift",
        source: "ILCOR 2022 good practice statement",
        standing: Standing::Seen,
        seen: "the page of pa-fever-ilcor-2022",
        decision: Decision::Fires {
            decided_by: "`method … feedback from READING`",
            applies: |scope| scope.adult_after_arrest() && scope.active,
            run: |find| {
                let method = &find.protocol.head.method;
                if method.feedback.is_none() {
                    let name = find.protocol.name.name.clone();
                    find.hit(
                        method.span,
                        &name,
                        "control is active and takes no feedback from a reading",
                    );
                }
            },
        },
        ..BLANK
    },
    Row {
        id: "pa-induction-goal",
        quantity: "time to reach the target",
        patients: "adults",
        intent: "hypothermia after arrest",
        limit: "4 h, used as a goal of quality",
        level: Level::Note,
        protects: "slow induction",
        source: "HACA 2002; Glover et al., Crit Care 2016;20:381, doi 10.1186/s13054-016-1552-6 (65 % and 60 % reached the target in 4 h)",
        standing: Standing::Seen,
        seen: "tables of both",
        decision: Decision::Fires {
            decided_by: "`due within` of phases that cool, less the longest `start within` where it counts from that mark",
            applies: |scope| scope.arrest_hypothermia(),
            run: induction_goal,
        },
        ..BLANK
    },
];

fn at_least(find: &mut Finder, phases: &[PhaseId], hours: i64, how: &str) {
    let Some(last) = phases.last() else {
        return;
    };
    let Some(length) = together(find.context, phases) else {
        return;
    };
    if length < Exact::int(hours * 60) {
        let phase = &find.protocol[*last];
        find.hit(
            phase.end_span,
            &phase.name.name,
            format!(
                "the patient is {how} for only {} at the least",
                time(length)
            ),
        );
    }
}

fn cold_bolus(find: &mut Finder) {
    let in_hospital = find
        .protocol
        .head
        .start_within
        .as_ref()
        .is_some_and(|start| find.protocol[start.of].name.name == "arrival");
    if in_hospital {
        return;
    }
    let Some((_, first)) = find.protocol.phases().next() else {
        return;
    };
    let used = find
        .protocol
        .means(first)
        .iter()
        .find(|means| means.value == Means::ColdFluids);
    if let Some(used) = used {
        find.hit(
            used.span,
            &first.name.name,
            format!(
                "{} uses cold fluids, and nothing says that it begins in hospital",
                name(&first.name)
            ),
        );
    }
}

fn induction_goal(find: &mut Finder) {
    let goal = Exact::int(4 * 60);
    let rewarms: Vec<PhaseId> = rewarmings(find.protocol)
        .into_iter()
        .map(|(id, _)| id)
        .collect();
    let protocol = find.protocol;
    for (id, phase) in protocol.phases() {
        let cools = matches!(phase.aim, Aim::Reach { way: Way::Cool, .. });
        // Cooling again after rewarming is no induction; a course has its own time.
        if !cools || rewarms.iter().any(|rewarm| *rewarm < id) || planned(phase).is_some() {
            continue;
        }
        let Some(due) = &phase.due else {
            find.hit(
                phase.aim_span,
                &phase.name.name,
                format!(
                    "{} has no time by which the target should be reached",
                    name(&phase.name)
                ),
            );
            continue;
        };
        let early = match (&due.of, &protocol.head.start_within) {
            (Some(mark), Some(start)) if mark.value == MarkRef::Named(start.of) => {
                start.within.value
            }
            _ => Exact::ZERO,
        };
        if due.within.value - early > goal {
            find.hit(
                due.span,
                &phase.name.name,
                format!("{} is due within {}", name(&phase.name), due.within),
            );
        }
    }
}
