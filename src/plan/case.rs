//! One patient's case: what is known about it beyond the protocol.
//!
//! Everything may be absent: a case without anything is the blank form, and the
//! plan then runs over all patients that the protocol allows (M31). What is
//! there has been compared with the protocol when it was entered; the texts that
//! people type are read in `case_text`.

use super::clock::Clock;
use crate::model::{
    Aim, Given, MarkId, PhaseId, Protocol, Reading, ReadingId, ReadingKind, Scenario,
};
use crate::quantity::{Exact, Level, Rate, Weight};
use std::collections::BTreeMap;
use std::fmt;

/// What is known about one case.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Case {
    /// When it began, by the clock.
    pub clock: Option<Clock>,
    pub weight: Option<Weight>,
    /// Minutes from `start`, negative before it.
    pub marks: BTreeMap<MarkId, Exact>,
    /// When a phase was over, in minutes from `start`.
    pub reached: BTreeMap<PhaseId, Exact>,
    /// Readings on arrival.
    pub arrival: BTreeMap<ReadingId, Level>,
    /// The rate that was chosen where a phase names two.
    pub rates: BTreeMap<PhaseId, Rate>,
}

impl Case {
    /// A case that began at that time by the clock of the protocol's zone.
    pub fn starting(protocol: &Protocol, start: &str) -> Result<Case, CaseError> {
        Ok(Case {
            clock: Some(Clock::parse(&protocol.head.timezone.value, start)?),
            ..Case::default()
        })
    }

    /// What a scenario says about its case.
    pub fn of_scenario(protocol: &Protocol, scenario: &Scenario) -> Result<Case, CaseError> {
        let mut case = Case::default();
        for given in &scenario.given {
            case = match given {
                Given::Weight(weight) => case.with_weight(protocol, weight.clone())?,
                Given::Mark { mark, at } => case.with_mark(protocol, mark.value, *at)?,
                Given::Start(at, _) => Case {
                    clock: Some(Clock::starting(&protocol.head.timezone.value, *at)?),
                    ..case
                },
            };
        }
        Ok(case)
    }

    /// The weight, once it has been compared with the weights that the protocol is for.
    pub fn with_weight(mut self, protocol: &Protocol, weight: Weight) -> Result<Case, CaseError> {
        if let Some(range) = protocol.head.patients.dosing_weight()
            && !(range.low.value..=range.high.value).contains(&weight.value)
        {
            return Err(CaseError::new(format!(
                "the weight, {weight}, is outside the range of this protocol, {} to {}",
                range.low, range.high
            ))
            .why("its doses have not been checked for this weight")
            .help("check the weight, or use another protocol, one for this weight"));
        }
        let banded = protocol
            .medications
            .iter()
            .flat_map(|medication| &medication.doses)
            .any(|line| !line.band.is_empty());
        if banded && !(weight.value * Exact::int(10)).is_integer() {
            return Err(CaseError::new(format!(
                "the weight, {weight}, is finer than 0.1 kg"
            ))
            .why(
                "doses that depend on the weight are set for steps of 0.1 kg (M29): between two of \
                 them there may be no dose at all",
            )
            .help("write the weight to 0.1 kg"));
        }
        self.weight = Some(weight);
        Ok(self)
    }

    /// A reading on arrival, once it has been compared with what the thermometer
    /// can show and with what the protocol allows on arrival.
    pub fn with_arrival(
        mut self,
        protocol: &Protocol,
        reading: ReadingId,
        value: Level,
    ) -> Result<Case, CaseError> {
        let about = &protocol[reading];
        if let Some(grid) = about.grid()
            && (value.value < grid.low
                || value.value > grid.high
                || !((value.value / grid.step).is_integer()))
        {
            return Err(
                CaseError::new(format!("`{}` cannot read {value}", about.name.name))
                    .why(shown(about))
                    .help("write the value as it was read off"),
            );
        }
        let allowed = protocol
            .head
            .patients
            .on_arrival
            .iter()
            .find(|(id, _)| *id == reading);
        if let Some((_, range)) = allowed
            && !(range.low.value..=range.high.value).contains(&value.value)
        {
            return Err(CaseError::new(format!(
                "`{}` on arrival, {value}, is outside the range of this protocol, {} to {}",
                about.name.name, range.low, range.high
            ))
            .why("the times of its phases have not been worked out for this patient")
            .help("check the reading, or use another protocol, one for this temperature"));
        }
        self.arrival.insert(reading, value);
        Ok(self)
    }

