//! The protocol placed in time, for all patients or for one case.

pub mod course;

pub use course::{Course, Move, Steps};
