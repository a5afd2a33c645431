//! Two rules that can hold together and order opposite things (M33).

use super::super::facts::during;
use super::super::words::name;
use super::super::{Check, Context, Family, Run};
use super::{is_during, not_overridden, one_line, order_text, witness};
use crate::diag::{Diagnostic, Level};
use crate::model::*;
use crate::solve::opposites::can_oppose;
use crate::solve::said::{Said, rung_goals, said};
use crate::solve::{Found, Goal, Question};

pub const CHECK: Check = Check {
    name: "contradiction",
    family: Family::Rules,
    level: Level::Error,
    since: "0.1.0",
    summary: "two rules can hold at one moment and order opposite things",
    catches: "Two rules, or one with itself, whose conditions can hold together in one phase, neither overriding the \
              other, while their orders, ladders followed through, are: two targets; raise and lower; a target and \
              pause or stop; two `begin`; `begin` and stop; give or raise and withhold, stop or lower.",
    why: "Whoever holds the sheet has two instructions and no way to choose; the patient gets neither, or the one \
          that was read first.",
    fires: "\
rule device-hot {
  when second above 33.2 °C during hold
  then lower target by 0.2 °C, at least 32.5 °C
  then call doctor within 30 min
  again after 2 h
}
",
    passes: "\
rule device-hot {
  when second above 33.2 °C during hold
  then lower target by 0.2 °C, at least 32.5 °C
  then call doctor within 30 min
  again after 2 h
  overrides too-cold
}
",
    source: "structural",
    run: Run::Over(run),
};

type Spoken<'a> = (RuleId, &'a Rule, Vec<Said<'a>>);

fn run(context: &Context) -> Vec<Diagnostic> {
    let protocol = context.protocol;
    let spoken: Vec<Spoken> = protocol
        .rules()
        .map(|(id, rule)| (id, rule, said(protocol, rule)))
        .collect();
    let mut findings = Vec::new();
    for (at, a) in spoken.iter().enumerate() {
        for b in spoken.iter().skip(at) {
            findings.extend(pair(context, a, b));
        }
    }
    findings
}

/// The first opposition of two rules that can come about.
fn pair(context: &Context, a: &Spoken, b: &Spoken) -> Option<Diagnostic> {
    let protocol = context.protocol;
    let overrides = |a: &Rule, b: RuleId| a.overrides.iter().any(|named| named.value == b);
    if a.0 != b.0 && (overrides(a.1, b.0) || overrides(b.1, a.0)) {
        return None;
    }
    for (first, second) in opposed(a, b) {
        for phase in during(protocol, &a.1.during) {
            if !is_during(b.1, phase) {
                continue;
            }
            let Some(frame) = context.solver.frame(phase) else {
                continue;
            };
            let mut goals = vec![Goal::rule(a.1, true)];
            if a.0 != b.0 {
                goals.push(Goal::rule(b.1, true));
            }
            for rule in [a.0, b.0] {
                goals.extend(not_overridden(protocol, rule, phase));
            }
            for rung in first.through.iter().chain(&second.through) {
                goals.extend(rung_goals(protocol, frame, *rung));
            }
            let mut question = Question::new(phase, goals);
            question.opposed = Some((&first.action.order, &second.action.order));
            if let Some(found) = context.solver.ask(&question).found() {
                return Some(finding(context, a, b, (first, second), &found));
            }
        }
    }
    None
}

/// The pairs of their orders that can be opposite.
fn opposed<'a>(a: &'a Spoken, b: &'a Spoken) -> Vec<(&'a Said<'a>, &'a Said<'a>)> {
    let mut pairs = Vec::new();
    for (at, first) in a.2.iter().enumerate() {
        let from = if a.0 == b.0 { at + 1 } else { 0 };
        for second in b.2.iter().skip(from) {
            if can_oppose(&first.action.order, &second.action.order) && !is_either(first, second) {
                pairs.push((first, second));
            }
        }
    }
    pairs
}

/// What stands after an `otherwise` is done in place of what stands before it.
fn is_either(a: &Said, b: &Said) -> bool {
    let root = |said: &Said| std::ptr::from_ref(said.instead_of.unwrap_or(said.action));
    std::ptr::eq(root(a), root(b))
}

fn finding(
    context: &Context,
    a: &Spoken,
    b: &Spoken,
    (first, second): (&Said, &Said),
    found: &Found,
) -> Diagnostic {
    let protocol = context.protocol;
    let says = |spoken: &Spoken, said: &Said| {
        let by = match said.through.last() {
            Some((ladder, _)) => format!(
                "{}, by {}, says",
                name(&spoken.1.name),
                name(&protocol[*ladder].name)
            ),
            None => format!("{} says", name(&spoken.1.name)),
        };
        format!("{by}: {}", order_text(context, said.action))
    };
    let title = if a.0 == b.0 {
        format!("{} orders opposite things", name(&a.1.name))
    } else {
        format!(
            "{} and {} can hold together and order opposite things",
            name(&a.1.name),
            name(&b.1.name)
        )
    };
    let mut finding = CHECK
        .found(first.action.span, title)
        .here(says(a, first))
        .also(second.action.span, says(b, second));
    finding = finding.also(a.1.when_span, one_line(context, a.1.when_span));
    if a.0 != b.0 {
        finding = finding.also(b.1.when_span, one_line(context, b.1.when_span));
    }
    finding = finding
        .witness(witness(
            context,
            found,
            vec![says(a, first), says(b, second)],
        ))
        .why(format!(
            "in `{}` whoever holds the sheet would have two instructions and no way to choose",
            protocol[found.phase].name.name
        ));
    finding = if a.0 == b.0 {
        finding.help("take one of the two orders out, or make two rules with conditions that exclude each other")
    } else {
        finding
            .help(format!(
                "if one of them comes first, add `overrides {}` to {}, or the other way round",
                b.1.name.name,
                name(&a.1.name)
            ))
            .help("or move their conditions apart, so that both cannot hold")
    };
    finding.about(&a.1.name.name)
}
