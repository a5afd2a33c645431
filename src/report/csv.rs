//! One row for each figure of each case.
//!
//! INVARIANT: no cell begins with what a spreadsheet would run as a formula.

use crate::audit::Audit;
use crate::rules::csv_cell;

pub fn csv(audits: &[Audit]) -> String {
    let mut out =
        String::from("\u{feff}case,protocol,version,figure,title,value,unit,shown,goal,met\r\n");
    for audit in audits {
        for figure in &audit.figures {
            let exact = figure.value.map_or_else(String::new, decimal);
            let unit = figure.unit.name();
            let cells = [
                csv_cell(&audit.case),
                csv_cell(&audit.protocol),
                csv_cell(&audit.version),
                csv_cell(&figure.key),
                csv_cell(&figure.title),
                exact,
                csv_cell(&unit),
                csv_cell(&figure.shown),
                csv_cell(figure.goal.as_deref().unwrap_or("")),
                match (&figure.goal, figure.goal_met) {
                    (None, _) => "",
                    (Some(_), Some(true)) => "yes",
                    (Some(_), Some(false)) => "no",
                    (Some(_), None) => "not known",
                }
                .to_owned(),
            ];
            out.push_str(&cells.join(","));
            out.push_str("\r\n");
        }
    }
    out
}

/// A number as a spreadsheet reads it: exact where nine places say it, or else to nine.
fn decimal(value: crate::quantity::Exact) -> String {
    use crate::quantity::Exact;
    for places in 0..=9 {
        if let Some(text) = value.to_decimal(places) {
            return text;
        }
    }
    let step = Exact::ratio(1, 1_000_000_000);
    let rounded = (value / step + Exact::ratio(1, 2)).floor() * step;
    rounded.to_decimal(9).unwrap_or_default()
}
