//! Medications, exceptions and measures.

use super::condition::Condition;
use super::head::date;
use super::names::{In, Out, at, each, maybe, named, text};
use super::order::Why;
use super::parts::{phases, to_phases};
use super::quantity::Measured;
use super::refusal::Refusal;
use super::words::{Comparison, DrugClassWord, OneSide, RouteWord, Word};
use crate::model as m;
use crate::source::Span;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Medication {
    pub name: String,
    pub title: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub class: Option<DrugClassWord>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub doses: Vec<DoseLine>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub infusion: Option<Infusion>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub concentration: Option<Measured>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rounded_to: Option<Measured>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub ceiling: Option<Ceiling>,
    /// Only while one of these runs.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub only_with: Vec<String>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub avoid: Vec<Avoid>,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct DoseLine {
    pub dose: Measured,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub route: Option<RouteWord>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub over: Option<Measured>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub at_most: Option<Measured>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub not_again_within: Option<Measured>,
    /// Every one must hold for the weight of the case.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub when_weight: Vec<WeightTest>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub why: Option<Why>,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct WeightTest {
    pub is: Comparison,
    pub weight: Measured,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Infusion {
    pub first: Measured,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub top: Option<Measured>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub step: Option<Measured>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub step_every: Option<Measured>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub for_at_most: Option<Measured>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub why: Option<Why>,
}

/// The most in any such stretch of time.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Ceiling {
    pub dose: Measured,
    pub per: Measured,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub why: Option<Why>,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Avoid {
    pub text: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub why: Option<Why>,
}

/// A finding that the committee has seen and lets stand.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Accept {
    pub finding: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub on: Option<String>,
    pub because: String,
    pub by: String,
    #[schemars(regex(pattern = r"^[0-9]{4}-[0-9]{2}-[0-9]{2}$"))]
    pub until: String,
}

/// What to count when a finished case is looked at.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Measure {
    pub name: String,
    pub title: String,
    pub what: MeasureWhat,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub during: Vec<String>,
    /// What it is meant to come to in each case.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub goal: Option<MeasureGoal>,
}

/// The bound itself meets the goal. A share is in percent, a length in minutes, an area
/// in the unit of the reading times hours.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "kebab-case")]
#[schemars(deny_unknown_fields)]
pub enum MeasureGoal {
    AtMost { value: Measured },
    AtLeast { value: Measured },
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "kebab-case")]
#[schemars(deny_unknown_fields)]
pub enum MeasureWhat {
    /// Share of the time for which the condition holds.
    Share { condition: Condition },
    /// Length of that time.
    Length { condition: Condition },
    /// Degrees beyond the level, times hours.
    Area {
        reading: String,
        side: OneSide,
        level: Measured,
    },
}

impl Medication {
    pub(super) fn from_model(one: &m::Medication, out: Out<'_>) -> Self {
        Medication {
            name: one.name.name.clone(),
            title: one.title.markdown.clone(),
            class: one.class.as_ref().map(|class| Word(class.value)),
            doses: one
                .doses
                .iter()
                .map(|line| DoseLine::from_model(line, out))
                .collect(),
            infusion: one.infusion.as_ref().map(|line| Infusion {
                first: Measured::infusion_rate(&line.first),
                top: line.top.as_ref().map(Measured::infusion_rate),
                step: line.step.as_ref().map(Measured::infusion_rate),
                step_every: line.step_every.as_ref().map(Measured::duration),
                for_at_most: line.at_most.as_ref().map(Measured::duration),
                why: Why::from_model(&line.reason, out),
            }),
            concentration: one.concentration.as_ref().map(Measured::concentration),
            rounded_to: one.rounded_to.as_ref().map(Measured::rounding),
            ceiling: one.ceiling.as_ref().map(|ceiling| Ceiling {
                dose: Measured::dose(&ceiling.dose),
                per: Measured::duration(&ceiling.per),
                why: Why::from_model(&ceiling.reason, out),
            }),
            only_with: one
                .only_with
                .iter()
                .map(|other| out.medication(other.value))
                .collect(),
            avoid: one
                .avoid
                .iter()
                .map(|(text, reason)| Avoid {
                    text: text.markdown.clone(),
                    why: Why::from_model(reason, out),
                })
                .collect(),
        }
    }

    pub(super) fn to_model(&self, names: &In) -> Result<m::Medication, Refusal> {
        Ok(m::Medication {
            name: named(&self.name),
            title: text(&self.title),
            class: self.class.map(|class| at(class.0)),
            doses: each(&self.doses, |line| line.to_model(names))?,
            infusion: maybe(&self.infusion, |line| {
                Ok(m::InfusionLine {
                    first: line.first.to_infusion_rate()?,
                    top: maybe(&line.top, Measured::to_infusion_rate)?,
                    step: maybe(&line.step, Measured::to_infusion_rate)?,
                    step_every: maybe(&line.step_every, Measured::to_duration)?,
                    at_most: maybe(&line.for_at_most, Measured::to_duration)?,
                    reason: Why::to_model(&line.why, names)?,
                    span: Span::default(),
                })
            })?,
            concentration: maybe(&self.concentration, Measured::to_concentration)?,
            rounded_to: maybe(&self.rounded_to, Measured::to_rounding)?,
            ceiling: maybe(&self.ceiling, |ceiling| {
                Ok(m::Ceiling {
                    dose: ceiling.dose.to_dose()?,
                    per: ceiling.per.to_duration()?,
                    reason: Why::to_model(&ceiling.why, names)?,
                    span: Span::default(),
                })
            })?,
            only_with: each(&self.only_with, |name| names.medication(name).map(at))?,
            avoid: each(&self.avoid, |avoid| {
                Ok((text(&avoid.text), Why::to_model(&avoid.why, names)?))
            })?,
            span: Span::default(),
        })
    }
}

