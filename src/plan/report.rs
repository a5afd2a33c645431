//! The timeline as a person reads it and as a machine does.
//!
//! Takes a protocol, a case and its plan. The text is a table of the phases with
//! elapsed and, where the case has a start, clock times, and then notes on what
//! the table cannot say. Times that are no whole minute are shown with `about`;
//! in JSON every time and temperature is an exact decimal or fraction in a string.

use super::case::Case;
use super::clock::{Clock, Round};
use super::timeline::{Empty, PhasePlan, Plan, Unplaced};
use super::window::{ValueWindow, Window};
use crate::model::{Aim, Due, MarkRef, Protocol, Way};
use crate::quantity::Exact;
use serde::Serialize;
use std::fmt::Write as _;

/// Minutes from `start` as `H:MM`, `-1:30` before it.
pub fn hours_and_minutes(at: Exact, round: Round) -> String {
    let whole = match round {
        Round::Down => at.floor(),
        Round::Up => at.ceil(),
    };
    let sign = if whole.is_negative() { "-" } else { "" };
    match whole.abs().to_i64_floor() {
        Some(minutes) => format!("{sign}{}:{:02}", minutes / 60, minutes % 60),
        None => "(too large)".to_owned(),
    }
}

/// The table and its notes.
pub fn text(protocol: &Protocol, case: &Case, plan: &Plan) -> String {
    let head = &protocol.head;
    let mut out = format!(
        "{} {}, times since the start\n",
        protocol.name.name, head.version.value
    );
    let shown = case
        .clock
        .as_ref()
        .and_then(|clock| clock.at(Exact::ZERO, Round::Down));
    if let Some(start) = shown {
        let _ = writeln!(
            out,
            "start {} {}, {}",
            start.day_and_year(),
            start.time(),
            head.timezone.value
        );
    }
    let mut rows = vec![vec![
        "phase".to_owned(),
        "begins".to_owned(),
        "ends".to_owned(),
        "aim".to_owned(),
    ]];
    if case.clock.is_some() {
        for row in &mut rows {
            row.insert(3, "ends, by the clock".to_owned());
        }
    }
    for placed in &plan.phases {
        let mut row = vec![
            protocol[placed.phase].name.name.clone(),
            window_words(placed.start),
            window_words(placed.end),
        ];
        if let Some(clock) = &case.clock {
            row.push(window_clock(clock, placed.end));
        }
        row.push(aim_words(protocol, case, placed));
        rows.push(row);
    }
    out.push('\n');
    out.push_str(&table(&rows));
    let notes = notes(protocol, case, plan);
    if !notes.is_empty() {
        out.push('\n');
    }
    for note in notes {
        let _ = writeln!(out, "note: {note}");
    }
    // What was written keeps number and unit together; a terminal needs no such care.
    out.replace('\u{a0}', " ")
}

/// `2:15 to 4:00`; `24:00 or later`; `54:00 to 60:00, at most 70:00`.
pub fn window_words(window: Window) -> String {
    in_words(window, &|at, round| hours_and_minutes(at, round))
}

/// The same by the clock, each day named once.
pub fn window_clock(clock: &Clock, window: Window) -> String {
    let day = std::cell::RefCell::new(None);
    in_words(window, &|at, round| {
        let Some(time) = clock.at(at, round) else {
            return "(too large)".to_owned();
        };
        if day.replace(Some(time.date())) == Some(time.date()) {
            time.time()
        } else {
            time.day_and_time()
        }
    })
}

fn in_words(window: Window, show: &dyn Fn(Exact, Round) -> String) -> String {
    let shown = |at: Exact, round| {
        let about = if at.is_integer() { "" } else { "about " };
        format!("{about}{}", show(at, round))
    };
    let mut words = shown(window.earliest, Round::Down);
    if let Some(planned) = window.planned.filter(|planned| *planned != window.earliest) {
        let _ = write!(words, " to {}", shown(planned, Round::Up));
    }
    match window.latest {
        None => words.push_str(" or later"),
        Some(latest) if window.planned != Some(latest) => {
            let _ = write!(words, ", at most {}", shown(latest, Round::Up));
        }
        Some(_) => {}
    }
    words
}

