//! One scenario, run once: its records, and the state at each expected time.

use super::expect;
use crate::eval::{Aimed, Case, Entry, Event, RuleStanding, Run, What, wording};
use crate::model::{
    Entry as WrittenEntry, Expect, Expected, Given, PhaseId, Protocol, RuleId, Scenario,
};
use crate::plan::Clock;
use crate::quantity::Exact;
use crate::source::{Sources, Span};
use serde::Serialize;
use std::collections::BTreeMap;

/// What came of one scenario.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Trial {
    pub title: String,
    pub place: Place,
    /// How many expectations it has.
    pub expectations: usize,
    pub failures: Vec<Failure>,
}

impl Trial {
    pub fn passed(&self) -> bool {
        self.failures.is_empty()
    }
}

/// Where something stands, as a person counts it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Place {
    pub path: String,
    pub line: usize,
    pub column: usize,
}

impl Place {
    pub fn of(span: Span, sources: &Sources) -> Place {
        match sources.get(span.file) {
            Some(file) => {
                let at = file.line_column(span.start as usize);
                Place {
                    path: file.path.clone(),
                    line: at.line,
                    column: at.column,
                }
            }
            None => Place {
                path: String::new(),
                line: 0,
                column: 0,
            },
        }
    }
}

/// An expectation that was not met, or a record that cannot be.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Failure {
    pub place: Place,
    /// As it would be written: `no too-cold`, `phase hold at 3:00`.
    pub expected: String,
    pub happened: String,
    /// The rules that decided, and how each stood.
    pub decided: Vec<String>,
    /// What led there: the records and events that count, the latest last.
    pub steps: Vec<String>,
}

/// The state at one time that an expectation names.
pub(super) struct Snapshot<'p> {
    pub phase: Option<PhaseId>,
    pub aimed: Aimed,
    pub rules: BTreeMap<RuleId, RuleStanding<'p>>,
}

pub(super) struct Ran<'p> {
    pub events: Vec<Event<'p>>,
    pub snapshots: BTreeMap<Exact, Snapshot<'p>>,
    pub until: Exact,
}

/// Tries one scenario; gives its events too, for the coverage.
pub fn try_scenario<'p>(
    protocol: &'p Protocol,
    scenario: &'p Scenario,
    sources: &Sources,
) -> (Trial, Vec<Event<'p>>) {
    let ran = run(protocol, scenario);
    let mut failures: Vec<Failure> = ran
        .events
        .iter()
        .filter(|event| matches!(event.what, What::Refused(_)))
        .map(|event| Failure {
            place: Place::of(scenario.span, sources),
            expected: "records that can be written down".to_owned(),
            happened: wording::event(protocol, event),
            decided: Vec::new(),
            steps: Vec::new(),
        })
        .collect();
    failures.extend(
        scenario
            .expects
            .iter()
            .filter_map(|expected| expect::failure(protocol, expected, &ran, sources)),
    );
    let trial = Trial {
        title: scenario.title.markdown.clone(),
        place: Place::of(scenario.span, sources),
        expectations: scenario.expects.len(),
        failures,
    };
    (trial, ran.events)
}

fn run<'p>(protocol: &'p Protocol, scenario: &'p Scenario) -> Ran<'p> {
    let case = case(protocol, scenario);
    let mut entries: Vec<Entry> = scenario
        .lines
        .iter()
        .flat_map(|line| {
            line.times.iter().flat_map(|at| {
                line.entries.iter().map(|entry| match entry {
                    WrittenEntry::Record { reading, value } => {
                        Entry::record(*at, reading.value, value.value())
                    }
                    WrittenEntry::Mark(mark) => Entry::mark(*at, mark.value),
                })
            })
        })
        .collect();
    // Lines may overlap in time; within one moment the written order stands.
    entries.sort_by_key(|entry| entry.at);
    let last = entries.last().map_or(Exact::ZERO, |entry| entry.at);
    let mut times: Vec<Exact> = scenario.expects.iter().filter_map(|e| e.at).collect();
    times.push(last);
    times.sort();
    times.dedup();
    let until = times.last().copied().unwrap_or(Exact::ZERO);
    let mut run = Run::new(protocol, &case);
    let mut events = Vec::new();
    let mut snapshots = BTreeMap::new();
    let mut entries = entries.into_iter().peekable();
    for now in times {
        while let Some(entry) = entries.next_if(|entry| entry.at <= now) {
            run.enter(entry);
        }
        run.advance(now);
        events.append(&mut run.take_events());
        snapshots.insert(
            now,
            Snapshot {
                phase: run.phase(),
                aimed: run.aimed(now),
                rules: protocol
                    .rules()
                    .map(|(id, _)| (id, run.rule(id, now)))
                    .collect(),
            },
        );
    }
    Ran {
        events,
        snapshots,
        until,
    }
}

fn case(protocol: &Protocol, scenario: &Scenario) -> Case {
    let mut case = Case::default();
    for given in &scenario.given {
        match given {
            Given::Weight(weight) => case.weight = Some(weight.value),
            Given::Mark { mark, at } => case.marks.push((mark.value, *at)),
            // A start that the clock shows twice or never has no shift times.
            Given::Start(at, _) => {
                case.clock = Clock::starting(&protocol.head.timezone.value, *at).ok();
            }
        }
    }
    case
}

/// An expectation as it would be written.
pub(super) fn expected_words(protocol: &Protocol, expected: &Expect) -> String {
    let what = match &expected.what {
        Expected::Rule(rule) => protocol[rule.value].name.name.clone(),
        Expected::Order(order) => {
            crate::eval::order_words::order_words_without_until(protocol, order)
        }
        Expected::Phase(phase) => format!("phase {}", protocol[phase.value].name.name),
        Expected::Target(value) => format!("target {value}").replace('\u{a0}', " "),
    };
    let no = if expected.absent { "no " } else { "" };
    match expected.at {
        Some(at) => format!("{no}{what} at {}", wording::time(at)),
        None => format!("{no}{what}"),
    }
}
