//! An audit as plain text.

use super::Audit;
use std::fmt::Write;

pub fn report(audit: &Audit) -> String {
    let mut out = String::new();
    let _ = writeln!(out, "{}: {} entries read", audit.protocol, audit.entries);
    section(
        &mut out,
        "Phases",
        audit.phases.iter().map(|run| {
            let to = run.to.as_deref().unwrap_or("the last entry");
            let how = if run.by_order { ", by order" } else { "" };
            format!("{:<20} {} to {to}{how}", run.phase, run.from)
        }),
    );
    section(
        &mut out,
        "Measures",
        audit.measures.iter().map(|measure| {
            format!(
                "{:<20} {} (known for {} h, unknown for {} h)",
                measure.measure, measure.result, measure.known_hours, measure.unknown_hours
            )
        }),
    );
    section(
        &mut out,
        "Entries asked for",
        audit.looks.iter().map(|kept| {
            format!(
                "{:<20} {} in time, {} late, {} missed",
                kept.reading, kept.in_time, kept.late, kept.missed
            )
        }),
    );
    section(
        &mut out,
        "Rules that fired",
        audit
            .rules
            .iter()
            .map(|fired| format!("{:<20} {}", fired.rule, fired.times.join(", "))),
    );
    section(
        &mut out,
        "Not counted",
        audit.problems.iter().map(|problem| match problem.line {
            Some(line) => format!("line {line}: {}", problem.what),
            None => problem.what.clone(),
        }),
    );
    out
}

fn section(out: &mut String, title: &str, lines: impl Iterator<Item = String>) {
    let lines: Vec<String> = lines.collect();
    if lines.is_empty() {
        return;
    }
    // Writing into a string does not fail.
    let _ = writeln!(out, "{title}");
    for line in lines {
        let _ = writeln!(out, "  {line}");
    }
}
