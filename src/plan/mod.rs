//! The protocol placed in time, for all patients or for one case.

pub mod case;
pub mod case_text;
pub mod clock;
pub mod course;
mod reach;
pub mod schedule;
pub mod timeline;
pub mod window;

pub use case::{Case, CaseError};
pub use clock::{Clock, ClockTime, Round};
pub use course::{Course, Move, Steps};
pub use schedule::{
    Due, DueWhat, Laid, NoTime, Schedule, Unscheduled, interval_in_force, schedule,
};
pub use timeline::{Empty, PhasePlan, Plan, PlanError, Unplaced};
pub use window::{ValueWindow, Window};

#[cfg(test)]
mod testing;
#[cfg(test)]
mod timeline_tests;
