//! What the two versions come to at the bedside, beside each other.
//!
//! Everything here is computed from the plan, the schedule, the checks and the sheet
//! of each version; only what differs is kept.

use super::Version;
use super::change::{Area, Change};
use crate::checks::{Context, check};
use crate::diag::{Diagnostic, Level};
use crate::model::*;
use crate::plan::{self, Case, DueWhat, Plan, report};
use crate::quantity::Exact;
use serde::Serialize;
use std::collections::BTreeMap;

/// One line: what, before, now, and what that makes.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Row {
    pub topic: Topic,
    pub what: String,
    pub from: String,
    pub to: String,
    /// `7 h shorter`; empty where from and to say it all.
    pub makes: String,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Topic {
    Length,
    Phase,
    Course,
    Workload,
    Seen,
    Dose,
}

impl Topic {
    pub fn title(self) -> &'static str {
        match self {
            Topic::Length => "length",
            Topic::Phase => "phase",
            Topic::Course => "target",
            Topic::Workload => "nurse's work",
            Topic::Seen => "seen after",
            Topic::Dose => "worst 24 h",
        }
    }
}

/// A finding that only one version has.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize)]
pub struct FindingSaid {
    pub level: &'static str,
    pub name: &'static str,
    pub title: String,
}

/// A part of the sheet that differs, with its lines: those only in the older, those
/// only in the newer.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct SheetPart {
    pub title: String,
    /// First and last page of it on the newer blank sheet, on A4; `None` of a part that is gone.
    pub pages: Option<(usize, usize)>,
    pub lines: Vec<SheetLine>,
}

impl SheetPart {
    /// `page 1`, `pages 2 to 5`; nothing where it is gone.
    pub fn pages_said(&self) -> String {
        match self.pages {
            Some((first, last)) if first == last => format!("page {first}"),
            Some((first, last)) => format!("pages {first} to {last}"),
            None => String::new(),
        }
    }

    /// `The case (page 1, 12 lines)`
    pub fn said(&self) -> String {
        let lines = match self.lines.len() {
            1 => "1 line".to_owned(),
            number => format!("{number} lines"),
        };
        match self.pages {
            Some(_) => format!("{} ({}, {lines})", self.title, self.pages_said()),
            None => format!("{} (gone, {lines})", self.title),
        }
    }
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct SheetLine {
    pub sign: char,
    pub text: String,
}

/// All consequences.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Effects {
    pub rows: Vec<Row>,
    pub findings_appear: Vec<FindingSaid>,
    pub findings_vanish: Vec<FindingSaid>,
    pub accepted_old: usize,
    pub accepted_new: usize,
    pub sheet: Vec<SheetPart>,
}

pub(super) fn effects(
    old: &Version<'_>,
    aligned: &Protocol,
    new: &Version<'_>,
    whole: bool,
) -> Effects {
    let mut rows = Vec::new();
    let case = Case::default();
    // A plan that cannot be made is a finding, and told as one.
    if let (Ok(a), Ok(b)) = (Plan::of(aligned, &case), Plan::of(new.protocol, &case)) {
        lengths(aligned, &a, new.protocol, &b, &mut rows);
    }
    workload(aligned, new.protocol, &mut rows);
    seen(aligned, new.protocol, &mut rows);
    doses(aligned, new.protocol, &mut rows);
    if !whole {
        return Effects {
            rows,
            ..Effects::default()
        };
    }
    let (old_report, new_report) = (findings(old), findings(new));
    let (appear, vanish) = only(&old_report.0, &new_report.0);
    Effects {
        rows,
        findings_appear: appear,
        findings_vanish: vanish,
        accepted_old: old_report.1,
        accepted_new: new_report.1,
        sheet: Vec::new(),
    }
}

