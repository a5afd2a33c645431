//! The interval is longer than the time within which something must be seen.

use super::super::facts;
use super::super::words::{self, name, verb};
use super::super::{Check, Context, Family, Run};
use crate::diag::{Diagnostic, Level, Witness};
use crate::model::*;
use crate::quantity::Duration;
use crate::solve::{Goal, Question};

pub const CHECK: Check = Check {
    name: "seen-too-late",
    family: Family::Looking,
    level: Level::Error,
    since: "0.1.0",
    summary: "the reading is asked for less often than the rule supposes",
    catches: "A `for D` or a rise or fall `in D` on a reading that is asked for at intervals longer than D, in one of \
              the phases of the condition.",
    why: "What the rule waits for has been going on for longer than D by the time anybody can see it, and the sheet \
          says otherwise.",
    fires: "\
rule fever {
  when core above 37.7 °C for 30 min during guard
  then call doctor within 30 min
  again after 2 h
}
",
    passes: "\
rule fever {
  when core above 37.7 °C for 1 h during guard
  then call doctor within 30 min
  again after 2 h
}
",
    source: "structural",
    run: Run::Over(run),
};

fn run(context: &Context) -> Vec<Diagnostic> {
    let protocol = context.protocol;
    let mut found = Vec::new();
    for waiting in facts::conditions(protocol) {
        for test in waiting.cond.tests() {
            let Some((window, words)) = window(test) else {
                continue;
            };
            let mut late: Vec<(PhaseId, &Duration)> = Vec::new();
            for phase in &waiting.phases {
                // Of two readings the shorter interval counts (M8).
                let interval = test
                    .kind
                    .readings()
                    .into_iter()
                    .filter_map(|reading| facts::interval(protocol, reading, *phase))
                    .min_by_key(|interval| interval.value);
                if let Some(interval) = interval
                    && interval.value > window.value
                {
                    late.push((*phase, interval));
                }
            }
            let Some((_, longest)) = late.iter().max_by_key(|(_, interval)| interval.value) else {
                continue;
            };
            let phases: Vec<PhaseId> = late.iter().map(|(phase, _)| *phase).collect();
            let Some(reading) = test.kind.readings().first().map(|id| &protocol[*id]) else {
                continue;
            };
            let mut finding = CHECK
                .found(
                    test.span,
                    format!(
                        "{} is asked for every {longest} in {}, too seldom for `{words}`",
                        name(&reading.name),
                        words::phases(protocol, &phases)
                    ),
                )
                .here("waited for here")
                .also(longest.span, "the interval")
                .why(format!(
                    "by the time anybody can see it, it has been going on for longer than {window}"
                ))
                .help(format!(
                    "write `every {window} {} {} during {}` or more often, or a time of {longest} or more in the \
                     condition",
                    verb(reading),
                    reading.name.name,
                    words::during(protocol, &phases)
                ));
            if let Some(case) = seen(context, waiting.cond, test, &late) {
                finding = finding.witness(case);
            }
            finding.about = waiting.name.map(|name| name.name.clone());
            found.push(finding);
        }
    }
    found
}

/// The record at which the rule sees it for the first time: two values an interval
/// apart, and longer than it waits for.
fn seen(
    context: &Context,
    cond: &Cond,
    test: &Test,
    late: &[(PhaseId, &Duration)],
) -> Option<Witness> {
    let (_, rule) = context
        .protocol
        .rules()
        .find(|(_, rule)| std::ptr::eq(&raw const rule.when, cond))?;
    let (window, words) = window(test)?;
    let readings = test.kind.readings();
    late.iter().find_map(|(phase, interval)| {
        let question = Question::new(*phase, vec![Goal::rule(rule, true)]);
        let found = context.solver.example(&question)?;
        let mut times: Vec<_> = found
            .shown
            .iter()
            .filter(|(_, reading, _)| readings.contains(reading))
            .map(|(at, _, _)| *at)
            .collect();
        times.dedup();
        let [.., before, last] = times.as_slice() else {
            return None;
        };
        (*last == found.at && *last - *before > window.value).then(|| {
            let holds = format!(
                "{} is seen only now: nobody looked for {interval}, and the rule says `{words}`",
                name(&rule.name)
            );
            context.solver.witness(&found, vec![holds])
        })
    })
}

/// The time within which the test must be seen, as it stands in the test.
fn window(test: &Test) -> Option<(&Duration, String)> {
    if let TestKind::Trend { over, .. } = &test.kind {
        return Some((over, format!("in {over}")));
    }
    test.sustained
        .as_ref()
        .map(|sustained| (sustained, format!("for {sustained}")))
}
