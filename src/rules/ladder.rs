//! Ladders and checklists.

use super::names::{In, Out, at, each, maybe, named, text};
use super::order::{Line, Why};
use super::parts::{to_topics, topics};
use super::quantity::Measured;
use super::refusal::Refusal;
use super::words::{Comparison, OccasionWord, TopicWord, Word};
use crate::model as m;
use crate::model::{LadderForm, ReadingId};
use crate::source::Span;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What to do about one reading. It has rungs, chosen by the value, or steps, done
/// one after the other until the goal is met.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Ladder {
    pub name: String,
    pub title: String,
    pub reading: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rungs: Option<Vec<Rung>>,
    /// Of a ladder of steps.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub goal: Option<Goal>,
    /// In the order in which they are done.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub steps: Option<Vec<Step>>,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Rung {
    pub band: Band,
    pub title: String,
    /// In the order in which they are given.
    pub orders: Vec<Line>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub recheck: Option<Measured>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub why: Option<Why>,
}

/// The values of a rung.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "kebab-case")]
#[schemars(deny_unknown_fields)]
pub enum Band {
    /// Both ends taken in.
    Values {
        low: Measured,
        high: Measured,
    },
    Compare {
        is: Comparison,
        level: Measured,
    },
}

/// Where a ladder of steps comes to rest.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "kebab-case")]
#[schemars(deny_unknown_fields)]
pub enum Goal {
    Compare { is: Comparison, level: Measured },
    Is { word: String },
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Step {
    pub title: String,
    /// In the order in which they are given.
    pub orders: Vec<Line>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub recheck: Option<Measured>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub why: Option<Why>,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Checklist {
    pub name: String,
    pub title: String,
    pub at: OccasionWord,
    /// In the order in which they are worked through.
    pub steps: Vec<CheckStep>,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct CheckStep {
    pub text: String,
    /// A field to write in.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub record: Option<Field>,
    pub two_people: bool,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub covers: Vec<TopicWord>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub why: Option<Why>,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Field {
    pub name: String,
    /// Empty for none.
    pub unit: String,
}

impl Ladder {
    pub(super) fn from_model(ladder: &m::Ladder, out: Out<'_>) -> Self {
        let reading = ladder.reading.value;
        let kind = out.kind(reading);
        let (rungs, goal, steps) = match &ladder.form {
            LadderForm::Rungs(rungs) => {
                let rungs = rungs
                    .iter()
                    .map(|rung| Rung {
                        band: match &rung.band {
                            m::RungBand::Values { low, high } => Band::Values {
                                low: Measured::level(low, kind),
                                high: Measured::level(high, kind),
                            },
                            m::RungBand::Compare { cmp, level } => Band::Compare {
                                is: (*cmp).into(),
                                level: Measured::level(level, kind),
                            },
                        },
                        title: rung.title.markdown.clone(),
                        orders: lines(&rung.actions, out),
                        recheck: rung.recheck.as_ref().map(Measured::duration),
                        why: Why::from_model(&rung.reason, out),
                    })
                    .collect();
                (Some(rungs), None, None)
            }
            LadderForm::Steps { goal, steps } => {
                let goal = match goal {
                    m::Goal::Compare { cmp, level } => Goal::Compare {
                        is: (*cmp).into(),
                        level: Measured::level(level, kind),
                    },
                    m::Goal::Is(word) => Goal::Is {
                        word: out.word(reading, word.value),
                    },
                };
                let steps = steps
                    .iter()
                    .map(|step| Step {
                        title: step.title.markdown.clone(),
                        orders: lines(&step.actions, out),
                        recheck: step.recheck.as_ref().map(Measured::duration),
                        why: Why::from_model(&step.reason, out),
                    })
                    .collect();
                (None, Some(goal), Some(steps))
            }
        };
        Ladder {
            name: ladder.name.name.clone(),
            title: ladder.title.markdown.clone(),
            reading: out.reading(reading),
            rungs,
            goal,
            steps,
        }
    }

    pub(super) fn to_model(&self, names: &In) -> Result<m::Ladder, Refusal> {
        let reading = names.reading(&self.reading)?;
        let form = match (&self.rungs, &self.goal, &self.steps) {
            (Some(rungs), None, None) => {
                LadderForm::Rungs(each(rungs, |rung| rung.to_model(reading, names))?)
            }
            (None, Some(goal), Some(steps)) => LadderForm::Steps {
                goal: match goal {
                    Goal::Compare { is, level } => m::Goal::Compare {
                        cmp: (*is).into(),
                        level: level.to_level(names.kind(reading)?)?,
                    },
                    Goal::Is { word } => m::Goal::Is(at(names.word(reading, word)?)),
                },
                steps: each(steps, |step| {
                    Ok(m::LadderStep {
                        title: text(&step.title),
                        actions: each(&step.orders, |line| line.to_model(names))?,
                        recheck: maybe(&step.recheck, Measured::to_duration)?,
                        reason: Why::to_model(&step.why, names)?,
                        span: Span::default(),
                    })
                })?,
            },
            _ => {
                return Err(Refusal::inconsistent(format!(
                    "the ladder `{}` has neither rungs alone nor steps with a goal",
                    self.name
                )));
            }
        };
        Ok(m::Ladder {
            name: named(&self.name),
            title: text(&self.title),
            reading: at(reading),
            form,
            span: Span::default(),
        })
    }
}

impl Rung {
    fn to_model(&self, reading: ReadingId, names: &In) -> Result<m::Rung, Refusal> {
        let kind = names.kind(reading)?;
        Ok(m::Rung {
            band: match &self.band {
                Band::Values { low, high } => m::RungBand::Values {
                    low: low.to_level(kind)?,
                    high: high.to_level(kind)?,
                },
                Band::Compare { is, level } => m::RungBand::Compare {
                    cmp: (*is).into(),
                    level: level.to_level(kind)?,
                },
            },
            title: text(&self.title),
            actions: each(&self.orders, |line| line.to_model(names))?,
            recheck: maybe(&self.recheck, Measured::to_duration)?,
            reason: Why::to_model(&self.why, names)?,
            span: Span::default(),
        })
    }
}

fn lines(actions: &[m::Action], out: Out<'_>) -> Vec<Line> {
    actions
        .iter()
        .map(|action| Line::from_model(action, out))
        .collect()
}

impl Checklist {
    pub(super) fn from_model(list: &m::Checklist, out: Out<'_>) -> Self {
        Checklist {
            name: list.name.name.clone(),
            title: list.title.markdown.clone(),
            at: Word(list.at.value),
            steps: list
                .steps
                .iter()
                .map(|step| CheckStep {
                    text: step.text.markdown.clone(),
                    record: step.record.as_ref().map(|(name, unit)| Field {
                        name: name.name.clone(),
                        unit: unit.clone(),
                    }),
                    two_people: step.two_people,
                    covers: topics(&step.covers),
                    why: Why::from_model(&step.reason, out),
                })
                .collect(),
        }
    }

    pub(super) fn to_model(&self, names: &In) -> Result<m::Checklist, Refusal> {
        Ok(m::Checklist {
            name: named(&self.name),
            title: text(&self.title),
            at: at(self.at.0),
            steps: each(&self.steps, |step| {
                Ok(m::CheckStep {
                    text: text(&step.text),
                    record: step
                        .record
                        .as_ref()
                        .map(|field| (named(&field.name), field.unit.clone())),
                    two_people: step.two_people,
                    covers: to_topics(&step.covers),
                    reason: Why::to_model(&step.why, names)?,
                    span: Span::default(),
                })
            })?,
            span: Span::default(),
        })
    }
}
