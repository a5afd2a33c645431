//! Hypothermia without a way back.

use super::super::words::name;
use super::super::{Check, Context, Family, Run};
use super::{is_warming, last_cold};
use crate::diag::{Diagnostic, Level};

pub const CHECK: Check = Check {
    name: "no-rewarm",
    family: Family::Timeline,
    level: Level::Error,
    since: "0.1.0",
    summary: "patients are made cold, and no phase warms them again",
    catches: "A protocol that cools or holds below 36.0 °C and has no `warm` phase after that.",
    why: "At the end of the cold phase the sheet stops. What follows is then warming without a rate: the way in which \
          rebound fever and swings of potassium happen.",
    fires: "\
# without rule warming-too-fast
# without rule off-course
phase rewarm \"Let the patient warm up\" {
  keep core 33.0 °C to 36.5 °C
  lasts 14 h
}
rule astray {
  when core outside 33.0 °C to 36.5 °C during rewarm
  then call doctor within 30 min
}
",
    passes: "\
phase rewarm \"Rewarm slowly\" {
  warm core from 33.0 °C to 36.5 °C within 0.5 °C at 0.25 °C/h
  never faster than 0.5 °C/h
  target moves every 1 h in steps of 0.1 °C
}
",
    source: "structural",
    run: Run::Over(run),
};

fn run(context: &Context) -> Vec<Diagnostic> {
    let protocol = context.protocol;
    let Some(cold) = last_cold(protocol) else {
        return Vec::new();
    };
    let warms = protocol
        .phases()
        .any(|(id, phase)| id > cold && is_warming(phase));
    if warms {
        return Vec::new();
    }
    let phase = &protocol[cold];
    vec![
        CHECK
            .found(
                phase.aim_span,
                format!(
                    "no phase warms the patient again after {}",
                    name(&phase.name)
                ),
            )
            .here("cold on purpose here")
            .why("the sheet stops with a cold patient: what follows is warming without a rate")
            .help(
                "add a phase after it: `warm READING from … to … at …`, with `never faster than …`",
            )
            .about(&phase.name.name),
    ]
}
