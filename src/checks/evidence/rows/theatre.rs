//! Warmth around operations.

use super::super::facts::{number, together};
use super::*;
use crate::checks::facts::{interval, is_asked};
use crate::checks::words::name;
use crate::model::words::{Medium, Topic};
use crate::model::*;
use crate::quantity::Exact;

const BLANK: Row = Row {
    patients: "adults",
    intent: "warmth around operations",
    ..blank(Section::Theatre)
};

const NICE: &str = "NICE CG65 (2008, 2016)";
const PUBLIC: &str = "NICE CG65, text for the public";

pub(super) const ROWS: &[Row] = &[
    Row {
        id: "peri-definition",
        quantity: "hypothermia",
        limit: "below 36.0 °C",
        protects: "two readings of one word",
        source: NICE,
        standing: Standing::Seen,
        seen: "\"Context\"",
        decision: Decision::Never(DEFINES),
        ..BLANK
    },
    Row {
        id: "peri-comfort",
        quantity: "comfortably warm",
        limit: "36.5 °C to 37.5 °C",
        protects: "two readings of one word",
        source: NICE,
        standing: Standing::Seen,
        seen: "\"Context\"",
        decision: Decision::Never(DEFINES),
        ..BLANK
    },
    Row {
        id: "peri-phases",
        quantity: "phases",
        limit: "before: 1 h before induction; during: the whole anaesthetic; after: 24 h from recovery",
        level: Level::Note,
        protects: "hours that nobody watches",
        source: NICE,
        standing: Standing::Seen,
        seen: "\"Context\"",
        decision: Decision::Fires {
            decided_by: "phases that end at `induction`, at `recovery`, and 24 h or more after `recovery`",
            applies: |scope| scope.theatre(),
            run: phases,
        },
        ..BLANK
    },
    Row {
        id: "peri-induce",
        quantity: "temperature at induction",
        limit: "36.0 °C or more, unless surgery is urgent",
        level: Level::Error,
        protects: "hypothermia under anaesthesia",
        source: PUBLIC,
        standing: Standing::Seen,
        seen: "\"During your operation\"",
        decision: Decision::Fires {
            decided_by: "something that covers warm-before-induction, and the lower limit of the phase that ends at `induction`",
            applies: |scope| scope.theatre(),
            run: induce,
        },
        ..BLANK
    },
    Row {
        id: "peri-prewarm",
        quantity: "active warming beforehand",
        limit: "30 min or more before induction, time permitting",
        level: Level::Warning,
        protects: "the fall when blood is redistributed",
        source: PUBLIC,
        standing: Standing::Seen,
        seen: "\"During your operation\"; that other bodies accept 10 min to 30 min is from memory",
        decision: Decision::Fires {
            decided_by: "`plan for` of the active phase that ends at `induction`",
            applies: |scope| scope.theatre(),
            run: prewarm,
        },
        ..BLANK
    },
    Row {
        id: "peri-interval",
        quantity: "measurement during the operation",
        limit: "every 30 min or more often, and before induction",
        level: Level::Error,
        protects: "hypothermia that nobody sees",
        source: PUBLIC,
        standing: Standing::Seen,
        seen: "\"During your operation\"",
        decision: Decision::Fires {
            decided_by: "the interval of the phase that ends at `recovery` (or of every phase before, without that mark), and whether the phase that ends at `induction` is looked at",
            applies: |scope| scope.theatre(),
            run: intervals,
        },
        ..BLANK
    },
    Row {
        id: "peri-warm-if",
        quantity: "active warming",
        limit: "when anaesthesia takes more than 30 min, or less in a patient at risk",
        level: Level::Warning,
        protects: "hypothermia under anaesthesia",
        source: PUBLIC,
        standing: Standing::Seen,
        seen: "\"During your operation\"",
        decision: Decision::Fires {
            decided_by: "a passive phase that ends at `recovery` and is planned for more than 30 min",
            applies: |scope| scope.theatre(),
            run: |find| {
                if let Some((_, phase)) = ending_at(find.protocol, "recovery")
                    && !find.protocol.is_active(phase)
                    && planned(phase).is_some_and(|plan| longest(plan) > Exact::int(30))
                {
                    find.hit(
                        phase.aim_span,
                        &phase.name.name,
                        format!("{} is passive and longer than 30 min", name(&phase.name)),
                    );
                }
            },
        },
        ..BLANK
    },
    Row {
        id: "peri-room",
        quantity: "temperature of the theatre while the patient is exposed",
        limit: "21 °C or more",
        level: Level::Warning,
        protects: "loss of heat",
        source: PUBLIC,
        standing: Standing::Seen,
        seen: "\"During your operation\"",
        decision: Decision::Fires {
            decided_by: "`limit … never below` on a temperature of air",
            applies: |scope| scope.theatre(),
            run: |find| {
                find.limit_hits(
                    Medium::Air,
                    Side::Below,
                    |value| value < number("21"),
                    "is below 21 °C",
                );
            },
        },
        ..BLANK
    },
    Row {
        id: "peri-recovery",
        quantity: "measurement in recovery",
        limit: "every 15 min; recovery is left only at 36.0 °C or more",
        level: Level::Warning,
        protects: "hypothermia that nobody sees",
        source: "NICE CG65",
        standing: Standing::Memory,
        seen: "not found",
        decision: Decision::Fires {
            decided_by: "the interval of the phase after the one that ends at `recovery`, and the condition that ends it",
            applies: |scope| scope.theatre(),
            run: recovery,
        },
        ..BLANK
    },
    Row {
        id: "peri-fluids",
        quantity: "warming of fluids",
        limit: "iv fluids of 500 mL or more and blood at 37 °C; irrigation at 38 °C to 40 °C",
        level: Level::Warning,
        protects: "loss of heat into cold fluids",
        source: "NICE CG65",
        standing: Standing::Seen,
        seen: "\"warmed to body temperature\"; 500 mL and 38 °C to 40 °C from memory",
        decision: Decision::Fires {
            decided_by: "`limit … never below` on a temperature of fluid",
            applies: |scope| scope.theatre(),
            run: |find| {
                find.limit_hits(
                    Medium::Fluid,
                    Side::Below,
                    |value| value < number("37"),
                    "is below 37 °C",
                );
            },
        },
        ..BLANK
    },
    Row {
        id: "peri-drop",
        quantity: "early fall to be expected",
        limit: "to below 35.0 °C within 30 min to 40 min if nothing is done",
        protects: "surprise",
        source: NICE,
        standing: Standing::Seen,
        seen: "\"Context\"",
        decision: Decision::Never(REPORTS),
        ..BLANK
    },
];

