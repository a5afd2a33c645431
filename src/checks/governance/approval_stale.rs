//! Approved is something else than what stands here.

use super::super::{Check, Context, Family, Run};
use crate::diag::{Diagnostic, Level};

pub const CHECK: Check = Check {
    name: "approval-stale",
    family: Family::Governance,
    level: Level::Error,
    since: "0.1.0",
    summary: "the protocol has changed since it was approved",
    catches: "An `approved … as` whose text is not the fingerprint of the meaning (M34): the protocol with all that it \
              uses, without comments, scenarios and the approval itself.",
    why: "The sheet would carry the committee's name for something that the committee has not seen.",
    fires: "\
approved by \"Temperature committee\" on 2026-11-02 as \"0000000000000000\"
",
    passes: "\
approved by \"Temperature committee\" on 2026-11-02 as \"4f1c9a7704d2b6e8\"
",
    source: "structural",
    run: Run::Over(run),
};

fn run(context: &Context) -> Vec<Diagnostic> {
    let Some(fingerprint) = context.fingerprint else {
        return Vec::new();
    };
    context
        .protocol
        .head
        .approvals
        .iter()
        .filter(|approval| !is_of(&approval.fingerprint.markdown, fingerprint))
        .map(|approval| {
            CHECK
                .found(
                    approval.span,
                    format!(
                        "the approval of {} is for another text than this one",
                        approval.on.value
                    ),
                )
                .here(format!("the fingerprint of this text is {fingerprint}"))
                .why("the sheet would carry the committee's name for something that it has not seen")
                .help("have this text approved, and write its fingerprint; or go back to the text that was approved")
                .about(&context.protocol.name.name)
        })
        .collect()
}

/// The whole fingerprint, or its first eight digits and more.
fn is_of(written: &str, fingerprint: &str) -> bool {
    written.len() >= 8 && fingerprint.starts_with(written)
}
