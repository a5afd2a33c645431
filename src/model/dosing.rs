//! What the weight of one patient makes of a dose or an infusion (M29, M30).
//!
//! Takes lines of a medication and a weight in kg, gives exact amounts: doses in
//! the base unit of the medication (mg, mmol, mL or units), pump rates in mL/h.
//! `None` where the weight or the concentration that is needed is absent, or where
//! two amounts count different substances (mg beside mmol).
//!
//! ```text
//! 30 mg/kg, at most 2 g, rounded to 100 mg, 64.9 kg:
//!   product 1947 mg -> capped 1947 mg -> given 1900 mg
//! 0.5 mcg/kg/h, 4 mcg/mL, 80 kg:
//!   0.04 mg/h / 0.004 mg/mL = 10 mL/h
//! ```

use super::*;
use crate::quantity::{Base, Exact};

/// A single dose, step by step, as the sheet shows the working.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct WorkedDose {
    /// Dose times weight; the dose itself where it is not per kilogram.
    pub product: Exact,
    /// After `at most`.
    pub capped: Exact,
    /// After `rounded to`: what is given.
    pub given: Exact,
}

/// A pump rate in mL/h, step by step.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct WorkedRate {
    /// Base units in one hour for this weight.
    pub per_hour: Exact,
    /// Before rounding.
    pub exact: Exact,
    /// After `rounded to`: what is set.
    pub set: Exact,
}

impl Dose {
    /// In base units; a dose per kilogram needs the weight.
    pub fn for_weight(&self, weight: Option<Exact>) -> Option<Exact> {
        if self.per_kg {
            Some(self.value * weight?)
        } else {
            Some(self.value)
        }
    }
}

impl InfusionRate {
    /// Base units in one hour; a rate per kilogram needs the weight.
    pub fn for_weight(&self, weight: Option<Exact>) -> Option<Exact> {
        if self.per_kg {
            Some(self.per_hour * weight?)
        } else {
            Some(self.per_hour)
        }
    }
}

impl DoseLine {
    /// Whether its BAND takes this weight in; without a BAND every weight.
    pub fn is_for(&self, weight: Option<Exact>) -> bool {
        self.band
            .iter()
            .all(|band| weight.is_some_and(|weight| band.cmp.holds(weight, band.weight.value)))
    }
}

impl Medication {
    /// The line of `dose` for this weight. Two at once are for the checks to find.
    pub fn dose_line_for(&self, weight: Option<Exact>) -> Option<&DoseLine> {
        self.doses.iter().find(|line| line.is_for(weight))
    }

    /// What is given on `line` (M29).
    pub fn work_dose(&self, line: &DoseLine, weight: Option<Exact>) -> Option<WorkedDose> {
        let product = line.dose.for_weight(weight)?;
        let capped = match &line.at_most {
            Some(most) if most.base == line.dose.base => product.min(most.for_weight(weight)?),
            Some(_) => return None,
            None => product,
        };
        let given = match &self.rounded_to {
            Some(step) if step.is_rate => capped,
            Some(step) if step.base == line.dose.base => capped.round_down_to(step.value),
            // A volume to draw up: rounded in mL, counted in the dose's own unit.
            Some(step) if step.base == Base::Volume => {
                let per_ml = self.per_ml(line.dose.base)?;
                (capped / per_ml).round_down_to(step.value) * per_ml
            }
            Some(_) => return None,
            None => capped,
        };
        Some(WorkedDose {
            product,
            capped,
            given,
        })
    }

    /// What the pump is set to for `rate`.
    pub fn work_rate(&self, rate: &InfusionRate, weight: Option<Exact>) -> Option<WorkedRate> {
        let per_hour = rate.for_weight(weight)?;
        let exact = if rate.base == Base::Volume {
            per_hour
        } else {
            per_hour / self.per_ml(rate.base)?
        };
        let set = match &self.rounded_to {
            Some(step) if step.is_rate => exact.round_down_to(step.value),
            _ => exact,
        };
        Some(WorkedRate {
            per_hour,
            exact,
            set,
        })
    }

    /// Base units in one mL, where the concentration counts the same substance.
    fn per_ml(&self, base: Base) -> Option<Exact> {
        self.concentration
            .as_ref()
            .filter(|concentration| concentration.base == base)
            .map(|concentration| concentration.per_ml)
    }
}
