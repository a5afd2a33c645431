//! More entries in one hour than the unit says that a nurse can make.

use super::super::words::{list, name};
use super::super::{Check, Context, Family, Run};
use crate::diag::{Diagnostic, Level};
use crate::model::*;
use crate::plan::{Case, DueWhat, PlanError, Schedule, schedule};
use crate::quantity::{Duration, Exact};
use std::collections::BTreeMap;

pub const CHECK: Check = Check {
    name: "heavy-hour",
    family: Family::Looking,
    level: Level::Warning,
    since: "0.1.0",
    summary: "one hour has more entries than a nurse can make",
    catches: "An hour with more entries than `workload` says (24 unless stated). Every box to fill, task, dose, move \
              of the target, check of the shift and recheck of a ladder counts one. Counted is the fullest hour of \
              each phase in the plan that is printed, at the worst rung.",
    why: "What cannot be done is ticked without being done, and which entries those are nobody chooses.",
    fires: "\
workload 16 entries per hour
# without every 15 min record core
every 5 min record core during cool
",
    passes: "\
workload 24 entries per hour
",
    source: "common practice, no source",
    run: Run::Over(run),
};

const USUAL: u32 = 24;

/// One thing to do at a minute of the plan.
struct Entry {
    at: Exact,
    phase: PhaseId,
    what: String,
    ladders: Vec<LadderId>,
}

/// What an hour holds, by name.
type Hour = BTreeMap<String, usize>;

fn run(context: &Context) -> Vec<Diagnostic> {
    let protocol = context.protocol;
    let stated = protocol.head.workload.as_ref();
    let most = stated.map_or(USUAL, |workload| workload.value);
    let Ok(most) = usize::try_from(most) else {
        return Vec::new();
    };
    let mut fullest: BTreeMap<PhaseId, (usize, Hour)> = BTreeMap::new();
    let schedule = match schedule(protocol, &Case::default()) {
        Ok(schedule) => schedule,
        // A schedule without an end can be neither counted nor printed. Where there is
        // no plan at all, that has been said.
        Err(PlanError::TooLarge(finding)) if context.plan.is_some() => return vec![*finding],
        Err(_) => return Vec::new(),
    };
    let entries = entries(context, &schedule);
    let rechecks = protocol
        .ladders()
        .map(|(_, ladder)| rechecks_an_hour(ladder));
    let rechecks: usize = rechecks.fold(0, usize::saturating_add);
    for (first, entry) in entries.iter().enumerate() {
        let end = entry.at + Exact::int(60);
        let within = entries
            .iter()
            .skip(first)
            .take_while(|other| other.at < end);
        // No more than that can be in it, and mostly it is not much.
        let least = most.max(fullest.get(&entry.phase).map_or(0, |(total, _)| *total));
        if within.clone().count().saturating_add(rechecks) <= least {
            continue;
        }
        let hour = hour(protocol, within);
        let total: usize = hour.values().sum();
        let best = fullest.entry(entry.phase).or_default();
        if total > best.0 {
            *best = (total, hour);
        }
    }
    fullest
        .into_iter()
        .filter(|(_, (total, _))| *total > most)
        .map(|(id, (total, hour))| {
            let phase = &protocol[id];
            let mut parts: Vec<(&String, &usize)> = hour.iter().collect();
            parts.sort_by(|a, b| b.1.cmp(a.1).then(a.0.cmp(b.0)));
            let named: Vec<String> = parts
                .iter()
                .map(|(what, times)| format!("{times} × {what}"))
                .collect();
            let mut finding = CHECK
                .found(
                    phase.span,
                    format!(
                        "the fullest hour of {} has {total} entries, more than {most}",
                        name(&phase.name)
                    ),
                )
                .here(list(&named))
                .why("what cannot be done is ticked without being done")
                .help("ask less often, or for fewer readings at once, or state the `workload` that this unit can do")
                .about(&phase.name.name);
            if let Some(stated) = stated {
                finding = finding.also(stated.span, "what this unit can do");
            }
            finding
        })
        .collect()
}

/// All that is due, and the moves of targets, by time.
fn entries(context: &Context, schedule: &Schedule) -> Vec<Entry> {
    let protocol = context.protocol;
    let mut entries: Vec<Entry> = schedule
        .due
        .iter()
        .map(|due| {
            let (what, ladders) = match &due.what {
                DueWhat::Ask {
                    reading,
                    then_follow,
                    ..
                } => (name(&protocol[*reading].name), then_follow.clone()),
                DueWhat::Task { .. } => ("a task".to_owned(), Vec::new()),
                DueWhat::Dose { medication, .. } => (name(&protocol[*medication].name), Vec::new()),
                DueWhat::Order { .. } => ("an order".to_owned(), Vec::new()),
                DueWhat::Checklist(checklist) => (name(&protocol[*checklist].name), Vec::new()),
            };
            Entry {
                at: due.at,
                phase: due.phase,
                what,
                ladders,
            }
        })
        .collect();
    for laid in &schedule.layout {
        let course = context
            .plan
            .as_ref()
            .and_then(|plan| plan.phase(laid.phase)?.course.as_ref());
        let Some(course) = course else { continue };
        entries.extend(course.moves().take(MOST_MOVES).map(|step| Entry {
            at: laid.start + step.after,
            phase: laid.phase,
            what: "a new target".to_owned(),
            ladders: Vec::new(),
        }));
    }
    entries.sort_by_key(|entry| entry.at);
    entries
}

/// A course of more moves than this shows its fullest hour long before.
const MOST_MOVES: usize = 5_000;

fn hour<'a>(protocol: &Protocol, entries: impl Iterator<Item = &'a Entry>) -> Hour {
    let mut hour = Hour::new();
    let mut followed: BTreeMap<LadderId, usize> = BTreeMap::new();
    for entry in entries {
        *hour.entry(entry.what.clone()).or_default() += 1;
        for ladder in &entry.ladders {
            *followed.entry(*ladder).or_default() += 1;
        }
    }
    for (ladder, looks) in followed {
        // A look at the same time answers the recheck (M26).
        let ladder = &protocol[ladder];
        let more = rechecks_an_hour(ladder).saturating_sub(looks);
        if more > 0 {
            hour.insert(format!("a recheck of {}", name(&ladder.name)), more);
        }
    }
    hour
}

/// At the worst rung.
fn rechecks_an_hour(ladder: &Ladder) -> usize {
    let rechecks: Vec<&Duration> = match &ladder.form {
        LadderForm::Rungs(rungs) => rungs
            .iter()
            .filter_map(|rung| rung.recheck.as_ref())
            .collect(),
        LadderForm::Steps { steps, .. } => steps
            .iter()
            .filter_map(|step| step.recheck.as_ref())
            .collect(),
    };
    rechecks
        .iter()
        .filter(|recheck| recheck.value > Exact::ZERO)
        .filter_map(|recheck| {
            let times = (Exact::int(60) / recheck.value).ceil().to_i64_floor()?;
            usize::try_from(times).ok()
        })
        .max()
        .unwrap_or(0)
}
