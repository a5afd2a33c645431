//! Rates, floors, overshoot.

use super::super::facts::{commanded, control, holding, number, planned, rewarmings};
use super::*;
use crate::checks::answers::{answers, first_answered};
use crate::checks::words::{celsius, name, phases};
use crate::model::words::Event;
use crate::model::{Aim, Phase, PhaseId, Side, Way};
use crate::quantity::Exact;

const BLANK: Row = blank(Section::Rates);

pub(super) const ROWS: &[Row] = &[
    Row {
        id: "rewarm-cap-adult",
        quantity: "rewarming rate after intended hypothermia",
        patients: "adults",
        intent: "hypothermia after arrest",
        limit: "0.5 °C/h or less; 0.25 °C/h to 0.5 °C/h usual, below 0.15 °C/h noted",
        level: Level::Error,
        protects: "rebound fever, raised pressure in the head, a rise of potassium, a fall of blood pressure as vessels widen",
        source: "TTM 2013, doi 10.1056/NEJMoa1310519 (doi from memory), and TTH48 2017, doi 10.1001/jama.2017.8978 (doi from memory): 0.5 °C/h; HYPERION 2019, doi 10.1056/NEJMoa1906661 (doi from memory): 0.25 °C/h to 0.5 °C/h; TTM2 2021: 1/3 °C/h",
        standing: Standing::Seen,
        seen: "TTH48 abstract (0.5 °C/h to 37 °C), table in J Intensive Care 2016 for TTM 2013; HYPERION in a page that reports it; TTM2's 1/3 °C/h from memory",
        decision: Decision::Fires {
            decided_by: "planned rates, caps and rates set by rules, in phases that warm after another phase",
            applies: |scope| scope.arrest_hypothermia(),
            run: |find| {
                find.rewarming_at_most("0.5");
                slow(find);
            },
        },
        ..BLANK
    },
    Row {
        id: "rewarm-cap-slow-equal",
        quantity: "slower rewarming is not shown to be better",
        patients: "adults",
        intent: "after arrest",
        limit: "0.15 °C/h and 0.25 °C/h: no difference (n = 71)",
        protects: "local rules that are too tight",
        source: "Cho et al., Clin Exp Emerg Med 2019;6:25-30, doi 10.15441/ceem.17.275",
        standing: Standing::Seen,
        seen: "its abstract",
        decision: Decision::Never(REPORTS),
        ..BLANK
    },
    Row {
        id: "rewarm-cap-tbi",
        quantity: "rewarming rate",
        patients: "adults with head injury",
        intent: "hypothermia for the pressure in the head",
        limit: "0.25 °C/h or less (1 °C in 4 h)",
        level: Level::Error,
        protects: "rebound of the pressure in the head",
        source: "Andrews et al., Eurotherm3235 protocol, Trials 2011;12:8",
        standing: Standing::Seen,
        seen: "protocol abstract quotes slow rewarming of 1 °C in 4 h",
        decision: Decision::Fires {
            decided_by: "planned rates, caps and rates set by rules, in phases that warm after another phase",
            applies: |scope| scope.adult_hypothermia() && scope.after(Event::HeadInjury),
            run: |find| find.rewarming_at_most("0.25"),
        },
        ..BLANK
    },
    Row {
        id: "rewarm-cap-neonate",
        quantity: "rewarming rate",
        patients: "newborns",
        intent: "cooling of newborns",
        limit: "0.5 °C/h or less",
        level: Level::Warning,
        protects: "seizures and low blood pressure",
        source: "Shankaran 2005, doi 10.1056/NEJMcps050929 (doi from memory); Azzopardi 2008, doi 10.1186/1471-2431-8-17, and 2009",
        standing: Standing::Memory,
        seen: "the number in both; see the row neo-rewarm-window",
        decision: Decision::Fires {
            decided_by: "planned rates, caps and rates set by rules, in phases that warm after another phase",
            applies: |scope| scope.newborn_cooling(),
            run: |find| find.rewarming_at_most("0.5"),
        },
        ..BLANK
    },
    Row {
        id: "rewarm-cap-child",
        quantity: "rewarming after arrest",
        patients: "children",
        intent: "hypothermia after arrest",
        limit: "16 h or more from 33.0 °C to 36.8 °C, which is 0.24 °C/h or less",
        level: Level::Warning,
        protects: "rebound fever, raised pressure in the head, a rise of potassium",
        source: "Moler et al., N Engl J Med 2015;372:1898-1908, doi 10.1056/NEJMoa1411480",
        standing: Standing::Reported,
        seen: "the targets 33.0 °C and 36.8 °C in the source, 16 h to 24 h in a page that reports it; the arithmetic is ours",
        decision: Decision::Fires {
            decided_by: "planned rates, caps and rates set by rules, in phases that warm after another phase",
            applies: |scope| scope.child_after_arrest() && scope.hypothermia(),
            run: |find| find.rewarming_at_most("0.24"),
        },
        ..BLANK
    },
    Row {
        id: "overshoot-floor",
        quantity: "lowest temperature that may occur or be ordered",
        patients: "adults",
        intent: "any intended hypothermia to 32 °C to 36 °C",
        limit: "alarm and act at 32.0 °C or above; never below 30 °C",
        level: Level::Error,
        protects: "dangerous heart rhythms and bleeding",
        source: "Polderman, Crit Care Med 2009;37(7 Suppl):S186-202",
        standing: Standing::Seen,
        seen: "the reference; its threshold of 30 °C is from memory, so no error hangs on it",
        decision: Decision::Fires {
            decided_by: "rules, ladders and limits that answer a low control temperature while the patient is cold, and targets that rules can set",
            applies: |scope| scope.adult_hypothermia(),
            run: floor,
        },
        ..BLANK
    },
    Row {
        id: "overshoot-frequency",
        quantity: "how often overcooling happened",
        patients: "adults",
        intent: "hypothermia to 33 °C after arrest",
        limit: "8 % (intravascular) and 34 % (surface)",
        protects: "taking overshoot for rare: it gives the reason for overshoot-floor",
        source: "Glover et al., Crit Care 2016;20:381, doi 10.1186/s13054-016-1552-6",
        standing: Standing::Seen,
        seen: "table 2",
        decision: Decision::Never(REPORTS),
        ..BLANK
    },
    Row {
        id: "arrhythmia-33-vs-normothermia",
        quantity: "dangerous heart rhythm with a failing circulation",
        patients: "adults, shockable rhythm",
        intent: "after arrest",
        limit: "21.2 % at 33 °C, 14.1 % at normal temperature (odds ratio 1.49, 1.05 to 2.14)",
        protects: "treating 33 °C as free of risk",
        source: "TTM2 secondary analysis, Crit Care 2024, doi 10.1186/s13054-024-05119-3",
        standing: Standing::Seen,
        seen: "abstract",
        decision: Decision::Never(REPORTS),
        ..BLANK
    },
    Row {
        id: "rebound-fever-watch",
        quantity: "temperature after active control stops",
        patients: "adults",
        intent: "after arrest",
        limit: "monitoring must not end when the device comes off: rebound above 38 °C in 45.1 %, mean 8.6 h long",
        level: Level::Warning,
        protects: "fever that nobody notices",
        source: "Intensive Care Med Exp 2015;3(Suppl 1):A201, table 2",
        standing: Standing::Seen,
        seen: "table 2",
        decision: Decision::Fires {
            decided_by: "whether a phase follows the last rewarming",
            applies: |scope| scope.arrest_hypothermia(),
            run: |find| {
                if let Some((id, last)) = find.protocol.phases().last()
                    && rewarmings(find.protocol)
                        .iter()
                        .any(|(rewarm, _)| *rewarm == id)
                {
                    find.hit(
                        last.aim_span,
                        &last.name.name,
                        format!(
                            "no phase follows {}, so nobody watches for fever",
                            name(&last.name)
                        ),
                    );
                }
            },
        },
        ..BLANK
    },
    Row {
        id: "target-band",
        quantity: "tolerance around a target",
        patients: "adults",
        intent: "after arrest",
        limit: "0.5 °C (HYPERION) to 1 °C (TTH48) on either side; one device study counted 0.2 °C outside its band as out of range",
        level: Level::Note,
        protects: "bands so wide that they overlap another target",
        source: "HYPERION design 2015, SJTREM 2015;23:26, doi 10.1186/s13049-015-0103-5; TTH48 2017, doi 10.1001/jama.2017.8978 (doi from memory); Hoedemaekers 2007",
        standing: Standing::Seen,
        seen: "their abstracts",
        decision: Decision::Fires {
            decided_by: "`within` of phases that hold: more than the widest, 1.0 °C",
            applies: |scope| scope.adult_after_arrest(),
            run: |find| {
                let protocol = find.protocol;
                for (_, phase) in protocol.phases() {
                    if let Aim::Hold { within, .. } = &phase.aim
                        && within.value > Exact::ONE
                    {
                        find.hit(
                            within.span,
                            &phase.name.name,
                            format!(
                                "the band of {}, {within} on either side, is wide",
                                name(&phase.name)
                            ),
                        );
                    }
                }
            },
        },
        ..BLANK
    },
    Row {
        id: "no-mild-hypothermia-31",
        quantity: "target of 31 °C",
        patients: "adults",
        intent: "after arrest",
        limit: "32.0 °C or more: 31 °C had no benefit against 34 °C (48.4 % and 45.4 %)",
        level: Level::Warning,
        protects: "needless depth",
        source: "Le May et al., JAMA 2021;326:1494-1503, doi 10.1001/jama.2021.15703 (doi from memory)",
        standing: Standing::Reported,
        seen: "news report of the paper",
        decision: Decision::Fires {
            decided_by: "the aims before rewarming",
            applies: |scope| scope.adult_after_arrest(),
            run: |find| find.first_target(|value| value < Exact::int(32), "is below 32.0 °C"),
        },
        ..BLANK
    },
    Row {
        id: "no-hypothermia-sepsis",
        quantity: "cooling to 32 °C to 34 °C",
        patients: "adults with septic shock",
        intent: "any",
        limit: "not used: a trial of 24 h was stopped (CASS)",
        level: Level::Warning,
        protects: "harm",
        source: "Itenov et al., Lancet Respir Med 2018;6:183-192, doi 10.1016/S2213-2600(18)30004-3",
        standing: Standing::Seen,
        seen: "its design; \"no benefit, possible harm\" is from memory, so it is a warning until confirmed",
        decision: Decision::Fires {
            decided_by: "`purpose therapeutic-hypothermia after sepsis`",
            applies: |scope| scope.adult_hypothermia() && scope.after(Event::Sepsis),
            run: |find| find.missing("patients with sepsis are cooled on purpose"),
        },
        ..BLANK
    },
    Row {
        id: "no-hypothermia-icp-worse",
        quantity: "32 °C to 35 °C for a raised pressure in the head",
        patients: "adults with head injury",
        intent: "hypothermia for the pressure in the head",
        limit: "above 35.0 °C: cooling gave a worse outcome (adjusted common odds ratio 1.53, 1.02 to 2.30; good outcome 26 % and 37 %)",
        level: Level::Warning,
        protects: "harm",
        source: "Andrews et al., N Engl J Med 2015;373:2403-2412, doi 10.1056/NEJMoa1507581 (doi from memory)",
        standing: Standing::Seen,
        seen: "abstract",
        decision: Decision::Fires {
            decided_by: "the aims before rewarming",
            applies: |scope| scope.adult_hypothermia() && scope.after(Event::HeadInjury),
            run: |find| find.first_target(|value| value <= Exact::int(35), "is 35.0 °C or less"),
        },
        ..BLANK
    },
];

