//! A safety step comes after the moment at which it protects.

use super::super::{Check, Context, Family, Run};
use super::route::{Flaw, flaw, place_words, unpaused, wanted};
use crate::diag::{Diagnostic, Level};
use crate::model::words::FixedWord;

pub const CHECK: Check = Check {
    name: "step-out-of-order",
    family: Family::Procedure,
    level: Level::Error,
    since: "0.1.0",
    summary: "a safety step comes after the moment at which it protects",
    catches: "A step that the route calls for and that stands only in a checklist worked through later, such as \
              looking for leaks at the end; and, in trouble, a pause that comes after the first step on position, \
              depth or contact with the skin, or a start that comes before the last.",
    why: "The box is ticked, and by then the harm is done.",
    fires: "\
checklist ready \"Before the start\" at before-start {
  step \"Probe is in place and reads plausibly\", covers probe
  step \"Alarms are set\",                        covers alarm-limits
  step \"Pads are filled, water flows\",          covers fill, flow
}
checklist ending \"At the end\" at end {
  step \"Nothing has leaked\",                          covers leaks
  step \"Pads are taken off, the skin is seen\",        covers removal, skin-inspection
  step \"Pads are disposed of by local policy\",        covers disposal
}
",
    passes: "\
checklist ready \"Before the start\" at before-start {
  step \"Probe is in place and reads plausibly\",        covers probe
  step \"Alarms are set\",                               covers alarm-limits
  step \"Pads are filled, water flows, nothing leaks\",  covers fill, flow, leaks
}
",
    source: "common practice, no source",
    run: Run::Over(run),
};

fn run(context: &Context) -> Vec<Diagnostic> {
    let protocol = context.protocol;
    let mut found = Vec::new();
    for wanted in wanted(protocol) {
        let Some(Flaw::TooLate { span, at }) = flaw(protocol, wanted) else {
            continue;
        };
        let topic = wanted.topic.word();
        found.push(
            CHECK
                .found(span, format!("{topic} is covered too late"))
                .here(format!("only at {}", at.word()))
                .also(
                    protocol.head.method.span,
                    format!("this route calls for it {}", place_words(wanted.place)),
                )
                .why("the box is ticked when what it protects from has already happened or not")
                .help(format!(
                    "let a step cover {topic} {}",
                    place_words(wanted.place)
                ))
                .about(topic),
        );
    }
    for unpaused in unpaused(protocol) {
        if let Some(resumed) = unpaused.resumed {
            found.push(
                CHECK
                    .found(
                        unpaused.first,
                        format!(
                            "`{}` starts control again before all has been moved",
                            unpaused.checklist.name.name
                        ),
                    )
                    .here("this step moves something")
                    .also(resumed, "control runs again from here on")
                    .why("the device cools or warms at full power while its probe or pads are handled")
                    .help("put the step that covers resume after it")
                    .about(&unpaused.checklist.name.name),
            );
            continue;
        }
        let Some(pause) = unpaused.pause else {
            continue;
        };
        found.push(
            CHECK
                .found(
                    pause,
                    format!(
                        "`{}` pauses control only after something has been moved",
                        unpaused.checklist.name.name
                    ),
                )
                .here("the pause")
                .also(unpaused.first, "the first step that moves something")
                .why("the device goes on cooling or warming at full power while its probe or pads are handled")
                .help("put the step that covers pause before it")
                .about(&unpaused.checklist.name.name),
        );
    }
    found
}
