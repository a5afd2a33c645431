//! Nothing after rewarming.

use super::super::words::name;
use super::super::{Check, Context, Family, Run};
use super::{is_warming, last_cold};
use crate::diag::{Diagnostic, Level};

pub const CHECK: Check = Check {
    name: "no-fever-guard",
    family: Family::Timeline,
    level: Level::Warning,
    since: "0.1.0",
    summary: "the protocol ends with rewarming, and nothing watches for fever after it",
    catches: "A protocol that makes patients cold on purpose and whose last phase warms them.",
    why: "Fever in the hours after active control stops is common, and nobody holds a sheet any more.",
    fires: "\
# host newborn
# without phase guard
# without rule out-of-range
# without every 1 h record core, second during guard
",
    passes: "# host newborn\n",
    source: "structural; rebound above 38 °C in 45.1 % of patients, mean 8.6 h long: Intensive Care Med Exp \
             2015;3(Suppl 1):A201",
    run: Run::Over(run),
};

fn run(context: &Context) -> Vec<Diagnostic> {
    let protocol = context.protocol;
    let Some((id, last)) = protocol.phases().last() else {
        return Vec::new();
    };
    let cooled = last_cold(protocol).is_some_and(|cold| cold < id);
    if !cooled || !is_warming(last) {
        return Vec::new();
    }
    vec![
        CHECK
            .found(
                last.aim_span,
                format!("nothing follows {}, the rewarming", name(&last.name)),
            )
            .here("the last phase")
            .why("fever in the hours after rewarming is common, and nobody is told to look for it")
            .help("add a phase after it: `keep READING … to …`, with the time that it lasts")
            .about(&last.name.name),
    ]
}
