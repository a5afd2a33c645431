//! Something needs a reading that nobody is asked for.

use super::super::facts::{self, WaitsFor};
use super::super::words::{self, name, verb};
use super::super::{Check, Context, Family, Run};
use crate::diag::{Diagnostic, Level};
use crate::model::*;
use crate::source::Span;

pub const CHECK: Check = Check {
    name: "never-looked-at",
    family: Family::Looking,
    level: Level::Error,
    since: "0.1.0",
    summary: "something waits for a reading that nobody is asked for",
    catches: "A rule, an aim, a `limit`, the end of a phase or an `until` that needs a reading in a phase in which no \
              `every`, no `at` and no order asks for it; `not recorded for D` needs it too. An order does not count \
              that comes only when the same reading was taken or was missed. Following a ladder asks for the \
              ladder's reading by itself (M16).",
    why: "Without a record the reading is unknown and no comparison on it holds (M6): the rule is silent, however ill \
          the patient is.",
    fires: "\
rule water-cold {
  when water below 10 °C during hold
  then call doctor within 15 min
}
reading water \"Exchanger water\" temperature of water, shown to 0.1 °C, accurate to 0.3 °C
every 30 min record water during cool
rule water-cold-while-cooling {
  when water below 4 °C during cool
  then do \"Look at the skin under the pads\"
}
",
    passes: "\
rule water-cold {
  when water below 10 °C during hold
  then call doctor within 15 min
}
reading water \"Exchanger water\" temperature of water, shown to 0.1 °C, accurate to 0.3 °C
every 1 h record water during hold
",
    source: "structural",
    run: Run::Over(run),
};

/// What needs a reading, and in which phases.
struct Need {
    reading: ReadingId,
    phases: Vec<PhaseId>,
    /// `rule `too-cold` needs it`.
    who: String,
    about: Option<String>,
    span: Span,
    /// It waits for the reading to be missing.
    for_want: bool,
}

fn run(context: &Context) -> Vec<Diagnostic> {
    let protocol = context.protocol;
    let mut found = Vec::new();
    let mut said: Vec<(ReadingId, Option<String>)> = Vec::new();
    for need in needs(protocol) {
        let unasked: Vec<PhaseId> = need
            .phases
            .iter()
            .copied()
            .filter(|phase| !facts::is_looked_at(protocol, need.reading, *phase))
            .collect();
        // One finding for a rule and its own `until` and `ready again`.
        let key = (need.reading, need.about.clone());
        if unasked.is_empty() || said.contains(&key) {
            continue;
        }
        if need.about.is_some() {
            said.push(key);
        }
        let reading = &protocol[need.reading];
        let places = words::phases(protocol, &unasked);
        let mut finding = CHECK
            .found(
                need.span,
                format!(
                    "{} needs {}, and nobody is asked for it in {places}",
                    need.who,
                    name(&reading.name)
                ),
            )
            .here("needed here")
            .also(reading.span, "the reading")
            .why(if need.for_want {
                format!(
                    "the sheet has no row for {}: nobody is asked for it until it has been missed",
                    name(&reading.name)
                )
            } else {
                format!(
                    "without a record {} is unknown, and nothing that waits for it can happen",
                    name(&reading.name)
                )
            })
            .help(format!(
                "add `every D {} {} during {}`, with the time that fits",
                verb(reading),
                reading.name.name,
                words::during(protocol, &unasked)
            ));
        finding.about = need.about;
        found.push(finding);
    }
    found
}

fn needs(protocol: &Protocol) -> Vec<Need> {
    let mut needs = Vec::new();
    for (id, phase) in protocol.phases() {
        needs.push(Need {
            reading: phase.aim.reading(),
            phases: vec![id],
            who: format!("the aim of {}", name(&phase.name)),
            about: Some(phase.name.name.clone()),
            span: phase.aim_span,
            for_want: false,
        });
    }
    for waiting in facts::conditions(protocol) {
        let owner = waiting.name.map(name).unwrap_or_default();
        let who = match waiting.what {
            WaitsFor::Rule | WaitsFor::ReadyAgain => owner,
            WaitsFor::Until => format!("an `until` of {owner}"),
            WaitsFor::PhaseEnd => format!("the end of {owner}"),
        };
        for test in waiting.cond.tests() {
            for reading in test.kind.readings() {
                needs.push(Need {
                    reading,
                    phases: waiting.phases.clone(),
                    who: who.clone(),
                    about: waiting.name.map(|name| name.name.clone()),
                    span: test.span,
                    for_want: matches!(test.kind, TestKind::NotRecorded { .. }),
                });
            }
        }
    }
    for limit in &protocol.limits {
        let reading = &protocol[limit.reading];
        needs.push(Need {
            reading: limit.reading,
            phases: protocol
                .phases()
                // A device that is off has no water to watch.
                .filter(|(_, phase)| {
                    reading.kind.is_body()
                        || !reading.kind.is_temperature()
                        || protocol.is_active(phase)
                })
                .map(|(id, _)| id)
                .collect(),
            who: format!("the limit on {}", name(&reading.name)),
            about: Some(reading.name.name.clone()),
            span: limit.span,
            for_want: false,
        });
    }
    needs
}
