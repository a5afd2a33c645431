//! The language server, driven by its own messages over an in-memory connection.

#![allow(clippy::expect_used, clippy::panic)]

mod actions;
mod editor;
mod findings;
mod names;
mod odd;
mod words;
