//! A ladder that ends without anybody being called, or stops on the way.

use super::super::words::name;
use super::super::{Check, Context, Family, Run};
use crate::diag::{Diagnostic, Level};
use crate::model::*;

pub const CHECK: Check = Check {
    name: "ladder-dead-end",
    family: Family::Rules,
    level: Level::Error,
    since: "0.1.0",
    summary: "a top rung or last step that calls nobody, or a step from which there is no way on",
    catches: "A ladder whose last rung or last step calls nobody, itself or by a ladder that it follows; and a step \
              before the last without `recheck`, after which nobody comes back to the next one.",
    why: "The treatment has failed as far as the sheet goes, and the nurse is left alone with it.",
    fires: "\
ladder shivering-steps \"Shivering\" on shiver {
  rung 0 to 1 \"None or mild\" { continue }
  rung 2 to 3 \"Moderate or severe\" { give dexmedetomidine otherwise call doctor now
                      give magnesium otherwise call doctor now
                      recheck in 30 min }
}
",
    passes: "\
ladder shivering-steps \"Shivering\" on shiver {
  rung 0 to 1 \"None or mild\" { continue }
  rung 2 to 3 \"Moderate or severe\" { give dexmedetomidine otherwise call doctor now
                      give magnesium otherwise call doctor now
                      call doctor within 30 min
                      recheck in 30 min }
}
",
    source: "structural",
    run: Run::Over(run),
};

fn run(context: &Context) -> Vec<Diagnostic> {
    let protocol = context.protocol;
    let mut findings = Vec::new();
    for (_, ladder) in protocol.ladders() {
        match &ladder.form {
            LadderForm::Rungs(rungs) => {
                if let Some(top) = rungs.last()
                    && !calls(protocol, &top.actions, &mut Vec::new())
                {
                    findings.push(calls_nobody(ladder, "the last rung", top.span));
                }
            }
            LadderForm::Steps { steps, .. } => {
                if let Some((last, before)) = steps.split_last() {
                    if !calls(protocol, &last.actions, &mut Vec::new()) {
                        findings.push(calls_nobody(ladder, "the last step", last.span));
                    }
                    for step in before.iter().filter(|step| step.recheck.is_none()) {
                        findings.push(no_recheck(ladder, step));
                    }
                }
            }
        }
    }
    findings
}

fn calls_nobody(ladder: &Ladder, what: &str, span: crate::source::Span) -> Diagnostic {
    CHECK
        .found(
            span,
            format!("{what} of {} calls nobody", name(&ladder.name)),
        )
        .here("nothing comes after this")
        .also(ladder.name.span, "the ladder")
        .why("the treatment has failed as far as the sheet goes, and the nurse is alone with it")
        .help("add `call ROLE now`, or `call ROLE within D`")
        .about(&ladder.name.name)
}

fn no_recheck(ladder: &Ladder, step: &LadderStep) -> Diagnostic {
    CHECK
        .found(
            step.span,
            format!(
                "after the step \"{}\" of {} nobody looks again",
                step.title.markdown,
                name(&ladder.name)
            ),
        )
        .here("there is a step after this one, and no way to it")
        .also(ladder.name.span, "the ladder")
        .why("the next step is done when the reading is checked again, and nothing asks for that")
        .help("add `recheck in D` to this step")
        .about(&ladder.name.name)
}

/// Whether somebody is called whatever happens; a call after `otherwise` is not.
fn calls(protocol: &Protocol, actions: &[Action], through: &mut Vec<LadderId>) -> bool {
    actions.iter().any(|action| match &action.order {
        Order::Call { .. } => true,
        Order::FollowLadder(ladder) if !through.contains(&ladder.value) => {
            through.push(ladder.value);
            match &protocol[ladder.value].form {
                LadderForm::Rungs(rungs) => rungs
                    .last()
                    .is_some_and(|top| calls(protocol, &top.actions, through)),
                LadderForm::Steps { steps, .. } => steps
                    .last()
                    .is_some_and(|last| calls(protocol, &last.actions, through)),
            }
        }
        _ => false,
    })
}
