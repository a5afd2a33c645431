//! An order that moves the target or control, given by a moment and not by a rule.

use super::super::{Check, Context, Family, Run};
use crate::diag::{Diagnostic, Level};
use crate::model::*;

pub const CHECK: Check = Check {
    name: "look-steers",
    family: Family::Looking,
    level: Level::Error,
    since: "0.1.0",
    summary: "a moment moves the target, pauses or stops control, or begins a phase",
    catches: "An `at`, `before` or `every` that sets, raises, lowers or keeps the target, sets the rate, pauses or \
              stops temperature control, or begins a phase. What is planned is said by the phases.",
    why: "The targets that the sheet prints come from the phases: the nurse would read one target in the line of the \
          order and another in the column beside it.",
    fires: "\
at hold.start set target 33.2 °C
",
    passes: "\
at hold.start do \"Write down the time\"
",
    source: "structural",
    run: Run::Over(run),
};

fn run(context: &Context) -> Vec<Diagnostic> {
    let looks = context.protocol.looks.iter();
    looks
        .filter_map(|look| match &look.what {
            LookWhat::Order(action) if action.order.steers() => Some((look, action)),
            LookWhat::Order(_) | LookWhat::Ask { .. } | LookWhat::Do { .. } | LookWhat::Give(_) => {
                None
            }
        })
        .map(|(look, action)| {
            let said = context.sources.text(action.span);
            let said: Vec<&str> = said.split_whitespace().collect();
            CHECK
                .found(
                    look.span,
                    format!(
                        "a moment orders `{}`, and no printed target follows it",
                        said.join(" ")
                    ),
                )
                .why(
                    "the targets on the sheet come from the phases, and would say something else \
                     than this line",
                )
                .help(
                    "write it as a phase with a target, a length and a rate of its own, or as a \
                     rule on what is recorded",
                )
        })
        .collect()
}
