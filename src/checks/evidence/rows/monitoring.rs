//! Monitoring during cooling and rewarming.

use super::super::facts::{active_phases, amounts, number, rewarmings, treatment};
use super::*;
use crate::checks::facts::{Covered, covering, interval, ladder_phases};
use crate::checks::timing;
use crate::checks::words::{name, time};
use crate::model::words::{Analyte, DrugClass, Means, Topic};
use crate::model::*;
use crate::quantity::Exact;

const BLANK: Row = Row {
    patients: "adults",
    intent: "intended hypothermia",
    ..blank(Section::Monitoring)
};

const MIRZOYEV: &str = "Mirzoyev et al., Resuscitation 2010;81:1632-1636 (n = 94; 3.9 to 3.2 at 10 h; rebound at most 4.26 at 40 h)";
const SOEHOLM: &str = "Soeholm and Kirkegaard, Ther Hypothermia Temp Manag 2012;2:30-36, doi 10.1089/ther.2012.0004 (n = 54)";

pub(super) const ROWS: &[Row] = &[
    Row {
        id: "k-low",
        quantity: "potassium while cooling",
        limit: "kept at 3.0 mmol/L or more",
        level: Level::Error,
        protects: "dangerous heart rhythms (polymorphic ventricular tachycardia below 2.5)",
        source: MIRZOYEV,
        standing: Standing::Seen,
        seen: "abstract",
        decision: Decision::Fires {
            decided_by: "rules, ladders and limits that answer a potassium just below 3.0 mmol/L before rewarming",
            applies: |scope| scope.adult_hypothermia(),
            run: |find| {
                let phases = treatment(find.protocol);
                find.answered_below(Analyte::Potassium, &[("mmol/L", number("3.0"))], &phases);
            },
        },
        ..BLANK
    },
    Row {
        id: "k-high",
        quantity: "potassium while rewarming",
        limit: "acted on above 5.5 mmol/L; 15 % went above",
        level: Level::Error,
        protects: "cardiac arrest by high potassium",
        source: SOEHOLM,
        standing: Standing::Seen,
        seen: "abstract",
        decision: Decision::Fires {
            decided_by: "rules, ladders and limits that answer a potassium just above 5.5 mmol/L in phases that warm",
            applies: |scope| scope.adult_hypothermia(),
            run: |find| {
                let phases: Vec<PhaseId> = rewarmings(find.protocol)
                    .into_iter()
                    .map(|(id, _)| id)
                    .collect();
                // No reading at all is told once, by k-low.
                if !phases.is_empty() && !amounts(find.protocol, Analyte::Potassium).is_empty() {
                    find.answered_above(Analyte::Potassium, &[("mmol/L", number("5.5"))], &phases);
                }
            },
        },
        ..BLANK
    },
    Row {
        id: "k-supplement",
        quantity: "potassium replacement",
        limit: "started at 3.5 and stopped at 4.5 mmol/L in that cohort; must end well before normal temperature",
        level: Level::Warning,
        protects: "a rebound of potassium",
        source: SOEHOLM,
        standing: Standing::Seen,
        seen: "abstract",
        decision: Decision::Fires {
            decided_by: "a medication of class potassium, and something at or before the beginning of rewarming that covers potassium-stop",
            applies: |scope| scope.adult_hypothermia(),
            run: supplement,
        },
        ..BLANK
    },
    Row {
        id: "k-disagreement",
        quantity: "size of the rebound",
        limit: "one cohort saw none of concern (at most 4.26), the other 15 % above 5.5 mmol/L",
        protects: "relying on one of the two",
        source: "Mirzoyev et al. 2010; Soeholm and Kirkegaard 2012",
        standing: Standing::Seen,
        seen: "both",
        decision: Decision::Never(REPORTS),
        ..BLANK
    },
    Row {
        id: "glucose",
        quantity: "glucose",
        limit: "7.8 mmol/L to 10 mmol/L (140 mg/dL to 180 mg/dL); never below 4.0 mmol/L",
        level: Level::Warning,
        protects: "brain injury by low glucose; resistance to insulin reverses on rewarming",
        source: "ERC-ESICM 2021, doi 10.1007/s00134-021-06368-4",
        standing: Standing::Memory,
        seen: "not found",
        decision: Decision::Fires {
            decided_by: "where a reading of glucose is declared: rules, ladders and limits that answer it just below 4.0 mmol/L (72 mg/dL) and just above 10 mmol/L (180 mg/dL)",
            applies: |scope| scope.adult() && (scope.hypothermia() || scope.fever_control()),
            run: |find| {
                if amounts(find.protocol, Analyte::Glucose).is_empty() {
                    return;
                }
                let phases = treatment(find.protocol);
                let low = [("mmol/L", number("4.0")), ("mg/dL", number("72"))];
                let high = [("mmol/L", number("10")), ("mg/dL", number("180"))];
                find.answered_below(Analyte::Glucose, &low, &phases);
                find.answered_above(Analyte::Glucose, &high, &phases);
            },
        },
        ..BLANK
    },
    Row {
        id: "electrolytes-interval",
        quantity: "potassium, magnesium, phosphate, glucose",
        limit: "every 4 h to 6 h while cooling, more often in rewarming (glucose every 1 h to 2 h)",
        level: Level::Warning,
        protects: "dangerous heart rhythms and brain injury by low glucose",
        source: "practice texts",
        standing: Standing::Memory,
        seen: "not found",
        decision: Decision::Fires {
            decided_by: "the interval of each such reading: 6 h before rewarming and in it, 2 h for glucose in it",
            applies: |scope| scope.adult_hypothermia(),
            run: laboratory_intervals,
        },
        ..BLANK
    },
    Row {
        id: "map-floor",
        quantity: "mean arterial pressure after return of circulation",
        intent: "after arrest",
        limit: "above 65 mmHg",
        level: Level::Error,
        protects: "too little blood to the organs",
        source: "Resuscitation Council UK 2021 / ERC-ESICM 2021, doi 10.1007/s00134-021-06368-4",
        standing: Standing::Seen,
        seen: "\"Post-resuscitation care\" page; ERC-ESICM 2025's 60 to 65 from memory",
        decision: Decision::Fires {
            decided_by: "rules, ladders and limits that answer a mean pressure just below 65 mmHg in every active phase",
            applies: |scope| scope.adult_after_arrest(),
            run: |find| {
                let limits = [
                    ("mmHg", number("65")),
                    // 1 mmHg is 133.322 Pa.
                    ("kPa", Exact::int(65) * Exact::ratio(133_322, 1_000_000)),
                ];
                let phases = active_phases(find.protocol);
                find.answered_below(Analyte::MeanPressure, &limits, &phases);
            },
        },
        ..BLANK
    },
    Row {
        id: "map-trials",
        quantity: "targets under trial",
        intent: "after arrest",
        limit: "above 85 against above 65 mmHg (STEPCARE, results pending in July 2025)",
        protects: "claiming that the question is settled",
        source: "NCT05564754",
        standing: Standing::Seen,
        seen: "registry",
        decision: Decision::Never(REPORTS),
        ..BLANK
    },
    Row {
        id: "skin-interval",
        quantity: "inspection of the skin under surface pads",
        intent: "any",
        limit: "every 2 h; 4 h to 6 h at most",
        level: Level::Warning,
        protects: "injury by pressure and cold",
        source: "nursing guidance",
        standing: Standing::Memory,
        seen: "no page with a number was found",
        decision: Decision::Fires {
            decided_by: "the interval of the `every … do` that covers skin-inspection, with the route surface; its absence is `missing-step`",
            applies: |scope| scope.adult() && scope.uses(&[Means::Surface]),
            run: skin_interval,
        },
        ..BLANK
    },
    Row {
        id: "prognosis-delay",
        quantity: "earliest judgement of outlook",
        intent: "after arrest",
        limit: "72 h or more from return of circulation (2021); 72 h or more after normal temperature in AHA 2015",
        level: Level::Error,
        protects: "withdrawing treatment too early",
        source: "ERC-ESICM 2021, doi 10.1007/s00134-021-06368-4; AHA 2015, doi 10.1161/CIR.0000000000000262 (doi from memory)",
        standing: Standing::Seen,
        seen: "council page (72 h), and a secondary page (72 h after normal temperature): two clocks",
        decision: Decision::Fires {
            decided_by: "the time of each `at` and the earliest phase of each rule or ladder that covers prognosis",
            applies: |scope| scope.adult_after_arrest(),
            run: prognosis,
        },
        ..BLANK
    },
];

