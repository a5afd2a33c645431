//! The table of doses on a sheet, word for word: what was ordered, and the working for one
//! patient. Every number here was worked out by hand.

#![allow(clippy::expect_used)] // a test says so by panicking

#[path = "support/small.rs"]
mod small;

use small::{DAY, protocol};
use tempwright::document::{Paper, markdown};
use tempwright::plan::{Case, Plan};
use tempwright::sheet::{self, Options};

/// The rows of the table of doses, without its head: the order, then each working.
fn doses(medications: &str, weight: Option<&str>) -> Vec<String> {
    let protocol = protocol(&format!("{DAY}  every 1 h record core\n{medications}"));
    let case = match weight {
        Some(weight) => Case::default()
            .enter_weight(&protocol, weight)
            .expect("a weight"),
        None => Case::default(),
    };
    let plan = Plan::of(&protocol, &case).expect("a plan");
    let options = Options {
        paper: Paper::A4,
        ..Options::default()
    };
    let document = sheet::build(&protocol, &plan, &case, &options).expect("a sheet");
    let text = markdown::render(&document).replace('\u{a0}', " ");
    let (_, after) = text.split_once("## Doses\n").expect("a table of doses");
    let part = after.split("\n## ").next().unwrap_or(after);
    part.lines()
        .skip_while(|line| !line.starts_with("| "))
        .take_while(|line| line.starts_with("| "))
        .map(str::to_owned)
        .collect()
}

const BOX: &str = r"\_\_\_\_";

/// The working, with the box of the second person in that unit, for each line.
fn boxes(lines: &[(&str, &str)]) -> Vec<String> {
    lines
        .iter()
        .map(|(working, unit)| format!("| {working} | {BOX} {unit} | {BOX} |"))
        .collect()
}

/// After the head of the table: what was ordered, and the workings.
fn says(lines: &str, weight: Option<&str>, order: &str, workings: &[(&str, &str)]) {
    let rows = doses(&format!("  medication it \"It\" {{\n{lines}\n  }}"), weight);
    let worked = match weight {
        Some(weight) => format!("Worked out for {weight}"),
        None => "Work out for this patient".to_owned(),
    };
    let mut wanted = vec![
        format!("| {worked} | Second person, alone | Initials of both |"),
        "| --- | --- | --- |".to_owned(),
        format!("| **It**: {order} | | |"),
    ];
    wanted.extend(boxes(workings));
    assert_eq!(rows, wanted);
}

const BANDED: &str = "
    dose          30 mg/kg iv over 30 min, at most 2 g, not again within 6 h when weight above 41 kg and weight at or below 70 kg
    dose          2.5 g iv when weight above 70 kg
    concentration 200 mg/mL
    rounded to    100 mg
    ceiling       40 mg/kg per 24 h";

const BANDED_ORDER: &str = "dose 30 mg/kg iv over 30 min, at most 2 g, not again within 6 h, for a weight above 41 kg \
     and at or below 70 kg; dose 2.5 g iv, for a weight above 70 kg; concentration 200 mg/mL; rounded down to 100 mg; \
     **never more than 40 mg/kg in any 24 h";

#[test]
fn a_dose_per_kilogram_is_capped_then_rounded_down_then_drawn_up() {
    let at = |weight: &str, ceiling: &str, working: &str, unit: &str| {
        says(
            BANDED,
            Some(weight),
            &format!("{BANDED_ORDER} (× {weight} = {ceiling})**"),
            &[(working, unit)],
        );
    };
    // 30 × 64.9 = 1947, down to 1900; 1900 / 200 = 9.5.
    at(
        "64.9 kg",
        "2596 mg",
        "30 mg/kg × 64.9 kg = 1947 mg; rounded down: give **1900 mg** = 9.5 mL of 200 mg/mL",
        "mg",
    );
    // 30 × 70 = 2100, at most 2000.
    at(
        "70 kg",
        "2800 mg",
        "30 mg/kg × 70 kg = 2100 mg; at most 2000 mg: give **2000 mg** = 10 mL of 200 mg/mL",
        "mg",
    );
    // 30 × 60 = 1800: neither capped nor rounded.
    at(
        "60 kg",
        "2400 mg",
        "30 mg/kg × 60 kg = 1800 mg: give **1800 mg** = 9 mL of 200 mg/mL",
        "mg",
    );
    at(
        "70.1 kg",
        "2804 mg",
        "give **2.5 g** = 12.5 mL of 200 mg/mL",
        "g",
    );
}

#[test]
fn without_a_weight_every_line_is_there_to_be_worked_out() {
    let (gap, long) = ([r"\_"; 6].concat(), [r"\_"; 8].concat());
    let empty = [r"\_"; 10].concat();
    says(
        BANDED,
        None,
        &format!("{BANDED_ORDER} (× {gap} kg = {long} mg)**"),
        &[
            (&format!("30 mg/kg × {gap} kg = {empty} mg"), "mg"),
            ("give **2.5 g** = 12.5 mL of 200 mg/mL", "g"),
        ],
    );
}

