//! A rehearsal as plain text.

use super::{Coverage, Failure, Rehearsal, Unreached};
use std::fmt::Write;

/// The text for people. Failing scenarios come with what was expected, what
/// happened, what decided and what led there; then what none of them reached.
pub fn report(rehearsals: &[Rehearsal]) -> String {
    let mut out = String::new();
    let (mut tried, mut failed) = (0, 0);
    for rehearsal in rehearsals {
        let name = &rehearsal.protocol;
        if rehearsal.trials.is_empty() {
            failed += 1;
            line(
                &mut out,
                &format!("FAIL  {name}: there is no scenario, so nothing has been tried"),
            );
        }
        for trial in &rehearsal.trials {
            tried += 1;
            if trial.passed() {
                line(&mut out, &format!("ok    {name}: {}", trial.title));
                continue;
            }
            failed += 1;
            line(
                &mut out,
                &format!(
                    "FAIL  {name}: {} ({}:{})",
                    trial.title, trial.place.path, trial.place.line
                ),
            );
            for failure in &trial.failures {
                tell(&mut out, failure);
            }
            line(&mut out, "");
        }
        if !rehearsal.trials.is_empty() {
            tell_coverage(&mut out, &rehearsal.coverage);
        }
    }
    if rehearsals.is_empty() {
        failed += 1;
        line(
            &mut out,
            "FAIL  no protocol was found, so nothing has been tried",
        );
    }
    line(
        &mut out,
        &format!("{tried} scenarios tried, {failed} failures"),
    );
    out
}

fn tell(out: &mut String, failure: &Failure) {
    line(out, "");
    field(out, "expected", &failure.expected);
    field(
        out,
        "at",
        &format!("{}:{}", failure.place.path, failure.place.line),
    );
    field(out, "happened", &failure.happened);
    for decided in &failure.decided {
        field(out, "decided by", decided);
    }
    for step in &failure.steps {
        field(out, "step", step);
    }
}

fn tell_coverage(out: &mut String, coverage: &Coverage) {
    let parts = [
        ("phases", &coverage.phases),
        ("rules", &coverage.rules),
        ("rungs and steps", &coverage.rungs),
    ];
    for (what, part) in parts {
        let Unreached { all, unreached } = part;
        if *all == 0 {
            continue;
        }
        let mut told = format!("      {what}: {} of {all} reached", part.reached());
        if !unreached.is_empty() {
            told.push_str(&format!("; not {}", unreached.join(", ")));
        }
        line(out, &told);
    }
}

fn field(out: &mut String, name: &str, text: &str) {
    line(out, &format!("        {name:<12}{text}"));
}

fn line(out: &mut String, text: &str) {
    // Writing into a string does not fail.
    let _ = writeln!(out, "{text}");
}
