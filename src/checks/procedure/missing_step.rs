//! A safety step that the route calls for is absent.

use super::super::{Check, Context, Family, Run};
use super::route::{Flaw, Place, flaw, place_words, unpaused, unresumed, wanted};
use crate::diag::{Diagnostic, Level};
use crate::model::words::FixedWord;

pub const CHECK: Check = Check {
    name: "missing-step",
    family: Family::Procedure,
    level: Level::Warning,
    since: "0.1.0",
    summary: "a safety step that the route calls for is absent",
    catches: "A step that `covers` what the route needs, in the checklist or `every` that must have it. Every route: \
              probe and alarm-limits before the start, removal at the end, skin-inspection by `every`; in trouble, a \
              pause before the first step on position, depth or contact with the skin. In any checklist but that at the \
              end, after a pause a step that covers resume (after one before the start: in the checklist at start). With water or fluid in a \
              circuit: fill, flow and leaks before the start. Esophageal: airway before the start, depth and \
              decompression at placing, depth again each shift, disposal at the end. On the skin: contact with the \
              skin at placing. In a checklist that a unit has, though it need not have one: probe each shift and in \
              trouble, skin-inspection at the end; with a circuit flow, leaks and alarm-limits each shift, flow in \
              trouble; esophageal position and contact with the \
              skin at placing, depth in trouble; a bath airway before the start; on the skin contact with it in trouble, \
              disposal at the end. Passive warming or cooling asks for none.",
    why: "The step is left out on the night when nobody remembers it: there is no box to tick.",
    fires: "\
checklist ending \"At the end\" at end {
  step \"The skin under the pads is seen\",                    covers skin-inspection
  step \"Pads are unplugged and disposed of by local policy\", covers disposal
}
",
    passes: "\
checklist ending \"At the end\" at end {
  step \"Pads are taken off and the skin under them is seen\", covers removal, skin-inspection
  step \"Pads are disposed of by local policy\",               covers disposal
}
",
    source: "common practice, no source",
    run: Run::Over(run),
};

fn run(context: &Context) -> Vec<Diagnostic> {
    let protocol = context.protocol;
    let mut found = Vec::new();
    for wanted in wanted(protocol) {
        if !matches!(flaw(protocol, wanted), Some(Flaw::Missing)) {
            continue;
        }
        let topic = wanted.topic.word();
        let by = wanted.by.map_or("every active route".to_owned(), |by| {
            format!("the route {}", by.word())
        });
        let example = match wanted.place {
            Place::Checklist(occasion) => format!(
                "add a step to the checklist at {}: `step \"…\", covers {topic}`",
                occasion.word()
            ),
            Place::Every => format!("add `every D do \"…\" covers {topic}`"),
        };
        found.push(
            CHECK
                .found(
                    protocol.head.method.span,
                    format!("no step covers {topic} {}", place_words(wanted.place)),
                )
                .here(format!("{by} calls for it"))
                .why("without a box nobody is reminded of the step on the night when it matters")
                .help(example)
                .about(topic),
        );
    }
    for unpaused in unpaused(protocol) {
        if unpaused.pause.is_some() || unpaused.resumed.is_some() {
            continue;
        }
        found.push(
            CHECK
                .found(
                    unpaused.first,
                    format!(
                        "`{}` moves something before control is paused",
                        unpaused.checklist.name.name
                    ),
                )
                .here("no step before this one covers pause")
                .why("the device goes on cooling or warming at full power while its probe or pads are handled")
                .help("put a step before it: `step \"Pause temperature control\", covers pause`")
                .about(&unpaused.checklist.name.name),
        );
    }
    for (checklist, pause) in unresumed(protocol) {
        found.push(
            CHECK
                .found(
                    pause,
                    format!(
                        "`{}` pauses control, and no step starts it again",
                        checklist.name.name
                    ),
                )
                .here("no step after this one covers resume")
                .why("control stays off when the list is done: the patient drifts, and all boxes are ticked")
                .help("put a step after it: `step \"Start temperature control again\", covers resume`")
                .about(&checklist.name.name),
        );
    }
    found
}
