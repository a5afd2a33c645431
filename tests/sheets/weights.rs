//! Doses at the edges of what a protocol allows, and between its weight bands.

use crate::printed::{case_at, demo, print};
use crate::small::{self, DAY};
use tempwright::document::{Paper, markdown};
use tempwright::plan::Case;

fn printed_at(weight: &str) -> String {
    let protocol = demo("adult-arrest-33");
    let case = case_at(&protocol, "2026-11-24T14:30", "2026-11-24T13:25", weight);
    markdown::render(&print(&protocol, &case, Paper::A4)).replace('\u{a0}', " ")
}

/// 0.3 mcg/kg/h at 4 mcg/mL, rounded down to 0.1 mL/h; ceiling 16.8 mcg/kg; by hand.
#[test]
fn the_lightest_and_the_heaviest_patient_of_the_protocol() {
    let light = printed_at("50 kg");
    for wanted in [
        "0.3 mcg/kg/h × 50 kg = 15 mcg/h ÷ 4 mcg/mL = 3.75 mL/h: pump **3.7 mL/h**",
        "(× 50 kg = 840 mcg)",
        "50 mcg/kg/min × 50 kg = 2500 mcg/min ÷ 10 mg/mL: pump **15 mL/h**",
    ] {
        assert!(light.contains(wanted), "{wanted}");
    }
    let heavy = printed_at("140 kg");
    for wanted in [
        "0.3 mcg/kg/h × 140 kg = 42 mcg/h ÷ 4 mcg/mL: pump **10.5 mL/h**",
        "(× 140 kg = 2352 mcg)",
    ] {
        assert!(heavy.contains(wanted), "{wanted}");
    }
    // A weight with a decimal: 0.7 × 72.5 = 50.75; ÷ 4 = 12.6875, set to 12.6.
    let odd = printed_at("72.5 kg");
    let wanted =
        "0.7 mcg/kg/h × 72.5 kg = 50.75 mcg/h ÷ 4 mcg/mL = 12.687… mL/h: pump **12.6 mL/h**";
    assert!(odd.contains(wanted), "{odd}");
}

#[test]
fn a_weight_that_the_protocol_is_not_for_is_refused() {
    let protocol = demo("adult-arrest-33");
    for (weight, good) in [
        ("49.9 kg", false),
        ("50 kg", true),
        ("140 kg", true),
        ("140.1 kg", false),
        ("82 lb", false),
        ("82", false),
    ] {
        let case = Case::default().enter_weight(&protocol, weight);
        assert_eq!(case.is_ok(), good, "{weight}: {case:?}");
    }
}

#[test]
fn a_dose_by_weight_band_changes_at_the_edge_and_a_weight_between_steps_is_refused() {
    let protocol = small::protocol(&format!(
        r#"{DAY}
  every 1 h record core
  medication small "Medicine" {{
    dose 500 mg iv when weight below 50 kg
    dose 1000 mg iv when weight at or above 50 kg
    ceiling 4 g per 24 h
  }}"#
    ));
    for (weight, dose) in [("49.9 kg", "500"), ("50 kg", "1000"), ("50.1 kg", "1000")] {
        let case = Case::default()
            .enter_weight(&protocol, weight)
            .expect("a case");
        let text = markdown::render(&print(&protocol, &case, Paper::A4)).replace('\u{a0}', " ");
        assert_eq!(text.matches("| give **").count(), 1, "{text}");
        assert!(
            text.contains(&format!("give **{dose} mg**")),
            "{weight}: {text}"
        );
    }
    let between = Case::default().enter_weight(&protocol, "49.95 kg");
    let error = between.expect_err("between two steps").to_string();
    assert!(error.contains("finer than 0.1 kg"), "{error}");
    // Without a weight both lines are there to choose from.
    let text = markdown::render(&print(&protocol, &Case::default(), Paper::A4));
    assert_eq!(text.matches("| give ").count(), 2, "{text}");
}
