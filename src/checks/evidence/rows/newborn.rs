//! Cooling of newborns after birth asphyxia.

use super::super::facts::{holding, number, rewarmings};
use super::*;
use crate::checks::timing;
use crate::checks::words::{celsius, name, time};
use crate::model::words::Topic;
use crate::model::{Aim, End, MarkRef};
use crate::quantity::Exact;

const BLANK: Row = Row {
    patients: "newborns",
    intent: "cooling of newborns after birth asphyxia",
    ..blank(Section::Newborn)
};

const TOBY: &str =
    "Azzopardi et al., TOBY protocol, BMC Pediatr 2008;8:17, doi 10.1186/1471-2431-8-17";
const TOBY_AND_CPS: &str = "Azzopardi et al., TOBY protocol, BMC Pediatr 2008;8:17, doi 10.1186/1471-2431-8-17; Lemyre and Chau, CPS statement, Paediatr Child Health 2018;23:285-291";
const DEEPER_OR_LONGER: &str = "Shankaran et al., JAMA 2014;312:2629-2639 and 2017;318:57-67";
const DEEPER_OR_LONGER_SEEN: &str = "\"Longer Cooling Doesn't Improve Outcomes in Neonatal Hypoxic Encephalopathy\"; the registry entry NCT01192776 was seen itself";
const REGISTRY: &str = "TOBY registry entry NCT00147030";

