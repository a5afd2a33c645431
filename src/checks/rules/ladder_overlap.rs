//! Values of a ladder's reading for which there are two rungs.

use super::super::words::{list, name};
use super::super::{Check, Context, Family, Run};
use super::ladder_values::{band_text, bands};
use crate::diag::{Diagnostic, Level};
use crate::model::LadderForm;

pub const CHECK: Check = Check {
    name: "ladder-overlap",
    family: Family::Rules,
    level: Level::Error,
    since: "0.1.0",
    summary: "values with two rungs",
    catches: "A ladder with rungs of which two have the same value.",
    why: "Two nurses with the same value do different things, and both are right by the sheet.",
    fires: "\
ladder shivering-steps \"Shivering\" on shiver {
  rung 0 to 2 \"None to moderate\" { continue }
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
        let LadderForm::Rungs(rungs) = &ladder.form else {
            continue;
        };
        let reading = &protocol[ladder.reading.value];
        let twice: Vec<_> = bands(protocol, ladder)
            .into_iter()
            .filter(|band| band.rungs.len() > 1)
            .collect();
        let Some(first) = twice.first() else {
            continue;
        };
        let spans: Vec<_> = first
            .rungs
            .iter()
            .filter_map(|at| rungs.get(*at))
            .map(|rung| rung.span)
            .collect();
        let [here, others @ ..] = spans.as_slice() else {
            continue;
        };
        let values: Vec<String> = twice.iter().map(|band| band_text(reading, band)).collect();
        let mut finding = CHECK
            .found(
                *here,
                format!(
                    "{} has two rungs for {} {}",
                    name(&ladder.name),
                    reading.name.name,
                    list(&values)
                ),
            )
            .here("one of them");
        for other in others {
            finding = finding.also(*other, "and the other");
        }
        findings.push(
            finding
                .why("two nurses with the same value would do different things")
                .help("let each value stand in one rung only")
                .about(&ladder.name.name),
        );
    }
    findings
}