impl DoseLine {
    fn from_model(line: &m::DoseLine, out: Out<'_>) -> Self {
        DoseLine {
            dose: Measured::dose(&line.dose),
            route: line.route.as_ref().map(|route| Word(route.value)),
            over: line.over.as_ref().map(Measured::duration),
            at_most: line.at_most.as_ref().map(Measured::dose),
            not_again_within: line.not_again.as_ref().map(Measured::duration),
            when_weight: line
                .band
                .iter()
                .map(|band| WeightTest {
                    is: band.cmp.into(),
                    weight: Measured::weight(&band.weight),
                })
                .collect(),
            why: Why::from_model(&line.reason, out),
        }
    }

    fn to_model(&self, names: &In) -> Result<m::DoseLine, Refusal> {
        Ok(m::DoseLine {
            dose: self.dose.to_dose()?,
            route: self.route.map(|route| at(route.0)),
            over: maybe(&self.over, Measured::to_duration)?,
            at_most: maybe(&self.at_most, Measured::to_dose)?,
            not_again: maybe(&self.not_again_within, Measured::to_duration)?,
            band: each(&self.when_weight, |test| {
                Ok(m::Band {
                    cmp: test.is.into(),
                    weight: test.weight.to_weight()?,
                })
            })?,
            reason: Why::to_model(&self.why, names)?,
            span: Span::default(),
        })
    }
}

impl Accept {
    pub(super) fn from_model(accept: &m::Accept) -> Self {
        Accept {
            finding: accept.finding.name.clone(),
            on: accept.on.as_ref().map(|name| name.name.clone()),
            because: accept.because.markdown.clone(),
            by: accept.by.markdown.clone(),
            until: accept.until.value.to_string(),
        }
    }

    pub(super) fn to_model(&self) -> Result<m::Accept, Refusal> {
        Ok(m::Accept {
            finding: named(&self.finding),
            on: self.on.as_deref().map(named),
            because: text(&self.because),
            by: text(&self.by),
            until: at(date(&self.until)?),
            span: Span::default(),
        })
    }
}

impl Measure {
    pub(super) fn from_model(measure: &m::Measure, out: Out<'_>) -> Self {
        Measure {
            name: measure.name.name.clone(),
            title: measure.title.markdown.clone(),
            what: match &measure.what {
                m::MeasureWhat::Share(cond) => MeasureWhat::Share {
                    condition: Condition::from_model(cond, out),
                },
                m::MeasureWhat::Length(cond) => MeasureWhat::Length {
                    condition: Condition::from_model(cond, out),
                },
                m::MeasureWhat::Area {
                    reading,
                    side,
                    level,
                } => MeasureWhat::Area {
                    reading: out.reading(*reading),
                    side: (*side).into(),
                    level: Measured::level(level, out.kind(*reading)),
                },
            },
            during: phases(&measure.during, out),
            goal: measure
                .goal
                .as_ref()
                .map(|goal| MeasureGoal::from_model(goal, out)),
        }
    }

    pub(super) fn to_model(&self, names: &In) -> Result<m::Measure, Refusal> {
        let what = self.what.to_model(names)?;
        Ok(m::Measure {
            name: named(&self.name),
            title: text(&self.title),
            during: to_phases(&self.during, names)?,
            goal: maybe(&self.goal, |goal| goal.to_model(&what, names))?,
            what,
            span: Span::default(),
        })
    }
}

impl MeasureGoal {
    fn from_model(goal: &m::MeasureGoal, out: Out<'_>) -> Self {
        let value = match &goal.value {
            m::GoalValue::Share(share) => Measured::share(share),
            m::GoalValue::Length(length) => Measured::duration(length),
            m::GoalValue::Area(reading, area) => Measured::area(area, out.kind(*reading)),
        };
        match goal.bound {
            m::Bound::AtMost => MeasureGoal::AtMost { value },
            m::Bound::AtLeast => MeasureGoal::AtLeast { value },
        }
    }

    fn to_model(&self, what: &m::MeasureWhat, names: &In) -> Result<m::MeasureGoal, Refusal> {
        let (bound, value) = match self {
            MeasureGoal::AtMost { value } => (m::Bound::AtMost, value),
            MeasureGoal::AtLeast { value } => (m::Bound::AtLeast, value),
        };
        Ok(m::MeasureGoal {
            bound,
            value: match what {
                m::MeasureWhat::Share(_) => m::GoalValue::Share(value.to_share()?),
                m::MeasureWhat::Length(_) => m::GoalValue::Length(value.to_duration()?),
                m::MeasureWhat::Area { reading, .. } => {
                    m::GoalValue::Area(*reading, value.to_area(names.kind(*reading)?)?)
                }
            },
            span: Span::default(),
        })
    }
}

impl MeasureWhat {
    fn to_model(&self, names: &In) -> Result<m::MeasureWhat, Refusal> {
        Ok(match self {
            MeasureWhat::Share { condition } => m::MeasureWhat::Share(condition.to_model(names)?),
            MeasureWhat::Length { condition } => m::MeasureWhat::Length(condition.to_model(names)?),
            MeasureWhat::Area {
                reading,
                side,
                level,
            } => {
                let reading = names.reading(reading)?;
                m::MeasureWhat::Area {
                    reading,
                    side: (*side).into(),
                    level: level.to_level(names.kind(reading)?)?,
                }
            }
        })
    }
}