pub(super) const ROWS: &[Row] = &[
    Row {
        id: "neo-target",
        quantity: "core target",
        limit: "33.5 °C, kept between 33.0 °C and 34.0 °C",
        level: Level::Error,
        protects: "cooling too far or too little",
        source: TOBY_AND_CPS,
        standing: Standing::Seen,
        seen: "both (33.5 °C give or take 0.5 °C; 33 °C to 34 °C)",
        decision: Decision::Fires {
            decided_by: "the aims before rewarming with their bands, and the targets that rules can set there",
            applies: |scope| scope.newborn_cooling(),
            run: |find| {
                find.targets_within("33.0", "34.0");
                band(find);
            },
        },
        ..BLANK
    },
    Row {
        id: "neo-duration",
        quantity: "time held",
        limit: "72 h",
        level: Level::Error,
        protects: "too short a course; a longer one brings no gain",
        source: TOBY_AND_CPS,
        standing: Standing::Seen,
        seen: "both",
        decision: Decision::Fires {
            decided_by: "the phases that hold before rewarming: their length, or `ends 72 h after` start or the phase",
            applies: |scope| scope.newborn_cooling(),
            run: |find| {
                if let Some((length, phase)) = hold_time(find)
                    && length != Exact::int(72 * 60)
                {
                    find.hit(
                        phase.end_span,
                        &phase.name.name,
                        format!("the newborn is cooled for {}", time(length)),
                    );
                }
            },
        },
        ..BLANK
    },
    Row {
        id: "neo-start-window",
        quantity: "age at the start",
        limit: "6 h from birth or less",
        level: Level::Error,
        protects: "loss of effect",
        source: "Azzopardi et al., TOBY protocol, BMC Pediatr 2008;8:17, doi 10.1186/1471-2431-8-17, and registry entry NCT00147030",
        standing: Standing::Seen,
        seen: "both",
        decision: Decision::Fires {
            decided_by: "`start within D of birth`, or the range of age in `patients`",
            applies: |scope| scope.newborn_cooling(),
            run: start_window,
        },
        ..BLANK
    },
    Row {
        id: "neo-gestation",
        quantity: "gestation",
        limit: "36 completed weeks or more; 35 may be considered; below 35 not recommended",
        level: Level::Error,
        protects: "bleeding and death of preterm infants",
        source: TOBY_AND_CPS,
        standing: Standing::Seen,
        seen: "TOBY (36 and more), CPS (35, below 35)",
        decision: Decision::Fires {
            decided_by: "the range of gestation in `patients`",
            applies: |scope| scope.newborn_cooling(),
            run: gestation,
        },
        ..BLANK
    },
    Row {
        id: "neo-weight",
        quantity: "birth weight",
        limit: "more than 1800 g",
        level: Level::Warning,
        protects: "small infants in whom it was not studied",
        source: "Shankaran et al., NICHD, N Engl J Med 2005;353:1574-1584, doi 10.1056/NEJMcps050929 (doi from memory)",
        standing: Standing::Memory,
        seen: "not found",
        decision: Decision::Fires {
            decided_by: "the range of birth weight in `patients`, or that of weight; 1800 g itself is let be",
            applies: |scope| scope.newborn_cooling(),
            run: |find| {
                let patients = &find.protocol.head.patients;
                let about = find.protocol.name.name.clone();
                match patients.birth_weight.as_ref().or(patients.weight.as_ref()) {
                    None => find.hit(patients.span, &about, "no birth weight is stated"),
                    Some(range) if range.low.value < number("1.8") => find.hit(
                        range.span,
                        &about,
                        format!("infants from {} are cooled", range.low),
                    ),
                    Some(_) => {}
                }
            },
        },
        ..BLANK
    },
    Row {
        id: "neo-acidosis",
        quantity: "entry criterion A (any one)",
        limit: "Apgar 5 or less at 10 min, or still resuscitated at 10 min, or pH below 7.00 within 60 min, or base deficit 16 mmol/L or more within 60 min",
        level: Level::Error,
        protects: "treating the wrong infant",
        source: REGISTRY,
        standing: Standing::Seen,
        seen: "registry entry. A later Italian table gives Apgar below 5 and pH 7.0 or less (seen: \"Table 1 Criteria indicative for therapeutic hypothermia\"): the two disagree",
        decision: Decision::Fires {
            decided_by: "`include … covers acidosis`",
            applies: |scope| scope.newborn_cooling(),
            run: |find| {
                find.must_cover(
                    Topic::Acidosis,
                    "no entry criterion of acidosis or resuscitation is stated",
                )
            },
        },
        ..BLANK
    },
    Row {
        id: "neo-encephalopathy",
        quantity: "entry criterion B",
        limit: "moderate or severe encephalopathy: altered state and at least one of low tone, abnormal reflexes, weak suck, seizures",
        level: Level::Error,
        protects: "treating the wrong infant",
        source: REGISTRY,
        standing: Standing::Seen,
        seen: "registry entry",
        decision: Decision::Fires {
            decided_by: "`include … covers encephalopathy`",
            applies: |scope| scope.newborn_cooling(),
            run: |find| {
                find.must_cover(
                    Topic::Encephalopathy,
                    "no entry criterion of encephalopathy is stated",
                )
            },
        },
        ..BLANK
    },
    Row {
        id: "neo-aeeg",
        quantity: "entry criterion C",
        limit: "30 min or more of recorded brain activity with an abnormal background or seizures (TOBY; NICHD did not ask for it)",
        level: Level::Note,
        protects: "treating the wrong infant",
        source: REGISTRY,
        standing: Standing::Seen,
        seen: "registry entry; the NICHD part from memory",
        decision: Decision::Fires {
            decided_by: "`include … covers brain-activity`",
            applies: |scope| scope.newborn_cooling(),
            run: |find| {
                find.must_cover(
                    Topic::BrainActivity,
                    "no entry criterion of recorded brain activity is stated",
                )
            },
        },
        ..BLANK
    },
    Row {
        id: "neo-deeper",
        quantity: "depth",
        limit: "33.0 °C or more: 32.0 °C gave no gain over 33.5 °C (31.5 % and 31.9 % death or disability)",
        level: Level::Error,
        protects: "a signal of more deaths in hospital",
        source: DEEPER_OR_LONGER,
        standing: Standing::Reported,
        seen: DEEPER_OR_LONGER_SEEN,
        decision: Decision::Fires {
            decided_by: "the aims before rewarming",
            applies: |scope| scope.newborn_cooling(),
            run: |find| find.first_target(|value| value < Exact::int(33), "is below 33.0 °C"),
        },
        ..BLANK
    },
    Row {
        id: "neo-longer",
        quantity: "length",
        limit: "72 h or less: 120 h gave no gain (31.6 % and 31.8 %)",
        level: Level::Error,
        protects: "a signal of more deaths in hospital",
        source: DEEPER_OR_LONGER,
        standing: Standing::Reported,
        seen: DEEPER_OR_LONGER_SEEN,
        decision: Decision::Fires {
            decided_by: "the phases that hold before rewarming",
            applies: |scope| scope.newborn_cooling(),
            run: |find| {
                if let Some((length, phase)) = hold_time(find)
                    && length > Exact::int(72 * 60)
                {
                    find.hit(
                        phase.end_span,
                        &phase.name.name,
                        format!(
                            "the newborn is cooled for {}, longer than 72 h",
                            time(length)
                        ),
                    );
                }
            },
        },
        ..BLANK
    },
    Row {
        id: "neo-rewarm-window",
        quantity: "rewarming time",
        limit: "6 h to 12 h. In 6 h, 33.5 °C to 37.0 °C is 0.583 °C/h, above the usual cap of 0.5 °C/h; to 36.5 °C it is 0.5 °C/h",
        level: Level::Warning,
        protects: "rewarming too fast or too slowly",
        source: "Lemyre and Chau, CPS statement, Paediatr Child Health 2018;23:285-291 (reaffirmed 2024)",
        standing: Standing::Seen,
        seen: "the statement",
        decision: Decision::Fires {
            decided_by: "how long the phases that warm after another phase can take",
            applies: |scope| scope.newborn_cooling(),
            run: rewarm_window,
        },
        ..BLANK
    },
    Row {
        id: "neo-normothermia-control",
        quantity: "target of the control arm",
        limit: "37.0 °C give or take 0.2 °C, rectal",
        protects: "nothing: it describes the other arm",
        source: TOBY,
        standing: Standing::Seen,
        seen: "the protocol",
        decision: Decision::Never(REPORTS),
        ..BLANK
    },
    Row {
        id: "neo-low-resource",
        quantity: "setting",
        limit: "benefit not shown where means are low or middle",
        protects: "using the protocol outside its evidence",
        source: "review text in \"Neonatal Therapeutic Hypothermia\" (StatPearls)",
        standing: Standing::Seen,
        seen: "the review",
        decision: Decision::Never("a protocol does not state the means of its setting"),
        ..BLANK
    },
];

