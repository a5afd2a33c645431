//! Only one body temperature while control is active.

use super::super::facts;
use super::super::words;
use super::super::{Check, Context, Family, Run};
use crate::diag::{Diagnostic, Level};
use crate::model::words::Site;
use crate::model::*;
use std::collections::BTreeSet;

pub const CHECK: Check = Check {
    name: "second-site-missing",
    family: Family::Looking,
    level: Level::Warning,
    since: "0.1.0",
    summary: "temperature is controlled actively by a single probe",
    catches: "A phase with active control in which no second body temperature, at another site, is asked for.",
    why: "A probe that has slipped out reads cold or warm, the device follows it, and nothing on the sheet contradicts \
          it.",
    fires: "\
# without every 1 h record second
every 1 h record second during hold, rewarm
",
    passes: "\
# without every 1 h record second
every 1 h record second
# without every 30 min record second
",
    source: "common practice, no source",
    run: Run::Over(run),
};

fn run(context: &Context) -> Vec<Diagnostic> {
    let protocol = context.protocol;
    let alone: Vec<PhaseId> = protocol
        .phases()
        .filter(|(id, phase)| protocol.is_active(phase) && sites(protocol, *id).len() < 2)
        .map(|(id, _)| id)
        .collect();
    let Some(first) = alone.first() else {
        return Vec::new();
    };
    let control = &protocol[protocol[*first].aim.reading()];
    vec![
        CHECK
            .found(
                control.span,
                format!(
                    "no second body temperature is asked for in {}",
                    words::phases(protocol, &alone)
                ),
            )
            .here("the only one")
            .why("a probe that has slipped out steers the device, and nothing on the sheet contradicts it")
            .help(format!(
                "declare a body temperature at another site, and add `every D record NAME during {}`",
                words::during(protocol, &alone)
            ))
            .about(&control.name.name),
    ]
}

/// The sites that are asked for in a phase, that of its own reading included:
/// a probe that steers is being read.
pub fn sites(protocol: &Protocol, phase: PhaseId) -> BTreeSet<Site> {
    protocol
        .readings()
        .filter_map(|(id, reading)| {
            let ReadingKind::Body(site) = &reading.kind else {
                return None;
            };
            let read = protocol[phase].aim.reading() == id
                || facts::interval(protocol, id, phase).is_some();
            read.then_some(site.value)
        })
        .collect()
}
