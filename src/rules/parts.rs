//! People, marks, sources, readings, limits and reasons.

use super::head::Range;
use super::names::{In, Out, at, each, maybe, named, text};
use super::order::Why;
use super::quantity::Measured;
use super::refusal::Refusal;
use super::words::{
    AnalyteWord, CriterionSort, MediumWord, OneSide, ScaleWord, SignWord, SiteWord, TopicWord, Word,
};
use crate::model as m;
use crate::source::Span;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A named value; where it is used, its quantity stands too.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Let {
    pub name: String,
    pub written: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub why: Option<Why>,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Citation {
    pub name: String,
    pub text: String,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Role {
    pub name: String,
    pub title: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub no_reply: Option<NoReply>,
}

/// Whom to call next when nobody has replied for so long.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct NoReply {
    pub within: Measured,
    pub then: String,
}

/// A moment that somebody writes down.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Mark {
    pub name: String,
    pub title: String,
}

/// Who is in, who is out, what to mind.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Criterion {
    pub kind: CriterionSort,
    pub text: String,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub covers: Vec<TopicWord>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub why: Option<Why>,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Reading {
    pub name: String,
    pub title: String,
    pub what: ReadingWhat,
    /// The probe stays in.
    pub continuous: bool,
    /// The display step.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub shown_to: Option<Measured>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub accurate_to: Option<Measured>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reads: Option<Range>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub good_for: Option<Measured>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub why: Option<Why>,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "kebab-case")]
#[schemars(deny_unknown_fields)]
pub enum ReadingWhat {
    /// A temperature of the body.
    Body { site: SiteWord },
    /// Another temperature.
    Medium { of: MediumWord },
    /// A whole number, both ends taken in.
    Score {
        #[serde(skip_serializing_if = "Option::is_none")]
        of: Option<ScaleWord>,
        low: i64,
        high: i64,
    },
    /// Without `unit`, a bare number.
    Amount {
        #[serde(skip_serializing_if = "Option::is_none")]
        of: Option<AnalyteWord>,
        #[serde(skip_serializing_if = "Option::is_none")]
        unit: Option<String>,
    },
    Choice {
        #[serde(skip_serializing_if = "Option::is_none")]
        of: Option<SignWord>,
        words: Vec<String>,
    },
}

/// A value that must never be passed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Limit {
    pub reading: String,
    pub never: OneSide,
    pub level: Measured,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub why: Option<Why>,
}

/// Why a statement that is only a part of something says what it says.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct StatedReason {
    /// `phase`, `rule`, `medication`, …; `protocol` where it stands in none of these.
    pub block: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub name: Option<String>,
    /// The title of the rung or step.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub part: Option<String>,
    /// The word that the statement begins with: `by`, `class`, `overrides`.
    pub statement: String,
    pub why: Why,
}

pub(super) fn topics(covers: &[m::At<m::words::Topic>]) -> Vec<TopicWord> {
    covers.iter().map(|topic| Word(topic.value)).collect()
}

pub(super) fn to_topics(covers: &[TopicWord]) -> Vec<m::At<m::words::Topic>> {
    covers.iter().map(|topic| at(topic.0)).collect()
}

pub(super) fn phases(during: &[m::At<m::PhaseId>], out: Out<'_>) -> Vec<String> {
    during.iter().map(|phase| out.phase(phase.value)).collect()
}

pub(super) fn to_phases(during: &[String], names: &In) -> Result<Vec<m::At<m::PhaseId>>, Refusal> {
    each(during, |name| names.phase(name).map(at))
}

impl Let {
    pub(super) fn from_model(one: &m::Let, out: Out<'_>) -> Self {
        Let {
            name: one.name.name.clone(),
            written: one.written.clone(),
            why: Why::from_model(&one.reason, out),
        }
    }

    pub(super) fn to_model(&self, names: &In) -> Result<m::Let, Refusal> {
        Ok(m::Let {
            name: named(&self.name),
            written: self.written.clone(),
            reason: Why::to_model(&self.why, names)?,
            span: Span::default(),
        })
    }
}

impl Role {
    pub(super) fn from_model(role: &m::Role, out: Out<'_>) -> Self {
        Role {
            name: role.name.name.clone(),
            title: role.title.markdown.clone(),
            no_reply: role.no_reply.as_ref().map(|(within, next)| NoReply {
                within: Measured::duration(within),
                then: out.role(*next),
            }),
        }
    }

    pub(super) fn to_model(&self, names: &In) -> Result<m::Role, Refusal> {
        Ok(m::Role {
            name: named(&self.name),
            title: text(&self.title),
            no_reply: maybe(&self.no_reply, |next| {
                Ok((next.within.to_duration()?, names.role(&next.then)?))
            })?,
            span: Span::default(),
        })
    }
}

impl Criterion {
    pub(super) fn from_model(one: &m::Criterion, out: Out<'_>) -> Self {
        Criterion {
            kind: one.kind.into(),
            text: one.text.markdown.clone(),
            covers: topics(&one.covers),
            why: Why::from_model(&one.reason, out),
        }
    }

    pub(super) fn to_model(&self, names: &In) -> Result<m::Criterion, Refusal> {
        Ok(m::Criterion {
            kind: self.kind.into(),
            text: text(&self.text),
            covers: to_topics(&self.covers),
            reason: Why::to_model(&self.why, names)?,
            span: Span::default(),
        })
    }
}