#[test]
fn a_volume_that_is_drawn_up_is_rounded_in_ml() {
    // 6 mg of 4 mg/mL are 1.5 mL, and of 2.5 mg/mL 2.4 mL; 5 mg of 4 mg/mL 1.25 mL, down to 1.2.
    for (dose, strength, working) in [
        ("6 mg", "4 mg/mL", "give **6 mg** = 1.5 mL of 4 mg/mL"),
        ("6 mg", "2.5 mg/mL", "give **6 mg** = 2.4 mL of 2.5 mg/mL"),
        (
            "5 mg",
            "4 mg/mL",
            "5 mg; rounded down: give **4.8 mg** = 1.2 mL of 4 mg/mL",
        ),
    ] {
        says(
            &format!("dose {dose} iv\n concentration {strength}\n rounded to 0.1 mL"),
            Some("80 kg"),
            &format!("dose {dose} iv; concentration {strength}; rounded down to 0.1 mL"),
            &[(working, "mg")],
        );
    }
}

/// What is given is less than what was ordered: the sheet says why.
#[test]
fn a_dose_for_everybody_is_held_and_rounded_in_words() {
    for weight in [None, Some("82 kg")] {
        says(
            "    dose 250 mg iv over 5 min\n    concentration 10 mg/mL\n    rounded to 100 mg",
            weight,
            "dose 250 mg iv over 5 min; concentration 10 mg/mL; rounded down to 100 mg",
            &[(
                "250 mg; rounded down: give **200 mg** = 20 mL of 10 mg/mL",
                "mg",
            )],
        );
        says(
            "    dose 250 mg iv over 5 min, at most 200 mg\n    concentration 10 mg/mL\n    rounded to 100 mg",
            weight,
            "dose 250 mg iv over 5 min, at most 200 mg; concentration 10 mg/mL; rounded down to 100 mg",
            &[(
                "250 mg; at most 200 mg: give **200 mg** = 20 mL of 10 mg/mL",
                "mg",
            )],
        );
    }
}

#[test]
fn what_is_counted_in_ml_is_given_in_ml() {
    says(
        "dose 2 mL/kg iv\n dose 10 mL nasogastric",
        Some("64.9 kg"),
        "dose 2 mL/kg iv; dose 10 mL nasogastric",
        &[
            ("2 mL/kg × 64.9 kg = 129.8 mL: give **129.8 mL**", "mL"),
            ("give **10 mL**", "mL"),
        ],
    );
    // No volume is worked out twice.
    says(
        "dose 10 mL iv\n concentration 5 mg/mL\n ceiling 100 mg per 24 h",
        Some("80 kg"),
        "dose 10 mL iv; concentration 5 mg/mL; **never more than 100 mg in any 24 h**",
        &[("give **10 mL**", "mL")],
    );
}

/// In steps from the first rate to the top, both taken in, and no more than twelve; the last step
/// goes no farther than the top.
#[test]
fn each_rate_of_an_infusion_is_worked_out() {
    says(
        "infuse 0.5 mcg/kg/h to 1.2 mcg/kg/h, steps of 0.3 mcg/kg/h every 10 min, for at most 6 h\n \
         concentration 4 mcg/mL\n rounded to 0.1 mL/h",
        Some("64.9 kg"),
        "infuse 0.5 mcg/kg/h to 1.2 mcg/kg/h, steps of 0.3 mcg/kg/h every 10 min, for at most 6 h; \
         concentration 4 mcg/mL; rounded down to 0.1 mL/h",
        &[
            (
                "0.5 mcg/kg/h × 64.9 kg = 32.45 mcg/h ÷ 4 mcg/mL = 8.112… mL/h: pump **8.1 mL/h**",
                "mL/h",
            ),
            (
                "0.8 mcg/kg/h × 64.9 kg = 51.92 mcg/h ÷ 4 mcg/mL = 12.98 mL/h: pump **12.9 mL/h**",
                "mL/h",
            ),
            (
                "1.1 mcg/kg/h × 64.9 kg = 71.39 mcg/h ÷ 4 mcg/mL = 17.847… mL/h: pump **17.8 mL/h**",
                "mL/h",
            ),
            (
                "1.2 mcg/kg/h × 64.9 kg = 77.88 mcg/h ÷ 4 mcg/mL = 19.47 mL/h: pump **19.4 mL/h**",
                "mL/h",
            ),
        ],
    );
    let rates = |top: u32| -> Vec<String> {
        let lines = format!("infuse 1 mL/h to {top} mL/h, steps of 1 mL/h every 10 min");
        doses(&format!("  medication it \"It\" {{\n{lines}\n  }}"), None)
            .into_iter()
            .skip(3)
            .collect()
    };
    let wanted: Vec<String> = (1..=12)
        .map(|rate| {
            format!("| {rate} mL/h = {rate} mL/h: pump **{rate} mL/h** | {BOX} mL/h | {BOX} |")
        })
        .collect();
    assert_eq!(rates(3), wanted[..3]);
    assert_eq!(rates(12), wanted);
    assert_eq!(rates(20), wanted);
}

#[test]
fn what_it_goes_only_with_and_what_to_avoid_stand_with_the_order() {
    let rows = doses(
        "  medication deep \"Deep sedation\" {\n    dose 5 mg iv\n  }\n  medication block \"Block\" {\n    \
         dose 8 mg iv\n    only with deep\n    avoid \"succinylcholine\"\n  }",
        Some("80 kg"),
    );
    assert_eq!(
        rows[2..],
        [
            "| **Deep sedation**: dose 5 mg iv | | |".to_owned(),
            boxes(&[("give **5 mg**", "mg")]).remove(0),
            "| **Block**: dose 8 mg iv; **only while this runs: Deep sedation**; **avoid:** succinylcholine | | |"
                .to_owned(),
            boxes(&[("give **8 mg**", "mg")]).remove(0),
        ]
    );
}