/// Puts what the plan makes of it beside the change of a phase.
pub(super) fn annotate(changes: &mut [Change], rows: &[Row]) {
    for change in changes
        .iter_mut()
        .filter(|change| change.area == Area::Phases && change.consequence.is_empty())
    {
        let Some(name) = change.about.strip_prefix("phase ") else {
            continue;
        };
        let makes: Vec<&str> = rows
            .iter()
            .filter(|row| row.what == name && matches!(row.topic, Topic::Phase | Topic::Course))
            .map(|row| row.makes.as_str())
            .filter(|makes| !makes.is_empty())
            .collect();
        if matches!(change.what.as_str(), "aim" | "end" | "moves of the target") {
            change.consequence = makes.join(", ");
        }
    }
}

/// `twice as fast`, `half as fast`, `1.5 times as fast`.
fn faster(old: Exact, new: Exact) -> String {
    if old <= Exact::ZERO || new <= Exact::ZERO || old == new {
        return String::new();
    }
    let times = new / old;
    if times == Exact::int(2) {
        "twice as fast".to_owned()
    } else if times == Exact::ratio(1, 2) {
        "half as fast".to_owned()
    } else {
        format!("{times} times as fast")
    }
}

fn push(rows: &mut Vec<Row>, topic: Topic, what: String, pair: (String, String), makes: String) {
    if pair.0 != pair.1 {
        rows.push(Row {
            topic,
            what,
            from: pair.0,
            to: pair.1,
            makes,
        });
    }
}

/// `7 h shorter`, `30 min longer`.
fn longer(old: Option<Exact>, new: Option<Exact>, (more, less): (&str, &str)) -> String {
    match (old, new) {
        (Some(a), Some(b)) if b > a => format!("{} {more}", crate::words::minutes((b - a).ceil())),
        (Some(a), Some(b)) if b < a => format!("{} {less}", crate::words::minutes((a - b).ceil())),
        _ => String::new(),
    }
}

fn lengths(old: &Protocol, a: &Plan, new: &Protocol, b: &Plan, rows: &mut Vec<Row>) {
    push(
        rows,
        Topic::Length,
        "whole course".to_owned(),
        (report::window_words(a.end()), report::window_words(b.end())),
        longer(a.end().planned, b.end().planned, ("longer", "shorter")),
    );
    for (id, phase) in new.phases() {
        let name = &phase.name.name;
        let before = old
            .phases()
            .find(|(_, one)| one.name.name == *name)
            .and_then(|(id, _)| a.phase(id));
        let (Some(now), before) = (b.phase(id), before) else {
            continue;
        };
        let Some(before) = before else {
            rows.push(Row {
                topic: Topic::Phase,
                what: format!("`{name}`"),
                from: "none".to_owned(),
                to: format!(
                    "begins {}, ends {}",
                    report::window_words(now.start),
                    report::window_words(now.end)
                ),
                makes: "new phase".to_owned(),
            });
            continue;
        };
        cap(phase, &old_phase(old, name), rows);
        let ends = |placed: &plan::PhasePlan| {
            format!(
                "begins {}, ends {}",
                report::window_words(placed.start),
                report::window_words(placed.end)
            )
        };
        let lasts = |placed: &plan::PhasePlan| Some(placed.end.planned? - placed.start.planned?);
        let makes = match (lasts(before), lasts(now)) {
            (Some(x), Some(y)) if x == y => String::new(),
            (x, y) => longer(x, y, ("longer", "shorter")),
        };
        push(
            rows,
            Topic::Phase,
            format!("`{name}`"),
            (ends(before), ends(now)),
            makes,
        );
        let course = |placed: &plan::PhasePlan| {
            placed.course.as_ref().map(|course| {
                let arrives = course
                    .arrives_after()
                    .map_or_else(|| "never".to_owned(), crate::words::minutes);
                format!(
                    "{} → {} in {arrives}, {}",
                    degrees(course.begin),
                    degrees(course.end),
                    rate(course.rate)
                )
            })
        };
        if let (Some(x), Some(y)) = (course(before), course(now)) {
            let rates = (before.course.as_ref(), now.course.as_ref());
            let makes = match rates {
                (Some(x), Some(y)) => faster(x.rate, y.rate),
                _ => String::new(),
            };
            push(rows, Topic::Course, format!("`{name}`"), (x, y), makes);
        }
    }
    for (id, phase) in old.phases() {
        let name = &phase.name.name;
        let gone = !new.phases().any(|(_, one)| one.name.name == *name);
        if let (true, Some(before)) = (gone, a.phase(id)) {
            rows.push(Row {
                topic: Topic::Phase,
                what: format!("`{name}`"),
                from: format!(
                    "begins {}, ends {}",
                    report::window_words(before.start),
                    report::window_words(before.end)
                ),
                to: "none".to_owned(),
                makes: "phase gone".to_owned(),
            });
        }
    }
}

