//! Orders, and what ends them.

use super::condition::Condition;
use super::names::{In, Out, at, cite_names, each, maybe, text};
use super::quantity::Measured;
use super::refusal::Refusal;
use super::words::{Asking, TopicWord, Word};
use crate::model as m;
use crate::model::ReadingKind;
use crate::source::Span;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Why a statement says what it says.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Why {
    /// Names of citations.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub sources: Vec<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub because: Option<String>,
}

impl Why {
    pub(super) fn from_model(reason: &m::Reason, out: Out<'_>) -> Option<Self> {
        let why = Why {
            sources: cite_names(out, &reason.sources),
            because: reason.because.as_ref().map(|text| text.markdown.clone()),
        };
        (why != Why::default()).then_some(why)
    }

    pub(super) fn to_model(why: &Option<Why>, names: &In) -> Result<m::Reason, Refusal> {
        let Some(why) = why else {
            return Ok(m::Reason::default());
        };
        Ok(m::Reason {
            sources: each(&why.sources, |name| names.cite(name))?,
            because: why.because.as_deref().map(text),
        })
    }
}

/// One line of orders.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Line {
    pub order: Order,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub why: Option<Why>,
}

/// What the nurse is told to do.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "kebab-case")]
#[schemars(deny_unknown_fields)]
pub enum Order {
    /// Without `after`, now.
    Ask {
        way: Asking,
        readings: Vec<String>,
        #[serde(skip_serializing_if = "Option::is_none")]
        after: Option<Measured>,
    },
    FollowLadder {
        ladder: String,
    },
    FollowChecklist {
        checklist: String,
    },
    /// Without `within`, now.
    Call {
        role: String,
        #[serde(skip_serializing_if = "Option::is_none")]
        within: Option<Measured>,
    },
    Do {
        text: String,
        #[serde(default, skip_serializing_if = "Vec::is_empty")]
        covers: Vec<TopicWord>,
    },
    Continue,
    Begin {
        phase: String,
    },
    SetTarget {
        target: Measured,
    },
    RaiseTarget {
        by: Measured,
        at_most: Measured,
    },
    LowerTarget {
        by: Measured,
        at_least: Measured,
    },
    KeepTarget {
        until: Until,
    },
    SetRate {
        rate: Measured,
    },
    /// Pause temperature control.
    Pause {
        until: Until,
    },
    /// Stop temperature control.
    Stop,
    Give {
        medication: String,
        #[serde(skip_serializing_if = "Option::is_none")]
        otherwise: Option<Box<Line>>,
    },
    /// One step up of an infusion.
    RaiseRate {
        medication: String,
        #[serde(skip_serializing_if = "Option::is_none")]
        otherwise: Option<Box<Line>>,
    },
    /// One step down of an infusion.
    LowerRate {
        medication: String,
        #[serde(skip_serializing_if = "Option::is_none")]
        otherwise: Option<Box<Line>>,
    },
    Withhold {
        medication: String,
        until: Until,
    },
    StopMedication {
        medication: String,
    },
}

/// What ends an order.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "kebab-case")]
#[schemars(deny_unknown_fields)]
pub enum Until {
    When {
        condition: Condition,
    },
    /// `start`, `PHASE.start`, `PHASE.end` or the name of a mark.
    Mark {
        mark: String,
    },
    For {
        duration: Measured,
    },
}

impl Until {
    pub(super) fn from_model(until: &m::Until, out: Out<'_>) -> Self {
        match until {
            m::Until::When(cond) => Until::When {
                condition: Condition::from_model(cond, out),
            },
            m::Until::Mark(mark) => Until::Mark {
                mark: out.moment(mark.value),
            },
            m::Until::For(duration) => Until::For {
                duration: Measured::duration(duration),
            },
        }
    }

    pub(super) fn to_model(&self, names: &In) -> Result<m::Until, Refusal> {
        Ok(match self {
            Until::When { condition } => m::Until::When(condition.to_model(names)?),
            Until::Mark { mark } => m::Until::Mark(at(names.moment(mark)?)),
            Until::For { duration } => m::Until::For(duration.to_duration()?),
        })
    }
}

impl Line {
    pub(super) fn from_model(action: &m::Action, out: Out<'_>) -> Self {
        Line {
            order: Order::from_model(&action.order, out),
            why: Why::from_model(&action.reason, out),
        }
    }

    pub(super) fn to_model(&self, names: &In) -> Result<m::Action, Refusal> {
        Ok(m::Action {
            order: self.order.to_model(names)?,
            reason: Why::to_model(&self.why, names)?,
            span: Span::default(),
        })
    }
}

/// Targets are temperatures of the body; which site says nothing about the unit.
pub(super) fn target_kind() -> ReadingKind {
    ReadingKind::Body(at(m::words::Site::Esophagus))
}

impl Order {
    /// An order of that protocol, as its rule file says it.
    pub fn of(protocol: &m::Protocol, order: &m::Order) -> Self {
        Order::from_model(order, Out(protocol))
    }

