//! What is due in a case, as plain lines: what the CSV and the calendar share.

use crate::eval::order_words::order_words;
use crate::model::{AskWay, LookWhat, Order, Protocol};
use crate::plan::{Due, DueWhat, Schedule};
use crate::quantity::Exact;

/// One line of a case's schedule.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Line {
    /// Minutes from the start.
    pub at: Exact,
    pub phase: String,
    pub what: String,
    /// Who does it: the title of a role.
    pub by: String,
    /// Its phase, or one before it, has no end in the plan.
    pub assumed: bool,
}

/// Beginnings of phases and all that is due, by time.
pub(super) fn lines(protocol: &Protocol, schedule: &Schedule) -> Vec<Line> {
    let nurse = holder(protocol);
    let mut lines: Vec<Line> = schedule
        .layout
        .iter()
        .map(|laid| Line {
            at: laid.start,
            phase: protocol[laid.phase].title.markdown.clone(),
            what: format!("phase begins: {}", protocol[laid.phase].title.markdown),
            by: nurse.clone(),
            assumed: is_assumed(schedule, laid.start),
        })
        .collect();
    for due in &schedule.due {
        lines.push(Line {
            at: due.at,
            phase: protocol[due.phase].title.markdown.clone(),
            what: what(protocol, due),
            by: who(protocol, due, &nurse),
            assumed: is_assumed(schedule, due.at),
        });
    }
    // Stable: at one time the beginning first, then as the schedule has them.
    lines.sort_by_key(|line| line.at);
    lines
}

/// Whether what lies at that time lies there only because an end was assumed.
fn is_assumed(schedule: &Schedule, at: Exact) -> bool {
    schedule
        .layout
        .iter()
        .any(|laid| laid.assumed && laid.end <= at)
}

/// The nurse holds the sheet (M16).
fn holder(protocol: &Protocol) -> String {
    protocol
        .roles
        .iter()
        .find(|role| role.name.name == "nurse")
        .map_or("Nurse".to_owned(), |role| role.title.markdown.clone())
}

fn who(protocol: &Protocol, due: &Due, nurse: &str) -> String {
    if let DueWhat::Order { look } = &due.what
        && let Some(LookWhat::Order(action)) = protocol.looks.get(*look).map(|look| &look.what)
        && let Order::Call { role, .. } = &action.order
    {
        return format!("{nurse}, to {}", protocol[role.value].title.markdown);
    }
    nurse.to_owned()
}

fn what(protocol: &Protocol, due: &Due) -> String {
    let look = |index: usize| protocol.looks.get(index).map(|look| &look.what);
    match &due.what {
        DueWhat::Ask {
            reading,
            way,
            then_follow,
        } => {
            let verb = match way {
                AskWay::Record => "record",
                AskWay::Score => "score",
                AskWay::Test => "test",
            };
            let mut text = format!("{verb} {}", protocol[*reading].title.markdown);
            for ladder in then_follow {
                text.push_str(&format!(
                    ", then follow {}",
                    protocol[*ladder].title.markdown
                ));
            }
            text
        }
        // `every … do` and `at … do` are both a task.
        DueWhat::Task { look: index } => match look(*index) {
            Some(LookWhat::Do { text, .. }) => text.markdown.clone(),
            Some(LookWhat::Order(action)) => match &action.order {
                Order::Do { text, .. } => text.markdown.clone(),
                order => order_words(protocol, order),
            },
            Some(LookWhat::Ask { .. } | LookWhat::Give(_)) | None => String::new(),
        },
        DueWhat::Dose { medication, .. } => {
            format!("give {}", protocol[*medication].title.markdown)
        }
        DueWhat::Order { look: index } => match look(*index) {
            Some(LookWhat::Order(action)) => order_words(protocol, &action.order),
            _ => String::new(),
        },
        DueWhat::Checklist(list) => {
            format!("checklist: {}", protocol[*list].title.markdown)
        }
    }
}
