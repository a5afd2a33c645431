//! M35: what a measure comes to.

use crate::case::{entries, minutes, protocol};
use tempwright::audit::{Auditor, Options};
use tempwright::eval::{Case, Measured, Run};
use tempwright::quantity::Exact;

fn measured(measure: &str, records: &str, until: &str) -> Measured {
    let body = format!(
        r#"
  phase guard "Guard" {{
    keep core 36.0 °C to 37.5 °C
    lasts 4 h
  }}
  phase watch "Watch" {{
    keep core 36.0 °C to 37.5 °C
    lasts 4 h
  }}
  every 2 h record core
  measure it "It" {measure}
"#
    );
    let protocol = protocol(&body);
    let mut run = Run::new(&protocol, &Case::default());
    for entry in entries(&protocol, records) {
        run.enter(entry);
    }
    run.advance(minutes(until));
    run.measures(minutes(until))[0]
}

fn number(text: &str) -> Exact {
    Exact::parse(text).expect("a number")
}

#[test]
fn m35_area_is_degrees_beyond_times_hours() {
    let area = measured(
        "area of core above 37.7 °C",
        "1:00 core 38.0; 3:00 core 37.5",
        "3:00",
    );
    assert_eq!(area.area, number("0.6"));
    assert_eq!(
        (area.held, area.known, area.unknown),
        (number("120"), number("120"), number("60"))
    );
    let below = measured(
        "area of core below 36.0 °C",
        "1:00 core 35.5; 2:00 core 36.0",
        "3:00",
    );
    assert_eq!(below.area, number("0.5"));
}

#[test]
fn m35_time_in_which_the_reading_is_unknown_is_left_out_and_reported() {
    // Asked every 2 h, a record is good for 3 h.
    let length = measured(
        "length of time when core above 37.7 °C",
        "0:00 core 38.0",
        "5:00",
    );
    assert_eq!(
        (length.held, length.known, length.unknown),
        (number("180"), number("180"), number("120"))
    );
    assert_eq!(length.share(), Some(Exact::ONE));
}

#[test]
fn m35_share_of_the_known_time() {
    let share = measured(
        "share of time when core above 37.7 °C",
        "0:00 core 38.0; 1:00 core 37.7; 4:00 core 37.0",
        "4:00",
    );
    assert_eq!(share.share(), Some(Exact::ratio(1, 4)));
}

#[test]
fn m35_only_the_phases_of_during_count() {
    let records = "0:00 core 38.0; 2:00 core 38.0; 4:00 core 38.0; 6:00 core 38.0";
    let whole = measured("length of time when core above 37.7 °C", records, "8:00");
    let watch = measured(
        "length of time when core above 37.7 °C during watch",
        records,
        "8:00",
    );
    assert_eq!((whole.held, watch.held), (number("480"), number("240")));
    // The record of 3:59 is from before `watch`: unknown until the next one.
    let late = measured(
        "length of time when core above 37.7 °C during watch",
        "3:59 core 38.0; 5:00 core 38.0",
        "6:00",
    );
    assert_eq!((late.held, late.unknown), (number("60"), number("60")));
    // After the case there is nothing to measure.
    let after = measured("length of time when core above 37.7 °C", records, "20:00");
    assert_eq!(after.held, number("480"));
}

#[test]
fn m35_a_test_of_the_clock_counts_from_its_moment() {
    let length = measured(
        "length of time when core not recorded for 90 min",
        "1:00 core 37.0",
        "4:00",
    );
    assert_eq!((length.held, length.known), (number("90"), number("240")));
}

/// Two published series of body temperature (P. S. Reynolds 1994, as `beaver1` and
/// `beaver2` in R's datasets), one with a gap of 20 min. The expected minutes and
/// areas were counted by pandas 3.1: each sample holds until the next.
#[test]
fn m35_agrees_with_another_program_on_published_series() {
    let cases = [
        (include_str!("beaver1.csv"), "37.0", "170", "12/25"),
        (include_str!("beaver1.csv"), "37.5", "10", "1/200"),
        (include_str!("beaver1.csv"), "38.0", "0", "0"),
        (include_str!("beaver2.csv"), "37.0", "850", "5987/600"),
        (include_str!("beaver2.csv"), "37.5", "610", "33/8"),
        (include_str!("beaver2.csv"), "38.0", "230", "277/600"),
    ];
    for (table, level, minutes, area) in cases {
        let protocol = protocol(&format!(
            r#"
  reading animal "Animal" temperature at rectum, shown to 0.01 °C, accurate to 0.1 °C, good for 30 min
  phase watch "Watch" {{
    keep core 36.0 °C to 37.5 °C
    lasts 24 h
  }}
  rule sustained {{ when animal above 37.5 °C for 30 min  then do "Look" }}
  measure area "Area" area of animal above {level} °C
  measure time "Time" length of time when animal above {level} °C
"#
        ));
        let auditor = Auditor::new(&protocol, Options::default());
        let audit = auditor
            .audit_text("animal", &table.replace("core", "animal"), &Case::default())
            .expect("memory can be read");
        assert_eq!(audit.problems, []);
        let value = |key: &str| audit.figure(key).and_then(|figure| figure.value);
        assert_eq!(value("measure.area"), Some(number(area)), "{level}");
        assert_eq!(value("measure.time"), Some(number(minutes)), "{level}");
        assert_eq!(value("measure.area.unknown"), Some(Exact::ZERO));
        // A single sample above 37.5 °C in the first series is not 30 min.
        assert_eq!(!audit.rules.is_empty(), audit.counted == 100);
    }
}
