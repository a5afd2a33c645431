//! Heat stroke and other hyperthermia.

use super::super::facts::{control, number, planned};
use super::*;
use crate::checks::words::name;
use crate::model::words::{DrugClass, FixedWord, Medium, Purpose, Site};
use crate::model::*;
use crate::quantity::Exact;

const BLANK: Row = Row {
    patients: "any",
    intent: "cooling of heat stroke",
    ..blank(Section::Heat)
};

const SCCM: &str =
    "SCCM guideline, Barletta et al., Crit Care Med 2025, doi 10.1097/CCM.0000000000006551";
const SCCM_SEEN: &str = "\"Expert group releases new guidelines for heat stroke management\"";

pub(super) const ROWS: &[Row] = &[
    Row {
        id: "heat-goal",
        quantity: "core temperature after 30 min",
        limit: "below 39 °C within 30 min of recognition",
        level: Level::Error,
        protects: "injury of organs",
        source: SCCM,
        standing: Standing::Seen,
        seen: SCCM_SEEN,
        decision: Decision::Fires {
            decided_by: "`due within` of the first phase that cools",
            applies: |scope| scope.heat_stroke(),
            run: goal,
        },
        ..BLANK
    },
    Row {
        id: "heat-rate",
        quantity: "cooling rate",
        limit: "0.155 °C/min (9.3 °C/h) or more",
        level: Level::Warning,
        protects: "slow cooling",
        source: SCCM,
        standing: Standing::Seen,
        seen: SCCM_SEEN,
        decision: Decision::Fires {
            decided_by: "planned rates, `at least` and caps of phases that cool, and passive cooling",
            applies: |scope| scope.heat_stroke(),
            run: rate,
        },
        ..BLANK
    },
    Row {
        id: "heat-water",
        quantity: "temperature of the water",
        limit: "ice water 1 °C to 5 °C, cold water 9 °C to 12 °C",
        level: Level::Note,
        protects: "slow cooling",
        source: SCCM,
        standing: Standing::Reported,
        seen: "guideline summary \"Heat-related illness\"",
        decision: Decision::Fires {
            decided_by: "`limit … never above` on a temperature of water",
            applies: |scope| scope.heat_stroke(),
            run: |find| {
                find.limit_hits(
                    Medium::Water,
                    Side::Above,
                    |value| value > number("12"),
                    "is above 12 °C",
                );
            },
        },
        ..BLANK
    },
    Row {
        id: "heat-drugs",
        quantity: "antipyretics, dantrolene",
        limit: "not used to cool",
        level: Level::Error,
        protects: "a futile or toxic step",
        source: SCCM,
        standing: Standing::Seen,
        seen: SCCM_SEEN,
        decision: Decision::Fires {
            decided_by: "a medication of class antipyretic; others have no class of their own",
            applies: |scope| scope.heat_stroke(),
            run: |find| {
                let protocol = find.protocol;
                for (_, medication) in protocol.medications() {
                    if let Some(class) = &medication.class
                        && class.value == DrugClass::Antipyretic
                    {
                        find.hit(
                            class.span,
                            &medication.name.name,
                            format!("{} is an antipyretic", name(&medication.name)),
                        );
                    }
                }
            },
        },
        ..BLANK
    },
    Row {
        id: "heat-stop",
        quantity: "temperature at which active cooling stops",
        limit: "38.0 °C to 39.0 °C: SCCM and ILCOR below 39; athletic-training consensus 38.6 to 38.9; ERC 2021 below 39, best 38.0 to 38.5; 38.3 fixed in some texts",
        level: Level::Warning,
        protects: "hypothermia by overshoot",
        source: "SCCM, doi 10.1097/CCM.0000000000006551; ILCOR first aid 2020; WMS 2019 and 2024; ERC 2021",
        standing: Standing::Seen,
        seen: "SCCM; the others from memory",
        decision: Decision::Fires {
            decided_by: "the end of phases that cool",
            applies: |scope| scope.heat_stroke(),
            run: |find| stop(find, "38.0", "39.0"),
        },
        ..BLANK
    },
    Row {
        id: "heat-threshold",
        quantity: "heat stroke",
        limit: "often above 40 °C, with disturbed brain function",
        protects: "waiting for a number",
        source: "emergency pearl 2016; military paper",
        standing: Standing::Seen,
        seen: "both (\"often but not always in excess of 40\")",
        decision: Decision::Never(DEFINES),
        ..BLANK
    },
    Row {
        id: "heat-probe",
        quantity: "site",
        limit: "rectum",
        level: Level::Warning,
        protects: "a reading that is too low",
        source: "WMS 2024",
        standing: Standing::Reported,
        seen: "a page that reports it",
        decision: Decision::Fires {
            decided_by: "the site of the control reading",
            applies: |scope| scope.heat_stroke(),
            run: |find| {
                if let Some((_, reading, site)) = control(find.protocol)
                    && site != Site::Rectum
                {
                    find.hit(
                        reading.span,
                        &reading.name.name,
                        format!("{} is measured at the {}", name(&reading.name), site.word()),
                    );
                }
            },
        },
        ..BLANK
    },
    Row {
        id: "mh-stop",
        quantity: "temperature at which cooling stops",
        intent: "malignant hyperthermia",
        limit: "38.5 °C (European group) or 38 °C (US group)",
        level: Level::Warning,
        protects: "hypothermia by overshoot",
        source: "EMHG 2010 and 2024; MHAUS",
        standing: Standing::Memory,
        seen: "not found",
        decision: Decision::Fires {
            decided_by: "the end of phases that cool",
            applies: |scope| scope.purpose == Purpose::MalignantHyperthermia,
            run: |find| stop(find, "38.0", "38.5"),
        },
        ..BLANK
    },
];