fn supplement(find: &mut Finder) {
    let protocol = find.protocol;
    let Some((medication, given)) = protocol.medications().find(|(_, medication)| {
        medication
            .class
            .as_ref()
            .is_some_and(|class| class.value == DrugClass::Potassium)
    }) else {
        return;
    };
    let Some((rewarm, _)) = rewarmings(protocol).into_iter().next() else {
        return;
    };
    let before = |look: &Look| match &look.when {
        LookWhen::Before { phase, .. } => phase.value <= rewarm,
        LookWhen::At { mark, .. } => {
            matches!(mark.value, MarkRef::PhaseStart(at) | MarkRef::PhaseEnd(at) if at <= rewarm)
        }
        LookWhen::Every { .. } => false,
    };
    let covered = covering(protocol, Topic::PotassiumStop)
        .iter()
        .any(|covered| match covered {
            Covered::Look(look) => before(look),
            Covered::Order(order) => order.phases.iter().any(|phase| *phase <= rewarm),
            Covered::Criterion | Covered::Step(..) => false,
        });
    let stopped = protocol.looks.iter().any(|look| {
        before(look)
            && matches!(&look.what, LookWhat::Order(action) if match &action.order {
                Order::StopMedication(of) => of.value == medication,
                Order::Withhold { medication: of, .. } => of.value == medication,
                _ => false,
            })
    });
    if !covered && !stopped {
        find.hit(
            given.span,
            &given.name.name,
            format!("nothing stops {} before rewarming", name(&given.name)),
        );
    }
}

