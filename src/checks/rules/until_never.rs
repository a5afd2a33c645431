//! An order that nothing can end.

use super::super::facts::{self, Origin, during, ladder_phases};
use super::super::words::{self, name};
use super::super::{Check, Context, Family, Run};
use super::{
    is_asked_by_order_only, is_never_asked, not_overridden, one_line, order_text, witness,
};
use crate::diag::{Diagnostic, Level, Witness};
use crate::eval::{Cause, What};
use crate::model::*;
use crate::solve::{Answer, Goal, Question};

pub const CHECK: Check = Check {
    name: "until-never",
    family: Family::Rules,
    level: Level::Error,
    since: "0.1.0",
    summary: "an `until` that cannot come about",
    catches: "An `until` whose condition cannot hold in any phase in which the order can stand, or whose mark lies \
              behind: the beginning or end of a phase that is over by then.",
    why: "Control stays paused, or a medicine withheld, until somebody notices by chance.",
    fires: "\
rule too-cold {
  when core below 32.5 °C during hold
  then pause temperature control until core above 36.0 °C and core below 33.5 °C
  then call doctor within 15 min
  again after 1 h
}
",
    passes: "\
rule too-cold {
  when core below 32.5 °C during hold
  then pause temperature control until core above 32.9 °C and core below 33.5 °C
  then call doctor within 15 min
  again after 1 h
}
",
    source: "structural",
    run: Run::Over(run),
};

fn run(context: &Context) -> Vec<Diagnostic> {
    let protocol = context.protocol;
    let mut findings = Vec::new();
    for order in facts::orders(protocol) {
        let Some(until) = facts::until(order.action) else {
            continue;
        };
        let begins = match order.origin {
            Origin::Rule(rule) => during(protocol, &protocol[rule].during),
            Origin::Ladder(ladder, _) => ladder_phases(protocol, ladder),
            Origin::Look => order.phases.clone(),
        };
        let stands = stands(protocol, order.action, &begins);
        let never = match until {
            Until::For(_) => false,
            Until::Mark(mark) => is_behind(protocol, mark.value, &stands),
            Until::When(cond) => never_holds(context, cond, &stands),
        };
        if !never {
            continue;
        }
        let span = until_span(until).unwrap_or(order.action.span);
        let mut finding = CHECK
            .found(
                order.action.span,
                format!("nothing can end `{}`", one_line(context, order.action.span)),
            )
            .here("it stands for ever")
            .also(span, "this cannot come about any more")
            .why(format!(
                "in {} the order would stay in force until somebody notices by chance",
                words::phases(protocol, &stands)
            ))
            .help("write a value that can be reached, `for D`, or a mark that is still to come");
        if let Origin::Rule(rule) = order.origin
            && let Some(case) = begun(context, rule, order.action, &begins)
        {
            finding = finding.witness(case);
        }
        if let Some(named) = order.name {
            finding.title = format!("{}: {}", name(named), finding.title);
            finding = finding.about(&named.name);
        }
        findings.push(finding);
    }
    findings
}

/// The record at which the rule gives the order.
fn begun(context: &Context, id: RuleId, action: &Action, phases: &[PhaseId]) -> Option<Witness> {
    let rule = &context.protocol[id];
    let kind = std::mem::discriminant(&action.order);
    phases.iter().find_map(|phase| {
        let mut goals = vec![Goal::rule(rule, true)];
        goals.extend(not_overridden(context.protocol, id, *phase));
        let found = context.solver.example(&Question::new(*phase, goals))?;
        let is_given = context.solver.replay(&found).events.iter().any(|event| {
            event.at == found.at
                && matches!(&event.what, What::OrderGiven { order, causes }
                    if std::mem::discriminant(&**order) == kind && causes.contains(&Cause::Rule(id)))
        });
        is_given.then(|| {
            let says = format!(
                "{} says: {}",
                name(&rule.name),
                order_text(context, action)
            );
            let stands = "nothing that can be recorded from then on ends it".to_owned();
            witness(context, &found, vec![says, stands])
        })
    })
}

/// The phases in which the order can stand: a pause and a medicine withheld outlive
/// the phase (M23), what is done to a target does not (M20).
fn stands(protocol: &Protocol, action: &Action, begins: &[PhaseId]) -> Vec<PhaseId> {
    if matches!(action.order, Order::KeepTarget(_)) {
        return begins.to_vec();
    }
    let begins_again = protocol.rules().any(|(_, rule)| {
        rule.then
            .iter()
            .any(|action| matches!(action.order, Order::Begin(_)))
    });
    let first = begins.iter().min().copied();
    protocol
        .phases()
        .map(|(id, _)| id)
        .filter(|id| begins_again || first.is_none_or(|first| *id >= first))
        .collect()
}

fn is_behind(protocol: &Protocol, mark: MarkRef, stands: &[PhaseId]) -> bool {
    let begun_again = |phase: PhaseId| {
        protocol.rules().any(|(_, rule)| {
            rule.then
                .iter()
                .any(|action| matches!(&action.order, Order::Begin(to) if to.value <= phase))
        })
    };
    let first = stands.iter().min();
    match mark {
        MarkRef::Named(_) => false,
        MarkRef::Start => true,
        MarkRef::PhaseStart(phase) => {
            first.is_some_and(|first| phase <= *first) && !begun_again(phase)
        }
        MarkRef::PhaseEnd(phase) => {
            first.is_some_and(|first| phase < *first) && !begun_again(phase)
        }
    }
}

fn never_holds(context: &Context, cond: &Cond, stands: &[PhaseId]) -> bool {
    if is_never_asked(context, cond, stands)
        || cond.tests().iter().any(|test| test.kind.is_by_clock())
    {
        return false;
    }
    let mut never = false;
    for phase in stands {
        if is_asked_by_order_only(context, cond, *phase) {
            return false;
        }
        let goal = Goal::Cond {
            cond,
            during: None,
            holds: true,
        };
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

fn until_span(until: &Until) -> Option<crate::source::Span> {
    match until {
        Until::When(cond) => {
            let tests = cond.tests();
            let (first, last) = (tests.first()?, tests.last()?);
            Some(first.span.to(last.span))
        }
        Until::Mark(mark) => Some(mark.span),
        Until::For(length) => Some(length.span),
    }
}
