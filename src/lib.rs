//! Protocol-as-code for hospital temperature management.
//!
//! A unit's protocol is one text file. This crate reads it, checks it for
//! contradictions and unsafe values, places it in time, and prints bedside run
//! sheets and a machine-readable rule file. The modules follow the pipeline;
//! each may use those above it and none below it:
//!
//! ```text
//! parallel  the same work on many things, on all cores
//! source    text files, positions in them, and where files come from
//! diag      findings: what is wrong, where, why it matters, what to write
//! quantity  exact numbers and the closed table of units
//! syntax    protocol text -> statements, every broken one reported
//! format    one style for protocol files
//! model     statements -> a typed protocol with all names resolved
//! plan      the protocol placed in time, for all patients or for one case
//! forecast  a heat balance: is what the protocol wants within reach?
//! words     conditions, orders and quantities as a nurse would say them
//! eval      records in, events out: what the protocol says about a record
//! rehearse  every scenario of a protocol, tried on the evaluator
//! audit     a finished case in a table, held against its protocol
//! solve     can these conditions hold together, and on which record?
//! suggest   scenarios for what no scenario reaches
//! checks    everything that can be wrong with a protocol
//! document  a page-independent document and its Markdown, HTML and PDF forms
//! sheet     the bedside run sheet as such a document
//! report    audits as a page and a table for others
//! rules     the machine-readable rule file
//! approval  who approves which meaning, as a statement of its file
//! compare   two versions of a protocol: what the change does to a patient
//! kit       what the page on the ward asks, answered; the page itself
//! lsp       the language server for editors
//! cli       the commands; the only part that sees files, clock or terminal
//! ```
//!
//! Without the feature `cli` the crate is the engine of the print kit: only what a sheet is made of.

pub mod approval;
#[cfg(feature = "cli")]
pub mod audit;
#[cfg(feature = "cli")]
pub mod checks;
#[cfg(feature = "cli")]
pub mod cli;
#[cfg(feature = "cli")]
pub mod compare;
pub mod diag;
pub mod document;
#[cfg(feature = "cli")]
pub mod eval;
#[cfg(feature = "cli")]
pub mod forecast;
#[cfg(feature = "cli")]
pub mod format;
pub mod kit;
#[cfg(feature = "cli")]
pub mod lsp;
pub mod model;
pub mod parallel;
pub mod plan;
pub mod quantity;
#[cfg(feature = "cli")]
pub mod rehearse;
#[cfg(feature = "cli")]
pub mod report;
pub mod rules;
pub mod sheet;
#[cfg(feature = "cli")]
pub mod solve;
pub mod source;
#[cfg(feature = "cli")]
pub mod starter;
#[cfg(feature = "cli")]
pub mod suggest;
pub mod syntax;
pub mod words;
