//! A change that the thermometer cannot show.

use super::super::facts;
use super::super::words::{celsius, name, time};
use super::super::{Check, Context, Family, Run};
use crate::diag::{Diagnostic, Level};
use crate::model::*;
use crate::quantity::Exact;
use crate::source::Span;

pub const CHECK: Check = Check {
    name: "rate-below-resolution",
    family: Family::Looking,
    level: Level::Warning,
    since: "0.1.0",
    summary: "a rise or fall is smaller than the instrument can tell apart",
    catches: "A rise or fall of X in D where X is smaller than one display step, or than twice the stated accuracy; \
              and a cap whose rate, over the time of the rule that watches it, comes to so little.",
    why: "Two readings of an unchanged patient can differ by twice the accuracy. The rule then speaks of a change that \
          never happened, or misses one that did.",
    fires: "\
rule drifting-up {
  when core rises more than 0.2 °C in 1 h during hold
  then call doctor within 30 min
}
",
    passes: "\
rule drifting-up {
  when core rises more than 0.5 °C in 1 h during hold
  then call doctor within 30 min
}
",
    source: "structural; accuracy as the protocol states it",
    run: Run::Over(run),
};

fn run(context: &Context) -> Vec<Diagnostic> {
    let protocol = context.protocol;
    let mut found = Vec::new();
    for waiting in facts::conditions(protocol) {
        for test in waiting.cond.tests() {
            let TestKind::Trend {
                reading, by, over, ..
            } = &test.kind
            else {
                continue;
            };
            let about = waiting.name.map(|name| name.name.as_str());
            if let Some(finding) = too_small(
                &protocol[*reading],
                by.value,
                test.span,
                format!("a change of {by} in {over}"),
                about,
            ) {
                found.push(finding);
                continue;
            }
            if let Some(finding) = cap(protocol, test, *reading, over.value, &waiting.phases) {
                found.push(finding);
            }
        }
    }
    found
}

/// The cap of a phase, over the time of the rule that watches it.
fn cap(
    protocol: &Protocol,
    test: &Test,
    reading: ReadingId,
    over: Exact,
    phases: &[PhaseId],
) -> Option<Diagnostic> {
    let TestKind::Trend {
        way,
        cmp: MoreLess::More,
        ..
    } = &test.kind
    else {
        return None;
    };
    phases.iter().find_map(|id| {
        let phase = &protocol[*id];
        let cap = phase.never_faster.as_ref()?;
        let watched = match &phase.aim {
            Aim::Reach { way: going, .. } => {
                phase.aim.reading() == reading
                    && matches!(
                        (going, way),
                        (Way::Warm, TrendWay::Rises) | (Way::Cool, TrendWay::Falls)
                    )
            }
            Aim::Hold { .. } | Aim::Keep { .. } => false,
        };
        if !watched {
            return None;
        }
        let change = cap.value * over / Exact::int(60);
        too_small(
            &protocol[reading],
            change,
            cap.span,
            format!(
                "the cap of {}, {cap}, is {} in the {} over which it is watched, and that",
                name(&phase.name),
                celsius(change),
                time(over)
            ),
            Some(&phase.name.name),
        )
    })
}

fn too_small(
    reading: &Reading,
    change: Exact,
    span: Span,
    what: String,
    about: Option<&str>,
) -> Option<Diagnostic> {
    let step = reading.shown_to.as_ref();
    let accuracy = reading.accurate_to.as_ref();
    let below_step = step.filter(|step| change < step.value);
    let below_accuracy = accuracy.filter(|accuracy| change < accuracy.value * Exact::int(2));
    let (label, reason) = match (below_step, below_accuracy) {
        (Some(step), _) => (step.span, format!("one display step is {step}")),
        (None, Some(accuracy)) => (
            accuracy.span,
            format!(
                "two readings that are each accurate to {accuracy} differ by more without any change"
            ),
        ),
        (None, None) => return None,
    };
    let mut finding = CHECK
        .found(
            span,
            format!("{what} is less than {} can show", name(&reading.name)),
        )
        .also(label, reason)
        .why("the rule then speaks of a change that never happened, or misses one that did")
        .help("watch a larger change over a longer time, or state the accuracy of a better thermometer");
    finding.about = about.map(str::to_owned);
    Some(finding)
}
