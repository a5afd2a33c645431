//! M8 to M12: stretches, times over which something holds, rises and falls, what is not recorded.

use crate::case::{it_fires, targets, told};
use crate::looking::{hold, rule};

#[test]
fn m8_what_was_recorded_before_the_stretch_does_not_count() {
    let body = r#"
  phase cool "Cool" {
    cool core to 33.0 °C
  }
  phase hold "Hold" {
    hold core at 33.0 °C within 0.5 °C
    lasts 24 h
  }
  every 1 h record core, water
  rule it {
    when water below 10.0 °C during hold
    then do "Look"
  }
  rule both {
    when water below 10.0 °C for 1 h during cool, hold
    then do "Look"
  }
"#;
    // 5 min before `hold` begins, and at its beginning.
    it_fires(body, "2:55 water 9.0; 3:00 core 33.0; 3:10 core 33.0", &[]);
    it_fires(body, "3:00 core 33.0, water 9.0", &["3:00"]);
    // Going from `cool` to `hold` does not break a stretch of both.
    assert_eq!(
        told(body, "2:30 water 9.0; 3:00 core 33.0; 3:30 water 9.0").fires("both"),
        ["3:30"]
    );
}

#[test]
fn m9_two_hourly_boxes_in_a_row_with_a_quarter_of_slack() {
    let body = hold(&format!(
        "every 1 h record water\n{}",
        rule("water below 10.0 °C for 1 h")
    ));
    it_fires(&body, "4:05 water 9.0; 4:50 water 9.0", &["4:50"]);
    it_fires(&body, "4:05 water 9.0; 4:49 water 9.0", &[]);
    // A look in between at which it does not hold begins it anew.
    it_fires(
        &body,
        "4:00 water 9.0; 4:30 water 10.0; 5:00 water 9.0",
        &[],
    );
    // An unknown time between them does too: 4:00 is good up to 5:30.
    it_fires(&body, "4:00 water 9.0; 5:30 water 9.0", &["5:30"]);
    it_fires(&body, "4:00 water 9.0; 5:31 water 9.0", &[]);
}

#[test]
fn m9_it_takes_two_looks_however_short_the_time() {
    let body = hold(&format!(
        "every 1 h record water\n{}",
        rule("water below 10.0 °C for 10 min")
    ));
    let told = told(&body, "4:00 water 9.0; 5:00 water 9.0");
    assert_eq!(told.fires("it"), ["5:00"]);
}

#[test]
fn m9_without_an_every_there_is_no_slack() {
    let body = hold(
        "reading lab \"Lab\" temperature of water, shown to 0.1 °C, good for 6 h
         rule it {
           when lab below 10.0 °C for 1 h
           then do \"Look\"
         }",
    );
    it_fires(&body, "4:00 lab 9.0; 4:59 lab 9.0", &[]);
    it_fires(&body, "4:00 lab 9.0; 5:00 lab 9.0", &["5:00"]);
}

#[test]
fn m9_of_two_readings_the_shorter_interval_gives_the_slack() {
    let body = hold(
        "every 1 h record core
         every 20 min record second
         rule it {
           when core and second differ by more than 1.0 °C for 1 h
           then do \"Look\"
         }",
    );
    let fires = |last: &str| {
        let records = format!(
            "4:00 core 33.0, second 35.0; 4:20 second 35.0; 4:40 second 35.0; {last} second 35.0"
        );
        told(&body, &records).fires("it").len()
    };
    assert_eq!(fires("4:55"), 1);
    assert_eq!(fires("4:54"), 0);
}

#[test]
fn m10_rises_more_than() {
    let body = hold(&format!(
        "every 1 h record core\n{}",
        rule("core rises more than 0.5 °C in 1 h")
    ));
    it_fires(&body, "10:00 core 33.0; 11:15 core 33.6", &["11:15"]);
    it_fires(&body, "10:00 core 33.0; 11:16 core 33.6", &[]);
    it_fires(&body, "10:00 core 33.0; 11:00 core 33.5", &[]);
    // Any look in the window will do, not only the oldest.
    it_fires(
        &body,
        "10:00 core 33.4; 10:30 core 33.0; 11:00 core 33.6",
        &["11:00"],
    );
}

#[test]
fn m10_rises_less_than() {
    let body = hold(&format!(
        "every 1 h record core\n{}",
        rule("core rises less than 0.3 °C in 1 h")
    ));
    // At 12:00 it looks at the latest record from 10:45 to 11:15.
    it_fires(&body, "10:45 core 33.0; 12:00 core 33.2", &["12:00"]);
    it_fires(&body, "10:44 core 33.0; 12:00 core 33.2", &[]);
    it_fires(&body, "11:16 core 33.0; 12:00 core 33.0", &[]);
    it_fires(&body, "11:00 core 33.0; 12:00 core 33.3", &[]);
    // The latest one counts, not the one that would do.
    it_fires(
        &body,
        "10:50 core 33.2; 11:10 core 32.9; 12:00 core 33.3",
        &[],
    );
}