fn old_phase(old: &Protocol, name: &str) -> Option<Phase> {
    old.phases()
        .find(|(_, one)| one.name.name == name)
        .map(|(_, phase)| phase.clone())
}

/// The soonest that the cap lets a phase of a stated distance be over.
fn cap(new: &Phase, old: &Option<Phase>, rows: &mut Vec<Row>) {
    let soonest = |phase: &Phase| -> Option<Exact> {
        let Aim::Reach {
            from: Some(from),
            to,
            ..
        } = &phase.aim
        else {
            return None;
        };
        let cap = phase.never_faster.as_ref()?.value;
        (cap > Exact::ZERO).then(|| (from.value - to.value).abs() / cap * Exact::int(60))
    };
    let (Some(a), Some(b)) = (old.as_ref().and_then(soonest), soonest(new)) else {
        return;
    };
    let said = |at: Exact| format!("at least {}", crate::words::minutes(at.ceil()));
    push(
        rows,
        Topic::Course,
        format!("`{}` at its fastest", new.name.name),
        (said(a), said(b)),
        longer(Some(a), Some(b), ("longer", "shorter")),
    );
}

fn degrees(value: Exact) -> String {
    format!(
        "{}\u{a0}°C",
        value.to_decimal(1).unwrap_or_else(|| value.to_string())
    )
}

fn rate(value: Exact) -> String {
    format!("{value}\u{a0}°C/h")
}

/// The fullest hour of each phase and the fullest 24 h, as the plan lays them out.
fn workload(old: &Protocol, new: &Protocol, rows: &mut Vec<Row>) {
    let (Some(a), Some(b)) = (Load::of(old), Load::of(new)) else {
        return;
    };
    let names: Vec<&String> = b
        .hours
        .keys()
        .filter(|name| a.hours.contains_key(*name))
        .collect();
    for name in names {
        let (x, y) = (a.hours.get(name), b.hours.get(name));
        if let (Some(x), Some(y)) = (x, y) {
            push(
                rows,
                Topic::Workload,
                format!("entries in the fullest hour of `{name}`"),
                (x.to_string(), y.to_string()),
                String::new(),
            );
        }
    }
    push(
        rows,
        Topic::Workload,
        "entries in the fullest 24 h".to_owned(),
        (a.day.to_string(), b.day.to_string()),
        String::new(),
    );
}

struct Load {
    hours: BTreeMap<String, usize>,
    day: usize,
}

impl Load {
    fn of(protocol: &Protocol) -> Option<Load> {
        let schedule = plan::schedule(protocol, &Case::default()).ok()?;
        let due: Vec<(Exact, PhaseId)> = schedule
            .due
            .iter()
            .filter(|due| !matches!(due.what, DueWhat::Checklist(_)))
            .map(|due| (due.at, due.phase))
            .collect();
        let mut load = Load {
            hours: BTreeMap::new(),
            day: 0,
        };
        let within = |first: usize, minutes: i64| {
            let Some((from, _)) = due.get(first) else {
                return 0;
            };
            let end = *from + Exact::int(minutes);
            due.iter()
                .skip(first)
                .take_while(|(at, _)| *at < end)
                .count()
        };
        for (index, (_, phase)) in due.iter().enumerate() {
            let hour = load
                .hours
                .entry(protocol[*phase].name.name.clone())
                .or_default();
            *hour = (*hour).max(within(index, 60));
            load.day = load.day.max(within(index, 24 * 60));
        }
        Some(load)
    }
}

