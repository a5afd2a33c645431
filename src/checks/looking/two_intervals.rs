//! One reading asked for at two intervals in one phase.

use super::super::facts;
use super::super::words::{self, name};
use super::super::{Check, Context, Family, Run};
use crate::diag::{Diagnostic, Level};
use crate::model::*;
use crate::quantity::Duration;
use crate::source::Span;
use std::collections::BTreeMap;

pub const CHECK: Check = Check {
    name: "two-intervals",
    family: Family::Looking,
    level: Level::Warning,
    since: "0.1.0",
    summary: "one reading is asked for at two intervals in the same phase",
    catches: "Two `every` statements that ask for the same reading in the same phase at different intervals. The \
              shorter one is in force (M5).",
    why: "Two nurses read two different intervals from one sheet, and each can show the line that says so.",
    fires: "\
every 30 min record core during rewarm
",
    passes: "\
# without every 1 h record core
every 1 h    record core during hold, guard
every 30 min record core during rewarm
",
    source: "structural",
    run: Run::Over(run),
};

fn run(context: &Context) -> Vec<Diagnostic> {
    let protocol = context.protocol;
    let mut found = Vec::new();
    for (reading, about) in protocol.readings() {
        // The same pair of statements in several phases is one finding.
        let mut pairs: BTreeMap<(Span, Span), Vec<PhaseId>> = BTreeMap::new();
        let mut written: BTreeMap<Span, &Duration> = BTreeMap::new();
        for (phase, _) in protocol.phases() {
            let intervals = facts::intervals(protocol, reading, phase);
            for (at, (first, first_span)) in intervals.iter().enumerate() {
                for (second, second_span) in intervals.iter().skip(at + 1) {
                    if first.value != second.value {
                        pairs
                            .entry((*first_span, *second_span))
                            .or_default()
                            .push(phase);
                        written.insert(*first_span, first);
                        written.insert(*second_span, second);
                    }
                }
            }
        }
        for ((first, second), phases) in pairs {
            let (Some(one), Some(other)) = (written.get(&first), written.get(&second)) else {
                continue;
            };
            found.push(
                CHECK
                    .found(
                        second,
                        format!(
                            "{} is asked for every {one} and every {other} in {}",
                            name(&about.name),
                            words::phases(protocol, &phases)
                        ),
                    )
                    .here(format!("every {other}"))
                    .also(first, format!("every {one}"))
                    .why("the sheet shows two intervals, and each nurse can point at the one she followed")
                    .help("let each phase stand in one of the two statements only")
                    .about(&about.name.name),
            );
        }
    }
    found
}