#[test]
fn m10_falls_is_the_same_downward() {
    let more = hold(&format!(
        "every 1 h record core\n{}",
        rule("core falls more than 0.5 °C in 1 h")
    ));
    it_fires(&more, "10:00 core 33.6; 11:15 core 33.0", &["11:15"]);
    it_fires(&more, "10:00 core 33.5; 11:00 core 33.0", &[]);
    let less = hold(&format!(
        "every 1 h record core\n{}",
        rule("core falls less than 0.3 °C in 1 h")
    ));
    it_fires(&less, "11:00 core 33.0; 12:00 core 32.8", &["12:00"]);
    it_fires(&less, "11:00 core 33.0; 12:00 core 32.7", &[]);
}

#[test]
fn m10_looks_before_the_stretch_do_not_count() {
    let body = r#"
  phase cool "Cool" {
    cool core to 33.0 °C
  }
  phase hold "Hold" {
    hold core at 33.0 °C within 0.5 °C
    lasts 24 h
  }
  every 1 h record core
  rule it {
    when core rises more than 0.5 °C in 2 h during hold
    then do "Look"
  }
"#;
    it_fires(body, "2:00 core 33.2; 3:00 core 33.0; 3:30 core 33.5", &[]);
    it_fires(body, "3:00 core 33.0; 3:30 core 33.6", &["3:30"]);
}

#[test]
fn m11_in_a_range_above_counts_from_the_upper_limit() {
    let body = r#"
  phase guard "Guard" {
    keep core 36.0 °C to 37.5 °C
    lasts 24 h
  }
  every 1 h record core
  rule high {
    when core above target by more than 0.3 °C
    then do "Look"
  }
  rule low {
    when core below target by more than 0.3 °C
    then do "Look"
  }
"#;
    assert!(told(body, "1:00 core 37.8").fires("high").is_empty());
    assert_eq!(told(body, "1:00 core 37.9").fires("high"), ["1:00"]);
    assert!(told(body, "1:00 core 35.7").fires("low").is_empty());
    assert_eq!(told(body, "1:00 core 35.6").fires("low"), ["1:00"]);
}

#[test]
fn m11_the_target_is_that_of_the_look() {
    let body = r#"
  phase rewarm "Rewarm" {
    warm core from 33.0 °C to 36.0 °C at 0.5 °C/h
  }
  every 1 h record core
  rule behind {
    when core below target by more than 0.5 °C
    then do "Look"
  }
"#;
    assert_eq!(targets(body, "", &["2:00"]), ["target 34.0 °C"]);
    assert!(told(body, "2:00 core 33.5").fires("behind").is_empty());
    assert_eq!(told(body, "2:00 core 33.4").fires("behind"), ["2:00"]);
    // The answer of 2:00 stands while the target moves on.
    assert!(
        told(body, "2:00 core 33.5; until 3:00")
            .fires("behind")
            .is_empty()
    );
}

#[test]
fn m12_not_recorded_is_true_from_its_very_moment() {
    let body = hold(&format!(
        "every 1 h record core\n{}",
        rule("core not recorded for 2 h")
    ));
    assert_eq!(
        told(&body, "7:00 core 33.0; 8:00 core 33.0; until 10:00")
            .fires("it")
            .last(),
        Some(&"10:00")
    );
    assert_eq!(
        told(
            &body,
            "1:00 core 33.0; 2:00 core 33.0; 4:00 core 33.0; until 5:00"
        )
        .fires("it"),
        Vec::<&str>::new()
    );
    // Never recorded: from the beginning of the stretch.
    it_fires(&body, "until 2:00", &["2:00"]);
    it_fires(&body, "until 1:59", &[]);
}

#[test]
fn m12_lasts_longer_overdue_and_paused() {
    let body = r#"
  phase cool "Cool" {
    cool core to 33.0 °C
    due within 4 h
  }
  phase hold "Hold" {
    hold core at 33.0 °C within 0.5 °C
    lasts 24 h
  }
  every 1 h record core
  rule long {
    when cool lasts longer than 3 h
    then do "Look"
  }
  rule late {
    when cool is overdue
    then do "Look"
  }
  rule cold {
    when core below 32.0 °C
    then pause temperature control until core at or above 32.5 °C
  }
  rule off {
    when paused longer than 1 h
    then do "Look"
  }
"#;
    let quiet = told(body, "3:00 core 33.0; until 5:00");
    assert!(quiet.fires("long").is_empty());
    assert!(quiet.fires("late").is_empty());
    let late = told(body, "until 5:00");
    assert_eq!(late.fires("long"), ["3:00"]);
    assert_eq!(late.fires("late"), ["4:00"]);
    // A record at the due time that ends it comes first.
    assert!(
        told(body, "4:00 core 33.0; until 5:00")
            .fires("late")
            .is_empty()
    );
    assert_eq!(
        told(body, "1:00 core 31.9; until 3:00").fires("off"),
        ["2:00"]
    );
    assert!(
        told(body, "1:00 core 31.9; 2:00 core 32.5; until 3:00")
            .fires("off")
            .is_empty()
    );
}
