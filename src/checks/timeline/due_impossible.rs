//! Due sooner than the cap allows.

use super::super::words::{celsius, name, time};
use super::super::{Check, Context, Family, Run, timing};
use crate::diag::{Diagnostic, Level};
use crate::model::*;
use crate::quantity::Exact;

pub const CHECK: Check = Check {
    name: "due-impossible",
    family: Family::Timeline,
    level: Level::Error,
    since: "0.1.0",
    summary: "a phase is due sooner than its own cap allows",
    catches: "A `due within` that the cap or the planned course cannot meet from the farthest start that the \
              protocol allows, with the mark it counts from as early as it can lie; and an `at least` above `never \
              faster than`.",
    why: "The sheet asks for something that it forbids: the nurse is late whatever is done, or breaks the cap to be \
          in time.",
    fires: "\
phase cool \"Cool to target\" {
  cool core to 33.0 °C
  never faster than 2.0 °C/h
  due within 2 h
}
",
    passes: "\
phase cool \"Cool to target\" {
  cool core to 33.0 °C
  never faster than 2.0 °C/h
  due within 4 h
}
",
    source: "structural",
    run: Run::Over(run),
};

fn run(context: &Context) -> Vec<Diagnostic> {
    let protocol = context.protocol;
    let mut found = Vec::new();
    for (id, phase) in protocol.phases() {
        if let (Some(least), Some(cap)) = (&phase.at_least, &phase.never_faster)
            && least.value > cap.value
        {
            found.push(
                CHECK
                    .found(
                        least.span,
                        format!(
                            "{} must go at least {least} and never faster than {cap}",
                            name(&phase.name)
                        ),
                    )
                    .also(cap.span, "the cap")
                    .why("no rate keeps both lines")
                    .help("write an `at least` at or below the cap")
                    .about(&phase.name.name),
            );
        }
        found.extend(due(context, id, phase));
    }
    found
}

fn due(context: &Context, id: PhaseId, phase: &Phase) -> Option<Diagnostic> {
    let due = phase.due.as_ref()?;
    let Aim::Reach { to, rate, .. } = &phase.aim else {
        return None;
    };
    let start = timing::farthest_start(context, id)?;
    let distance = (start - to.value).abs();
    let by_course = rate
        .as_ref()
        .and_then(|rate| timing::course_length(phase, start, rate.faster().value));
    let by_cap = phase
        .never_faster
        .as_ref()
        .map(|cap| distance / cap.value * Exact::int(60));
    let needed = by_course.into_iter().chain(by_cap).max()?;
    let early = mark_before(context.protocol, id, due)?;
    let left = due.within.value - early;
    (left < needed).then(|| {
        let from = celsius(start);
        let have = if early > Exact::ZERO {
            format!(
                "counted from its mark, which can lie {} before the phase begins",
                time(early)
            )
        } else {
            "counted from the beginning of the phase".to_owned()
        };
        CHECK
            .found(
                due.span,
                format!(
                    "{} is due sooner than it can arrive from {from}",
                    name(&phase.name)
                ),
            )
            .here(format!("{}, {have}", due.within))
            .also(
                phase
                    .never_faster
                    .as_ref()
                    .map_or(phase.aim_span, |cap| cap.span),
                format!("from {from} to {to} this needs {}", time(needed)),
            )
            .why("the nurse is late whatever is done, or breaks the cap to be in time")
            .help(format!(
                "allow {} or more, or let the committee raise the cap",
                time(needed + early)
            ))
            .about(&phase.name.name)
    })
}

/// How long before the phase begins the mark of its `due` can lie.
fn mark_before(protocol: &Protocol, id: PhaseId, due: &Due) -> Option<Exact> {
    let Some(mark) = &due.of else {
        return Some(Exact::ZERO);
    };
    timing::extremes(protocol)
        .iter()
        .filter_map(|plan| {
            let start = plan.phase(id)?.start.latest?;
            Some(start - plan.mark(mark.value)?.earliest)
        })
        .max()
}
