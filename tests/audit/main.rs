//! Finished cases in logs, held against their protocol.

#![allow(clippy::expect_used, clippy::panic)] // A trial that cannot be set up must say so.

mod broken;
mod case;
mod figures;
mod forms;
mod goals;
#[path = "../outside/mod.rs"]
mod outside;
mod pandas;
