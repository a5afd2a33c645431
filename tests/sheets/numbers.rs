//! Every number on a sheet is traced to where it comes from: it is written in the protocol, or it
//! is computed from what is written there, and then it is computed here once more.

use crate::printed::{BOTH, Printed, all};
use std::collections::BTreeSet;
use tempwright::document::{Block, Cell, Document, Field, List, Rich, Row};
use tempwright::plan::{Plan, Round, schedule};
use tempwright::quantity::Exact;

/// A number as it is printed, with the unit after it.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Figure {
    pub number: String,
    pub unit: String,
}

const UNITS: &[&str] = &[
    "°C/h",
    "°C",
    "°F/h",
    "°F",
    "mcg/kg/min",
    "mcg/kg/h",
    "mcg/kg",
    "mcg/min",
    "mcg/mL",
    "mcg/h",
    "mcg",
    "mg/kg/h",
    "mg/kg",
    "mg/mL",
    "mg/h",
    "mg",
    "mL/kg/h",
    "mL/kg",
    "mL/h",
    "mL",
    "g/kg",
    "g",
    "mmol/L",
    "mmol",
    "mmHg",
    "kg",
    "kPa",
    "cm",
    "units",
    "months",
    "month",
    "weeks",
    "week",
    "days",
    "day",
    "years",
    "year",
    "min",
    "h",
    "s",
    "%",
    "L",
    "W",
];

/// All numbers of a text. What hangs on a letter (`T4`, `33a`) is a name.
pub fn figures(text: &str) -> Vec<Figure> {
    let letters: Vec<char> = text.chars().collect();
    let mut out = Vec::new();
    let mut at = 0;
    while at < letters.len() {
        let before = at.checked_sub(1).map(|index| letters[index]);
        if !letters[at].is_ascii_digit() || before.is_some_and(char::is_alphanumeric) {
            at += 1;
            continue;
        }
        let mut number = String::new();
        while at < letters.len() {
            let joins =
                ".:".contains(letters[at]) && letters.get(at + 1).is_some_and(char::is_ascii_digit);
            if !letters[at].is_ascii_digit() && !joins {
                break;
            }
            number.push(letters[at]);
            at += 1;
        }
        let rest: String = letters[at..].iter().collect();
        if rest.starts_with(|c: char| c.is_alphabetic()) {
            continue;
        }
        let after = rest.trim_start_matches([' ', '\u{a0}']);
        let unit = UNITS
            .iter()
            .find(|unit| {
                after.strip_prefix(**unit).is_some_and(|more| {
                    !more.starts_with(|c: char| c.is_alphanumeric() || c == '/')
                })
            })
            .map_or("", |unit| unit);
        out.push(Figure {
            number,
            unit: unit.to_string(),
        });
    }
    out
}

/// Every text of a document that a reader sees, but what identifies the protocol.
pub fn texts(document: &Document) -> Vec<String> {
    let mut out = Vec::new();
    walk(&document.blocks, &mut out);
    out
}

fn walk(blocks: &[Block], out: &mut Vec<String>) {
    for block in blocks {
        match block {
            Block::Heading { text, .. } | Block::Paragraph(text) => out.push(text.plain()),
            Block::List(list) => items(list, out),
            Block::Notice(notice) => {
                out.push(notice.title.plain());
                walk(&notice.body, out);
            }
            Block::KeyValues(rows) => {
                out.extend(
                    rows.iter()
                        .flat_map(|(key, value)| [key.plain(), value.plain()]),
                );
            }
            Block::Fields(fields) => places(fields, out),
            Block::Chart(chart) => {
                out.push(chart.summary.clone());
                out.extend(chart.phases.iter().map(|phase| phase.name.clone()));
            }
            Block::Checklist(list) => walk(&[Block::Table(list.table())], out),
            Block::Table(table) => {
                out.push(table.caption.plain());
                for column in &table.columns {
                    out.extend([column.head.plain(), column.under.plain()]);
                }
                for row in &table.rows {
                    match row {
                        Row::Cells { cells, .. } => cells.iter().for_each(|each| cell(each, out)),
                        Row::Section { text, fields, .. } => {
                            out.push(text.plain());
                            places(fields, out);
                        }
                        Row::Band { text, .. } => out.push(text.plain()),
                    }
                }
            }
            Block::Columns(columns) => columns.iter().for_each(|column| walk(column, out)),
            Block::Halves(inner) | Block::Keep(inner) => walk(inner, out),
            // The runs of a comparison stand on no sheet.
            Block::Runs(_) | Block::PageBreak => {}
        }
    }
}

fn items(list: &List, out: &mut Vec<String>) {
    for item in &list.items {
        out.push(item.text.plain());
        if let Some(inner) = &item.inner {
            items(inner, out);
        }
    }
}

