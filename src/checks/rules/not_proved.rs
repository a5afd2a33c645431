//! What the other checks of the rules could not decide: said, never passed over.

use super::super::words::{self, name};
use super::super::{Check, Context, Family, Run};
use super::one_line;
use crate::diag::{Diagnostic, Level};
use crate::model::*;
use crate::solve::{Unsettled, Why};

pub const CHECK: Check = Check {
    name: "not-proved",
    family: Family::Rules,
    level: Level::Error,
    since: "0.1.0",
    summary: "whether rules contradict, miss something or are dead could not be decided",
    catches: "A condition with too many alternatives to go through; rules for which a record seems to exist, that \
              shows a contradiction or a gap, while the orders of others stand in the way of replaying it.",
    why: "What was not decided was not checked: nobody may take the silence of the other checks for a proof.",
    fires: "\
rule too-cold {
  when core below 32.5 °C during hold
  then raise target by 0.2 °C, at most 34.0 °C
  then call doctor within 30 min
  again after 1 h
}
rule gap {
  when core above 33.4 °C and core below target by more than 0.2 °C during hold
  then do \"Look at the device\"
}
",
    passes: "\
rule too-cold {
  when core below 32.5 °C during hold
  then raise target by 0.2 °C, at most 34.0 °C
  then call doctor within 30 min
  again after 1 h
}
rule gap {
  when core above 32.6 °C and core below target by more than 0.2 °C during hold
  then do \"Look at the device\"
}
",
    source: "structural",
    run: Run::Over(run),
};

fn run(context: &Context) -> Vec<Diagnostic> {
    let mut open = context.solver.unsettled();
    open.sort_by_key(|unsettled| unsettled.rules.len());
    let mut said: Vec<Vec<RuleId>> = Vec::new();
    let mut findings = Vec::new();
    for unsettled in open {
        // Where nothing is certain of one rule, nothing is of two with it.
        let covered = said
            .iter()
            .any(|rules| rules.iter().all(|rule| unsettled.rules.contains(rule)));
        if !covered {
            findings.extend(finding(context, &unsettled));
            said.push(unsettled.rules);
        }
    }
    findings
}

fn finding(context: &Context, unsettled: &Unsettled) -> Option<Diagnostic> {
    let protocol = context.protocol;
    let phase = &protocol[unsettled.phase];
    let names: Vec<String> = unsettled
        .rules
        .iter()
        .map(|rule| name(&protocol[*rule].name))
        .collect();
    let (span, whose) = match unsettled.rules.first() {
        Some(rule) => (protocol[*rule].when_span, words::list(&names)),
        None => (phase.aim_span, name(&phase.name)),
    };
    let it = if unsettled.rules.len() > 1 {
        "they"
    } else {
        "it"
    };
    let can = if unsettled.rules.len() > 1 {
        "contradict each other or anything"
    } else {
        "can fire, is needed, or contradicts another"
    };
    let mut finding = match unsettled.why {
        Why::TooComplex => CHECK
            .found(
                span,
                format!("{whose}: too many alternatives to be checked"),
            )
            .why(
                "whether the rules contradict, miss something or are dead could not be decided, and nobody could follow \
                 such a condition at a bedside either",
            )
            .help("write two or more rules with simpler conditions"),
        Why::NotShown => CHECK
            .found(
                span,
                format!(
                    "{whose}: whether {it} {can} in {} could not be decided",
                    name(&phase.name)
                ),
            )
            .why(
                "a record seems to show it, but on the way there other rules begin another phase, move the target, pause \
                 or stop control; take it as not checked, and go through these rules by hand",
            )
            .help("name the phases with `during`, or say with `overrides` which rule comes first"),
    };
    finding = finding.here("this condition");
    for rule in unsettled.rules.iter().skip(1) {
        let rule = &protocol[*rule];
        finding = finding.also(rule.when_span, one_line(context, rule.when_span));
    }
    let about = unsettled
        .rules
        .first()
        .map_or(&phase.name.name, |rule| &protocol[*rule].name.name);
    Some(finding.about(about))
}
