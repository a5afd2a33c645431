//! Medications: doses, infusions, ceilings.

use super::words::{DrugClass, Route};
use super::*;
use crate::quantity::{Base, Duration, Exact, Weight, Written};

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Medication {
    pub name: Named,
    pub title: Text,
    pub class: Option<At<DrugClass>>,
    pub doses: Vec<DoseLine>,
    pub infusion: Option<InfusionLine>,
    pub concentration: Option<Concentration>,
    pub rounded_to: Option<Rounding>,
    pub ceiling: Option<Ceiling>,
    /// May be given only while one of these runs.
    pub only_with: Vec<At<MedicationId>>,
    pub avoid: Vec<(Text, Reason)>,
    pub span: Span,
}

/// A dose, per kilogram or not.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Dose {
    /// In mg, mmol, mL or units, for each kg where `per_kg`.
    pub value: Exact,
    pub base: Base,
    pub per_kg: bool,
    pub written: Written,
    pub span: Span,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DoseLine {
    pub dose: Dose,
    pub route: Option<At<Route>>,
    pub over: Option<Duration>,
    pub at_most: Option<Dose>,
    pub not_again: Option<Duration>,
    /// Every one must hold for the weight of the case; empty is every weight.
    pub band: Vec<Band>,
    pub reason: Reason,
    pub span: Span,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Band {
    pub cmp: Cmp,
    pub weight: Weight,
}

/// An infusion rate, per kilogram or not.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct InfusionRate {
    /// Base units per hour, for each kg where `per_kg`.
    pub per_hour: Exact,
    pub base: Base,
    pub per_kg: bool,
    pub written: Written,
    pub span: Span,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct InfusionLine {
    pub first: InfusionRate,
    /// `to RATE, steps of RATE every D`
    pub top: Option<InfusionRate>,
    pub step: Option<InfusionRate>,
    pub step_every: Option<Duration>,
    pub at_most: Option<Duration>,
    pub reason: Reason,
    pub span: Span,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Concentration {
    /// Base units in one mL.
    pub per_ml: Exact,
    pub base: Base,
    pub written: Written,
    pub span: Span,
}

/// What is prepared is rounded down to this (M29): a dose or a volume or a rate.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rounding {
    /// In base units, or in mL/h for a pump's rate.
    pub value: Exact,
    pub base: Base,
    pub is_rate: bool,
    pub written: Written,
    pub span: Span,
}

/// No more than this begun in any such stretch of time (M28).
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Ceiling {
    pub dose: Dose,
    pub per: Duration,
    pub reason: Reason,
    pub span: Span,
}