fn cooling(protocol: &Protocol) -> Vec<&Phase> {
    protocol
        .phases()
        .map(|(_, phase)| phase)
        .filter(|phase| matches!(phase.aim, Aim::Reach { way: Way::Cool, .. }))
        .collect()
}

fn goal(find: &mut Finder) {
    let Some(first) = cooling(find.protocol).into_iter().next() else {
        find.missing("no phase cools with a time by which the patient should be below 39 °C");
        return;
    };
    match &first.due {
        None => find.hit(
            first.aim_span,
            &first.name.name,
            format!("{} has no time goal", name(&first.name)),
        ),
        Some(due) if due.within.value > Exact::int(30) => find.hit(
            due.span,
            &first.name.name,
            format!("{} is due within {}", name(&first.name), due.within),
        ),
        Some(_) => {}
    }
}

fn rate(find: &mut Finder) {
    let protocol = find.protocol;
    let least = number("9.3");
    for phase in cooling(protocol) {
        let slow = planned(phase)
            .map(RateRange::slower)
            .into_iter()
            .chain(phase.at_least.as_ref())
            .chain(phase.never_faster.as_ref())
            .find(|rate| rate.value < least);
        if let Some(rate) = slow {
            find.hit(
                rate.span,
                &phase.name.name,
                format!("{} allows {rate}", name(&phase.name)),
            );
        } else if !protocol.is_active(phase) {
            find.hit(
                phase.aim_span,
                &phase.name.name,
                format!("{} cools by passive means", name(&phase.name)),
            );
        }
    }
}

fn stop(find: &mut Finder, low: &str, high: &str) {
    let phases = cooling(find.protocol);
    if phases.is_empty() {
        find.missing("nothing says at which temperature cooling stops");
    }
    for phase in phases {
        let Aim::Reach { to, .. } = &phase.aim else {
            continue;
        };
        if to.value < number(low) || to.value > number(high) {
            find.hit(
                to.span,
                &phase.name.name,
                format!("{} stops cooling at {to}", name(&phase.name)),
            );
        }
    }
}
