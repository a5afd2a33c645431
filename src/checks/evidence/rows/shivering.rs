//! Shivering, and magnesium given for it.

use super::super::facts::{active_phases, amounts, limit_in_unit, number, shivering};
use super::*;
use crate::checks::answers::answers;
use crate::checks::facts::interval;
use crate::checks::words::{name, value};
use crate::model::words::{Analyte, Purpose};
use crate::model::*;
use crate::quantity::Exact;

const BLANK: Row = Row {
    patients: "adults",
    intent: "any with shivering",
    ..blank(Section::Monitoring)
};

const BADJATIA: &str =
    "Badjatia et al., Stroke 2008;39:3242-3247, doi 10.1161/STROKEAHA.108.523654";
const OLSON: &str = "Olson et al., Am J Crit Care 2013;22:70-74, doi 10.4037/ajcc2013907";
const COLUMBIA: &str = "\"The Columbia Anti-Shivering Protocol\" page";

pub(super) const ROWS: &[Row] = &[
    Row {
        id: "mg-target",
        quantity: "magnesium for shivering",
        intent: "any with shivering",
        limit: "3 mg/dL to 4 mg/dL (1.23 mmol/L to 1.65 mmol/L)",
        level: Level::Warning,
        protects: "weakness and low blood pressure",
        source: "Choi et al., Neurocrit Care 2011;14:389-394, doi 10.1007/s12028-010-9474-7; summary page",
        standing: Standing::Reported,
        seen: COLUMBIA,
        decision: Decision::Fires {
            decided_by: "goals of ladders and high thresholds of rules and limits on magnesium above 4 mg/dL",
            applies: |scope| scope.adult(),
            run: magnesium,
        },
        ..BLANK
    },
    Row {
        id: "mg-low-shiver",
        quantity: "low magnesium",
        intent: "any",
        limit: "raises the odds of shivering (odds ratio 6.8, 1.7 to 28.0)",
        protects: "overlooking a cause of shivering",
        source: BADJATIA,
        standing: Standing::Seen,
        seen: "abstract",
        decision: Decision::Never(REPORTS),
        ..BLANK
    },
    Row {
        id: "bsas-scale",
        quantity: "scale of shivering",
        intent: "any",
        limit: "0 to 3, whole numbers",
        level: Level::Note,
        protects: "grades that the scale does not have",
        source: BADJATIA,
        standing: Standing::Seen,
        seen: "the scale and its 4 points; wording of the grades from memory",
        decision: Decision::Fires {
            decided_by: "the range of a `score of shivering`",
            applies: |scope| scope.adult(),
            run: |find| {
                if let Some((_, reading)) = shivering(find.protocol)
                    && let ReadingKind::Score { low, high, .. } = &reading.kind
                    && (*low, *high) != (0, 3)
                {
                    find.hit(
                        reading.span,
                        &reading.name.name,
                        format!("{} runs from {low} to {high}", name(&reading.name)),
                    );
                }
            },
        },
        ..BLANK
    },
    Row {
        id: "bsas-goal",
        quantity: "goal for shivering",
        intent: "intended hypothermia or fever control",
        limit: "a score of 1 or less",
        level: Level::Warning,
        protects: "the cost of shivering to the metabolism",
        source: "Choi et al., Neurocrit Care 2011;14:389-394, doi 10.1007/s12028-010-9474-7",
        standing: Standing::Reported,
        seen: COLUMBIA,
        decision: Decision::Fires {
            decided_by: "a rule or ladder that answers a score of 2; in fever control without any plan, shivering-rate-normothermia speaks",
            applies: |scope| {
                scope.adult() && scope.active && (scope.hypothermia() || scope.fever_control())
            },
            run: shivering_goal,
        },
        ..BLANK
    },
    Row {
        id: "bsas-interval",
        quantity: "assessment of shivering",
        intent: "intended hypothermia or fever control",
        limit: "every hour during active control",
        level: Level::Warning,
        protects: "shivering that nobody sees",
        source: "one unit's published algorithm",
        standing: Standing::Reported,
        seen: "\"The Columbia Anti-Shivering Protocol\" page; 30 min during induction from memory",
        decision: Decision::Fires {
            decided_by: "the interval of a `score of shivering` in active phases",
            applies: |scope| {
                scope.adult() && scope.active && (scope.hypothermia() || scope.fever_control())
            },
            run: |find| {
                if let Some((id, reading)) = shivering(find.protocol) {
                    for phase in active_phases(find.protocol) {
                        let (span, title) = match interval(find.protocol, id, phase) {
                            Some(interval) if interval.value <= Exact::int(60) => continue,
                            Some(interval) => (
                                interval.span,
                                format!("{} is scored every {interval}", name(&reading.name)),
                            ),
                            None => (
                                reading.span,
                                format!(
                                    "{} is not scored regularly in {}",
                                    name(&reading.name),
                                    name(&find.protocol[phase].name)
                                ),
                            ),
                        };
                        find.hit(span, &reading.name.name, title);
                        return;
                    }
                }
            },
        },
        ..BLANK
    },
    Row {
        id: "bsas-reliability",
        quantity: "agreement between observers",
        intent: "any",
        limit: "weighted kappa 0.84 (2008) and 0.48 (2013; 0.66 if cut between 0 to 1 and 2 to 3)",
        protects: "acting on single grades",
        source: "Badjatia et al. 2008; Olson et al., Am J Crit Care 2013;22:70-74, doi 10.4037/ajcc2013907",
        standing: Standing::Seen,
        seen: OLSON,
        decision: Decision::Never(REPORTS),
        ..BLANK
    },
];

