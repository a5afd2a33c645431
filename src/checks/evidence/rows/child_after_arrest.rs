//! Children after cardiac arrest.

use super::super::facts::{FeverWatch, aims, commanded, number, upper};
use super::*;
use crate::checks::answers::answers;
use crate::checks::timing;
use crate::checks::words::{celsius, name, phases};
use crate::model::words::Purpose;
use crate::model::*;
use crate::quantity::Exact;

const BLANK: Row = Row {
    patients: "children",
    intent: "hypothermia or normal temperature after arrest",
    ..blank(Section::ChildAfterArrest)
};

pub(super) const ROWS: &[Row] = &[
    Row {
        id: "child-upper",
        quantity: "central temperature",
        limit: "37.5 °C or less",
        level: Level::Error,
        protects: "fever after arrest",
        source: "ILCOR 2019 and 2020",
        standing: Standing::Reported,
        seen: "a secondary page; that the ILCOR page \"Pediatric Targeted Temperature Management Post Cardiac Arrest\" exists was seen itself",
        decision: Decision::Fires {
            decided_by: "the upper limits of phases",
            applies: |scope| scope.child_after_arrest(),
            run: |find| {
                find.fever_watch(&FeverWatch {
                    upper: "37.5",
                    without: Level::Error,
                    above: Level::Error,
                    // How long is the row child-options.
                    hours: (0, None),
                    window: Level::Note,
                });
            },
        },
        ..BLANK
    },
    Row {
        id: "child-options",
        quantity: "course",
        limit: "36 °C to 37.5 °C for 5 days, or 32 °C to 34 °C for 2 days and then 36 °C to 37.5 °C for 3 days",
        level: Level::Warning,
        protects: "mixed or incomplete courses",
        source: "AHA 2019 and 2020",
        standing: Standing::Reported,
        seen: "a secondary page",
        decision: Decision::Fires {
            decided_by: "the lengths of phases that hold or keep 32 °C to 34 °C, and 36 °C to 37.5 °C",
            applies: |scope| scope.child_after_arrest(),
            run: options,
        },
        ..BLANK
    },
    Row {
        id: "child-fever",
        quantity: "fever",
        limit: "treated at 38 °C or more",
        level: Level::Warning,
        protects: "fever after arrest",
        source: "AHA 2015, doi 10.1161/CIR.0000000000000262 (doi from memory)",
        standing: Standing::Reported,
        seen: "a secondary page",
        decision: Decision::Fires {
            decided_by: "rules, ladders and limits that answer 38.0 °C in phases that keep 36 °C or more",
            applies: |scope| scope.child_after_arrest(),
            run: fever,
        },
        ..BLANK
    },
    Row {
        id: "child-hypothermia-not-suggested",
        quantity: "32 °C to 34 °C",
        limit: "not suggested (French panel, grade 2-)",
        level: Level::Note,
        protects: "unproven depth",
        source: "Cariou et al., Ann Intensive Care 2017;7:70, doi 10.1186/s13613-017-0294-1",
        standing: Standing::Reported,
        seen: "the line about children in a page that reports it; the guideline itself was seen",
        decision: Decision::Fires {
            decided_by: "the aims before rewarming",
            applies: |scope| scope.child_after_arrest(),
            run: |find| {
                find.first_target(
                    |value| number("32") <= value && value <= number("34"),
                    "lies in 32 °C to 34 °C",
                );
            },
        },
        ..BLANK
    },
    Row {
        id: "child-floor",
        quantity: "lower limit",
        limit: "32.0 °C or more: below it more children died (observational)",
        level: Level::Error,
        protects: "overcooling",
        source: "review page on temperature management of children",
        standing: Standing::Reported,
        seen: "a secondary review page",
        decision: Decision::Fires {
            decided_by: "the aims before rewarming, and the targets that rules can set there",
            applies: |scope| scope.child_after_arrest(),
            run: |find| {
                let low: Vec<_> = aims(find.protocol)
                    .into_iter()
                    .chain(commanded(find.protocol))
                    .filter(|target| target.value < number("32"))
                    .collect();
                for target in low {
                    find.hit(
                        target.span,
                        &target.about,
                        format!(
                            "{}, {}, is below 32.0 °C",
                            target.words,
                            celsius(target.value)
                        ),
                    );
                }
            },
        },
        ..BLANK
    },
];

/// Minutes spent inside a range at the least, where every length is known.
fn inside(find: &Finder, low: Exact, high: Exact) -> Option<Exact> {
    let mut sum = Exact::ZERO;
    for (id, phase) in find.protocol.phases() {
        let (lowest, highest) = match &phase.aim {
            Aim::Hold { at, .. } => (at.value, at.value),
            Aim::Keep {
                low: Some(low),
                high: Some(high),
                ..
            } => (low.value, high.value),
            Aim::Keep { .. } | Aim::Reach { .. } => continue,
        };
        if low <= lowest && highest <= high {
            let length = match &phase.end {
                // Counted from the arrest, it stands for all the time since.
                End::After { after, mark } if matches!(mark.value, MarkRef::Named(_)) => {
                    after.value
                }
                _ => timing::length(find.context, id)?.shortest,
            };
            sum = sum + length;
        }
    }
    Some(sum)
}

fn options(find: &mut Finder) {
    let days = |days: i64| Exact::int(days * 24 * 60);
    let (Some(cold), Some(normal)) = (
        inside(find, number("32"), number("34")),
        inside(find, number("36"), number("37.5")),
    ) else {
        return;
    };
    let warm_course = cold.is_zero() && normal >= days(5);
    let cold_course = cold == days(2) && normal >= days(3);
    if warm_course || cold_course {
        return;
    }
    let cools = find.protocol.head.purpose.value == Purpose::TherapeuticHypothermia;
    let hours = |minutes: Exact| crate::checks::words::time(minutes);
    find.missing(if cools {
        format!(
            "the course has {} at 32 °C to 34 °C and then {} at 36 °C to 37.5 °C",
            hours(cold),
            hours(normal)
        )
    } else {
        format!("the course has {} at 36 °C to 37.5 °C", hours(normal))
    });
}

fn fever(find: &mut Finder) {
    let protocol = find.protocol;
    let Some(id) = protocol.control_reading() else {
        return;
    };
    let reading = &protocol[id];
    let line = number("38");
    let warm: Vec<PhaseId> = protocol
        .phases()
        .filter(|(phase, _)| {
            upper(&protocol[*phase]).is_some_and(|(upper, _)| upper >= number("36"))
        })
        .map(|(phase, _)| phase)
        .filter(|phase| !answers(protocol, id, line, &[*phase]))
        .collect();
    if !warm.is_empty() {
        find.hit(
            reading.span,
            &reading.name.name,
            format!(
                "nothing answers {} of 38.0 °C in {}",
                name(&reading.name),
                phases(protocol, &warm)
            ),
        );
    }
}
