//! `schedule.csv`: what is due in a case, for a spreadsheet.
//!
//! Takes a protocol and a case, gives text by RFC 4180 with a byte-order mark (so
//! that every spreadsheet reads `°C`). A case without a clock has elapsed times
//! only. INVARIANT: no cell begins with what a spreadsheet would run as a formula.

use super::due;
use crate::diag::steers;
use crate::model::Protocol;
use crate::plan::{Case, PlanError, Round, schedule};
use crate::quantity::Exact;

/// The schedule of a case as comma-separated values.
pub fn schedule_csv(protocol: &Protocol, case: &Case) -> Result<String, PlanError> {
    let schedule = schedule(protocol, case)?;
    let mut out = String::from("\u{feff}");
    let head = [
        "since start",
        "clock",
        "phase",
        "what is due",
        "by",
        "placed",
    ];
    row(&mut out, &head.map(str::to_owned));
    for line in due::lines(protocol, &schedule) {
        let clock = case
            .clock
            .as_ref()
            .and_then(|clock| clock.at(line.at, Round::Down))
            .map(|time| time.machine())
            .unwrap_or_default();
        let placed = if line.assumed { "assumed" } else { "planned" };
        row(
            &mut out,
            &[
                elapsed(line.at),
                clock,
                line.phase,
                line.what,
                line.by,
                placed.to_owned(),
            ],
        );
    }
    Ok(out)
}

/// `27:30`; a part of a minute is left out, since what is due is due by then.
pub(super) fn elapsed(at: Exact) -> String {
    let minutes = at.to_i64_floor().unwrap_or(0);
    let sign = if minutes < 0 { "-" } else { "" };
    let minutes = minutes.unsigned_abs();
    format!("{sign}{}:{:02}", minutes / 60, minutes % 60)
}

/// `-0.5` begins with a sign and is no formula.
fn is_number(text: &str) -> bool {
    let digits = text.strip_prefix('-').unwrap_or(text);
    let (whole, part) = digits.split_once('.').unwrap_or((digits, "0"));
    [whole, part]
        .iter()
        .all(|part| !part.is_empty() && part.bytes().all(|one| one.is_ascii_digit()))
}

fn row(out: &mut String, cells: &[String]) {
    let cells: Vec<String> = cells.iter().map(|text| cell(text)).collect();
    out.push_str(&cells.join(","));
    out.push_str("\r\n");
}

/// One cell, quoted where it must be; what looks like a formula becomes text.
pub fn cell(text: &str) -> String {
    // What steers a terminal says nothing in a cell.
    let text = &text.replace(|one| steers(one) && one != '\r', "\u{fffd}");
    // Neither spaces nor a quote keep a spreadsheet from running it.
    let first = text
        .trim_start_matches(|one: char| {
            one == '"' || one.is_whitespace() && !matches!(one, '\t' | '\r' | '\n')
        })
        .chars()
        .next();
    let runs = !is_number(text)
        && matches!(
            first,
            Some(
                '=' | '+' | '-' | '@' | '\t' | '\r' | '\n' | '|' | '%' | '＝' | '＋' | '－' | '＠'
            )
        );
    let text = if runs {
        format!("'{text}")
    } else {
        text.to_owned()
    };
    if text.contains([',', '"', '\r', '\n', ';', '\t']) || text.starts_with(' ') {
        format!("\"{}\"", text.replace('"', "\"\""))
    } else {
        text
    }
}

#[cfg(test)]
mod tests {
    use super::cell;

    #[test]
    fn nothing_is_run_as_a_formula() {
        for bad in [
            "=1+1",
            "+1",
            "-1+1",
            "-A1",
            "-",
            "-1:30",
            "@SUM(A1)",
            "\t=1",
            " =1",
            "\u{2003}=1",
            "\"=1",
            "|x",
            "%0A=1",
            "＝1",
        ] {
            let made = cell(bad);
            assert!(made.trim_start_matches('"').starts_with('\''), "{made}");
        }
        for number in ["-0.5", "-1", "36.5"] {
            assert_eq!(cell(number), number);
        }
        assert_eq!(cell("record Core"), "record Core");
        assert_eq!(cell("a, \"b\""), "\"a, \"\"b\"\"\"");
    }
}
