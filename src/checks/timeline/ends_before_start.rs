//! A fixed end that can be over before the phase begins.

use super::super::words::{name, time};
use super::super::{Check, Context, Family, Run, timing};
use crate::diag::{Diagnostic, Level};
use crate::model::*;
use crate::plan::{Empty, Unplaced};
use crate::quantity::Exact;

pub const CHECK: Check = Check {
    name: "ends-before-start",
    family: Family::Timeline,
    level: Level::Error,
    since: "0.1.0",
    summary: "a phase can be over before it begins",
    catches: "A phase that ends a fixed time after a mark, when the phases ahead of it take longer than that: in \
              every case (an error), or in the slowest one (a warning). Also a mark that nothing places: it has no \
              `start within`, and no phase ends at it.",
    why: "Such a phase is empty (M19): the fever watch that the committee signed is skipped without a word.",
    fires: "\
phase guard \"Prevent fever\" {
  keep core 36.0 °C to 37.7 °C
  ends 24 h after rosc
}
",
    passes: "\
phase guard \"Prevent fever\" {
  keep core 36.0 °C to 37.7 °C
  ends 72 h after rosc
}
",
    source: "structural",
    run: Run::Over(run),
};

fn run(context: &Context) -> Vec<Diagnostic> {
    let protocol = context.protocol;
    let mut found = Vec::new();
    for (id, phase) in protocol.phases() {
        let End::After { mark, .. } = &phase.end else {
            continue;
        };
        let unplaced = context
            .plan
            .as_ref()
            .and_then(|plan| plan.phase(id))
            .is_some_and(|placed| matches!(placed.unplaced, Some(Unplaced::NoMark(_))));
        if unplaced {
            if let MarkRef::Named(named) = mark.value {
                found.push(no_mark(protocol, phase, named, mark.span));
            }
            continue;
        }
        // The mark as late as it can lie, and as early: the end moves with it.
        let mut worst: Option<(Exact, Exact)> = None;
        let mut in_every_case = true;
        for plan in timing::extremes(protocol) {
            let Some(placed) = plan.phase(id) else {
                continue;
            };
            in_every_case &= placed.empty == Empty::Always;
            let (Some(end), Some(begin)) = (placed.fixed_end, placed.start.latest) else {
                continue;
            };
            let late = begin - end.earliest;
            let grave = late > Exact::ZERO || placed.empty == Empty::Always;
            if grave && worst.is_none_or(|(_, other)| late > other) {
                worst = Some((begin, late));
            }
        }
        let Some((begin, late)) = worst else {
            continue;
        };
        let level = if in_every_case {
            Level::Error
        } else {
            Level::Warning
        };
        let how = if in_every_case {
            "always over before it begins"
        } else {
            "over before it begins when the phases ahead of it are slow"
        };
        found.push(
            Diagnostic::new(
                CHECK.name,
                level,
                phase.end_span,
                format!("{} is {how}", name(&phase.name)),
            )
            .here(format!(
                "over {} too early: the phases ahead can take until {} after the start",
                time(late),
                time(begin)
            ))
            .why("the phase is then skipped, and what it was for is not done")
            .help(format!(
                "let it end at least {} later, count it from its own beginning with `lasts`, or shorten the phases \
                 ahead of it",
                time(late)
            ))
            .source(CHECK.source)
            .about(&phase.name.name),
        );
    }
    found
}

fn no_mark(
    protocol: &Protocol,
    phase: &Phase,
    mark: MarkId,
    span: crate::source::Span,
) -> Diagnostic {
    let mark = &protocol[mark].name;
    CHECK
        .found(
            span,
            format!(
                "nothing says when `{}` lies, so the end of {} cannot be planned",
                mark.name,
                name(&phase.name)
            ),
        )
        .here("no `start within` names this mark, and no phase before ends at it")
        .why("the sheet cannot print when the phase ends, and it may be over before it begins")
        .help(format!(
            "write `start within 6 h of {}` with this unit's own time, or count from `start` or from a phase",
            mark.name
        ))
        .about(&phase.name.name)
}
