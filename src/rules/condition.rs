//! Conditions as a tree: `all` and `any` at the branches, tests at the leaves.

use super::names::{In, Out, each, maybe};
use super::quantity::Measured;
use super::refusal::Refusal;
use super::words::{Comparison, MoreOrLess, OneSide, Trend};
use crate::model as m;
use crate::model::{Cond, TestKind};
use crate::quantity::Duration;
use crate::source::Span;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What a rule, an end or an `until` waits for.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "kebab-case")]
#[schemars(deny_unknown_fields)]
pub enum Condition {
    /// Every one of these holds.
    All {
        of: Vec<Condition>,
    },
    /// At least one of these holds.
    Any {
        of: Vec<Condition>,
    },
    /// The reading is below, above, … a level.
    Compare {
        reading: String,
        is: Comparison,
        level: Measured,
        #[serde(rename = "for", skip_serializing_if = "Option::is_none")]
        sustained: Option<Measured>,
    },
    /// The reading is below `low` or above `high`.
    Outside {
        reading: String,
        low: Measured,
        high: Measured,
        #[serde(rename = "for", skip_serializing_if = "Option::is_none")]
        sustained: Option<Measured>,
    },
    /// The reading, a choice, has this word.
    Is {
        reading: String,
        word: String,
        #[serde(rename = "for", skip_serializing_if = "Option::is_none")]
        sustained: Option<Measured>,
    },
    /// The reading is above (or below) target by more than this.
    OffTarget {
        reading: String,
        side: OneSide,
        by_more_than: Measured,
        #[serde(rename = "for", skip_serializing_if = "Option::is_none")]
        sustained: Option<Measured>,
    },
    /// The reading is within this of target.
    NearTarget {
        reading: String,
        within: Measured,
        #[serde(rename = "for", skip_serializing_if = "Option::is_none")]
        sustained: Option<Measured>,
    },
    /// Two readings differ by more (or less) than this.
    Differ {
        first: String,
        second: String,
        by: MoreOrLess,
        than: Measured,
        #[serde(rename = "for", skip_serializing_if = "Option::is_none")]
        sustained: Option<Measured>,
    },
    /// The reading rises (or falls) by more (or less) than this in that time.
    Trend {
        reading: String,
        way: Trend,
        by: MoreOrLess,
        than: Measured,
        over: Measured,
    },
    NotRecorded {
        reading: String,
        over: Measured,
    },
    LastsLonger {
        phase: String,
        than: Measured,
    },
    Overdue {
        phase: String,
    },
    PausedLonger {
        than: Measured,
    },
}

impl Condition {
    pub(super) fn from_model(cond: &Cond, out: Out<'_>) -> Self {
        match cond {
            Cond::All(parts) => Condition::All {
                of: parts
                    .iter()
                    .map(|part| Self::from_model(part, out))
                    .collect(),
            },
            Cond::Any(parts) => Condition::Any {
                of: parts
                    .iter()
                    .map(|part| Self::from_model(part, out))
                    .collect(),
            },
            Cond::Test(test) => Self::from_test(test, out),
        }
    }

    fn from_test(test: &m::Test, out: Out<'_>) -> Self {
        let sustained = test.sustained.as_ref().map(Measured::duration);
        match &test.kind {
            TestKind::Compare {
                reading,
                cmp,
                level,
            } => Condition::Compare {
                reading: out.reading(*reading),
                is: (*cmp).into(),
                level: Measured::level(level, out.kind(*reading)),
                sustained,
            },
            TestKind::Outside { reading, low, high } => Condition::Outside {
                reading: out.reading(*reading),
                low: Measured::level(low, out.kind(*reading)),
                high: Measured::level(high, out.kind(*reading)),
                sustained,
            },
            TestKind::Is { reading, word } => Condition::Is {
                reading: out.reading(*reading),
                word: out.word(*reading, *word),
                sustained,
            },
            TestKind::OffTarget { reading, side, by } => Condition::OffTarget {
                reading: out.reading(*reading),
                side: (*side).into(),
                by_more_than: Measured::change(by, out.kind(*reading)),
                sustained,
            },
            TestKind::NearTarget { reading, within } => Condition::NearTarget {
                reading: out.reading(*reading),
                within: Measured::change(within, out.kind(*reading)),
                sustained,
            },
            TestKind::Differ {
                first,
                second,
                cmp,
                by,
            } => Condition::Differ {
                first: out.reading(*first),
                second: out.reading(*second),
                by: (*cmp).into(),
                than: Measured::change(by, out.kind(*first)),
                sustained,
            },
            TestKind::Trend {
                reading,
                way,
                cmp,
                by,
                over,
            } => Condition::Trend {
                reading: out.reading(*reading),
                way: (*way).into(),
                by: (*cmp).into(),
                than: Measured::change(by, out.kind(*reading)),
                over: Measured::duration(over),
            },
            TestKind::NotRecorded { reading, over } => Condition::NotRecorded {
                reading: out.reading(*reading),
                over: Measured::duration(over),
            },
            TestKind::LastsLonger { phase, than } => Condition::LastsLonger {
                phase: out.phase(*phase),
                than: Measured::duration(than),
            },
            TestKind::Overdue { phase } => Condition::Overdue {
                phase: out.phase(*phase),
            },
            TestKind::PausedLonger { than } => Condition::PausedLonger {
                than: Measured::duration(than),
            },
        }
    }