    pub(super) fn from_model(order: &m::Order, out: Out<'_>) -> Self {
        let target = target_kind();
        let boxed = |otherwise: &Option<Box<m::Action>>| {
            otherwise
                .as_deref()
                .map(|action| Box::new(Line::from_model(action, out)))
        };
        match order {
            m::Order::Ask {
                way,
                readings,
                after,
            } => Order::Ask {
                way: (*way).into(),
                readings: readings.iter().map(|id| out.reading(id.value)).collect(),
                after: after.as_ref().map(Measured::duration),
            },
            m::Order::FollowLadder(ladder) => Order::FollowLadder {
                ladder: out.ladder(ladder.value),
            },
            m::Order::FollowChecklist(checklist) => Order::FollowChecklist {
                checklist: out.checklist(checklist.value),
            },
            m::Order::Call { role, within } => Order::Call {
                role: out.role(role.value),
                within: within.as_ref().map(Measured::duration),
            },
            m::Order::Do { text, covers } => Order::Do {
                text: text.markdown.clone(),
                covers: covers.iter().map(|topic| Word(topic.value)).collect(),
            },
            m::Order::Continue => Order::Continue,
            m::Order::Begin(phase) => Order::Begin {
                phase: out.phase(phase.value),
            },
            m::Order::SetTarget(level) => Order::SetTarget {
                target: Measured::level(level, &target),
            },
            m::Order::RaiseTarget { by, at_most } => Order::RaiseTarget {
                by: Measured::change(by, &target),
                at_most: Measured::level(at_most, &target),
            },
            m::Order::LowerTarget { by, at_least } => Order::LowerTarget {
                by: Measured::change(by, &target),
                at_least: Measured::level(at_least, &target),
            },
            m::Order::KeepTarget(until) => Order::KeepTarget {
                until: Until::from_model(until, out),
            },
            m::Order::SetRate(rate) => Order::SetRate {
                rate: Measured::rate(rate),
            },
            m::Order::Pause(until) => Order::Pause {
                until: Until::from_model(until, out),
            },
            m::Order::Stop => Order::Stop,
            m::Order::Give {
                medication,
                otherwise,
            } => Order::Give {
                medication: out.medication(medication.value),
                otherwise: boxed(otherwise),
            },
            m::Order::RaiseRate {
                medication,
                otherwise,
            } => Order::RaiseRate {
                medication: out.medication(medication.value),
                otherwise: boxed(otherwise),
            },
            m::Order::LowerRate {
                medication,
                otherwise,
            } => Order::LowerRate {
                medication: out.medication(medication.value),
                otherwise: boxed(otherwise),
            },
            m::Order::Withhold { medication, until } => Order::Withhold {
                medication: out.medication(medication.value),
                until: Until::from_model(until, out),
            },
            m::Order::StopMedication(medication) => Order::StopMedication {
                medication: out.medication(medication.value),
            },
        }
    }

    pub(super) fn to_model(&self, names: &In) -> Result<m::Order, Refusal> {
        let target = target_kind();
        let boxed = |otherwise: &Option<Box<Line>>| -> Result<Option<Box<m::Action>>, Refusal> {
            maybe(otherwise, |line| line.to_model(names).map(Box::new))
        };
        let medication = |name: &str| names.medication(name).map(at);
        Ok(match self {
            Order::Ask {
                way,
                readings,
                after,
            } => m::Order::Ask {
                way: (*way).into(),
                readings: each(readings, |name| names.reading(name).map(at))?,
                after: maybe(after, Measured::to_duration)?,
            },
            Order::FollowLadder { ladder } => m::Order::FollowLadder(at(names.ladder(ladder)?)),
            Order::FollowChecklist { checklist } => {
                m::Order::FollowChecklist(at(names.checklist(checklist)?))
            }
            Order::Call { role, within } => m::Order::Call {
                role: at(names.role(role)?),
                within: maybe(within, Measured::to_duration)?,
            },
            Order::Do {
                text: words,
                covers,
            } => m::Order::Do {
                text: text(words),
                covers: covers.iter().map(|topic| at(topic.0)).collect(),
            },
            Order::Continue => m::Order::Continue,
            Order::Begin { phase } => m::Order::Begin(at(names.phase(phase)?)),
            Order::SetTarget { target: level } => m::Order::SetTarget(level.to_level(&target)?),
            Order::RaiseTarget { by, at_most } => m::Order::RaiseTarget {
                by: by.to_change(&target)?,
                at_most: at_most.to_level(&target)?,
            },
            Order::LowerTarget { by, at_least } => m::Order::LowerTarget {
                by: by.to_change(&target)?,
                at_least: at_least.to_level(&target)?,
            },
            Order::KeepTarget { until } => m::Order::KeepTarget(until.to_model(names)?),
            Order::SetRate { rate } => m::Order::SetRate(rate.to_rate()?),
            Order::Pause { until } => m::Order::Pause(until.to_model(names)?),
            Order::Stop => m::Order::Stop,
            Order::Give {
                medication: name,
                otherwise,
            } => m::Order::Give {
                medication: medication(name)?,
                otherwise: boxed(otherwise)?,
            },
            Order::RaiseRate {
                medication: name,
                otherwise,
            } => m::Order::RaiseRate {
                medication: medication(name)?,
                otherwise: boxed(otherwise)?,
            },
            Order::LowerRate {
                medication: name,
                otherwise,
            } => m::Order::LowerRate {
                medication: medication(name)?,
                otherwise: boxed(otherwise)?,
            },
            Order::Withhold {
                medication: name,
                until,
            } => m::Order::Withhold {
                medication: medication(name)?,
                until: until.to_model(names)?,
            },
            Order::StopMedication { medication: name } => {
                m::Order::StopMedication(medication(name)?)
            }
        })
    }
}
