//! M19 and M21 where no look falls: marks before the start, phases that a mark ends, moves of the
//! target by the clock alone.

use crate::case::told;

/// A mark before the start is known at the start, and one at the start is written down there.
#[test]
fn m19_a_mark_before_the_start_counts_from_its_own_time() {
    let body = "
  phase guard \"Guard\" {
    keep core 36.0 °C to 37.5 °C
    ends 3 h after rosc
  }
  every 1 h record core";
    let ends = |records: &str| {
        let told = told(body, records);
        let ends: Vec<String> = told
            .times("phase `guard` ends")
            .iter()
            .map(|at| (*at).to_owned())
            .collect();
        (ends, told.times("mark").len(), told.lines)
    };
    for (records, end) in [
        ("-1:00 rosc; 0:00 core 36.5; until 4:00", "2:00"),
        ("-0:01 rosc; 0:00 core 36.5; until 4:00", "2:59"),
        ("0:00 rosc, core 36.5; until 4:00", "3:00"),
    ] {
        let (ends, marks, lines) = ends(records);
        assert_eq!(ends, [end], "{lines:#?}");
        assert_eq!(marks, usize::from(end == "3:00"), "{lines:#?}");
    }
}

/// The phase between ends by a mark: what comes before the third is counted from there.
#[test]
fn m19_before_a_phase_behind_one_that_a_mark_ends() {
    let body = "
  phase one \"One\" {
    keep core 36.0 °C to 37.5 °C
    lasts 1 h
  }
  phase two \"Two\" {
    keep core 36.0 °C to 37.5 °C
    ends 3 h after rosc
  }
  phase three \"Three\" {
    keep core 36.0 °C to 37.5 °C
    lasts 4 h
  }
  every 1 h record core
  at 30 min before three.start record second";
    for (rosc, asked) in [("-1:00", "1:30"), ("-0:30", "2:00")] {
        let told = told(body, &format!("{rosc} rosc; 0:00 core 36.5; until 4:00"));
        assert_eq!(
            told.times("asked: record second"),
            [asked],
            "{:#?}",
            told.lines
        );
    }
}

/// Nothing is asked for at 0:50 and 1:40: the clock alone moves the target.
#[test]
fn m21_the_target_moves_between_two_looks() {
    let body = "
  phase warm \"Warm\" {
    warm core from 33.0 °C to 36.0 °C at 0.12 °C/h
    target moves every 50 min in steps of 0.1 °C
  }
  every 1 h record core";
    let told = told(body, "0:00 core 33.0; until 2:00");
    assert_eq!(
        told.times("target"),
        ["0:00", "0:50", "1:40"],
        "{:#?}",
        told.lines
    );
}
