//! M26 to M30: ladders and medications.

use crate::case::{HOLD, does};

#[test]
fn m26_a_recheck_is_answered_from_three_quarters_on() {
    let body = format!(
        "{HOLD}
  every 4 h record core
  rule it {{
    when core below 32.5 °C
    then follow steps
  }}
  ladder steps \"Shivering\" on shiver until at or below 1 {{
    step \"Warm\" {{ do \"Warm the skin\"
                     recheck in 30 min }}
    step \"Call\" {{ call doctor now }}
  }}"
    );
    let records = "at 5:00 core 32.0 °C, shiver 2\n";
    does(
        &body,
        &format!(
            "{records}at 5:22 shiver 2\nexpect do \"Warm the skin\" at 5:00
                          expect no call doctor now"
        ),
    );
    does(
        &body,
        &format!("{records}at 5:23 shiver 2\nexpect call doctor now at 5:23"),
    );
    does(
        &body,
        &format!("{records}at 5:23 shiver 1\nexpect no call doctor now"),
    );
}

/// A medication that a rule gives whenever the water is cold, and what else is done.
fn giving(lines: &str, order: &str) -> String {
    format!(
        "{HOLD}
  every 1 min record water
  medication it-is \"Example\" {{
    {lines}
  }}
  rule it {{
    when water below 10 °C
    then {order} it-is otherwise do \"Not now\"
  }}"
    )
}

/// Cold water at the first time of each pair, good water at the second.
fn cold(pairs: &[(&str, &str)]) -> String {
    pairs
        .iter()
        .map(|(cold, good)| format!("at {cold} water 9.0 °C\nat {good} water 20.0 °C\n"))
        .collect()
}

#[test]
fn m27_too_soon_until_the_time_is_full() {
    let body = giving("dose 1 g iv over 1 min, not again within 6 h", "give");
    let first = cold(&[("2:00", "2:01")]);
    does(
        &body,
        &format!(
            "{first}at 7:59 water 9.0 °C
             expect give it-is at 2:00
             expect no give it-is at 7:59
             expect do \"Not now\" at 7:59"
        ),
    );
    does(
        &body,
        &format!("{first}at 8:00 water 9.0 °C\nexpect give it-is at 8:00"),
    );
}

#[test]
fn m28_a_ceiling_counts_what_was_begun_less_than_its_time_ago() {
    let body = giving("dose 1 g oral\n    ceiling 4 g per 24 h", "give");
    let four = cold(&[
        ("0:00", "0:01"),
        ("6:00", "6:01"),
        ("12:00", "12:01"),
        ("18:00", "18:01"),
    ]);
    does(
        &body,
        &format!(
            "{four}at 24:00 water 9.0 °C
             expect give it-is at 18:00
             expect give it-is at 24:00"
        ),
    );
    does(
        &body,
        &format!(
            "{four}at 23:59 water 9.0 °C
             expect do \"Not now\" at 23:59
             expect no give it-is at 23:59"
        ),
    );
}

#[test]
fn m30_raised_within_its_rates() {
    let body = giving(
        "infuse 0.2 mcg/kg/h to 0.7 mcg/kg/h, steps of 0.1 mcg/kg/h every 30 min
    concentration 4 mcg/mL",
        "raise",
    )
    .replace("  rule it {", "  at start give it-is\n  rule it {");
    let five = cold(&[
        ("1:00", "1:01"),
        ("2:00", "2:01"),
        ("3:00", "3:01"),
        ("4:00", "4:01"),
        ("5:00", "5:01"),
    ]);
    does(
        &body,
        &format!(
            "given weight 80 kg
             {five}at 6:00 water 9.0 °C
             expect raise it-is at 5:00
             expect no raise it-is at 6:00
             expect do \"Not now\" at 6:00"
        ),
    );
}