/// Below the slowest rate that was compared.
fn slow(find: &mut Finder) {
    let protocol = find.protocol;
    for (_, phase) in rewarmings(protocol) {
        if let Some(rate) = planned(phase).map(crate::model::RateRange::slower)
            && rate.value < number("0.15")
        {
            find.hit_at(
                Level::Note,
                rate.span,
                &phase.name.name,
                format!(
                    "{rate}, planned in {}, is slower than 0.15 °C/h",
                    name(&phase.name)
                ),
            );
        }
    }
}

fn floor(find: &mut Finder) {
    let protocol = find.protocol;
    let limit = number("32.0");
    for target in commanded(protocol) {
        if target.value < limit {
            find.hit_at(
                Level::Warning,
                target.span,
                &target.about,
                format!(
                    "{}, {}, is below 32.0 °C",
                    target.words,
                    celsius(target.value)
                ),
            );
        }
    }
    let Some((id, reading, _)) = control(protocol) else {
        return;
    };
    let Some(step) = reading.shown_to.as_ref().map(|step| step.value) else {
        return;
    };
    let cold: Vec<PhaseId> = holding(protocol)
        .into_iter()
        .filter(|phase| is_cold(&protocol[*phase]))
        .collect();
    let cold = if cold.is_empty() {
        protocol
            .phases()
            .filter(|(_, phase)| is_cold(phase))
            .map(|(id, _)| id)
            .collect()
    } else {
        cold
    };
    let first_below = (limit - step).round_up_to(step);
    let unwatched: Vec<PhaseId> = cold
        .iter()
        .copied()
        .filter(|phase| !answers(protocol, id, first_below, &[*phase]))
        .collect();
    if unwatched.is_empty() {
        return;
    }
    match first_answered(protocol, id, first_below, Side::Below, &unwatched) {
        Some(value) => find.hit_at(
            Level::Warning,
            reading.span,
            &reading.name.name,
            format!(
                "nothing answers {} in {} before it is {}",
                name(&reading.name),
                phases(protocol, &unwatched),
                celsius(value)
            ),
        ),
        None => find.hit(
            reading.span,
            &reading.name.name,
            format!(
                "nothing answers a {} that is too low in {}",
                name(&reading.name),
                phases(protocol, &unwatched)
            ),
        ),
    }
}

fn is_cold(phase: &Phase) -> bool {
    let cold = number("36.0");
    match &phase.aim {
        Aim::Reach {
            way: Way::Cool, to, ..
        } => to.value < cold,
        Aim::Reach { way: Way::Warm, .. } => false,
        Aim::Hold { at, .. } => at.value < cold,
        Aim::Keep { high, .. } => high.as_ref().is_some_and(|high| high.value < cold),
    }
}
