//! A rule whose condition every record meets.

use super::super::facts::during;
use super::super::words::name;
use super::super::{Check, Context, Family, Run};
use super::{is_never_asked, one_line, witness};
use crate::diag::{Diagnostic, Level};
use crate::model::Rule;
use crate::solve::{Answer, Goal, Question};

pub const CHECK: Check = Check {
    name: "always-fires",
    family: Family::Rules,
    level: Level::Error,
    since: "0.1.0",
    summary: "every record makes the rule's condition hold",
    catches: "A rule whose condition holds in all of its phases whatever the readings show, once its windows are \
              full. Tests of the clock are not counted: they come true by themselves.",
    why: "An order that always stands says nothing about the patient, and teaches the nurse to pass over the others.",
    fires: "\
rule any-temperature {
  when core above 33.0 °C or core below 35.0 °C during guard
  then do \"Write the temperature on the board\"
}
",
    passes: "\
rule any-temperature {
  when core above 37.7 °C or core below 36.0 °C during guard
  then do \"Write the temperature on the board\"
}
",
    source: "structural",
    run: Run::Over(run),
};

fn run(context: &Context) -> Vec<Diagnostic> {
    let protocol = context.protocol;
    let mut findings = Vec::new();
    for (_, rule) in protocol.rules() {
        let phases = during(protocol, &rule.during);
        if !is_always(context, rule) {
            continue;
        }
        let Some(phase) = phases.first().copied() else {
            continue;
        };
        let question = Question::new(phase, vec![Goal::rule(rule, true)]);
        let Some(found) = context.solver.ask(&question).found() else {
            continue;
        };
        findings.push(
            CHECK
                .found(
                    rule.when_span,
                    format!("{} fires whatever the readings show", name(&rule.name)),
                )
                .here(one_line(context, rule.when_span))
                .witness(witness(
                    context,
                    &found,
                    vec![format!("{} fires, as at every value", name(&rule.name))],
                ))
                .why("an order that always stands says nothing about the patient, and the others are read less")
                .help("correct the values, or join the parts with `and` where `or` stands")
                .about(&rule.name.name),
        );
    }
    findings
}

/// Whether the condition holds in all phases of the rule, whatever is recorded.
pub(super) fn is_always(context: &Context, rule: &Rule) -> bool {
    let phases = during(context.protocol, &rule.during);
    if rule.when.tests().iter().any(|test| test.kind.is_by_clock())
        || is_never_asked(context, &rule.when, &phases)
    {
        return false;
    }
    phases.iter().all(|phase| {
        let ask = |holds| {
            let mut question = Question::new(*phase, vec![Goal::rule(rule, holds)]).unshown();
            question.settled_only = true;
            context.solver.ask(&question)
        };
        // Mostly one record on plan shows at once that it need not hold.
        ask(false).is_never() && matches!(ask(true), Answer::Found(_))
    })
}