fn aim_words(protocol: &Protocol, case: &Case, placed: &PhasePlan) -> String {
    let phase = &protocol[placed.phase];
    let reading = &protocol[phase.aim.reading()].name.name;
    match &phase.aim {
        Aim::Hold { at, within, .. } => format!("hold {reading} at {at} within {within}"),
        Aim::Keep { low, high, .. } => match (low, high) {
            (Some(low), Some(high)) => format!("keep {reading} {low} to {high}"),
            (Some(low), None) => format!("keep {reading} at or above {low}"),
            (None, Some(high)) => format!("keep {reading} at or below {high}"),
            (None, None) => format!("keep {reading}"),
        },
        Aim::Reach {
            way,
            from,
            to,
            rate,
            ..
        } => {
            let mut words = format!("{} {reading}", way_word(*way));
            if let Some(from) = from {
                let _ = write!(words, " from {from}");
            }
            let _ = write!(words, " to {to}");
            if let Some(rate) = rate {
                let chosen = case.rates.get(&placed.phase).unwrap_or(rate.slower());
                let _ = write!(words, " at {chosen}");
            }
            words
        }
    }
}

fn way_word(way: Way) -> &'static str {
    match way {
        Way::Cool => "cool",
        Way::Warm => "warm",
    }
}

/// What the table cannot say, one sentence each, in the order of the phases.
pub fn notes(protocol: &Protocol, case: &Case, plan: &Plan) -> Vec<String> {
    let mut notes = Vec::new();
    for (id, window) in &plan.marks {
        let name = &protocol[*id].name.name;
        notes.push(format!("`{name}` lies {}", mark_time_words(*window)));
    }
    for placed in &plan.phases {
        let phase = &protocol[placed.phase];
        let name = &phase.name.name;
        let fixed = placed.fixed_end.map(window_words).unwrap_or_default();
        match placed.empty {
            Empty::No => {}
            Empty::Possibly if fixed.is_empty() => {}
            Empty::Possibly => notes.push(format!(
                "`{name}` can be over before it begins: it ends at {fixed}"
            )),
            Empty::Always => notes.push(format!(
                "`{name}` is empty: its end, {fixed}, is past when it begins"
            )),
        }
        if let Some(why) = placed.unplaced {
            notes.push(format!(
                "`{name}` has no latest end: {}",
                unplaced_words(protocol, why)
            ));
        }
        if let Some(earliest) = placed.sooner_than {
            notes.push(format!(
                "`{name}` was over at {}, sooner than the plan allows, {}: check that time",
                window_words(placed.end),
                hours_and_minutes(earliest, Round::Down)
            ));
        } else if placed.over {
            notes.push(format!("`{name}` was over at {}", window_words(placed.end)));
        }
        if let Aim::Reach {
            rate: Some(rate), ..
        } = &phase.aim
        {
            if rate.second.is_some() && !case.rates.contains_key(&placed.phase) {
                notes.push(format!(
                    "`{name}` may go at {} to {}; what is printed is the slower",
                    rate.slower(),
                    rate.faster()
                ));
            }
            if let Some(sooner) = due_before_plan(plan, placed, phase.due.as_ref()) {
                notes.push(format!(
                    "`{name}` is due at {}, before its course arrives",
                    hours_and_minutes(sooner, Round::Down)
                ));
            }
        }
    }
    notes
        .into_iter()
        .map(|note| note.replace('\u{a0}', " "))
        .collect()
}

fn mark_time_words(window: Window) -> String {
    let before = |at: Exact| hours_and_minutes(-at, Round::Up);
    match window.exact() {
        Some(at) if at.is_zero() => "at the start".to_owned(),
        Some(at) if at.is_negative() => format!("{} before the start", before(at)),
        None if window.latest == Some(Exact::ZERO) => {
            format!("up to {} before the start", before(window.earliest))
        }
        Some(_) | None => format!("at {}", window_words(window)),
    }
}

fn due_before_plan(plan: &Plan, placed: &PhasePlan, due: Option<&Due>) -> Option<Exact> {
    let due = due?;
    let from = match &due.of {
        Some(mark) => plan.mark(mark.value)?,
        None => placed.start,
    };
    let at = from.planned? + due.within.value;
    (at < placed.end.planned? && !placed.over).then_some(at)
}

fn unplaced_words(protocol: &Protocol, why: Unplaced) -> String {
    match why {
        Unplaced::NoMark(mark) => {
            format!("nothing says when {} is", mark_words(protocol, mark))
        }
        Unplaced::NoArrival(reading) => format!(
            "nothing says where `{}` is when it begins",
            protocol[reading].name.name
        ),
        Unplaced::NoLongest => "it has neither `due within` nor `at least`".to_owned(),
        Unplaced::NeverArrives => "at a rate of 0 it never arrives".to_owned(),
    }
}

fn mark_words(protocol: &Protocol, mark: MarkRef) -> String {
    match mark {
        MarkRef::Start => "`start`".to_owned(),
        MarkRef::PhaseStart(id) => format!("`{}.start`", protocol[id].name.name),
        MarkRef::PhaseEnd(id) => format!("`{}.end`", protocol[id].name.name),
        MarkRef::Named(id) => format!("`{}`", protocol[id].name.name),
    }
}