fn magnesium(find: &mut Finder) {
    let protocol = find.protocol;
    let limits = [("mg/dL", number("4")), ("mmol/L", number("1.65"))];
    for id in amounts(protocol, Analyte::Magnesium) {
        let reading = &protocol[id];
        let Some(limit) = limit_in_unit(reading, &limits) else {
            continue;
        };
        let mut high: Vec<(&crate::quantity::Level, String)> = Vec::new();
        for (_, rule) in protocol.rules() {
            for test in rule.when.tests() {
                match &test.kind {
                    TestKind::Compare {
                        reading: of,
                        cmp: Cmp::Above | Cmp::AtOrAbove,
                        level,
                    } if *of == id => high.push((level, rule.name.name.clone())),
                    TestKind::Outside {
                        reading: of,
                        high: level,
                        ..
                    } if *of == id => {
                        high.push((level, rule.name.name.clone()));
                    }
                    _ => {}
                }
            }
        }
        for (_, ladder) in protocol.ladders() {
            if ladder.reading.value == id
                && let LadderForm::Steps {
                    goal: Goal::Compare { level, .. },
                    ..
                } = &ladder.form
            {
                high.push((level, ladder.name.name.clone()));
            }
        }
        for limit in &protocol.limits {
            if limit.reading == id && limit.side == Side::Above {
                high.push((&limit.level, reading.name.name.clone()));
            }
        }
        for (level, about) in high {
            if level.value > limit {
                find.hit(
                    level.span,
                    &about,
                    format!("`{about}` lets {} rise to {level}", name(&reading.name)),
                );
            }
        }
    }
}

fn shivering_goal(find: &mut Finder) {
    let protocol = find.protocol;
    let Some((id, reading)) = shivering(protocol) else {
        if protocol.head.purpose.value == Purpose::TherapeuticHypothermia {
            find.missing("nothing scores shivering");
        }
        return;
    };
    let phases = active_phases(protocol);
    let two = Exact::int(2);
    // A goal of 2 is met at 2, so nothing more is done there.
    if !answers(protocol, id, two, &phases) {
        find.hit(
            reading.span,
            &reading.name.name,
            format!(
                "nothing answers {} of {}",
                name(&reading.name),
                value(reading, two)
            ),
        );
    }
}