fn places(fields: &[Field], out: &mut Vec<String>) {
    for field in fields {
        out.push(field.label.plain());
        out.extend(field.value.clone());
        out.push(field.unit.clone());
    }
}

fn cell(cell: &Cell, out: &mut Vec<String>) {
    match cell {
        Cell::Text(text) => out.push(text.plain()),
        Cell::List(list) => items(list, out),
        Cell::WriteIn(field) => places(std::slice::from_ref(field), out),
        Cell::Fields(fields) => places(fields, out),
        Cell::Step(text, fields) => {
            out.push(text.plain());
            places(fields, out);
        }
        Cell::Value(text) => out.push(text.clone()),
        Cell::Due | Cell::NotDue | Cell::Tick | Cell::Initials | Cell::Empty => {}
    }
}

/// What is written in the protocol and in what it uses.
fn written(name: &str) -> BTreeSet<Figure> {
    let library = crate::support::library();
    let own = format!("protocols/{name}.protocol");
    library
        .files
        .iter()
        .filter(|(path, _)| **path == own || path.starts_with("protocols/shared/"))
        // What a scenario tries is no part of the protocol.
        .flat_map(|(_, text)| figures(text.split("\nscenario ").next().unwrap_or(text)))
        .collect()
}

/// What the plan computed, said by its own means: moments, targets, the patient's weight.
fn computed(sheet: &Printed) -> BTreeSet<Figure> {
    let plain = |number: String, unit: &str| Figure {
        number,
        unit: unit.to_string(),
    };
    let plan = Plan::of(&sheet.protocol, &sheet.case).expect("a plan");
    let schedule = schedule(&sheet.protocol, &sheet.case).expect("a schedule");
    let mut moments: BTreeSet<Exact> = BTreeSet::from([Exact::ZERO]);
    moments.extend(schedule.due.iter().map(|due| due.at));
    moments.extend(sheet.case.marks.values());
    for placed in &plan.phases {
        for window in [placed.start, placed.end] {
            moments.insert(window.earliest);
            moments.extend(window.planned);
            moments.extend(window.latest);
        }
    }
    if let Some(within) = &sheet.protocol.head.start_within
        && let Some(&mark) = sheet.case.marks.get(&within.of)
    {
        moments.insert(mark + within.within.value);
    }
    let mut out = BTreeSet::new();
    // What is counted from the end of a phase that nobody knows yet: how long the phases after it
    // last, one after the other, and by when they are due.
    for first in 0..plan.phases.len() {
        let mut after = Exact::ZERO;
        for placed in &plan.phases[first..] {
            let phase = &sheet.protocol[placed.phase];
            if let Some(due) = &phase.due {
                out.insert(plain(hours(after + due.within.value), "h"));
            }
            after = after
                + match (&phase.end, &placed.course) {
                    (tempwright::model::End::Lasts(length), _) => length.value,
                    (_, Some(course)) => course.arrives_after().unwrap_or(Exact::ZERO),
                    _ => break,
                };
            out.insert(plain(hours(after), "h"));
        }
    }
    // By when a phase is due, and by when somebody is called once it is overdue.
    for placed in &plan.phases {
        let Some(due) = &sheet.protocol[placed.phase].due else {
            continue;
        };
        let from = match due.of.as_ref().map(|of| of.value) {
            None => placed.start,
            Some(mark) => match plan.mark(mark) {
                Some(at) => at,
                None => continue,
            },
        };
        let Some(from) = from.exact() else { continue };
        moments.insert(from + due.within.value);
        for (_, rule) in sheet.protocol.rules() {
            for line in &rule.then {
                if let tempwright::model::Order::Call { within, .. } = &line.order {
                    let within = within.as_ref().map_or(Exact::ZERO, |within| within.value);
                    moments.insert(from + due.within.value + within);
                }
            }
        }
    }
    // Entries are counted from the beginning of their phase, at the intervals of its looks.
    for laid in &schedule.layout {
        for id in sheet.protocol.readings().map(|(id, _)| id) {
            let Some(interval) =
                tempwright::plan::interval_in_force(&sheet.protocol, id, laid.phase)
            else {
                continue;
            };
            let mut at = laid.start;
            while at < laid.end && interval > Exact::ZERO {
                moments.insert(at);
                out.insert(plain(hours(at - laid.start), ""));
                if let Some(target) = plan.target_in(&sheet.protocol, laid.phase, at - laid.start) {
                    let tenth = Exact::ratio(1, 10);
                    let both = [target.round_down_to(tenth), target.round_up_to(tenth)];
                    out.extend(
                        both.iter()
                            .filter_map(|value| value.to_decimal(1))
                            .map(|number| plain(number, "")),
                    );
                }
                at = at + interval;
            }
        }
        for due in schedule.due.iter().filter(|due| due.phase == laid.phase) {
            out.insert(plain(hours(due.at - laid.start), ""));
        }
    }
    for at in moments {
        for round in [Round::Down, Round::Up] {
            let text = tempwright::plan::report::hours_and_minutes(at, round);
            out.insert(plain(text.clone(), "h"));
            out.insert(plain(text, ""));
            if let Some(clock) = sheet
                .case
                .clock
                .as_ref()
                .and_then(|clock| clock.at(at, round))
            {
                out.extend(figures(&clock.day_and_year()));
                out.insert(plain(clock.time(), ""));
            }
        }
    }
    // A reading that is asked for in parts of an hour has its boxes side by side.
    for laid in &schedule.layout {
        for id in sheet.protocol.readings().map(|(id, _)| id) {
            let every = tempwright::plan::interval_in_force(&sheet.protocol, id, laid.phase);
            let every = every.and_then(Exact::to_i64_floor).unwrap_or(60).max(1);
            out.extend((1..60 / every).map(|part| plain((part * every).to_string(), "min")));
        }
    }
    // An infusion goes up in its steps.
    for medication in &sheet.protocol.medications {
        if let Some(infusion) = &medication.infusion
            && let (Some(top), Some(step)) = (&infusion.top, &infusion.step)
        {
            let exact = |text: &str| text.parse::<f64>().expect("a number");
            let (mut rate, unit) = (exact(&infusion.first.written.number), step.written.unit);
            while rate <= exact(&top.written.number) + 1e-9 {
                out.insert(plain(format!("{}", (rate * 1e6).round() / 1e6), unit));
                rate += exact(&step.written.number);
            }
        }
    }
    if let Some(weight) = &sheet.case.weight {
        out.extend(figures(&weight.to_string()));
    }
    out
}

