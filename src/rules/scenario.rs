//! Scenarios: records to try the protocol on, and what is expected. They are no
//! part of the meaning.

use super::names::{In, Out, at, each, maybe, text};
use super::order::{Order, target_kind};
use super::quantity::{Measured, number, number_text};
use super::refusal::Refusal;
use crate::model as m;
use crate::quantity::Exact;
use crate::source::Span;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Scenario {
    pub title: String,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub given: Vec<Given>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub lines: Vec<ScenarioLine>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub expects: Vec<Expect>,
}

/// What is known of the case before it begins. Times are minutes from the start.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "kebab-case")]
#[schemars(deny_unknown_fields)]
pub enum Given {
    Weight {
        weight: Measured,
    },
    /// Date and time of day of the start, `2026-10-24T22:30:00`.
    Start {
        at: String,
    },
    /// Negative before the start.
    Mark {
        mark: String,
        at: String,
    },
}

/// The same entries at one or more times.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct ScenarioLine {
    pub times: Vec<String>,
    pub entries: Vec<ScenarioEntry>,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "kebab-case")]
#[schemars(deny_unknown_fields)]
pub enum ScenarioEntry {
    Record { reading: String, value: Measured },
    Word { reading: String, word: String },
    Mark { mark: String },
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Expect {
    /// It must not happen.
    pub absent: bool,
    pub what: Expected,
    /// Without it, at any time.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub at: Option<String>,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "kebab-case")]
#[schemars(deny_unknown_fields)]
pub enum Expected {
    Rule {
        rule: String,
    },
    /// Without regard to its `until` or `otherwise`.
    Order {
        order: Order,
    },
    Phase {
        phase: String,
    },
    Target {
        target: Measured,
    },
}

fn minutes(text: &str) -> Result<Exact, Refusal> {
    number(text).ok_or_else(|| Refusal::inconsistent(format!("`{text}` is no time in minutes")))
}

impl Scenario {
    pub(super) fn from_model(scenario: &m::Scenario, out: Out<'_>) -> Self {
        Scenario {
            title: scenario.title.markdown.clone(),
            given: scenario
                .given
                .iter()
                .map(|given| match given {
                    m::Given::Weight(weight) => Given::Weight {
                        weight: Measured::weight(weight),
                    },
                    m::Given::Start(at, _) => Given::Start { at: at.to_string() },
                    m::Given::Mark { mark, at } => Given::Mark {
                        mark: out.mark(mark.value),
                        at: number_text(*at),
                    },
                })
                .collect(),
            lines: scenario
                .lines
                .iter()
                .map(|line| ScenarioLine {
                    times: line.times.iter().map(|time| number_text(*time)).collect(),
                    entries: line.entries.iter().map(|one| entry(one, out)).collect(),
                })
                .collect(),
            expects: scenario
                .expects
                .iter()
                .map(|expect| Expect {
                    absent: expect.absent,
                    what: expected(&expect.what, out),
                    at: expect.at.map(number_text),
                })
                .collect(),
        }
    }

    pub(super) fn to_model(&self, names: &In) -> Result<m::Scenario, Refusal> {
        Ok(m::Scenario {
            title: text(&self.title),
            given: each(&self.given, |given| {
                Ok(match given {
                    Given::Weight { weight } => m::Given::Weight(weight.to_weight()?),
                    Given::Start { at } => m::Given::Start(
                        at.parse().map_err(|_| {
                            Refusal::inconsistent(format!("`{at}` is no date with a time of day"))
                        })?,
                        Span::default(),
                    ),
                    Given::Mark { mark, at: time } => m::Given::Mark {
                        mark: at(names.mark(mark)?),
                        at: minutes(time)?,
                    },
                })
            })?,
            lines: each(&self.lines, |line| {
                Ok(m::ScenarioLine {
                    times: each(&line.times, |time| minutes(time))?,
                    entries: each(&line.entries, |entry| to_entry(entry, names))?,
                    span: Span::default(),
                })
            })?,
            expects: each(&self.expects, |expect| {
                Ok(m::Expect {
                    absent: expect.absent,
                    what: to_expected(&expect.what, names)?,
                    at: maybe(&expect.at, |time| minutes(time))?,
                    span: Span::default(),
                })
            })?,
            span: Span::default(),
        })
    }
}

fn entry(entry: &m::Entry, out: Out<'_>) -> ScenarioEntry {
    match entry {
        m::Entry::Record { reading, value } => {
            let id = reading.value;
            match value {
                m::EntryValue::Level(level) => ScenarioEntry::Record {
                    reading: out.reading(id),
                    value: Measured::level(level, out.kind(id)),
                },
                m::EntryValue::Word(index, _) => ScenarioEntry::Word {
                    reading: out.reading(id),
                    word: out.word(id, *index),
                },
            }
        }
        m::Entry::Mark(mark) => ScenarioEntry::Mark {
            mark: out.mark(mark.value),
        },
    }
}

fn to_entry(entry: &ScenarioEntry, names: &In) -> Result<m::Entry, Refusal> {
    Ok(match entry {
        ScenarioEntry::Record { reading, value } => {
            let id = names.reading(reading)?;
            m::Entry::Record {
                reading: at(id),
                value: m::EntryValue::Level(value.to_level(names.kind(id)?)?),
            }
        }
        ScenarioEntry::Word { reading, word } => {
            let id = names.reading(reading)?;
            m::Entry::Record {
                reading: at(id),
                value: m::EntryValue::Word(names.word(id, word)?, Span::default()),
            }
        }
        ScenarioEntry::Mark { mark } => m::Entry::Mark(at(names.mark(mark)?)),
    })
}

fn expected(what: &m::Expected, out: Out<'_>) -> Expected {
    match what {
        m::Expected::Rule(rule) => Expected::Rule {
            rule: out.rule(rule.value),
        },
        m::Expected::Order(order) => Expected::Order {
            order: Order::from_model(order, out),
        },
        m::Expected::Phase(phase) => Expected::Phase {
            phase: out.phase(phase.value),
        },
        m::Expected::Target(level) => Expected::Target {
            target: Measured::level(level, &target_kind()),
        },
    }
}

fn to_expected(what: &Expected, names: &In) -> Result<m::Expected, Refusal> {
    Ok(match what {
        Expected::Rule { rule } => m::Expected::Rule(at(names.rule(rule)?)),
        Expected::Order { order } => m::Expected::Order(Box::new(order.to_model(names)?)),
        Expected::Phase { phase } => m::Expected::Phase(at(names.phase(phase)?)),
        Expected::Target { target } => m::Expected::Target(target.to_level(&target_kind())?),
    })
}
