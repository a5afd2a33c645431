//! What a phase states of its time and its speed, and no rule watches: for `no-answer`.

use super::super::Context;
use super::super::words::name;
use super::{is_during, no_answer};
use crate::diag::Diagnostic;
use crate::model::*;
use crate::quantity::Exact;

/// The `due within` of a phase, where no rule says what to do when it passes.
pub(super) fn due(context: &Context, phase: PhaseId, stated: &Phase) -> Option<Diagnostic> {
    let due = stated.due.as_ref()?;
    let answered = context.protocol.rules().any(|(_, rule)| {
        is_during(rule, phase)
            && rule.when.tests().iter().any(|test| match &test.kind {
                TestKind::Overdue { phase: of } => *of == phase,
                TestKind::LastsLonger { phase: of, than } => {
                    *of == phase && than.value <= due.within.value
                }
                _ => false,
            })
    });
    if answered {
        return None;
    }
    let named = &stated.name;
    Some(
        no_answer::CHECK
            .found(
                due.span,
                format!("no rule says what to do when {} is overdue", name(named)),
            )
            .here("due then")
            .why("the time passes, and the sheet says nothing about it")
            .help(format!(
                "add `rule late-{} {{ when {} is overdue … }}` with whom to call",
                named.name, named.name
            ))
            .about(&named.name),
    )
}

/// The cap of a phase that no rule watches.
pub(super) fn cap(context: &Context, phase: PhaseId, stated: &Phase) -> Option<Diagnostic> {
    let cap = stated.never_faster.as_ref()?;
    let reading = stated.aim.reading();
    let way = match &stated.aim {
        Aim::Reach { way: Way::Cool, .. } => Some(TrendWay::Falls),
        Aim::Reach { way: Way::Warm, .. } => Some(TrendWay::Rises),
        Aim::Hold { .. } | Aim::Keep { .. } => None,
    };
    let mut too_late = None;
    for (_, rule) in context.protocol.rules() {
        if !is_during(rule, phase) {
            continue;
        }
        for test in rule.when.tests() {
            if let TestKind::Trend {
                reading: of,
                way: watched,
                cmp: MoreLess::More,
                by,
                over,
            } = &test.kind
                && *of == reading
                && way.is_none_or(|way| way == *watched)
            {
                if by.value * Exact::int(60) <= cap.value * over.value {
                    return None;
                }
                too_late = Some(test.span);
            }
        }
    }
    let named = &stated.name;
    let direction = match way {
        Some(TrendWay::Falls) => "falls",
        Some(TrendWay::Rises) | None => "rises",
    };
    let reading = &context.protocol[reading].name.name;
    let mut finding = no_answer::CHECK
        .found(
            cap.span,
            format!("no rule watches whether {} goes faster than {cap}", name(named)),
        )
        .here("the cap")
        .why("the cap can be broken without anybody being told")
        .help(format!(
            "add a rule on `{reading} {direction} more than X in D during {}`, with X ÷ D no more than the cap",
            named.name
        ))
        .about(&named.name);
    if let Some(span) = too_late {
        finding = finding.also(span, "this speaks only at a faster rate");
    }
    Some(finding)
}
