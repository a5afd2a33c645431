//! A small protocol: its head, and what a test puts below it.

#![allow(clippy::expect_used, dead_code)] // shared by several tests

use tempwright::model::{Loaded, Protocol, load};
use tempwright::source::MemoryLibrary;

const HEAD: &str = r#"protocol example {
  title    "Example (invented, not for patient care)"
  unit     "Saltmarsh District Hospital"
  version  1.0.0
  review   2027-06-30
  purpose  fever-control after stroke
  patients adult, weight 40 kg to 140 kg
  method   surface feedback from core
  timezone "Europe/London"
  people { doctor "Doctor on duty" }
  reading core "Core temperature" temperature at bladder, continuous, shown to 0.1 °C, accurate to 0.2 °C, reads 25.0 °C to 42.0 °C
"#;

/// A phase of one day, for a protocol in which phases do not matter.
pub const DAY: &str = r#"  phase hold "Hold" {
    hold core at 36.0 °C within 0.5 °C
    lasts 24 h
  }
"#;

pub fn text(lines: &str) -> String {
    format!("{HEAD}{lines}\n}}\n")
}

pub fn read(text: &str) -> Loaded {
    let library = MemoryLibrary::default().with("example.protocol", text);
    load(&library, &["example.protocol"]).expect("it can be read")
}

pub fn protocol(lines: &str) -> Protocol {
    let mut loaded = read(&text(lines));
    assert!(!loaded.has_errors(), "{:#?}", loaded.diagnostics);
    loaded.protocols.remove(0).1
}
