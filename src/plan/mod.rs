//! The protocol placed in time, for all patients or for one case.
//!
//! Takes a typed protocol and a [`Case`] (an empty one is the blank form). Gives
//! a [`Plan`]: for each phase how early and how late it can begin and end, the
//! course of its target, and the values its reading can have; and a [`Schedule`]
//! of all that is due at set times. All times are exact minutes from `start`.
//!
//! ```text
//! protocol + case --timeline (reach, course)--> plan --schedule--> what is due
//!              clock: minutes <-> the clock on the ward   report: table, JSON
//! ```
//!
//! Only the first pass is planned: no rule fires here, and no `begin` is given.
//! What the protocol does not bound is open, never guessed; a number that does
//! not fit is an error, never a time.

pub mod case;
pub mod case_text;
pub mod clock;
pub mod course;
mod reach;
pub mod report;
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
mod case_tests;
#[cfg(test)]
mod report_tests;
#[cfg(test)]
mod schedule_tests;
#[cfg(test)]
mod testing;
#[cfg(test)]
mod timeline_properties;
#[cfg(test)]
mod timeline_tests;