/// The band around a value that is held.
fn band(find: &mut Finder) {
    let protocol = find.protocol;
    let (low, high) = (number("33.0"), number("34.0"));
    for id in holding(protocol) {
        let phase = &protocol[id];
        let Aim::Hold { at, within, .. } = &phase.aim else {
            continue;
        };
        let inside = low <= at.value && at.value <= high;
        let (lowest, highest) = (at.value - within.value, at.value + within.value);
        if inside && (lowest < low || highest > high) {
            find.hit(
                within.span,
                &phase.name.name,
                format!(
                    "the band of {}, {} to {}, leaves 33.0 °C to 34.0 °C",
                    name(&phase.name),
                    celsius(lowest),
                    celsius(highest)
                ),
            );
        }
    }
}

/// How long the cold lasts, and the phase whose end says so. An end that counts
/// from the start, or from the beginning of a phase, is that long by itself.
fn hold_time<'a>(find: &Finder<'_, 'a>) -> Option<(Exact, &'a crate::model::Phase)> {
    let protocol = find.protocol;
    let phases = holding(protocol);
    let last = &protocol[*phases.last()?];
    if let End::After { after, mark } = &last.end {
        return match mark.value {
            MarkRef::Start | MarkRef::PhaseStart(_) | MarkRef::PhaseEnd(_) => {
                Some((after.value, last))
            }
            MarkRef::Named(_) => {
                let length = timing::length(find.context, *phases.last()?)?;
                Some((length.shortest, last))
            }
        };
    }
    let mut sum = Exact::ZERO;
    for id in &phases {
        match &protocol[*id].end {
            End::Lasts(length) => sum = sum + length.value,
            // An end that waits for something is no length.
            End::Awaited { .. } | End::After { .. } | End::Reached => return None,
        }
    }
    Some((sum, last))
}

