//! Weights and amounts as the findings about doses say them, to the last digit.

use super::said;

fn bands(lines: &[&str]) -> String {
    let doses: String = lines
        .iter()
        .map(|line| format!("  dose {line}\n"))
        .collect();
    format!(
        "medication magnesium \"M\" {{\n  class electrolyte\n{doses}  ceiling 9 g per 24 h\n}}\n"
    )
}

#[test]
fn each_gap_between_bands_is_named_apart() {
    let text = bands(&[
        "1 g iv when weight at or above 45 kg and weight at or below 60 kg",
        "2 g iv when weight at or above 70 kg and weight below 120 kg",
    ]);
    assert_eq!(
        said("band-gap", &text),
        ["`magnesium` has no dose for 40.0 kg to 44.9 kg, 60.1 kg to 69.9 kg and 120.0 kg"]
    );
}

#[test]
fn each_overlap_of_two_doses_is_named_apart() {
    let text = bands(&[
        "1 g iv when weight at or below 50 kg",
        "2 g iv when weight above 49 kg and weight at or below 60 kg",
        "3 g iv when weight above 50 kg and weight at or below 55 kg",
        "4 g iv when weight above 60 kg",
        "5 g iv when weight at or above 120 kg",
    ]);
    assert_eq!(
        said("band-overlap", &text),
        [
            "`magnesium` has two doses for 49.1 kg to 50.0 kg",
            "`magnesium` has two doses for 50.1 kg to 55.0 kg",
            "`magnesium` has two doses for 120.0 kg",
        ]
    );
}

/// The third line overlaps the first and then the second, and not between.
#[test]
fn overlaps_with_one_dose_are_named_apart() {
    let text = bands(&[
        "1 g iv when weight below 50 kg",
        "2 g iv when weight above 50 kg and weight at or below 55 kg",
        "3 g iv when weight at or above 45 kg",
    ]);
    assert_eq!(
        said("band-overlap", &text),
        [
            "`magnesium` has two doses for 45.0 kg to 49.9 kg",
            "`magnesium` has two doses for 50.1 kg to 55.0 kg",
        ]
    );
}

/// Without a range of weights, those of people: from 0.1 kg to 400 kg.
#[test]
fn without_a_range_every_weight_of_people_counts() {
    let without = |lines: &[&str]| format!("patients adult\n{}", bands(lines));
    let gaps = |lines: &[&str]| said("band-gap", &without(lines));
    let nothing: [&str; 0] = [];
    assert_eq!(
        gaps(&[
            "1 g iv when weight at or above 0.1 kg and weight below 50 kg",
            "2 g iv when weight at or above 50 kg and weight at or below 400 kg"
        ]),
        nothing
    );
    assert_eq!(
        gaps(&[
            "1 g iv when weight above 0.1 kg and weight below 50 kg",
            "2 g iv when weight at or above 50 kg and weight below 400 kg"
        ]),
        ["`magnesium` has no dose for 0.1 kg and 400.0 kg"]
    );
}

/// A rung is chosen anew from three quarters of its recheck on (M26): every 45 min, so
/// begun at 0:00, 0:45, 1:30, 2:15, 3:00 and 3:45 within 4 h, six doses.
#[test]
fn a_dose_of_a_ladder_comes_again_after_three_quarters_of_its_recheck() {
    let ladder = |most: &str| {
        format!(
            "# without every 6 h give\nmedication paracetamol \"P\" {{\n  class antipyretic\n  dose 1 g nasogastric\n  ceiling {most} per 4 h\n}}\n\
             ladder by-score \"Shivering\" on shiver {{\n  rung 0 to 1 \"Watch\" {{ recheck in 1 h }}\n  \
             rung 2 to 3 \"Give\" {{ give paracetamol\n                          recheck in 1 h }}\n}}\n\
             every 1 h score shiver then follow by-score\n"
        )
    };
    assert_eq!(
        said("over-ceiling", &ladder("5.9 g")),
        ["`paracetamol` comes to 6 g, and its ceiling is 5.9 g"]
    );
    let nothing: [&str; 0] = [];
    assert_eq!(said("over-ceiling", &ladder("6 g")), nothing);
}

#[test]
fn where_nothing_keeps_two_doses_apart_no_sum_is_named() {
    assert_eq!(
        said(
            "over-ceiling",
            "# without every 6 h give\nrule fever {\n  when core above 37.7 °C during guard\n  then give paracetamol\n}\n\
             medication paracetamol \"P\" {\n  class antipyretic\n  dose 1 g nasogastric\n  ceiling 4 g per 24 h\n}\n",
        ),
        ["nothing says what to do when `paracetamol` has reached its ceiling of 4 g"]
    );
}
