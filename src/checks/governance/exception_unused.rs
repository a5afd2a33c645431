//! An `accept` that covers nothing.

use super::super::{Check, Family, Run, explain};
use crate::diag::{Diagnostic, Level};
use crate::model::Accept;

pub const CHECK: Check = Check {
    name: "exception-unused",
    family: Family::Governance,
    level: Level::Warning,
    since: "0.1.0",
    summary: "an `accept` covers nothing",
    catches: "An `accept` whose finding does not appear, is called otherwise, is about something else, or is an error \
              that cannot be accepted.",
    why: "It is printed on the sheet as an exception of this protocol, and one day it covers something that nobody \
          has thought of.",
    fires: "\
accept second-site-missing on core because \"one probe only\" by \"Committee\" until 2027-06-30
",
    passes: "\
# without every 1 h record second
every 1 h record second during hold, rewarm
accept second-site-missing on core because \"one probe only after rewarming\" by \"Committee\" until 2027-06-30
",
    source: "structural",
    run: Run::Accepting,
};

/// `grave` is an error of that name, which no `accept` covers.
pub fn finding(accept: &Accept, grave: Option<&Diagnostic>) -> Diagnostic {
    let name = &accept.finding.name;
    let known = explain::explain(name).is_some();
    let (title, help) = if grave.is_some() {
        (
            format!("`{name}` is an error, and an error cannot be accepted"),
            "mend it; only a warning or a published limit can be let stand".to_owned(),
        )
    } else if !known {
        let near = explain::nearest_name(name)
            .map_or_else(String::new, |near| format!("; did you mean `{near}`?"));
        (
            format!("there is no finding called `{name}`"),
            format!("write the name that the finding shows{near}"),
        )
    } else {
        let on = accept
            .on
            .as_ref()
            .map_or_else(String::new, |on| format!(" on `{}`", on.name));
        (
            format!("nothing is found that is called `{name}`{on}"),
            "take the exception out, or correct what it is `on`".to_owned(),
        )
    };
    let mut finding = CHECK
        .found(accept.span, title)
        .why("the sheet shows it as an exception, and one day it covers something that nobody has thought of")
        .help(help);
    if let Some(grave) = grave {
        finding = finding.also(grave.place.span, "the error");
    }
    finding.about = Some(name.clone());
    finding
}
