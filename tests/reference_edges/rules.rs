//! M13 to M16, M33: when rules fire, rest, end and contradict.

use crate::case::{HOLD, does};

const SITES: &str = "
  every 1 h record core, second
  rule too-cold {
    when core below 32.5 °C
    then do \"Look\"
    again after 1 h
  }
  rule sites-disagree {
    when core and second differ by more than 1.0 °C
    then do \"Check both probes\"
    overrides too-cold
  }";

#[test]
fn m13_an_overriding_rule_need_not_be_ready() {
    let body = format!("{HOLD}{SITES}");
    does(
        &body,
        "at 5:00 core 32.0 °C, second 34.0 °C\nat 6:00 core 32.0 °C, second 34.0 °C
                 at 7:00 core 32.0 °C, second 32.2 °C
                 expect sites-disagree at 5:00\nexpect no sites-disagree at 6:00
                 expect no too-cold at 5:00\nexpect no too-cold at 6:00\nexpect too-cold at 7:00",
    );
}

#[test]
fn m14_at_rest_until_the_first_release() {
    let body = format!(
        "{HOLD}
  every 15 min record core
  rule too-cold {{
    when core below 32.5 °C
    then pause temperature control until core at or above 32.8 °C
    ready again when core at or above 32.8 °C
    again after 1 h
  }}"
    );
    let records = "at 5:00 core 32.4 °C\nat 5:15 core 32.4 °C\nat 5:30 core 32.6 °C
                   at 5:45 core 32.4 °C\n";
    does(
        &body,
        &format!(
            "{records}at 6:00 core 32.4 °C
                          expect too-cold at 5:00\nexpect no too-cold at 5:45
                          expect too-cold at 6:00"
        ),
    );
    // The answer of 5:45 still stands at 6:00 when nothing is recorded then.
    does(
        &body,
        &format!("{records}at 6:30 water 14.0 °C\nexpect too-cold at 6:00"),
    );
    does(
        &body,
        "at 5:00 core 32.4 °C\nat 5:15 core 32.8 °C\nat 5:30 core 32.4 °C
                 expect too-cold at 5:30",
    );
}

#[test]
fn m15_of_several_pauses_the_last_to_end_counts() {
    let body = format!(
        "{HOLD}
  every 10 min record core, water
  rule too-cold {{
    when core below 32.5 °C
    then pause temperature control until core at or above 32.8 °C
  }}
  rule cold-water {{
    when water below 10 °C
    then pause temperature control for 30 min
  }}
  rule paused-long {{
    when paused longer than 35 min
    then call doctor now
  }}
  rule paused-longer {{
    when paused longer than 41 min
    then call doctor now
  }}"
    );
    let records = "at 5:00 core 32.4 °C, water 14.0 °C\nat 5:10 core 32.6 °C, water 9.0 °C
                   at 5:20 core 32.9 °C, water 14.0 °C\nat 6:30 core 33.0 °C\n";
    // Paused from 5:00 to 5:40, not to 5:20.
    does(
        &body,
        &format!("{records}expect paused-long at 5:35\nexpect no paused-longer"),
    );
}

#[test]
fn m16_of_two_calls_the_one_that_is_due_first_stands() {
    let body = format!(
        "{HOLD}
  every 1 h record core
  rule one {{
    when core below 32.5 °C
    then call doctor within 30 min
  }}
  rule two {{
    when core below 32.4 °C
    then call doctor within 15 min
  }}"
    );
    does(
        &body,
        "at 5:00 core 32.0 °C\nexpect call doctor within 15 min at 5:00",
    );
}

#[test]
fn m33_a_case_gives_neither_of_two_orders_that_contradict() {
    let body = |second: &str| {
        format!(
            "{HOLD}
  every 1 h record core
  rule high {{
    when core at or above 34.0 °C
    then set target 32.0 °C
  }}
  rule low {{
    when core {second} °C
    then set target 36.0 °C
  }}"
        )
    };
    let together = body("at or below 34.0");
    does(
        &together,
        "at 1:00 core 34.0 °C\nexpect target 33.0 °C at 1:00
                     expect no set target 32.0 °C\nexpect no set target 36.0 °C",
    );
    does(
        &together,
        "at 1:00 core 34.1 °C\nexpect target 32.0 °C at 1:00",
    );
    does(
        &together,
        "at 1:00 core 33.9 °C\nexpect target 36.0 °C at 1:00",
    );
}
