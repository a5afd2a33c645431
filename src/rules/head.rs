//! What stands once in every protocol, and the libraries that it uses.

use super::names::{In, Out, at, each, maybe, text};
use super::order::Why;
use super::quantity::Measured;
use super::refusal::Refusal;
use super::words::{EventWord, GuidelineWord, MeansWord, PopulationWord, PurposeWord, Word};
use crate::model as m;
use crate::source::Span;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Who and what the protocol is for.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Head {
    pub title: String,
    pub unit: String,
    #[schemars(regex(pattern = r"^[0-9]+\.[0-9]+\.[0-9]+$"))]
    pub version: String,
    /// The last day on which it may be used without being looked at again.
    #[schemars(regex(pattern = r"^[0-9]{4}-[0-9]{2}-[0-9]{2}$"))]
    pub review: String,
    pub purpose: PurposeWord,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub after: Option<EventWord>,
    pub patients: Patients,
    pub method: Vec<MeansWord>,
    /// The reading that steers the control.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub feedback: Option<String>,
    /// A name of the time-zone database.
    pub timezone: String,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub guidelines: Vec<GuidelineWord>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub start_within: Option<StartWithin>,
    /// Times of day, `07:30`.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub shifts: Vec<String>,
    /// Entries in one hour that a nurse can make.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub workload: Option<u32>,
    /// Temperatures are printed in °C and °F.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub both_scales: bool,
}

