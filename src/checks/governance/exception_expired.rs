//! An `accept` whose day has passed.

use super::super::{Check, Family, Run};
use crate::diag::{Diagnostic, Level};
use crate::model::Accept;

pub const CHECK: Check = Check {
    name: "exception-expired",
    family: Family::Governance,
    level: Level::Warning,
    since: "0.1.0",
    summary: "an `accept` has passed its day, and the finding shows again",
    catches: "An `accept` with an `until` before the day on which the protocol is checked.",
    why: "The committee let something stand for a time, and the time is over: nobody has looked at it since.",
    fires: "\
# without every 1 h record second
every 1 h record second during hold, rewarm
accept second-site-missing on core because \"one probe only after rewarming\" by \"Committee\" until 2026-12-31
# on 2027-01-01
",
    passes: "\
# without every 1 h record second
every 1 h record second during hold, rewarm
accept second-site-missing on core because \"one probe only after rewarming\" by \"Committee\" until 2026-12-31
# on 2026-12-31
",
    source: "structural",
    run: Run::Accepting,
};

pub fn finding(accept: &Accept, date: Option<jiff::civil::Date>) -> Diagnostic {
    let day = date.map_or_else(String::new, |date| format!("; today is {date}"));
    let mut finding = CHECK
        .found(
            accept.span,
            format!("the exception for `{}` has expired", accept.finding.name),
        )
        .here(format!("it was good until {}{day}", accept.until.value))
        .why("nobody has looked since at what was let stand for a time, so the finding shows again")
        .help("mend what it was for, or have the committee renew it with a new day");
    finding.about = Some(accept.finding.name.clone());
    finding
}
