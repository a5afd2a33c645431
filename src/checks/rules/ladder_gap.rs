//! Values of a ladder's reading for which there is no rung.

use super::super::words::{list, name};
use super::super::{Check, Context, Family, Run};
use super::ladder_values::{band_text, bands};
use crate::diag::{Diagnostic, Level};

pub const CHECK: Check = Check {
    name: "ladder-gap",
    family: Family::Rules,
    level: Level::Error,
    since: "0.1.0",
    summary: "values without a rung",
    catches: "A ladder with rungs that leaves out values which its reading can have.",
    why: "The nurse has a value, follows the ladder, and finds nothing: she does nothing, or what stands next to it.",
    fires: "\
ladder shivering-steps \"Shivering\" on shiver {
  rung 0 \"None\"     { continue }
  rung 2 to 3 \"Moderate or severe\" { give dexmedetomidine otherwise call doctor now
                      give magnesium otherwise call doctor now
                      call doctor within 30 min
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
        let reading = &protocol[ladder.reading.value];
        let gaps: Vec<String> = bands(protocol, ladder)
            .iter()
            .filter(|band| band.rungs.is_empty())
            .map(|band| band_text(reading, band))
            .collect();
        if gaps.is_empty() {
            continue;
        }
        let missing: Vec<String> = gaps
            .iter()
            .map(|gap| format!("`rung {gap} \"…\" {{ … }}`"))
            .collect();
        findings.push(
            CHECK
                .found(
                    ladder.name.span,
                    format!(
                        "{} has no rung for {} {}",
                        name(&ladder.name),
                        reading.name.name,
                        list(&gaps)
                    ),
                )
                .here("followed, it says nothing for these values")
                .also(reading.span, "the values that it can have")
                .why("the nurse follows the ladder and finds nothing for the value in front of her")
                .help(format!("add {}", list(&missing)))
                .about(&ladder.name.name),
        );
    }
    findings
}