/// Both ends are in the range.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Range {
    pub low: Measured,
    pub high: Measured,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Patients {
    pub group: PopulationWord,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub weight: Option<Range>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub birth_weight: Option<Range>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub age: Option<Range>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub gestation: Option<Range>,
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub on_arrival: Vec<OnArrival>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub why: Option<Why>,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct OnArrival {
    pub reading: String,
    pub low: Measured,
    pub high: Measured,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct StartWithin {
    pub within: Measured,
    pub of: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub why: Option<Why>,
}

/// Who approved which meaning, and when.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Approval {
    pub by: String,
    #[schemars(regex(pattern = r"^[0-9]{4}-[0-9]{2}-[0-9]{2}$"))]
    pub on: String,
    pub fingerprint: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub why: Option<Why>,
}

/// A library that is used; what it declares stands among the rest.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[schemars(deny_unknown_fields)]
pub struct Library {
    pub name: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub title: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub version: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub review: Option<String>,
}

fn range<Q>(
    range: &Option<m::Range<crate::quantity::Quantity<Q>>>,
    make: impl Fn(&crate::quantity::Quantity<Q>) -> Measured,
) -> Option<Range> {
    range.as_ref().map(|range| Range {
        low: make(&range.low),
        high: make(&range.high),
    })
}

fn to_range<Q>(
    range: &Option<Range>,
    make: impl Fn(&Measured) -> Result<Q, Refusal>,
) -> Result<Option<m::Range<Q>>, Refusal> {
    maybe(range, |range| {
        Ok(m::Range {
            low: make(&range.low)?,
            high: make(&range.high)?,
            span: Span::default(),
        })
    })
}

pub(super) fn version(text: &str) -> Result<m::Version, Refusal> {
    let parts: Option<Vec<u32>> = text.split('.').map(|part| part.parse().ok()).collect();
    match parts.as_deref() {
        Some([major, minor, patch]) => Ok(m::Version {
            major: *major,
            minor: *minor,
            patch: *patch,
        })
        .and_then(|version: m::Version| {
            (version.to_string() == text)
                .then_some(version)
                .ok_or_else(|| Refusal::inconsistent(format!("`{text}` is no version")))
        }),
        _ => Err(Refusal::inconsistent(format!("`{text}` is no version"))),
    }
}

pub(super) fn date(text: &str) -> Result<jiff::civil::Date, Refusal> {
    text.parse::<jiff::civil::Date>()
        .ok()
        .filter(|date| date.to_string() == text)
        .ok_or_else(|| Refusal::inconsistent(format!("`{text}` is no date")))
}

fn clock_text(time: jiff::civil::Time) -> String {
    format!("{:02}:{:02}", time.hour(), time.minute())
}

fn clock(text: &str) -> Result<jiff::civil::Time, Refusal> {
    let (hour, minute) = text.split_once(':').unwrap_or((text, ""));
    hour.parse()
        .ok()
        .zip(minute.parse().ok())
        .and_then(|(hour, minute)| jiff::civil::Time::new(hour, minute, 0, 0).ok())
        .filter(|time| clock_text(*time) == text)
        .ok_or_else(|| Refusal::inconsistent(format!("`{text}` is no time of day")))
}

impl Head {
    pub(super) fn from_model(head: &m::Head, out: Out<'_>) -> Self {
        Head {
            title: head.title.markdown.clone(),
            unit: head.unit.markdown.clone(),
            version: head.version.value.to_string(),
            review: head.review.value.to_string(),
            purpose: Word(head.purpose.value),
            after: head.after.as_ref().map(|event| Word(event.value)),
            patients: Patients::from_model(&head.patients, out),
            method: head
                .method
                .means
                .iter()
                .map(|means| Word(means.value))
                .collect(),
            feedback: head
                .method
                .feedback
                .as_ref()
                .map(|reading| out.reading(reading.value)),
            timezone: head.timezone.value.clone(),
            guidelines: head.guidelines.iter().map(|one| Word(one.value)).collect(),
            start_within: head.start_within.as_ref().map(|start| StartWithin {
                within: Measured::duration(&start.within),
                of: out.mark(start.of),
                why: Why::from_model(&start.reason, out),
            }),
            shifts: head
                .shifts
                .iter()
                .map(|time| clock_text(time.value))
                .collect(),
            workload: head.workload.as_ref().map(|entries| entries.value),
            both_scales: head.both_scales,
        }
    }

    pub(super) fn to_model(&self, approvals: &[Approval], names: &In) -> Result<m::Head, Refusal> {
        Ok(m::Head {
            title: text(&self.title),
            unit: text(&self.unit),
            version: at(version(&self.version)?),
            review: at(date(&self.review)?),
            purpose: at(self.purpose.0),
            after: self.after.map(|event| at(event.0)),
            patients: self.patients.to_model(names)?,
            method: m::Method {
                means: self.method.iter().map(|means| at(means.0)).collect(),
                feedback: maybe(&self.feedback, |name| names.reading(name).map(at))?,
                span: Span::default(),
            },
            timezone: at(self.timezone.clone()),
            guidelines: self.guidelines.iter().map(|one| at(one.0)).collect(),
            start_within: maybe(&self.start_within, |start| {
                Ok(m::StartWithin {
                    within: start.within.to_duration()?,
                    of: names.mark(&start.of)?,
                    reason: Why::to_model(&start.why, names)?,
                    span: Span::default(),
                })
            })?,
            shifts: each(&self.shifts, |time| clock(time).map(at))?,
            workload: self.workload.map(at),
            both_scales: self.both_scales,
            approvals: each(approvals, |approval| {
                Ok(m::Approval {
                    by: text(&approval.by),
                    on: at(date(&approval.on)?),
                    fingerprint: text(&approval.fingerprint),
                    reason: Why::to_model(&approval.why, names)?,
                    span: Span::default(),
                })
            })?,
        })
    }
}

impl Approval {
    pub(super) fn from_model(approval: &m::Approval, out: Out<'_>) -> Self {
        Approval {
            by: approval.by.markdown.clone(),
            on: approval.on.value.to_string(),
            fingerprint: approval.fingerprint.markdown.clone(),
            why: Why::from_model(&approval.reason, out),
        }
    }
}

impl Patients {
    fn from_model(patients: &m::Patients, out: Out<'_>) -> Self {
        Patients {
            group: Word(patients.group.value),
            weight: range(&patients.weight, Measured::weight),
            birth_weight: range(&patients.birth_weight, Measured::weight),
            age: range(&patients.age, Measured::age),
            gestation: range(&patients.gestation, Measured::age),
            on_arrival: patients
                .on_arrival
                .iter()
                .map(|(reading, range)| OnArrival {
                    reading: out.reading(*reading),
                    low: Measured::level(&range.low, out.kind(*reading)),
                    high: Measured::level(&range.high, out.kind(*reading)),
                })
                .collect(),
            why: Why::from_model(&patients.reason, out),
        }
    }

    fn to_model(&self, names: &In) -> Result<m::Patients, Refusal> {
        Ok(m::Patients {
            group: at(self.group.0),
            weight: to_range(&self.weight, Measured::to_weight)?,
            birth_weight: to_range(&self.birth_weight, Measured::to_weight)?,
            age: to_range(&self.age, Measured::to_age)?,
            gestation: to_range(&self.gestation, Measured::to_age)?,
            on_arrival: each(&self.on_arrival, |arrival| {
                let reading = names.reading(&arrival.reading)?;
                let kind = names.kind(reading)?;
                let range = m::Range {
                    low: arrival.low.to_level(kind)?,
                    high: arrival.high.to_level(kind)?,
                    span: Span::default(),
                };
                Ok((reading, range))
            })?,
            reason: Why::to_model(&self.why, names)?,
            span: Span::default(),
        })
    }
}

impl Library {
    pub(super) fn from_model(used: &m::Used) -> Self {
        Library {
            name: used.name.clone(),
            title: used.title.as_ref().map(|title| title.markdown.clone()),
            version: used.version.as_ref().map(|one| one.value.to_string()),
            review: used.review.as_ref().map(|date| date.value.to_string()),
        }
    }

    pub(super) fn to_model(&self, path: &str) -> Result<m::Used, Refusal> {
        Ok(m::Used {
            path: path.to_owned(),
            name: self.name.clone(),
            title: self.title.as_deref().map(text),
            version: maybe(&self.version, |text| version(text).map(at))?,
            review: maybe(&self.review, |text| date(text).map(at))?,
            span: Span::default(),
        })
    }
}
