//! A rule that speaks although the patient is exactly on plan (M32).

use super::super::words::name;
use super::super::{Check, Context, Family, Run};
use super::{does_something, is_during, one_line, order_text, witness};
use crate::diag::{Diagnostic, Level};
use crate::model::*;
use crate::solve::on_plan;

pub const CHECK: Check = Check {
    name: "fires-on-plan",
    family: Family::Rules,
    level: Level::Error,
    since: "0.1.0",
    summary: "the rule fires on a patient who is exactly on plan",
    catches: "A rule with an order that does something, whose condition holds while the control reading is at its \
              target, at a value inside the range that is kept, or on the straight line at the slowest or the fastest \
              rate allowed, and nothing else is recorded.",
    why: "The sheet calls somebody, or changes treatment, for a patient with whom nothing is wrong.",
    fires: "\
rule above-goal {
  when core above 32.9 °C for 2 h during hold
  then call doctor within 1 h
  again after 6 h
}
",
    passes: "\
rule above-goal {
  when core above 33.3 °C for 2 h during hold
  then call doctor within 1 h
  again after 6 h
}
",
    source: "structural",
    run: Run::Over(run),
};

fn run(context: &Context) -> Vec<Diagnostic> {
    let protocol = context.protocol;
    let mut findings = Vec::new();
    let mut said: Vec<RuleId> = Vec::new();
    for (phase, _) in protocol.phases() {
        let lines = on_plan::lines(&context.solver, phase);
        for (id, rule) in protocol.rules() {
            if said.contains(&id)
                || !is_during(rule, phase)
                || !rule.then.iter().any(does_something)
            {
                continue;
            }
            let Some(found) = on_plan::fires(&context.solver, phase, &lines, rule) else {
                continue;
            };
            // What fires at every value is another finding.
            if super::always_fires::is_always(context, rule)
                || !context.solver.shows_rules(&found, &[id])
            {
                continue;
            }
            said.push(id);
            let outcome: Vec<String> = rule
                .then
                .iter()
                .map(|action| format!("{} says: {}", name(&rule.name), order_text(context, action)))
                .collect();
            let stated = &protocol[phase];
            findings.push(
                CHECK
                    .found(
                        rule.when_span,
                        format!(
                            "{} fires on a patient who is exactly on plan in {}",
                            name(&rule.name),
                            name(&stated.name)
                        ),
                    )
                    .here(one_line(context, rule.when_span))
                    .also(stated.aim_span, "the plan of the phase")
                    .witness(witness(context, &found, outcome))
                    .why("the sheet acts on a patient with whom nothing is wrong")
                    .help("move the value away from the plan, or leave this phase out of `during`")
                    .about(&rule.name.name),
            );
        }
    }
    findings
}
