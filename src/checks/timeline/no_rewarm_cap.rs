//! Warming without a stated maximum rate.

use super::super::words::name;
use super::super::{Check, Context, Family, Run};
use super::{is_warming, last_cold};
use crate::diag::{Diagnostic, Level};

pub const CHECK: Check = Check {
    name: "no-rewarm-cap",
    family: Family::Timeline,
    level: Level::Error,
    since: "0.1.0",
    summary: "a phase warms actively without `never faster than`",
    catches: "A `warm` phase with active means and no `never faster than`: an error after a cold phase, a warning \
              otherwise. Passive warming has no rate that anybody sets.",
    why: "A device left to itself warms as fast as it can. Warming too fast after cooling brings rebound fever, a \
          rise of the pressure in the head and of potassium.",
    fires: "\
phase rewarm \"Rewarm slowly\" {
  warm core from 33.0 °C to 36.5 °C within 0.5 °C at 0.25 °C/h
  target moves every 1 h in steps of 0.1 °C
}
",
    passes: "\
phase rewarm \"Rewarm slowly\" {
  warm core from 33.0 °C to 36.5 °C within 0.5 °C at 0.25 °C/h
  never faster than 0.5 °C/h
  target moves every 1 h in steps of 0.1 °C
}
",
    source: "structural; rates after cardiac arrest: TTM 2013, TTH48 2017, HYPERION 2019",
    run: Run::Over(run),
};

fn run(context: &Context) -> Vec<Diagnostic> {
    let protocol = context.protocol;
    let cold = last_cold(protocol);
    protocol
        .phases()
        .filter(|(_, phase)| {
            is_warming(phase) && phase.never_faster.is_none() && protocol.is_active(phase)
        })
        .map(|(id, phase)| {
            let level = if cold.is_some_and(|cold| cold < id) {
                Level::Error
            } else {
                Level::Warning
            };
            Diagnostic::new(
                CHECK.name,
                level,
                phase.aim_span,
                format!("{} warms without a stated maximum rate", name(&phase.name)),
            )
            .why("a device left to itself warms as fast as it can, and nobody is told when that is too fast")
            .help("add `never faster than RATE` to the phase, and a rule that watches `rises more than … in …`")
            .source(CHECK.source)
            .about(&phase.name.name)
        })
        .collect()
}
