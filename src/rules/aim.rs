//! Phases: what is aimed at, how a phase ends, how fast it may go.

use super::condition::Condition;
use super::names::{In, Out, at, maybe, named, text};
use super::order::{Why, target_kind};
use super::quantity::Measured;
use super::refusal::Refusal;
use super::words::{Direction, MeansWord, Word};
use crate::model as m;
use crate::source::Span;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Phase {
    pub name: String,
    pub title: String,
    pub aim: Aim,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub aim_why: Option<Why>,
    pub end: End,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub end_why: Option<Why>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub by: Vec<MeansWord>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub never_faster: Option<Measured>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub never_faster_why: Option<Why>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub at_least: Option<Measured>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub due: Option<Due>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub moves: Option<Moves>,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "kebab-case")]
#[schemars(deny_unknown_fields)]
pub enum Aim {
    /// Go to `to`; with `rate`, the target runs a course.
    Reach {
        way: Direction,
        reading: String,
        #[serde(skip_serializing_if = "Option::is_none")]
        from: Option<Measured>,
        to: Measured,
        #[serde(skip_serializing_if = "Option::is_none")]
        within: Option<Measured>,
        #[serde(skip_serializing_if = "Option::is_none")]
        rate: Option<Measured>,
        /// The other rate of a pair.
        #[serde(skip_serializing_if = "Option::is_none")]
        to_rate: Option<Measured>,
    },
    Hold {
        reading: String,
        at: Measured,
        within: Measured,
    },
    /// Stay inside a range, of which at least one end is there.
    Keep {
        reading: String,
        #[serde(skip_serializing_if = "Option::is_none")]
        low: Option<Measured>,
        #[serde(skip_serializing_if = "Option::is_none")]
        high: Option<Measured>,
    },
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "kebab-case")]
#[schemars(deny_unknown_fields)]
pub enum End {
    /// By arriving; where the aim is to reach something, and only there.
    Reached,
    Lasts {
        duration: Measured,
    },
    /// So long after a mark.
    After {
        after: Measured,
        mark: String,
    },
    AtMark {
        mark: String,
        plan: Plan,
        #[serde(skip_serializing_if = "Option::is_none")]
        at_least: Option<Measured>,
        #[serde(skip_serializing_if = "Option::is_none")]
        at_most: Option<Measured>,
    },
    When {
        condition: Condition,
        plan: Plan,
        #[serde(skip_serializing_if = "Option::is_none")]
        at_least: Option<Measured>,
        #[serde(skip_serializing_if = "Option::is_none")]
        at_most: Option<Measured>,
    },
}

/// How long to plan for.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Plan {
    pub first: Measured,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub last: Option<Measured>,
}

/// When the phase should have arrived; without `of`, counted from its start.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Due {
    pub within: Measured,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub of: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub why: Option<Why>,
}

/// How often, and in which steps, the target of a course is set.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Moves {
    pub every: Measured,
    pub steps_of: Measured,
}

impl Aim {
    fn from_model(aim: &m::Aim, out: Out<'_>) -> Self {
        let kind = out.kind(aim.reading());
        let reading = out.reading(aim.reading());
        match aim {
            m::Aim::Reach {
                way,
                from,
                to,
                within,
                rate,
                ..
            } => Aim::Reach {
                way: (*way).into(),
                reading,
                from: from.as_ref().map(|level| Measured::level(level, kind)),
                to: Measured::level(to, kind),
                within: within.as_ref().map(|by| Measured::change(by, kind)),
                rate: rate.as_ref().map(|rate| Measured::rate(&rate.first)),
                to_rate: rate
                    .as_ref()
                    .and_then(|rate| rate.second.as_ref())
                    .map(Measured::rate),
            },
            m::Aim::Hold { at, within, .. } => Aim::Hold {
                reading,
                at: Measured::level(at, kind),
                within: Measured::change(within, kind),
            },
            m::Aim::Keep { low, high, .. } => Aim::Keep {
                reading,
                low: low.as_ref().map(|level| Measured::level(level, kind)),
                high: high.as_ref().map(|level| Measured::level(level, kind)),
            },
        }
    }

    fn to_model(&self, names: &In) -> Result<m::Aim, Refusal> {
        let (Aim::Reach { reading, .. } | Aim::Hold { reading, .. } | Aim::Keep { reading, .. }) =
            self;
        let id = names.reading(reading)?;
        let kind = names.kind(id)?;
        let reading = at(id);
        Ok(match self {
            Aim::Reach {
                way,
                from,
                to,
                within,
                rate,
                to_rate,
                ..
            } => m::Aim::Reach {
                way: (*way).into(),
                reading,
                from: maybe(from, |level| level.to_level(kind))?,
                to: to.to_level(kind)?,
                within: maybe(within, |by| by.to_change(kind))?,
                rate: match (rate, to_rate) {
                    (Some(first), second) => Some(m::RateRange {
                        first: first.to_rate()?,
                        second: maybe(second, Measured::to_rate)?,
                    }),
                    (None, None) => None,
                    (None, Some(_)) => {
                        return Err(Refusal::inconsistent(
                            "a course has the second rate of a pair without the first",
                        ));
                    }
                },
            },
            Aim::Hold {
                at: level, within, ..
            } => m::Aim::Hold {
                reading,
                at: level.to_level(kind)?,
                within: within.to_change(kind)?,
            },
            Aim::Keep { low, high, .. } => m::Aim::Keep {
                reading,
                low: maybe(low, |level| level.to_level(kind))?,
                high: maybe(high, |level| level.to_level(kind))?,
            },
        })
    }
}