/// Columns two spaces apart, without trailing spaces.
fn table(rows: &[Vec<String>]) -> String {
    let columns = rows.iter().map(Vec::len).max().unwrap_or(0);
    let width = |column: usize| {
        rows.iter()
            .filter_map(|row| row.get(column))
            .map(|cell| cell.chars().count())
            .max()
            .unwrap_or(0)
    };
    let widths: Vec<usize> = (0..columns).map(width).collect();
    let mut out = String::new();
    for row in rows {
        let mut line = String::new();
        for (cell, width) in row.iter().zip(&widths) {
            let _ = write!(line, "{cell:<width$}  ");
        }
        out.push_str(line.trim_end());
        out.push('\n');
    }
    out
}

/// The timeline for machines. Times are hours since the start.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Timeline {
    pub format_version: u32,
    pub protocol: String,
    pub version: String,
    pub timezone: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub start: Option<String>,
    pub marks: Vec<MarkTime>,
    pub phases: Vec<PhaseTime>,
    pub notes: Vec<String>,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct MarkTime {
    pub name: String,
    pub at: Moment,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct PhaseTime {
    pub name: String,
    pub begins: Moment,
    pub ends: Moment,
    pub empty: &'static str,
    pub over: bool,
    /// Where the phase's reading can be, in its unit (°C for a temperature).
    pub reading: String,
    pub value_at_begin: Values,
    pub value_at_end: Values,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub course: Option<CourseTimes>,
}

/// `null` is open.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Moment {
    pub earliest_h: String,
    pub planned_h: Option<String>,
    pub latest_h: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub earliest_clock: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub planned_clock: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub latest_clock: Option<String>,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Values {
    pub lowest: Option<String>,
    pub highest: Option<String>,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct CourseTimes {
    pub from_celsius: String,
    pub to_celsius: String,
    pub celsius_per_h: String,
    /// `null` where the target glides.
    pub moves_every_h: Option<String>,
    pub steps_celsius: Option<String>,
    pub arrives_after_h: Option<String>,
}

/// The timeline for machines.
pub fn timeline(protocol: &Protocol, case: &Case, plan: &Plan) -> Timeline {
    let clock = case.clock.as_ref();
    Timeline {
        format_version: 1,
        protocol: protocol.name.name.clone(),
        version: protocol.head.version.value.to_string(),
        timezone: protocol.head.timezone.value.clone(),
        start: clock
            .and_then(|clock| clock.at(Exact::ZERO, Round::Down))
            .map(|time| time.machine()),
        marks: plan
            .marks
            .iter()
            .map(|(id, window)| MarkTime {
                name: protocol[*id].name.name.clone(),
                at: moment(clock, *window),
            })
            .collect(),
        phases: plan
            .phases
            .iter()
            .map(|placed| phase_time(protocol, clock, placed))
            .collect(),
        notes: notes(protocol, case, plan),
    }
}

fn phase_time(protocol: &Protocol, clock: Option<&Clock>, placed: &PhasePlan) -> PhaseTime {
    let phase = &protocol[placed.phase];
    PhaseTime {
        name: phase.name.name.clone(),
        begins: moment(clock, placed.start),
        ends: moment(clock, placed.end),
        empty: match placed.empty {
            Empty::No => "no",
            Empty::Possibly => "possibly",
            Empty::Always => "always",
        },
        over: placed.over,
        reading: protocol[phase.aim.reading()].name.name.clone(),
        value_at_begin: values(placed.start_values),
        value_at_end: values(placed.end_values),
        course: placed.course.as_ref().map(|course| CourseTimes {
            from_celsius: course.begin.to_string(),
            to_celsius: course.end.to_string(),
            celsius_per_h: course.rate.to_string(),
            moves_every_h: course.steps.map(|steps| in_hours(steps.every)),
            steps_celsius: course.steps.map(|steps| steps.step.to_string()),
            arrives_after_h: course.arrives_after().map(in_hours),
        }),
    }
}

fn in_hours(minutes: Exact) -> String {
    (minutes / Exact::int(60)).to_string()
}

fn moment(clock: Option<&Clock>, window: Window) -> Moment {
    let shown = |at: Option<Exact>, round| clock?.at(at?, round).map(|time| time.machine());
    Moment {
        earliest_h: in_hours(window.earliest),
        planned_h: window.planned.map(in_hours),
        latest_h: window.latest.map(in_hours),
        earliest_clock: shown(Some(window.earliest), Round::Down),
        planned_clock: shown(window.planned, Round::Up),
        latest_clock: shown(window.latest, Round::Up),
    }
}

fn values(window: ValueWindow) -> Values {
    Values {
        lowest: window.low.map(|low| low.to_string()),
        highest: window.high.map(|high| high.to_string()),
    }
}
