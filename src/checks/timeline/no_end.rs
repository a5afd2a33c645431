//! A phase that the plan cannot place.

use super::super::words::name;
use super::super::{Check, Context, Family, Run};
use crate::diag::{Diagnostic, Level};
use crate::model::*;
use crate::plan::Unplaced;

pub const CHECK: Check = Check {
    name: "no-end",
    family: Family::Timeline,
    level: Level::Error,
    since: "0.1.0",
    summary: "nothing says how long a phase can take",
    catches: "A `cool` or `warm` phase with neither a rate, nor `due within`, nor `at least`: it lasts until the \
              patient arrives, and nobody knows when that is too late (M31). An `at least` or a rate of zero says \
              nothing either.",
    why: "The sheet can print no time for this phase or for any after it, and nobody is told that it takes too long.",
    fires: "\
# host newborn
# without rule late
phase cool \"Cool to target\" {
  cool core to 33.5 °C
  never faster than 1.0 °C/h
}
",
    passes: "\
# host newborn
phase cool \"Cool to target\" {
  cool core to 33.5 °C
  never faster than 1.0 °C/h
  due within 5 h
}
",
    source: "structural",
    run: Run::Over(run),
};

fn run(context: &Context) -> Vec<Diagnostic> {
    let Some(plan) = &context.plan else {
        return Vec::new();
    };
    let mut found = Vec::new();
    for (at, placed) in plan.phases.iter().enumerate() {
        let phase = &context.protocol[placed.phase];
        let Some(unplaced) = placed.unplaced else {
            continue;
        };
        let (here, help) = match unplaced {
            Unplaced::NoLongest => (
                String::new(),
                "add `due within D`, or `at least RATE`, or plan the course with `at RATE`".to_owned(),
            ),
            Unplaced::NeverArrives => (
                "at a rate of 0 it never arrives".to_owned(),
                "write a rate above 0".to_owned(),
            ),
            // A `due` of a mark; an end after a mark is `ends-before-start`.
            Unplaced::NoMark(_) if matches!(phase.end, End::Reached) => (
                "the mark that it is due from is not in the plan".to_owned(),
                "count the time from the beginning of the phase, or write `start within D of` that mark".to_owned(),
            ),
            // Of the first phase `phase-gap` speaks.
            Unplaced::NoArrival(reading) if at > 0 => {
                let name = &context.protocol[reading].name.name;
                (
                    format!("nothing says where `{name}` is when it begins"),
                    "add `from V`, or the range on arrival in `patients`".to_owned(),
                )
            }
            Unplaced::NoMark(_) | Unplaced::NoArrival(_) => continue,
        };
        found.push(
            CHECK
                .found(
                    phase.aim_span,
                    format!("nothing says how long {} can take", name(&phase.name)),
                )
                .here(here)
                .why(
                    "the sheet can print no time for this phase or any after it, and nobody is told that it takes too \
                     long",
                )
                .help(help)
                .about(&phase.name.name),
        );
    }
    found
}
