//! The run sheets of the six demo protocols, on both papers, as blank form and as case: that what
//! is printed is right, is the same in all forms, and can be read by people and by programs.

#![allow(clippy::expect_used, clippy::panic)] // a test says so by panicking

#[path = "../outside/mod.rs"]
mod outside;
#[path = "../support/small.rs"]
mod small;
#[path = "../support/mod.rs"]
mod support;

mod beginnings;
mod browser;
mod clock;
mod counted;
mod forms;
mod lines;
mod looks;
mod numbers;
mod pdf_files;
mod printed;
mod said;
mod scales;
mod weights;
mod working;
