//! Audits as plain text.

use super::{Audit, Figure, Fired, Part, Summary, Weight};
use std::fmt::Write;

/// One case.
pub fn report(audit: &Audit) -> String {
    let mut out = String::new();
    line(
        &mut out,
        &format!(
            "{}: {} {}, {} h long",
            audit.case, audit.protocol, audit.version, audit.length
        ),
    );
    match &audit.start {
        Some(start) => line(&mut out, &format!("  start {start}, {}", audit.start_from)),
        None => line(&mut out, "  times are hours since the start"),
    }
    line(
        &mut out,
        &format!(
            "  {} rows below the head, {} entries read, {} counted",
            audit.rows, audit.entries, audit.counted
        ),
    );
    section(
        &mut out,
        "Phases",
        audit.phases.iter().map(|run| {
            let to = run.to.as_deref().unwrap_or("the last entry");
            let how = if run.by_order { ", by order" } else { "" };
            format!("{:<20} {} to {to}{how}", run.phase, run.from)
        }),
    );
    for part in Part::ALL {
        if part == Part::Rules {
            section(&mut out, part.title(), audit.rules.iter().map(fired));
            continue;
        }
        if part == Part::Entries {
            section(&mut out, part.title(), entries(audit).into_iter());
            continue;
        }
        section(
            &mut out,
            part.title(),
            audit
                .figures
                .iter()
                .filter(|figure| figure.part == part && !is_beside_another(figure))
                .map(|figure| {
                    let goal = match (&figure.goal, figure.goal_met) {
                        (Some(goal), Some(true)) => format!("  (goal {goal}: met)"),
                        (Some(goal), Some(false)) => format!("  (goal {goal}: NOT met)"),
                        (Some(goal), None) => format!("  (goal {goal}: not known)"),
                        (None, _) => String::new(),
                    };
                    let known = known(audit, figure);
                    format!("{:<62} {}{known}{goal}", figure.title, figure.shown)
                }),
        );
    }
    let problems = |weight: Weight| {
        audit
            .problems
            .iter()
            .filter(move |problem| problem.weight == weight)
            .map(|problem| match problem.place() {
                place if place.is_empty() => problem.what.clone(),
                place => format!("{place}: {}", problem.what),
            })
    };
    section(
        &mut out,
        "Counted, but look at it",
        problems(Weight::Doubtful),
    );
    section(&mut out, "Not counted", problems(Weight::Lost));
    out
}

/// Every case, then all of them together.
pub fn report_all(audits: &[Audit], summary: &Summary) -> String {
    let mut out = String::new();
    for audit in audits {
        out.push_str(&report(audit));
        out.push('\n');
    }
    if audits.len() < 2 {
        return out.trim_end().to_owned() + "\n";
    }
    line(&mut out, &format!("All {} cases", summary.cases));
    line(
        &mut out,
        &format!(
            "  {:<62} {:>5}  {:>12} {:>12} {:>12}",
            "", "cases", "lowest", "median", "highest"
        ),
    );
    for spread in &summary.spreads {
        line(
            &mut out,
            &format!(
                "  {:<62} {:>5}  {:>12} {:>12} {:>12}{}",
                spread.title,
                spread.known,
                spread.lowest,
                spread.median,
                spread.highest,
                spread.goal.as_ref().map_or_else(String::new, |goal| {
                    format!("  (goal {}: {})", goal.goal, goal.told())
                })
            ),
        );
    }
    out
}

/// For how long a measure is known stands on its own line.
fn is_beside_another(figure: &Figure) -> bool {
    figure.part == Part::Measures
        && (figure.key.ends_with(".known") || figure.key.ends_with(".unknown"))
}

fn known(audit: &Audit, figure: &Figure) -> String {
    let of = |what: &str| audit.figure(&format!("{}.{what}", figure.key));
    match (figure.part, of("known"), of("unknown")) {
        (Part::Measures, Some(known), Some(unknown)) => {
            format!("  (known for {}, not for {})", known.shown, unknown.shown)
        }
        _ => String::new(),
    }
}

fn entries(audit: &Audit) -> Vec<String> {
    audit
        .figures
        .iter()
        .filter_map(|figure| figure.key.strip_prefix("entries.")?.strip_suffix(".due"))
        .map(|reading| {
            let of = |key: &str| {
                audit
                    .figure(&format!("entries.{reading}.{key}"))
                    .map_or("0", |figure| figure.shown.as_str())
            };
            let open = match of("open") {
                "0" => String::new(),
                open => format!(", {open} fell away or still open"),
            };
            format!(
                "{reading:<20} {} due: {} made, {} of them late, {} missed{open}; {} made",
                of("due"),
                of("made"),
                of("late"),
                of("missed"),
                of("share-made")
            )
        })
        .collect()
}

fn times(count: u64) -> String {
    if count == 1 {
        "once".to_owned()
    } else {
        format!("{count} times")
    }
}

/// How a rule fired and was answered, in a line.
pub(super) fn fired(fired: &Fired) -> String {
    let mut listed: Vec<&str> = fired.times.iter().take(6).map(String::as_str).collect();
    if fired.fired > 6 {
        listed.push("…");
    }
    let answer = if fired.asks.is_empty() {
        "orders no entry, so the log cannot show its answer".to_owned()
    } else {
        let mut text = format!("{} asked for", fired.asks.join(", "));
        if let (Some(mean), Some(longest)) = (&fired.mean_answer, &fired.longest_answer) {
            let _ = write!(
                text,
                ", recorded after {mean} on the mean, {longest} at the longest"
            );
        }
        let without = fired.unanswered + u64::from(fired.open);
        if without > 0 {
            let _ = write!(text, ", {} not recorded", times(without));
        }
        text
    };
    format!(
        "{:<20} {}, at {}; {answer}",
        fired.rule,
        times(fired.fired),
        listed.join(", ")
    )
}

fn section(out: &mut String, title: &str, lines: impl Iterator<Item = String>) {
    let lines: Vec<String> = lines.collect();
    if lines.is_empty() {
        return;
    }
    line(out, title);
    for text in lines {
        line(out, &format!("  {text}"));
    }
}

fn line(out: &mut String, text: &str) {
    // Writing into a string does not fail.
    let _ = writeln!(out, "{text}");
}
