//! Corners of published dose ranges that break other published limits: what is
//! ordered by the clock, or runs in, against a ceiling over any such time (M28).
//!
//! The doses are those that papers and labels print, and are no advice. Ceilings
//! marked so are label limits from memory, not confirmed.

#![allow(clippy::expect_used, clippy::panic)] // a test says so by panicking

use tempwright::checks::{self, Context};
use tempwright::model::load;
use tempwright::source::MemoryLibrary;

/// Whether `over-ceiling` is among what is found.
fn is_over(medication: &str, order: &str) -> bool {
    let file = format!(
        r#"protocol example {{
  title "Example (invented, not for patient care)"
  unit "Saltmarsh District Hospital"
  version 1.0.0
  review 2027-06-30
  purpose fever-control after cardiac-arrest
  patients adult, weight 40 kg to 140 kg, core 35.0 °C to 39.0 °C on arrival
  method surface feedback from core
  timezone "Europe/London"
  reading core "Core" temperature at bladder, continuous, shown to 0.1 °C, accurate to 0.2 °C
  phase guard "Prevent fever" {{
    keep core 36.0 °C to 37.7 °C
    lasts 72 h
  }}
  medication example-drug "Example" {{
    {medication}
  }}
  {order}
}}
"#
    );
    let library = MemoryLibrary::default().with("example.protocol", &file);
    let loaded = load(&library, &["example.protocol"]).expect("held in memory");
    let (_, protocol) = loaded
        .protocols
        .first()
        .unwrap_or_else(|| panic!("{:#?}", loaded.diagnostics));
    let context = Context::new(protocol, &loaded.sources);
    let report = checks::check(&context, loaded.diagnostics.clone());
    report
        .findings
        .iter()
        .any(|finding| finding.name == "over-ceiling")
}

fn by_the_clock(dose: &str, every: &str, ceiling: &str) -> bool {
    is_over(
        &format!("dose {dose} oral\n    ceiling {ceiling} per 24 h"),
        &format!("every {every} give example-drug"),
    )
}

#[test]
fn regular_doses_in_any_day() {
    // Acetaminophen, 650 to 1000 mg every 4 to 6 h, against 4 g a day (label, from memory).
    assert!(!by_the_clock("650 mg", "4 h", "4 g"), "3.9 g");
    assert!(!by_the_clock("1000 mg", "6 h", "4 g"), "4.0 g, at the edge");
    assert!(by_the_clock("1000 mg", "4 h", "4 g"), "6.0 g");
    assert!(
        by_the_clock("1000 mg", "359 min", "4 g"),
        "five doses in a little under 24 h"
    );
    // Buspirone 30 mg every 8 h, against 60 mg a day (label, from memory).
    assert!(by_the_clock("30 mg", "8 h", "60 mg"), "90 mg");
    assert!(!by_the_clock("30 mg", "12 h", "60 mg"), "60 mg");
    // Meperidine 100 mg every 3 h, against 600 mg a day (from memory).
    assert!(by_the_clock("100 mg", "3 h", "600 mg"), "800 mg");
    assert!(!by_the_clock("100 mg", "4 h", "600 mg"), "600 mg");
}

#[test]
fn a_single_dose_at_the_heaviest_patient() {
    let once = |dose: &str, ceiling: &str| {
        is_over(
            &format!("dose {dose} iv over 30 min\n    ceiling {ceiling} per 24 h"),
            "at 1 h after start give example-drug",
        )
    };
    // At 140 kg: 30 mg/kg is 4.2 g.
    assert!(once("30 mg/kg", "4 g"));
    assert!(!once("30 mg/kg", "4.2 g"));
}

#[test]
fn the_top_rate_of_an_infusion() {
    // Propofol against 4 mg/kg in an hour (risk of infusion syndrome, from memory):
    // 75 mcg/kg/min is 4.5 mg/kg/h, 50 is 3.0, and 200/3 is 4 exactly.
    let runs = |top: &str| {
        is_over(
            &format!(
                "infuse 20 mcg/kg/min to {top} mcg/kg/min, steps of 5 mcg/kg/min every 10 min
    concentration 10 mg/mL
    ceiling 4 mg/kg per 1 h"
            ),
            "at 1 h after start give example-drug
  at 2 h after start raise example-drug",
        )
    };
    assert!(runs("75"));
    assert!(!runs("50"));
    assert!(!runs("200/3"));
}