fn is_mark(protocol: &Protocol, mark: MarkRef, wanted: &str) -> bool {
    matches!(mark, MarkRef::Named(id) if protocol[id].name.name == wanted)
}

fn ending_at<'a>(protocol: &'a Protocol, mark: &str) -> Option<(PhaseId, &'a Phase)> {
    protocol.phases().find(|(_, phase)| {
        matches!(&phase.end, End::Awaited { trigger: EndTrigger::Mark(at), .. }
            if is_mark(protocol, at.value, mark))
    })
}

fn planned(phase: &Phase) -> Option<&Planned> {
    match &phase.end {
        End::Awaited { plan, .. } => Some(plan),
        _ => None,
    }
}

fn shortest(plan: &Planned) -> Exact {
    let last = plan
        .last
        .as_ref()
        .map_or(plan.first.value, |last| last.value);
    plan.first.value.min(last)
}

fn longest(plan: &Planned) -> Exact {
    let last = plan
        .last
        .as_ref()
        .map_or(plan.first.value, |last| last.value);
    plan.first.value.max(last)
}

fn phases(find: &mut Finder) {
    let protocol = find.protocol;
    let day = Exact::int(24 * 60);
    let counted = protocol.phases().any(|(_, phase)| {
        matches!(&phase.end, End::After { after, mark }
            if is_mark(protocol, mark.value, "recovery") && after.value >= day)
    });
    // Or phases after it that are long enough together.
    let later: Vec<PhaseId> = ending_at(protocol, "recovery")
        .into_iter()
        .flat_map(|(recovery, _)| protocol.phases().filter(move |(id, _)| *id > recovery))
        .map(|(id, _)| id)
        .collect();
    let after = counted || together(find.context, &later).is_some_and(|length| length >= day);
    let mut lacks = Vec::new();
    if ending_at(protocol, "induction").is_none() {
        lacks.push("no phase ends at `induction`");
    }
    if ending_at(protocol, "recovery").is_none() {
        lacks.push("no phase ends at `recovery`");
    }
    if !after {
        lacks.push("no phase lasts until 24 h after `recovery`");
    }
    if !lacks.is_empty() {
        find.missing(crate::checks::words::list(&lacks));
    }
}

