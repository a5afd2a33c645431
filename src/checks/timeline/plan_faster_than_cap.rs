//! The plan breaks the cap that its own phase states.

use super::super::words::{celsius, name, per_hour, time};
use super::super::{Check, Context, Family, Run, facts, timing};
use crate::diag::{Diagnostic, Level};
use crate::model::*;
use crate::plan::Course;
use crate::quantity::{Exact, Rate};

pub const CHECK: Check = Check {
    name: "plan-faster-than-cap",
    family: Family::Timeline,
    level: Level::Error,
    since: "0.1.0",
    summary: "the planned course is faster than the phase's own `never faster than`",
    catches: "A planned rate (the faster of two), a rate that a rule sets, or the largest single move of the target \
              over its interval, above the `never faster than` of the same phase.",
    why: "Whoever follows the target breaks the cap, and whoever keeps the cap leaves the target behind: the sheet \
          says both.",
    fires: "\
phase rewarm \"Rewarm slowly\" {
  warm core from 33.0 °C to 36.5 °C within 0.5 °C at 0.25 °C/h
  never faster than 0.4 °C/h
  target moves every 1 h in steps of 0.5 °C
}
rule warming-too-fast {
  when core rises more than 0.4 °C in 1 h during rewarm
  then call doctor within 30 min
}
",
    passes: "\
phase rewarm \"Rewarm slowly\" {
  warm core from 33.0 °C to 36.5 °C within 0.5 °C at 0.25 °C/h
  never faster than 0.5 °C/h
  target moves every 2 h in steps of 0.5 °C
}
",
    source: "structural",
    run: Run::Over(run),
};

const WHY: &str =
    "whoever follows the target breaks the cap, and whoever keeps the cap leaves the target behind";

fn run(context: &Context) -> Vec<Diagnostic> {
    let protocol = context.protocol;
    let mut found = Vec::new();
    for (id, phase) in protocol.phases() {
        let (Some(cap), Aim::Reach { rate, .. }) = (&phase.never_faster, &phase.aim) else {
            continue;
        };
        if let Some(rate) = rate {
            if rate.faster().value > cap.value {
                found.push(too_fast(phase, rate.faster(), cap));
            } else if let Some(finding) = moves_too_far(context, id, rate.faster(), cap) {
                found.push(finding);
            }
        }
        for order in facts::orders(protocol) {
            if let Order::SetRate(set) = &order.action.order
                && rate.is_some()
                && order.phases.contains(&id)
                && set.value > cap.value
            {
                let mut finding = too_fast(phase, set, cap);
                finding.about = order.name.map(|name| name.name.clone());
                found.push(finding);
            }
        }
    }
    found
}

fn too_fast(phase: &Phase, rate: &Rate, cap: &Rate) -> Diagnostic {
    CHECK
        .found(
            rate.span,
            format!(
                "{rate} is faster than the cap of {}, {cap}",
                name(&phase.name)
            ),
        )
        .here("the planned rate")
        .also(cap.span, "the cap")
        .why(WHY)
        .help(format!(
            "plan {cap} at the most, or let the committee change the cap"
        ))
        .about(&phase.name.name)
}

fn moves_too_far(context: &Context, id: PhaseId, rate: &Rate, cap: &Rate) -> Option<Diagnostic> {
    let phase = &context.protocol[id];
    let steps = phase.steps.as_ref()?;
    let begin = timing::farthest_start(context, id)?;
    let course = Course::of(phase, begin, rate.value)?;
    let largest = course.largest_move()?;
    let speed = largest / (steps.every.value / Exact::int(60));
    (speed > cap.value).then(|| {
        CHECK
            .found(
                steps.span,
                format!(
                    "the target of {} moves by {} at once, faster than its cap of {cap}",
                    name(&phase.name),
                    celsius(largest)
                ),
            )
            .here(format!(
                "in {} this is {}",
                time(steps.every.value),
                per_hour(speed)
            ))
            .also(cap.span, "the cap")
            .why(WHY)
            .help(
                "write smaller steps: a step times its number in an hour must stay within the cap",
            )
            .about(&phase.name.name)
    })
}
