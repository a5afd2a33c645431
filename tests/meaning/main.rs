//! The definitions M1 to M36 of the language reference, each tried near its edge:
//! just inside and just outside. A test names the definition that it holds to.

#![allow(clippy::expect_used, clippy::panic)] // A trial that cannot be set up must say so.

mod always;
mod between;
mod case;
mod ladders_and_medications;
mod looking;
mod measures;
mod phases;
mod rules;
mod said;
mod scenarios;
mod targets;
mod windows;
mod words_and_time;