impl End {
    fn from_model(end: &m::End, out: Out<'_>) -> Self {
        match end {
            m::End::Reached => End::Reached,
            m::End::Lasts(duration) => End::Lasts {
                duration: Measured::duration(duration),
            },
            m::End::After { after, mark } => End::After {
                after: Measured::duration(after),
                mark: out.moment(mark.value),
            },
            m::End::Awaited {
                trigger,
                plan,
                at_least,
                at_most,
            } => {
                let plan = Plan {
                    first: Measured::duration(&plan.first),
                    last: plan.last.as_ref().map(Measured::duration),
                };
                let at_least = at_least.as_ref().map(Measured::duration);
                let at_most = at_most.as_ref().map(Measured::duration);
                match trigger {
                    m::EndTrigger::Mark(mark) => End::AtMark {
                        mark: out.moment(mark.value),
                        plan,
                        at_least,
                        at_most,
                    },
                    m::EndTrigger::When(cond) => End::When {
                        condition: Condition::from_model(cond, out),
                        plan,
                        at_least,
                        at_most,
                    },
                }
            }
        }
    }

    fn to_model(&self, names: &In) -> Result<m::End, Refusal> {
        let planned = |plan: &Plan| -> Result<m::Planned, Refusal> {
            Ok(m::Planned {
                first: plan.first.to_duration()?,
                last: maybe(&plan.last, Measured::to_duration)?,
            })
        };
        Ok(match self {
            End::Reached => m::End::Reached,
            End::Lasts { duration } => m::End::Lasts(duration.to_duration()?),
            End::After { after, mark } => m::End::After {
                after: after.to_duration()?,
                mark: at(names.moment(mark)?),
            },
            End::AtMark {
                mark,
                plan,
                at_least,
                at_most,
            } => m::End::Awaited {
                trigger: m::EndTrigger::Mark(at(names.moment(mark)?)),
                plan: planned(plan)?,
                at_least: maybe(at_least, Measured::to_duration)?,
                at_most: maybe(at_most, Measured::to_duration)?,
            },
            End::When {
                condition,
                plan,
                at_least,
                at_most,
            } => m::End::Awaited {
                trigger: m::EndTrigger::When(condition.to_model(names)?),
                plan: planned(plan)?,
                at_least: maybe(at_least, Measured::to_duration)?,
                at_most: maybe(at_most, Measured::to_duration)?,
            },
        })
    }
}

impl Phase {
    pub(super) fn from_model(phase: &m::Phase, out: Out<'_>) -> Self {
        Phase {
            name: phase.name.name.clone(),
            title: phase.title.markdown.clone(),
            aim: Aim::from_model(&phase.aim, out),
            aim_why: Why::from_model(&phase.aim_reason, out),
            end: End::from_model(&phase.end, out),
            end_why: Why::from_model(&phase.end_reason, out),
            by: phase.by.iter().map(|means| Word(means.value)).collect(),
            never_faster: phase.never_faster.as_ref().map(Measured::rate),
            never_faster_why: Why::from_model(&phase.never_faster_reason, out),
            at_least: phase.at_least.as_ref().map(Measured::rate),
            due: phase.due.as_ref().map(|due| Due {
                within: Measured::duration(&due.within),
                of: due.of.as_ref().map(|mark| out.moment(mark.value)),
                why: Why::from_model(&due.reason, out),
            }),
            moves: phase.steps.as_ref().map(|steps| Moves {
                every: Measured::duration(&steps.every),
                steps_of: Measured::change(&steps.step, &target_kind()),
            }),
        }
    }

    pub(super) fn to_model(&self, names: &In) -> Result<m::Phase, Refusal> {
        Ok(m::Phase {
            name: named(&self.name),
            title: text(&self.title),
            aim: self.aim.to_model(names)?,
            aim_span: Span::default(),
            aim_reason: Why::to_model(&self.aim_why, names)?,
            end: self.end.to_model(names)?,
            end_span: Span::default(),
            end_reason: Why::to_model(&self.end_why, names)?,
            by: self.by.iter().map(|means| at(means.0)).collect(),
            never_faster: maybe(&self.never_faster, Measured::to_rate)?,
            never_faster_reason: Why::to_model(&self.never_faster_why, names)?,
            at_least: maybe(&self.at_least, Measured::to_rate)?,
            due: maybe(&self.due, |due| {
                Ok(m::Due {
                    within: due.within.to_duration()?,
                    of: maybe(&due.of, |mark| names.moment(mark).map(at))?,
                    reason: Why::to_model(&due.why, names)?,
                    span: Span::default(),
                })
            })?,
            steps: maybe(&self.moves, |moves| {
                Ok(m::CourseSteps {
                    every: moves.every.to_duration()?,
                    step: moves.steps_of.to_change(&target_kind())?,
                    span: Span::default(),
                })
            })?,
            span: Span::default(),
        })
    }
}
