//! The examples near the edge that the language reference gives with M2 to M36,
//! each tried as it stands there, as scenarios on the whole program. What is worked
//! out without a case stands in `arithmetic.rs`; what only the checks see, with them.

#![allow(clippy::expect_used, clippy::panic)] // a test says so by panicking

mod case;
mod looking;
mod medications;
mod phases;
mod rules;