    /// A mark, once it has been compared with `start within D of MARK`.
    pub fn with_mark(
        mut self,
        protocol: &Protocol,
        mark: MarkId,
        at: Exact,
    ) -> Result<Case, CaseError> {
        let name = &protocol[mark].name.name;
        if let Some(start) = protocol.head.start_within.as_ref().filter(|s| s.of == mark) {
            if at > Exact::ZERO {
                return Err(CaseError::new(format!("`{name}` lies after the start"))
                    .why(format!(
                        "this protocol starts within {} of `{name}`, so `{name}` comes first",
                        start.within
                    ))
                    .help(
                        "check both times; write the date too where they lie on different days",
                    ));
            }
            if -at > start.within.value {
                return Err(CaseError::new(format!(
                    "the start is later than {} after `{name}`",
                    start.within
                ))
                .why("this protocol is for patients who are started by then")
                .help("check both times; write the date too where they lie on different days"));
            }
        }
        self.marks.insert(mark, at);
        Ok(self)
    }

    /// The rate of a phase that names two, once it has been compared with them.
    pub fn with_rate(
        mut self,
        protocol: &Protocol,
        phase: PhaseId,
        rate: Rate,
    ) -> Result<Case, CaseError> {
        let about = &protocol[phase];
        let name = &about.name.name;
        let Aim::Reach {
            rate: Some(planned),
            ..
        } = &about.aim
        else {
            return Err(CaseError::new(format!("`{name}` has no rate to choose"))
                .help("choose a rate only for a phase that names two, such as `at 0.25 °C/h to 0.5 °C/h`"));
        };
        let (slower, faster) = (planned.slower(), planned.faster());
        if !(slower.value..=faster.value).contains(&rate.value) {
            return Err(
                CaseError::new(format!("{rate} is not a rate that `{name}` allows"))
                    .why(if planned.second.is_some() {
                        format!("it goes at {slower} to {faster}")
                    } else {
                        format!("it goes at {slower}")
                    })
                    .help("choose a rate between the two"),
            );
        }
        self.rates.insert(phase, rate);
        Ok(self)
    }
}

/// What a reading can show, in words (M4).
fn shown(reading: &Reading) -> String {
    let range = match (&reading.reads, &reading.kind) {
        (Some(range), _) => format!("{} to {}", range.low, range.high),
        (None, ReadingKind::Body(_)) => "20\u{a0}°C to 45\u{a0}°C".to_owned(),
        (None, ReadingKind::Medium(_)) => "0\u{a0}°C to 100\u{a0}°C".to_owned(),
        (None, ReadingKind::Score { low, high, .. }) => format!("{low} to {high}"),
        (None, ReadingKind::Amount { .. } | ReadingKind::Choice { .. }) => "its range".to_owned(),
    };
    match &reading.shown_to {
        Some(step) => format!("it shows {range} in steps of {step}"),
        None => format!("it takes whole numbers, {range}"),
    }
}

/// Why something about a case cannot be used. It is about what was entered, not
/// about the protocol's text, so it is no [`crate::diag::Diagnostic`].
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CaseError {
    /// Lower case, no final stop.
    pub title: String,
    pub why: String,
    pub help: String,
}

impl CaseError {
    pub fn new(title: impl Into<String>) -> Self {
        CaseError {
            title: title.into(),
            why: String::new(),
            help: String::new(),
        }
    }

    pub fn why(mut self, text: impl Into<String>) -> Self {
        self.why = text.into();
        self
    }

    pub fn help(mut self, text: impl Into<String>) -> Self {
        self.help = text.into();
        self
    }
}

impl fmt::Display for CaseError {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str(&self.title)?;
        for (label, text) in [("why", &self.why), ("help", &self.help)] {
            if !text.is_empty() {
                write!(out, "\n  {label}: {text}")?;
            }
        }
        Ok(())
    }
}

impl std::error::Error for CaseError {}