fn start_window(find: &mut Finder) {
    let protocol = find.protocol;
    let limit = Exact::int(6 * 60);
    let about = &protocol.name.name;
    let from_birth = protocol
        .head
        .start_within
        .as_ref()
        .filter(|start| protocol[start.of].name.name == "birth");
    let age = protocol.head.patients.age.as_ref();
    let by_start = from_birth.is_some_and(|start| start.within.value <= limit);
    let by_age = age.is_some_and(|age| age.high.value <= Exact::ratio(1, 4));
    if by_start || by_age {
        return;
    }
    match (from_birth, age) {
        (Some(start), _) => find.hit(
            start.span,
            about,
            format!("cooling may start {} after birth", start.within),
        ),
        (None, Some(age)) => find.hit(
            age.span,
            about,
            format!("infants of up to {} are cooled", age.high),
        ),
        (None, None) => find.missing("nothing says how long after birth cooling may start"),
    }
}

fn gestation(find: &mut Finder) {
    let protocol = find.protocol;
    let patients = &protocol.head.patients;
    let about = &protocol.name.name;
    let weeks = |weeks: i64| Exact::int(weeks * 7);
    match &patients.gestation {
        None => find.hit(patients.span, about, "no range of gestation is stated"),
        Some(range) if range.low.value < weeks(35) => find.hit(
            range.span,
            about,
            format!("infants from {} are cooled", range.low),
        ),
        Some(range) if range.low.value < weeks(36) => find.hit_at(
            Level::Warning,
            range.span,
            about,
            format!("infants from {} are cooled", range.low),
        ),
        Some(_) => {}
    }
}

/// From the value that was held to the end itself: a patient at the edge of the
/// band is no reason to call a plan too fast.
fn rewarm_window(find: &mut Finder) {
    let protocol = find.protocol;
    let (least, most) = (Exact::int(6 * 60), Exact::int(12 * 60));
    let held = holding(protocol)
        .into_iter()
        .rev()
        .find_map(|id| match &protocol[id].aim {
            Aim::Hold { at, .. } => Some(at.value),
            Aim::Reach { .. } | Aim::Keep { .. } => None,
        });
    for (_, phase) in rewarmings(protocol) {
        let Aim::Reach { from, to, rate, .. } = &phase.aim else {
            continue;
        };
        let Some(begin) = from.as_ref().map(|from| from.value).or(held) else {
            continue;
        };
        let at_rate = |rate: Exact| (to.value - begin) / rate * Exact::int(60);
        let (shortest, longest) = match rate {
            Some(rate) => (
                timing::course_length(phase, begin, rate.faster().value),
                timing::course_length(phase, begin, rate.slower().value),
            ),
            None => (
                phase.never_faster.as_ref().map(|cap| at_rate(cap.value)),
                phase
                    .at_least
                    .as_ref()
                    .map(|rate| at_rate(rate.value))
                    .into_iter()
                    .chain(phase.due.as_ref().map(|due| due.within.value))
                    .min(),
            ),
        };
        let words = if let Some(short) = shortest.filter(|short| *short < least) {
            format!("can take only {}", time(short))
        } else if let Some(long) = longest.filter(|long| *long > most) {
            format!("can take {}", time(long))
        } else {
            continue;
        };
        find.hit(
            phase.aim_span,
            &phase.name.name,
            format!("{} {words}", name(&phase.name)),
        );
    }
}