fn induce(find: &mut Finder) {
    let protocol = find.protocol;
    find.must_cover(
        Topic::WarmBeforeInduction,
        "induction may begin in a cold patient",
    );
    let Some((_, phase)) = ending_at(protocol, "induction") else {
        return;
    };
    if let Aim::Keep { low: Some(low), .. } = &phase.aim
        && low.value < number("36.0")
    {
        find.hit(
            low.span,
            &phase.name.name,
            format!("{} lets induction begin at {low}", name(&phase.name)),
        );
    }
}

fn prewarm(find: &mut Finder) {
    let protocol = find.protocol;
    let Some((_, phase)) = ending_at(protocol, "induction") else {
        find.missing("no phase warms before induction");
        return;
    };
    if !protocol.is_active(phase) {
        find.hit(
            phase.aim_span,
            &phase.name.name,
            format!("{} does not warm actively", name(&phase.name)),
        );
    } else if let Some(plan) = planned(phase)
        && shortest(plan) < Exact::int(30)
    {
        find.hit(
            plan.first.span,
            &phase.name.name,
            format!("{} is planned for less than 30 min", name(&phase.name)),
        );
    }
}

fn intervals(find: &mut Finder) {
    let protocol = find.protocol;
    let most = Exact::int(30);
    let during: Vec<PhaseId> = match ending_at(protocol, "recovery") {
        Some((id, _)) => vec![id],
        // Without that mark no phase is known to be over before recovery.
        None => protocol.phases().map(|(id, _)| id).collect(),
    };
    for id in during {
        let phase = &protocol[id];
        let reading = phase.aim.reading();
        match interval(protocol, reading, id) {
            Some(interval) if interval.value > most => find.hit(
                interval.span,
                &phase.name.name,
                format!(
                    "the temperature is measured every {interval} in {}",
                    name(&phase.name)
                ),
            ),
            None => find.hit(
                phase.aim_span,
                &phase.name.name,
                format!(
                    "the temperature is not measured regularly in {}",
                    name(&phase.name)
                ),
            ),
            Some(_) => {}
        }
    }
    if let Some((id, phase)) = ending_at(protocol, "induction")
        && !is_asked(protocol, phase.aim.reading(), id)
    {
        find.hit(
            phase.aim_span,
            &phase.name.name,
            "the temperature is not measured before induction",
        );
    }
}

fn recovery(find: &mut Finder) {
    let protocol = find.protocol;
    let Some((ends, _)) = ending_at(protocol, "recovery") else {
        return;
    };
    let Some((id, phase)) = protocol.phases().find(|(id, _)| *id > ends) else {
        return;
    };
    let interval = interval(protocol, phase.aim.reading(), id);
    if let Some(interval) = interval.filter(|interval| interval.value > Exact::int(15)) {
        find.hit(
            interval.span,
            &phase.name.name,
            format!(
                "the temperature is measured every {interval} in {}",
                name(&phase.name)
            ),
        );
    }
    if let End::Awaited {
        trigger: EndTrigger::When(cond),
        ..
    } = &phase.end
    {
        for test in cond.tests() {
            if let TestKind::Compare {
                reading,
                cmp: Cmp::Above | Cmp::AtOrAbove,
                level,
            } = &test.kind
                && *reading == phase.aim.reading()
                && level.value < number("36.0")
            {
                find.hit(
                    test.span,
                    &phase.name.name,
                    format!("{} is left at {level}", name(&phase.name)),
                );
            }
        }
    }
}