impl ReadingWhat {
    fn from_model(kind: &m::ReadingKind) -> Self {
        match kind {
            m::ReadingKind::Body(site) => ReadingWhat::Body {
                site: Word(site.value),
            },
            m::ReadingKind::Medium(of) => ReadingWhat::Medium { of: Word(of.value) },
            m::ReadingKind::Score { of, low, high } => ReadingWhat::Score {
                of: of.as_ref().map(|of| Word(of.value)),
                low: *low,
                high: *high,
            },
            m::ReadingKind::Amount { of, unit } => ReadingWhat::Amount {
                of: of.as_ref().map(|of| Word(of.value)),
                unit: unit.map(|unit| unit.name.to_owned()),
            },
            m::ReadingKind::Choice { of, words } => ReadingWhat::Choice {
                of: of.as_ref().map(|of| Word(of.value)),
                words: words.iter().map(|word| word.name.clone()).collect(),
            },
        }
    }

    fn to_model(&self) -> Result<m::ReadingKind, Refusal> {
        Ok(match self {
            ReadingWhat::Body { site } => m::ReadingKind::Body(at(site.0)),
            ReadingWhat::Medium { of } => m::ReadingKind::Medium(at(of.0)),
            ReadingWhat::Score { of, low, high } => m::ReadingKind::Score {
                of: of.map(|of| at(of.0)),
                low: *low,
                high: *high,
            },
            ReadingWhat::Amount { of, unit } => m::ReadingKind::Amount {
                of: of.map(|of| at(of.0)),
                unit: maybe(unit, |name| {
                    crate::quantity::unit_named(name)
                        .filter(|unit| unit.name == name)
                        .ok_or_else(|| {
                            Refusal::inconsistent(format!("`{name}` is no unit of the language"))
                        })
                })?,
            },
            ReadingWhat::Choice { of, words } => m::ReadingKind::Choice {
                of: of.map(|of| at(of.0)),
                words: words.iter().map(|word| named(word)).collect(),
            },
        })
    }
}

impl Reading {
    pub(super) fn from_model(reading: &m::Reading, out: Out<'_>) -> Self {
        let kind = &reading.kind;
        Reading {
            name: reading.name.name.clone(),
            title: reading.title.markdown.clone(),
            what: ReadingWhat::from_model(kind),
            continuous: reading.continuous,
            shown_to: reading
                .shown_to
                .as_ref()
                .map(|step| Measured::change(step, kind)),
            accurate_to: reading
                .accurate_to
                .as_ref()
                .map(|step| Measured::change(step, kind)),
            reads: reading.reads.as_ref().map(|range| Range {
                low: Measured::level(&range.low, kind),
                high: Measured::level(&range.high, kind),
            }),
            good_for: reading.good_for.as_ref().map(Measured::duration),
            why: Why::from_model(&reading.reason, out),
        }
    }

    pub(super) fn to_model(&self, names: &In) -> Result<m::Reading, Refusal> {
        let kind = self.what.to_model()?;
        Ok(m::Reading {
            name: named(&self.name),
            title: text(&self.title),
            continuous: self.continuous,
            shown_to: maybe(&self.shown_to, |step| step.to_change(&kind))?,
            accurate_to: maybe(&self.accurate_to, |step| step.to_change(&kind))?,
            reads: maybe(&self.reads, |range| {
                Ok(m::Range {
                    low: range.low.to_level(&kind)?,
                    high: range.high.to_level(&kind)?,
                    span: Span::default(),
                })
            })?,
            good_for: maybe(&self.good_for, Measured::to_duration)?,
            reason: Why::to_model(&self.why, names)?,
            span: Span::default(),
            kind,
        })
    }
}

impl Limit {
    pub(super) fn from_model(limit: &m::Limit, out: Out<'_>) -> Self {
        Limit {
            reading: out.reading(limit.reading),
            never: limit.side.into(),
            level: Measured::level(&limit.level, out.kind(limit.reading)),
            why: Why::from_model(&limit.reason, out),
        }
    }

    pub(super) fn to_model(&self, names: &In) -> Result<m::Limit, Refusal> {
        let reading = names.reading(&self.reading)?;
        Ok(m::Limit {
            reading,
            side: self.never.into(),
            level: self.level.to_level(names.kind(reading)?)?,
            reason: Why::to_model(&self.why, names)?,
            span: Span::default(),
        })
    }
}

impl StatedReason {
    pub(super) fn from_model(one: &m::StatedReason, out: Out<'_>) -> Self {
        StatedReason {
            block: one.block.clone(),
            name: one.name.clone(),
            part: one.part.as_ref().map(|part| part.markdown.clone()),
            statement: one.statement.clone(),
            why: Why::from_model(&one.reason, out).unwrap_or_default(),
        }
    }

    pub(super) fn to_model(&self, names: &In) -> Result<m::StatedReason, Refusal> {
        Ok(m::StatedReason {
            block: self.block.clone(),
            name: self.name.clone(),
            part: self.part.as_deref().map(text),
            statement: self.statement.clone(),
            reason: Why::to_model(&Some(self.why.clone()), names)?,
            span: Span::default(),
        })
    }
}
