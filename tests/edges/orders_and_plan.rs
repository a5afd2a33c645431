//! What a rule orders through ladders in ladders, and how fast a patient on plan goes.

use super::{fires, passes};

/// The order stands two ladders deep, and contradicts a pause all the same.
#[test]
fn orders_of_a_ladder_in_a_ladder_are_the_rules_own() {
    let deep = |order: &str| {
        format!(
            "rule second-warm {{\n  when second above 33.2 °C during hold\n  then follow outer\n  again after 2 h\n}}\n\
             ladder outer \"Outer\" on shiver until at or below 0 {{\n  step \"Go on\" {{ follow inner }}\n}}\n\
             ladder inner \"Inner\" on second until at or below 33.0 °C {{\n  step \"Lower\" {{ {order} }}\n}}\n"
        )
    };
    fires(
        "contradiction",
        1,
        &deep("lower target by 0.2 °C, at least 32.5 °C"),
    );
    passes("contradiction", &deep("call doctor now"));
}

/// A rung is followed at its own values alone: who is severe is not at rest.
#[test]
fn a_rung_speaks_at_its_own_values() {
    let still = |most: &str| {
        format!(
            "# without rule too-cold\n# without rule sites-disagree\nrule second-warm {{\n  when second above 33.2 °C during hold\n  then follow shiver-target\n  again after 2 h\n}}\n\
             ladder shiver-target \"Target\" on shiver {{\n  rung 0 to 2 \"Less\" {{ continue }}\n  rung 3 \"Severe\" {{ lower target by 0.2 °C, at least 32.5 °C }}\n}}\n\
             rule still {{\n  when shiver at or below {most} during hold\n  then pause temperature control for 1 h\n  again after 2 h\n}}\n"
        )
    };
    passes("contradiction", &still("2"));
    fires("contradiction", 1, &still("3"));
}

/// 36.9 °C to 33.0 °C within 4 h is 0.975 °C/h, and from 37.0 °C 1 °C/h.
#[test]
fn a_patient_on_plan_cools_by_the_due_time() {
    let rule = |less: &str| {
        format!(
            "patients adult, weight 40 kg to 120 kg, core 36.9 °C to 37.0 °C on arrival\n\
             rule slow {{\n  when core falls less than {less} in 1 h during cool\n  then call doctor now\n}}\n"
        )
    };
    passes("fires-on-plan", &rule("0.8 °C"));
    fires("fires-on-plan", 1, &rule("1.1 °C"));
}

/// 33.0 °C to 36.5 °C within 10 h is 0.35 °C/h.
#[test]
fn a_patient_on_plan_warms_by_the_due_time() {
    let rule = |less: &str| {
        format!(
            "# without rule off-course\nphase rewarm \"Rewarm\" {{\n  warm core from 33.0 °C to 36.5 °C within 0.5 °C\n  due within 10 h\n}}\n\
             rule slow {{\n  when core rises less than {less} in 1 h during rewarm\n  then call doctor now\n}}\n"
        )
    };
    // Once it is near enough the phase is over, and warms no more slowly.
    passes("fires-on-plan", &rule("0.2 °C"));
    fires("fires-on-plan", 1, &rule("0.5 °C"));
}

/// A phase that waits for something is on plan up to the last end that is planned for it.
#[test]
fn a_patient_on_plan_waits_no_longer_than_planned() {
    for aim in [
        "hold core at 33.0 °C within 0.5 °C",
        "keep core 32.5 °C to 33.5 °C",
    ] {
        let rule = |longer: &str| {
            format!(
                "# without rule off-course\nmark clear \"Clear\"\n\
                 phase hold \"Hold\" {{\n  {aim}\n  ends at clear, plan for 20 h to 24 h\n}}\n\
                 rule late {{\n  when hold lasts longer than {longer}\n  then call doctor now\n}}\n"
            )
        };
        fires("fires-on-plan", 1, &rule("23 h"));
        passes("fires-on-plan", &rule("24 h"));
        passes("fires-on-plan", &rule("25 h"));
    }
}

/// The record that ends such a phase counts in the next one as it was made: what can be there
/// was once called not proved.
#[test]
fn what_comes_after_a_phase_that_a_change_ends_is_proved() {
    let text = "# without rule late\n# without rule cooling-too-fast\nphase cool \"Cool\" {\n  keep core 32.0 °C to 38.0 °C\n  ends when core rises more than 0.5 °C in 1 h, plan for 2 h\n}\n\
         rule up {\n  when core above 33.4 °C during hold\n  then raise target by 0.1 °C, at most 33.5 °C\n}\n\
         rule down {\n  when core above 33.6 °C during hold\n  then lower target by 0.1 °C, at least 32.5 °C\n}\n";
    fires("contradiction", 1, text);
    passes("not-proved", text);
}

/// The hold goes down to 32.5 °C, its band included, and the guard after it up to 37.7 °C.
#[test]
fn a_target_is_moved_no_further_than_the_phases_go() {
    let order = |order: &str| {
        format!(
            "rule moved {{\n  when shiver at or above 3 during hold\n  then {order}\n  again after 2 h\n}}\n"
        )
    };
    for within in [
        "lower target by 0.1 °C, at least 32.5 °C",
        "raise target by 0.1 °C, at most 37.7 °C",
        "set target 99.86 °F",
        "set target 33.0 °C",
    ] {
        passes("outside-aims", &order(within));
    }
    for beyond in [
        "lower target by 0.1 °C, at least 32.4 °C",
        "raise target by 0.1 °C, at most 37.8 °C",
        "set target 100.1 °F",
        "set target 44.0 °C",
    ] {
        fires("outside-aims", 1, &order(beyond));
    }
    // A phase that is open below has no lowest value.
    let open =
        "phase guard \"Guard\" {\n  keep core at or below 37.7 °C\n  ends 72 h after rosc\n}\n";
    let low = order("set target 30.0 °C");
    let high = order("set target 37.8 °C");
    passes("outside-aims", &format!("{open}{low}"));
    fires("outside-aims", 1, &format!("{open}{high}"));
    // In a ladder too.
    fires(
        "outside-aims",
        1,
        "ladder lower \"Lower\" on second until at or below 33.0 °C {\n  step \"Lower\" { lower target by 0.2 °C, at least 23.0 °C }\n}\n\
         rule second-warm {\n  when second above 33.2 °C during hold\n  then follow lower\n  again after 2 h\n}\n",
    );
}