fn laboratory_intervals(find: &mut Finder) {
    let protocol = find.protocol;
    let rewarms: Vec<PhaseId> = rewarmings(protocol).into_iter().map(|(id, _)| id).collect();
    let before = treatment(protocol);
    for which in [
        Analyte::Potassium,
        Analyte::Magnesium,
        Analyte::Phosphate,
        Analyte::Glucose,
    ] {
        for id in amounts(protocol, which) {
            let reading = &protocol[id];
            let hit = before.iter().chain(&rewarms).find_map(|phase| {
                let hours = if which == Analyte::Glucose && rewarms.contains(phase) {
                    2
                } else {
                    6
                };
                let interval = interval(protocol, id, *phase)?;
                (interval.value > Exact::int(hours * 60)).then_some((interval, *phase))
            });
            if let Some((interval, phase)) = hit {
                find.hit(
                    interval.span,
                    &reading.name.name,
                    format!(
                        "{} is tested every {interval} in {}",
                        name(&reading.name),
                        name(&protocol[phase].name)
                    ),
                );
            }
        }
    }
}

fn skin_interval(find: &mut Finder) {
    let protocol = find.protocol;
    for covered in covering(protocol, Topic::SkinInspection) {
        if let Covered::Look(look) = covered
            && let LookWhen::Every { interval, .. } = &look.when
            && interval.value > Exact::int(6 * 60)
        {
            find.hit(
                interval.span,
                "skin-inspection",
                format!("the skin is looked at every {interval}"),
            );
        }
    }
}

/// What a rule or a ladder tells is as early as its first phase; a `lasts longer
/// than` moves it on.
fn prognosis(find: &mut Finder) {
    let protocol = find.protocol;
    let least = Exact::int(72 * 60);
    let mut early: Vec<(crate::source::Span, String, Exact)> = Vec::new();
    let plans = timing::extremes(protocol);
    // Minutes from the arrest: from the mark of `start within`, or the start.
    let since = |plan: &crate::plan::Plan, at: Exact| {
        let mark = protocol
            .head
            .start_within
            .as_ref()
            .filter(|start| protocol[start.of].name.name == "rosc")
            .and_then(|start| plan.mark(MarkRef::Named(start.of)));
        mark.map_or(at, |mark| at - mark.earliest)
    };
    for covered in covering(protocol, Topic::Prognosis) {
        match covered {
            Covered::Look(look) => {
                let LookWhen::At { after, mark } = &look.when else {
                    continue;
                };
                let after = after.as_ref().map_or(Exact::ZERO, |after| after.value);
                let at = match mark.value {
                    MarkRef::Named(_) => Some(after),
                    mark => plans
                        .iter()
                        .filter_map(|plan| Some(since(plan, plan.mark(mark)?.earliest + after)))
                        .min(),
                };
                early.extend(at.map(|at| (look.span, protocol.name.name.clone(), at)));
            }
            Covered::Order(order) => {
                let phases = match order.origin {
                    crate::checks::facts::Origin::Ladder(ladder, _) => {
                        ladder_phases(protocol, ladder)
                    }
                    _ => order.phases.clone(),
                };
                let waits = match order.origin {
                    crate::checks::facts::Origin::Rule(rule) => protocol[rule]
                        .when
                        .tests()
                        .iter()
                        .filter_map(|test| match &test.kind {
                            TestKind::LastsLonger { than, .. } => Some(than.value),
                            _ => None,
                        })
                        .max()
                        .unwrap_or(Exact::ZERO),
                    _ => Exact::ZERO,
                };
                let at = plans
                    .iter()
                    .flat_map(|plan| {
                        phases.iter().filter_map(|phase| {
                            let start = plan.phase(*phase)?.start.earliest;
                            Some(since(plan, start + waits))
                        })
                    })
                    .min();
                let about = order.name.unwrap_or(&protocol.name);
                early.extend(at.map(|at| (order.action.span, about.name.clone(), at)));
            }
            Covered::Criterion | Covered::Step(..) => {}
        }
    }
    for (span, about, at) in early {
        if at < least {
            find.hit(
                span,
                &about,
                format!("the outlook may be judged {} after the arrest", time(at)),
            );
        }
    }
}
