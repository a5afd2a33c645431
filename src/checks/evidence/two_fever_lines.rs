//! Two different lines of fever in one phase.

use super::super::words::{celsius, name};
use super::super::{Check, Context, Family, Run};
use super::lines::{UpperLine, upper_lines};
use crate::diag::{Diagnostic, Level};
use crate::model::*;
use crate::quantity::Exact;

pub const CHECK: Check = Check {
    name: "two-fever-lines",
    family: Family::Evidence,
    level: Level::Warning,
    since: "0.1.0",
    summary: "two lines of fever stand in one phase",
    catches: "Two upper lines from 37.5 °C to 38.3 °C for one reading in one phase, when not each of them has a \
              `source`. Lines that the display cannot tell apart are one: above 37.7 °C and at or above 37.8 °C, shown \
              to 0.1 °C.",
    why: "Published lines differ by design: 37.5, 37.7, 37.8, 37.9, 38.0 and 38.3 °C. Between two of them one page of \
          the sheet says fever and the other says none.",
    fires: "\
rule warm {
  when core above 37.7 °C during guard
  then do \"Take covers off\"
  again after 2 h
}
rule fever {
  when core at or above 38.0 °C during guard
  then call doctor within 30 min
  again after 2 h
}
",
    passes: "\
rule fever {
  when core at or above 37.8 °C during guard
  then call doctor within 30 min
  again after 2 h
}
",
    source: "ILCOR 2022 (37.5 °C), ERC-ESICM 2022 (above 37.7 °C), TTM2 2021 (37.8 °C), INTREPID 2024 (above 37.9 and \
             38.0 °C), intensive-care definition (38.3 °C)",
    run: Run::Over(run),
};

fn run(context: &Context) -> Vec<Diagnostic> {
    let protocol = context.protocol;
    let (low, high) = (Exact::ratio(375, 10), Exact::ratio(383, 10));
    let lines: Vec<UpperLine> = upper_lines(protocol)
        .into_iter()
        .filter(|line| low <= line.value && line.value <= high)
        .collect();
    let mut found = Vec::new();
    let mut said: Vec<ReadingId> = Vec::new();
    for (at, first) in lines.iter().enumerate() {
        for second in lines.iter().skip(at + 1) {
            let together = first.reading == second.reading
                && first.first_past != second.first_past
                && first
                    .phases
                    .iter()
                    .any(|phase| second.phases.contains(phase));
            let sourced = first.has_source && second.has_source;
            // One finding for a reading: the second line is what is to be mended.
            if !together || sourced || said.contains(&first.reading) {
                continue;
            }
            said.push(first.reading);
            found.push(
                CHECK
                    .found(
                        second.span,
                        format!(
                            "{} counts as fever from two different values",
                            name(&protocol[first.reading].name)
                        ),
                    )
                    .here(format!("{} by {}", celsius(second.value), second.words))
                    .also(
                        first.span,
                        format!("{} by {}", celsius(first.value), first.words),
                    )
                    .why("between the two values one line of the sheet says fever and another says none")
                    .help("write one line in both places, or name the `source` of each")
                    .about(&second.about),
            );
        }
    }
    found
}
