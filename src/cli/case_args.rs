//! What the command line says about one patient's case.

use super::project::CannotRun;
use crate::model::Protocol;
use crate::plan::Case;
use crate::plan::case_text::all_named;

/// Everything may be left out: then the sheet is a blank form.
#[derive(Debug, Clone, Default, clap::Args)]
pub struct CaseArgs {
    /// When the case starts, by the clock of the protocol's time zone: 2026-11-24T14:30
    #[arg(long, value_name = "DATE-TIME")]
    pub start: Option<String>,
    /// Body weight, in kg (or g for a newborn): "82 kg"
    #[arg(long, value_name = "WEIGHT")]
    pub weight: Option<String>,
    /// When a mark of the protocol was: rosc=13:05
    #[arg(long = "mark", value_name = "NAME=TIME")]
    pub marks: Vec<String>,
    /// A reading on arrival: core=36.4
    #[arg(long = "reading", value_name = "NAME=VALUE")]
    pub readings: Vec<String>,
    /// When a phase was over: 17:40 for the first that waits to be reached, or PHASE=17:40
    #[arg(long = "reached", value_name = "TIME")]
    pub reached: Vec<String>,
    /// The rate chosen where a phase plans two: rewarm="0.25 °C/h"
    #[arg(long = "rate", value_name = "PHASE=RATE")]
    pub rates: Vec<String>,
}

impl CaseArgs {
    pub fn case(&self, protocol: &Protocol) -> Result<Case, CannotRun> {
        self.entered(protocol)
            .map_err(|error| CannotRun(error.to_string()))
    }

    fn entered(&self, protocol: &Protocol) -> Result<Case, crate::plan::CaseError> {
        let mut case = match &self.start {
            Some(start) => Case::starting(protocol, start)?,
            None => Case::default(),
        };
        if let Some(weight) = &self.weight {
            case = case.enter_weight(protocol, weight)?;
        }
        for (name, time) in all_named(&self.marks)? {
            case = case.enter_mark(protocol, name, time)?;
        }
        for (name, value) in all_named(&self.readings)? {
            case = case.enter_arrival(protocol, name, value)?;
        }
        for (name, rate) in all_named(&self.rates)? {
            case = case.enter_rate(protocol, name, rate)?;
        }
        for text in &self.reached {
            case = case.enter_reached(protocol, text)?;
        }
        Ok(case)
    }
}
