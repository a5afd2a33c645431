//! What is asked for at set times, and what fires on what was recorded.

use super::condition::Condition;
use super::names::{In, Out, at, each, maybe, named, text};
use super::order::{Line, Why};
use super::parts::{phases, to_phases, to_topics, topics};
use super::quantity::Measured;
use super::refusal::Refusal;
use super::words::{Asking, TopicWord};
use crate::model as m;
use crate::source::Span;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Something asked for or done at set times.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Look {
    pub when: LookWhen,
    pub what: LookWhat,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub why: Option<Why>,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "kebab-case")]
#[schemars(deny_unknown_fields)]
pub enum LookWhen {
    /// Without `during`, in the whole case.
    Every {
        interval: Measured,
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        during: Vec<String>,
    },
    /// At a mark, or so long after it.
    At {
        #[serde(skip_serializing_if = "Option::is_none")]
        after: Option<Measured>,
        mark: String,
    },
    /// So long before a phase begins.
    Before { before: Measured, phase: String },
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "kebab-case")]
#[schemars(deny_unknown_fields)]
pub enum LookWhat {
    Ask {
        way: Asking,
        readings: Vec<String>,
        /// A ladder.
        #[serde(skip_serializing_if = "Option::is_none")]
        then_follow: Option<String>,
    },
    Do {
        text: String,
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        covers: Vec<TopicWord>,
    },
    Give {
        medication: String,
    },
    Order {
        line: Line,
    },
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Rule {
    pub name: String,
    pub when: Condition,
    /// Without phases, in the whole case.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub during: Vec<String>,
    /// In the order in which they are given.
    pub then: Vec<Line>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ready_again: Option<Condition>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub again_after: Option<Measured>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub overrides: Vec<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub why: Option<Why>,
}

impl Look {
    pub(super) fn from_model(look: &m::Look, out: Out<'_>) -> Self {
        Look {
            when: match &look.when {
                m::LookWhen::Every { interval, during } => LookWhen::Every {
                    interval: Measured::duration(interval),
                    during: phases(during, out),
                },
                m::LookWhen::At { after, mark } => LookWhen::At {
                    after: after.as_ref().map(Measured::duration),
                    mark: out.moment(mark.value),
                },
                m::LookWhen::Before { before, phase } => LookWhen::Before {
                    before: Measured::duration(before),
                    phase: out.phase(phase.value),
                },
            },
            what: match &look.what {
                m::LookWhat::Ask {
                    way,
                    readings,
                    then_follow,
                } => LookWhat::Ask {
                    way: (*way).into(),
                    readings: readings.iter().map(|id| out.reading(id.value)).collect(),
                    then_follow: then_follow.as_ref().map(|ladder| out.ladder(ladder.value)),
                },
                m::LookWhat::Do { text, covers } => LookWhat::Do {
                    text: text.markdown.clone(),
                    covers: topics(covers),
                },
                m::LookWhat::Give(medication) => LookWhat::Give {
                    medication: out.medication(medication.value),
                },
                m::LookWhat::Order(action) => LookWhat::Order {
                    line: Line::from_model(action, out),
                },
            },
            why: Why::from_model(&look.reason, out),
        }
    }

    pub(super) fn to_model(&self, names: &In) -> Result<m::Look, Refusal> {
        Ok(m::Look {
            when: match &self.when {
                LookWhen::Every { interval, during } => m::LookWhen::Every {
                    interval: interval.to_duration()?,
                    during: to_phases(during, names)?,
                },
                LookWhen::At { after, mark } => m::LookWhen::At {
                    after: maybe(after, Measured::to_duration)?,
                    mark: at(names.moment(mark)?),
                },
                LookWhen::Before { before, phase } => m::LookWhen::Before {
                    before: before.to_duration()?,
                    phase: at(names.phase(phase)?),
                },
            },
            what: match &self.what {
                LookWhat::Ask {
                    way,
                    readings,
                    then_follow,
                } => m::LookWhat::Ask {
                    way: (*way).into(),
                    readings: each(readings, |name| names.reading(name).map(at))?,
                    then_follow: maybe(then_follow, |name| names.ladder(name).map(at))?,
                },
                LookWhat::Do {
                    text: words,
                    covers,
                } => m::LookWhat::Do {
                    text: text(words),
                    covers: to_topics(covers),
                },
                LookWhat::Give { medication } => {
                    m::LookWhat::Give(at(names.medication(medication)?))
                }
                LookWhat::Order { line } => m::LookWhat::Order(line.to_model(names)?),
            },
            reason: Why::to_model(&self.why, names)?,
            span: Span::default(),
        })
    }
}

impl Rule {
    pub(super) fn from_model(rule: &m::Rule, out: Out<'_>) -> Self {
        Rule {
            name: rule.name.name.clone(),
            when: Condition::from_model(&rule.when, out),
            during: phases(&rule.during, out),
            then: rule
                .then
                .iter()
                .map(|action| Line::from_model(action, out))
                .collect(),
            ready_again: rule
                .ready_again
                .as_ref()
                .map(|cond| Condition::from_model(cond, out)),
            again_after: rule.again_after.as_ref().map(Measured::duration),
            overrides: rule
                .overrides
                .iter()
                .map(|other| out.rule(other.value))
                .collect(),
            why: Why::from_model(&rule.reason, out),
        }
    }

    pub(super) fn to_model(&self, names: &In) -> Result<m::Rule, Refusal> {
        Ok(m::Rule {
            name: named(&self.name),
            when: self.when.to_model(names)?,
            during: to_phases(&self.during, names)?,
            then: each(&self.then, |line| line.to_model(names))?,
            ready_again: maybe(&self.ready_again, |cond| cond.to_model(names))?,
            again_after: maybe(&self.again_after, Measured::to_duration)?,
            overrides: each(&self.overrides, |name| names.rule(name).map(at))?,
            reason: Why::to_model(&self.why, names)?,
            span: Span::default(),
            when_span: Span::default(),
        })
    }
}