    pub(super) fn to_model(&self, names: &In) -> Result<Cond, Refusal> {
        let (kind, sustained) = match self {
            Condition::All { of } => {
                return Ok(Cond::All(each(of, |part| part.to_model(names))?));
            }
            Condition::Any { of } => {
                return Ok(Cond::Any(each(of, |part| part.to_model(names))?));
            }
            Condition::Compare {
                reading,
                is,
                level,
                sustained,
            } => {
                let reading = names.reading(reading)?;
                let kind = TestKind::Compare {
                    reading,
                    cmp: (*is).into(),
                    level: level.to_level(names.kind(reading)?)?,
                };
                (kind, sustained)
            }
            Condition::Outside {
                reading,
                low,
                high,
                sustained,
            } => {
                let reading = names.reading(reading)?;
                let kind = TestKind::Outside {
                    reading,
                    low: low.to_level(names.kind(reading)?)?,
                    high: high.to_level(names.kind(reading)?)?,
                };
                (kind, sustained)
            }
            Condition::Is {
                reading,
                word,
                sustained,
            } => {
                let reading = names.reading(reading)?;
                let word = names.word(reading, word)?;
                (TestKind::Is { reading, word }, sustained)
            }
            Condition::OffTarget {
                reading,
                side,
                by_more_than,
                sustained,
            } => {
                let reading = names.reading(reading)?;
                let kind = TestKind::OffTarget {
                    reading,
                    side: (*side).into(),
                    by: by_more_than.to_change(names.kind(reading)?)?,
                };
                (kind, sustained)
            }
            Condition::NearTarget {
                reading,
                within,
                sustained,
            } => {
                let reading = names.reading(reading)?;
                let within = within.to_change(names.kind(reading)?)?;
                (TestKind::NearTarget { reading, within }, sustained)
            }
            Condition::Differ {
                first,
                second,
                by,
                than,
                sustained,
            } => {
                let first = names.reading(first)?;
                let kind = TestKind::Differ {
                    first,
                    second: names.reading(second)?,
                    cmp: (*by).into(),
                    by: than.to_change(names.kind(first)?)?,
                };
                (kind, sustained)
            }
            Condition::Trend {
                reading,
                way,
                by,
                than,
                over,
            } => {
                let reading = names.reading(reading)?;
                let kind = TestKind::Trend {
                    reading,
                    way: (*way).into(),
                    cmp: (*by).into(),
                    by: than.to_change(names.kind(reading)?)?,
                    over: over.to_duration()?,
                };
                (kind, &None)
            }
            Condition::NotRecorded { reading, over } => {
                let reading = names.reading(reading)?;
                let over = over.to_duration()?;
                (TestKind::NotRecorded { reading, over }, &None)
            }
            Condition::LastsLonger { phase, than } => {
                let phase = names.phase(phase)?;
                let than = than.to_duration()?;
                (TestKind::LastsLonger { phase, than }, &None)
            }
            Condition::Overdue { phase } => {
                let phase = names.phase(phase)?;
                (TestKind::Overdue { phase }, &None)
            }
            Condition::PausedLonger { than } => {
                let than = than.to_duration()?;
                (TestKind::PausedLonger { than }, &None)
            }
        };
        Ok(Cond::Test(m::Test {
            kind,
            sustained: maybe::<Measured, Duration>(sustained, Measured::to_duration)?,
            span: Span::default(),
        }))
    }
}
