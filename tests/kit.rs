//! The print kit: one page in headless Chromium against the command line.

#![allow(clippy::expect_used, clippy::panic)] // a test says so by panicking

#[path = "kit/case.rs"]
mod case;
#[path = "kit/engine.rs"]
mod engine;
#[path = "kit/page.rs"]
mod page;
mod support;