/// A deviation that begins right after a look is seen at the next one.
fn seen(old: &Protocol, new: &Protocol, rows: &mut Vec<Row>) {
    for (reading, about) in new.readings() {
        let name = &about.name.name;
        let Some((before, _)) = old.readings().find(|(_, one)| one.name.name == *name) else {
            continue;
        };
        let begin = rows.len();
        for (phase, stated) in new.phases() {
            let title = &stated.name.name;
            let Some((then, _)) = old.phases().find(|(_, one)| one.name.name == *title) else {
                continue;
            };
            let a = plan::interval_in_force(old, before, then);
            let b = plan::interval_in_force(new, reading, phase);
            let said = |at: Option<Exact>| {
                at.map_or_else(
                    || "nobody is asked to look".to_owned(),
                    |at| format!("at most {}", crate::words::minutes(at)),
                )
            };
            let (from, to) = (said(a), said(b));
            if from == to {
                continue;
            }
            // Phases in which the same happens make one row.
            let title = format!("`{title}`");
            let known = rows.get_mut(begin..).and_then(|rows| {
                rows.iter_mut()
                    .find(|row: &&mut Row| (&row.from, &row.to) == (&from, &to))
            });
            match known {
                Some(row) => row.what = format!("{}, {title}", row.what),
                None => rows.push(Row {
                    topic: Topic::Seen,
                    what: format!("a deviation of `{name}` in {title}"),
                    from,
                    to,
                    makes: longer(a, b, ("later", "sooner")),
                }),
            }
        }
    }
}

/// What can be given in 24 h at the most, at the weight that makes most of it.
fn doses(old: &Protocol, new: &Protocol, rows: &mut Vec<Row>) {
    let named = |protocol: &'_ Protocol, name: &str| {
        protocol
            .medications()
            .find(|(_, one)| one.name.name == name)
            .map_or_else(
                || "not in the protocol".to_owned(),
                |(id, _)| super::doses::worst_day(protocol, id),
            )
    };
    let names = new
        .medications()
        .chain(old.medications().filter(|(_, gone)| {
            !new.medications()
                .any(|(_, one)| one.name.name == gone.name.name)
        }));
    for (_, medication) in names {
        let name = &medication.name.name;
        push(
            rows,
            Topic::Dose,
            format!("`{name}`"),
            (named(old, name), named(new, name)),
            String::new(),
        );
    }
}

fn findings(version: &Version<'_>) -> (Vec<FindingSaid>, usize) {
    let context = Context::new(version.protocol, version.sources);
    let report = check(&context, version.reading.to_vec());
    let said = |found: &Diagnostic| FindingSaid {
        level: found.level.word(),
        name: found.name,
        title: found.title.clone(),
    };
    let mut all: Vec<FindingSaid> = report
        .findings
        .iter()
        // An approval that no longer matches is what every change does.
        .filter(|found| found.name != "approval-stale")
        .map(said)
        .collect();
    all.sort();
    // Errors stay errors in every version; a reviewer reads them first.
    all.sort_by_key(|found| match found.level {
        level if level == Level::Error.word() => 0,
        level if level == Level::Warning.word() => 1,
        _ => 2,
    });
    (all, report.accepted.len())
}

fn only(old: &[FindingSaid], new: &[FindingSaid]) -> (Vec<FindingSaid>, Vec<FindingSaid>) {
    let mut left: Vec<FindingSaid> = old.to_vec();
    let mut appear = Vec::new();
    for found in new {
        match left.iter().position(|one| one == found) {
            Some(at) => {
                left.remove(at);
            }
            None => appear.push(found.clone()),
        }
    }
    (appear, left)
}