fn hours(at: Exact) -> String {
    tempwright::plan::report::hours_and_minutes(at, Round::Down)
}

/// Numbers that stand for a place, not for a quantity: a rule, a phase, a step.
fn is_label(sheet: &Printed, figure: &Figure) -> bool {
    let most = sheet.protocol.rules().count().max(12);
    figure.unit.is_empty()
        && figure
            .number
            .parse::<usize>()
            .is_ok_and(|number| number >= 1 && number <= most)
}

/// The figures of a sheet that nothing accounts for.
fn untraced(sheet: &Printed) -> Vec<(String, Figure)> {
    let written = written(sheet.name);
    let bare: BTreeSet<&str> = written.iter().map(|one| one.number.as_str()).collect();
    let computed = computed(sheet);
    let mut out = Vec::new();
    for text in texts(&sheet.document) {
        let worked = crate::working::results(&text);
        for figure in figures(&text) {
            let known = worked.contains(&figure)
                || written.contains(&figure)
                || computed.contains(&figure)
                || is_label(sheet, &figure)
                // A range says its unit once, a column head says it for the column.
                || (figure.unit.is_empty() && bare.contains(figure.number.as_str()));
            if !known {
                out.push((text.clone(), figure));
            }
        }
    }
    out
}

#[test]
fn every_number_is_written_in_the_protocol_or_computed_from_it() {
    let mut seen = 0;
    for sheet in all(&BOTH[..1]) {
        assert_eq!(untraced(&sheet), [], "{}", sheet.what());
        seen += texts(&sheet.document)
            .iter()
            .flat_map(|text| figures(text))
            .count();
    }
    assert!(seen > 3000, "{seen}");
}

#[test]
fn a_number_from_nowhere_is_seen() {
    let mut sheet = all(&BOTH[..1]).remove(1);
    for text in [
        "hold at 33.4 °C",
        "give 17 mg",
        "at 03:17",
        "0.3 mcg/kg/h × 82 kg = 24.7 mcg/h ÷ 4 mcg/mL = 6.15 mL/h: pump 6.1 mL/h",
    ] {
        sheet
            .document
            .blocks
            .push(Block::Paragraph(Rich::from(text)));
        assert!(!untraced(&sheet).is_empty(), "{text}");
        sheet.document.blocks.pop();
    }
    assert_eq!(untraced(&sheet), []);
}

#[test]
fn the_ticks_of_the_chart_are_the_clock() {
    for sheet in all(&BOTH[..1]) {
        let charts = sheet
            .document
            .blocks
            .iter()
            .filter_map(|block| match block {
                Block::Chart(chart) => Some(chart),
                _ => None,
            });
        for chart in charts {
            for tick in &chart.ticks {
                let at = Exact::int(tick.minute);
                let label = match &sheet.case.clock {
                    Some(clock) => clock.at(at, Round::Down).map(|time| time.time()),
                    None => Some(hours(at)),
                };
                assert_eq!(Some(&tick.label), label.as_ref(), "{}", sheet.what());
            }
        }
    }
}
