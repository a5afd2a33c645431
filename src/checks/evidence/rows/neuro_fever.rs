//! Fever and normal temperature in neurological intensive care.

use super::super::facts::{active_phases, number, shivering};
use super::super::lines::upper_lines;
use super::*;
use crate::checks::answers::answers;
use crate::checks::words::{celsius, name};
use crate::model::Aim;
use crate::model::words::Event;

const BLANK: Row = blank(Section::NeuroFever);

pub(super) const ROWS: &[Row] = &[
    Row {
        id: "tbi-normothermia-band",
        quantity: "controlled temperature",
        patients: "adults with severe head injury",
        intent: "fever control",
        limit: "36.0 °C to 37.5 °C, measured continuously",
        level: Level::Warning,
        protects: "fever and needless cooling",
        source: "Lavinio et al., ESICM/NACCS consensus, Crit Care 2024;28:170, doi 10.1186/s13054-024-04951-x",
        standing: Standing::Seen,
        seen: "abstract",
        decision: Decision::Fires {
            decided_by: "the values held and ranges kept",
            applies: |scope| {
                scope.adult() && scope.fever_control() && scope.after(Event::HeadInjury)
            },
            run: head_injury_band,
        },
        ..BLANK
    },
    Row {
        id: "stroke-fever-prevention",
        quantity: "target and window",
        patients: "adults with vascular brain injury",
        intent: "fever control",
        limit: "37.0 °C for up to 14 days or discharge; the standard arm treated at 38 °C",
        protects: "claiming too much: no functional gain (mRS 4 and 4)",
        source: "Greer et al., INTREPID, JAMA 2024;332:1525-1534, doi 10.1001/jama.2024.14745",
        standing: Standing::Seen,
        seen: "abstract",
        decision: Decision::Never(REPORTS),
        ..BLANK
    },
    Row {
        id: "fever-burden-definition",
        quantity: "fever burden in a day",
        patients: "any",
        intent: "fever control",
        limit: "(area above 37.9 °C in °C × h) ÷ (hours observed) × 24; trial means 0.37 and 0.73 °C × h",
        protects: "home-made measures: it is a measure and no limit",
        source: "Greer et al., INTREPID, JAMA 2024;332:1525-1534, doi 10.1001/jama.2024.14745",
        standing: Standing::Seen,
        seen: "abstract and registry",
        decision: Decision::Never(DEFINES),
        ..BLANK
    },
    Row {
        id: "shivering-rate-normothermia",
        quantity: "shivering while fever is prevented",
        patients: "adults",
        intent: "fever control",
        limit: "a plan for shivering: 85.5 % shivered, against 24.3 %",
        level: Level::Warning,
        protects: "the cost of shivering to the metabolism",
        source: "Greer et al., INTREPID, JAMA 2024;332:1525-1534, doi 10.1001/jama.2024.14745",
        standing: Standing::Reported,
        seen: "trial summary page",
        decision: Decision::Fires {
            decided_by: "a rule or ladder that answers a score of shivering while control is active",
            applies: |scope| scope.adult() && scope.fever_control() && scope.active,
            run: |find| {
                let phases = active_phases(find.protocol);
                let planned = shivering(find.protocol).is_some_and(|(id, reading)| {
                    reading.grid().is_some_and(|grid| {
                        // Some value of the scale is answered.
                        let mut value = grid.low;
                        while value <= grid.high {
                            if answers(find.protocol, id, value, &phases) {
                                return true;
                            }
                            value = value + grid.step;
                        }
                        false
                    })
                });
                if !planned {
                    find.missing("fever is prevented actively, and nothing answers shivering");
                }
            },
        },
        ..BLANK
    },
    Row {
        id: "ncs-2017",
        quantity: "probe site, cooling rate, shivering, rewarming",
        patients: "adults in neurological intensive care",
        intent: "any",
        limit: "16 questions answered by GRADE",
        protects: "adding rules without having read it",
        source: "Madden et al., Neurocritical Care Society, Neurocrit Care 2017;27:468-487, doi 10.1007/s12028-017-0469-5",
        standing: Standing::Seen,
        seen: "that it exists, and its scope; none of its recommendations could be read",
        decision: Decision::Never("none of its recommendations could be read"),
        ..BLANK
    },
    Row {
        id: "icu-fever-definition",
        quantity: "fever",
        patients: "adults in intensive care",
        intent: "fever control",
        limit: "38.3 °C or more: another line than 37.7, 37.8 and 38.0 °C",
        level: Level::Note,
        protects: "mixing thresholds of different bodies",
        source: "Seguin et al., Crit Care 2012;16:R150; guideline O'Grady et al., Crit Care Med 2008 and 2023",
        standing: Standing::Seen,
        seen: "the cohort; the guideline from memory",
        decision: Decision::Fires {
            decided_by: "upper lines of a body temperature",
            applies: |scope| scope.adult() && scope.fever_control(),
            run: |find| {
                let line = upper_lines(find.protocol)
                    .into_iter()
                    .find(|line| line.value >= number("38.3"));
                if let Some(line) = line {
                    find.hit(
                        line.span,
                        &line.about,
                        format!("{} begins only at {}", line.words, celsius(line.value)),
                    );
                }
            },
        },
        ..BLANK
    },
];

fn head_injury_band(find: &mut Finder) {
    let protocol = find.protocol;
    let (low, high) = (number("36.0"), number("37.5"));
    for (_, phase) in protocol.phases() {
        let outside = match &phase.aim {
            Aim::Hold { at, .. } => {
                (at.value < low || at.value > high).then(|| format!("holds {at}"))
            }
            Aim::Keep {
                low: keep_low,
                high: keep_high,
                ..
            } => {
                let too_low = keep_low.as_ref().filter(|at| at.value < low);
                let too_high = keep_high.as_ref().filter(|at| at.value > high);
                match (too_low, too_high) {
                    (Some(at), _) => Some(format!("keeps {at} as its lower limit")),
                    (None, Some(at)) => Some(format!("keeps {at} as its upper limit")),
                    (None, None) if keep_high.is_none() => Some("has no upper limit".to_owned()),
                    // Without active means nobody is cooled too far.
                    (None, None) if keep_low.is_none() && protocol.is_active(phase) => {
                        Some("has no lower limit".to_owned())
                    }
                    (None, None) => None,
                }
            }
            Aim::Reach { to, .. } => {
                (to.value < low || to.value > high).then(|| format!("goes to {to}"))
            }
        };
        if let Some(outside) = outside {
            find.hit(
                phase.aim_span,
                &phase.name.name,
                format!("{} {outside}", name(&phase.name)),
            );
        }
    }
}
