//! The day of review has passed.

use super::super::{Check, Context, Family, Run};
use crate::diag::{Diagnostic, Level};

pub const CHECK: Check = Check {
    name: "review-overdue",
    family: Family::Governance,
    level: Level::Warning,
    since: "0.1.0",
    summary: "the protocol, or a library that it uses, should have been reviewed",
    catches: "A `review` before the day on which the protocol is checked, in the protocol or in a library that it uses.",
    why: "The figures were looked at last by people who knew what was published then.",
    fires: "\
# on 2027-07-01
",
    passes: "\
# on 2027-06-30
",
    source: "structural",
    run: Run::Over(run),
};

fn run(context: &Context) -> Vec<Diagnostic> {
    let Some(date) = context.date else {
        return Vec::new();
    };
    let protocol = context.protocol;
    let own = std::iter::once((protocol.name.name.as_str(), &protocol.head.review));
    let used = protocol
        .uses
        .iter()
        .filter_map(|used| Some((used.name.as_str(), used.review.as_ref()?)));
    own.chain(used)
        .filter(|(_, review)| review.value < date)
        .map(|(name, review)| {
            CHECK
                .found(
                    review.span,
                    format!("the review of `{name}` was due on {}", review.value),
                )
                .here(format!("today is {date}"))
                .why("what has been published since has not been weighed")
                .help("review it, and write the day of the next review")
                .about(name)
        })
        .collect()
}
