//! A finished case held against its protocol: what its records, written down in a
//! table, come to.
//!
//! Takes a protocol, what is known of the case, and the text of a table (CSV);
//! gives the measures (M35), how many entries were made in time, late and not at
//! all, how often each rule fired, and every row that could not be read. [`report`]
//! makes text of it; the data serialise.
//!
//! Two forms of table are read. *Wide*: a column `time`, and one column for each
//! reading or mark, by its name in the protocol; an empty cell is no record, and
//! anything in the column of a mark is that mark. *Long*: the columns `time`, `name`
//! and `value`.
//!
//! ```text
//! time,core,water,rosc        time,name,value
//! 0:00,36.4,,yes              0:00,core,36.4
//! 1:00,35.2,14.0,             0:00,rosc,
//! ```
//!
//! A time is hours and minutes since the start, `27:30`, or a date with a time of
//! day, `2026-11-24 08:00`, in a case whose start is known by the clock. A value is
//! in the unit in which its reading is shown.
//!
//! What may go wrong: a row that cannot be read is a [`Problem`] with its line, and
//! is left out of everything; nothing is guessed.

mod csv;
mod report;
mod table;

pub use report::report;
pub use table::{Problem, Table, read};

use crate::eval::{Case, EndWhy, Event, Measured, Run, What, wording};
use crate::model::{MeasureWhat, Protocol};
use crate::quantity::Exact;
use serde::Serialize;

/// What a case came to.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Audit {
    pub protocol: String,
    pub entries: usize,
    pub problems: Vec<Problem>,
    pub phases: Vec<PhaseRun>,
    pub looks: Vec<Kept>,
    pub rules: Vec<Fired>,
    pub measures: Vec<Counted>,
}

/// One run of a phase; times are from the start.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct PhaseRun {
    pub phase: String,
    pub from: String,
    /// `None` where the records end before the phase does.
    pub to: Option<String>,
    pub by_order: bool,
}

/// How the entries that were asked for were made.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Kept {
    pub reading: String,
    pub in_time: usize,
    pub late: usize,
    pub missed: usize,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Fired {
    pub rule: String,
    pub times: Vec<String>,
}

/// A measure; hours and areas are exact, as decimals or fractions.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Counted {
    pub measure: String,
    pub title: String,
    /// In words: `75 % of 4 h`, `3.5 h`, `0.6 °C × h`.
    pub result: String,
    pub known_hours: String,
    pub unknown_hours: String,
}

/// Runs the case up to its last entry.
pub fn audit(protocol: &Protocol, case: &Case, table: &Table) -> Audit {
    let mut run = Run::new(protocol, case);
    let mut events: Vec<Event<'_>> = Vec::new();
    for entry in &table.entries {
        run.enter(*entry);
        events.append(&mut run.take_events());
    }
    run.finish();
    events.append(&mut run.take_events());
    let until = table.entries.last().map_or(Exact::ZERO, |entry| entry.at);
    let mut problems = table.problems.clone();
    problems.extend(events.iter().filter_map(|event| match &event.what {
        What::Refused(_) => Some(Problem {
            line: None,
            what: wording::event(protocol, event).replacen("not counted: ", "", 1),
        }),
        _ => None,
    }));
    let counted = protocol
        .measures
        .iter()
        .zip(run.measures(until))
        .map(|(measure, sum)| counted(protocol, measure, &sum))
        .collect();
    Audit {
        protocol: protocol.name.name.clone(),
        entries: table.entries.len(),
        problems,
        phases: phase_runs(protocol, &events),
        looks: kept(protocol, &events),
        rules: fired(protocol, &events),
        measures: counted,
    }
}

fn counted(protocol: &Protocol, measure: &crate::model::Measure, sum: &Measured) -> Counted {
    let hours = |minutes: Exact| minutes / Exact::int(60);
    let result = match &measure.what {
        MeasureWhat::Share(_) => match sum.share() {
            Some(share) => format!("{} of {} h", percent(share), hours(sum.known)),
            None => "nothing known".to_owned(),
        },
        MeasureWhat::Length(_) => format!("{} h", hours(sum.held)),
        MeasureWhat::Area { reading, .. } => {
            let unit = wording::unit(protocol, *reading);
            let area = if unit == "°F" {
                sum.area * Exact::ratio(9, 5)
            } else {
                sum.area
            };
            format!("{area} {unit} × h").replace("  ", " ")
        }
    };
    Counted {
        measure: measure.name.name.clone(),
        title: measure.title.markdown.clone(),
        result,
        known_hours: hours(sum.known).to_string(),
        unknown_hours: hours(sum.unknown).to_string(),
    }
}

/// To a tenth of a percent, rounded down: a share is never shown better than it is.
fn percent(share: Exact) -> String {
    let tenth = Exact::ratio(1, 10);
    let shown = (share * Exact::int(100)).round_down_to(tenth);
    format!(
        "{} %",
        shown.to_decimal(1).unwrap_or_else(|| shown.to_string())
    )
}

fn phase_runs(protocol: &Protocol, events: &[Event<'_>]) -> Vec<PhaseRun> {
    let mut runs: Vec<PhaseRun> = Vec::new();
    for event in events {
        match &event.what {
            What::PhaseBegins { phase, by_order } => runs.push(PhaseRun {
                phase: protocol[*phase].name.name.clone(),
                from: wording::time(event.at),
                to: None,
                by_order: *by_order,
            }),
            What::PhaseEnds {
                why:
                    EndWhy::Arrived
                    | EndWhy::Time
                    | EndWhy::Mark
                    | EndWhy::Condition
                    | EndWhy::AtMost
                    | EndWhy::Order,
                ..
            } => {
                if let Some(last) = runs.last_mut() {
                    last.to = Some(wording::time(event.at));
                }
            }
            _ => {}
        }
    }
    runs
}

fn kept(protocol: &Protocol, events: &[Event<'_>]) -> Vec<Kept> {
    protocol
        .readings()
        .map(|(id, reading)| {
            let mut kept = Kept {
                reading: reading.name.name.clone(),
                in_time: 0,
                late: 0,
                missed: 0,
            };
            for event in events {
                match &event.what {
                    What::EntryMade { asked, late } if asked.reading == id => {
                        if *late {
                            kept.late += 1;
                        } else {
                            kept.in_time += 1;
                        }
                    }
                    What::EntryMissed(asked) if asked.reading == id => kept.missed += 1,
                    _ => {}
                }
            }
            kept
        })
        .filter(|kept| kept.in_time + kept.late + kept.missed > 0)
        .collect()
}

fn fired(protocol: &Protocol, events: &[Event<'_>]) -> Vec<Fired> {
    protocol
        .rules()
        .map(|(id, rule)| Fired {
            rule: rule.name.name.clone(),
            times: events
                .iter()
                .filter(|event| matches!(event.what, What::RuleFires { rule, .. } if rule == id))
                .map(|event| wording::time(event.at))
                .collect(),
        })
        .filter(|fired| !fired.times.is_empty())
        .collect()
}
