//! A rule whose condition no regular record can meet.

use super::super::facts::during;
use super::super::words::{self, name};
use super::super::{Check, Context, Family, Run};
use super::{is_asked_by_order_only, is_never_asked, one_line};
use crate::diag::{Diagnostic, Level};
use crate::model::*;
use crate::solve::{Answer, Goal, Question};

pub const CHECK: Check = Check {
    name: "never-fires",
    family: Family::Rules,
    level: Level::Error,
    since: "0.1.0",
    summary: "no record can make the rule's condition hold",
    catches: "A rule whose condition cannot hold at any moment of any of its phases, whatever the readings show: \
              parts that exclude each other, values outside what the instrument reads, a time that the phase never \
              reaches.",
    why: "The committee believes that something is watched, and nothing is.",
    fires: "\
rule lukewarm {
  when core above 37.0 °C and core below 35.0 °C during guard
  then call doctor within 30 min
}
",
    passes: "\
rule lukewarm {
  when core above 37.0 °C and second below 36.5 °C during guard
  then call doctor within 30 min
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
        if is_never_asked(context, &rule.when, &phases) {
            continue;
        }
        if can_never_fire(context, rule, &phases) {
            findings.push(finding(context, rule, &phases));
        }
    }
    findings
}

fn can_never_fire(context: &Context, rule: &Rule, phases: &[PhaseId]) -> bool {
    let mut never = false;
    for phase in phases {
        if is_asked_by_order_only(context, &rule.when, *phase) {
            return false;
        }
        let goal = Goal::rule(rule, true);
        match context
            .solver
            .ask(&Question::new(*phase, vec![goal]).unshown())
        {
            Answer::Never => never = true,
            Answer::Found(_) | Answer::TooComplex | Answer::NotShown(_) | Answer::NoRecord => {
                return false;
            }
        }
    }
    never
}

fn finding(context: &Context, rule: &Rule, phases: &[PhaseId]) -> Diagnostic {
    let places = words::phases(context.protocol, phases);
    let mut finding = CHECK
        .found(
            rule.when_span,
            format!(
                "{} can never fire: its condition cannot hold in {places}",
                name(&rule.name)
            ),
        )
        .here(one_line(context, rule.when_span));
    for reading in rule.when.readings() {
        let reading = &context.protocol[reading];
        finding = finding.also(reading.span, "what it can show");
    }
    finding
        .why("the committee believes that this is watched, and nothing is")
        .help("correct the values, or the phases after `during`; or take the rule out")
        .about(&rule.name.name)
}
