//! Broken logs: each with its lines, what could be read counted, what could not listed.

use crate::case::{audit, audit_bytes, audit_with, told};
use tempwright::audit::Options;

macro_rules! told {
    ($name:ident, $log:expr) => {
        #[test]
        fn $name() {
            let log: &str = $log;
            insta::assert_snapshot!(format!("{log}---\n{}", told(&audit(log))));
        }
    };
}

told!(
    fahrenheit_under_a_celsius_head,
    "time,core (°C),water
0:00,96.8,20.0
1:00,95.4,
2:00,36.1,12.0
3:00,91.4,
"
);

told!(
    celsius_under_a_fahrenheit_head,
    "time,core (°F)
0:00,96.8
1:00,35.4
2:00,91.4
"
);

told!(
    rows_that_stand_there_twice,
    "time,core
0:00,36.0
1:00,35.0
1:00,35.0
2:00,34.0
2:00,33.9
"
);

told!(
    rows_out_of_order,
    "time,core
0:00,36.0
2:00,34.0
1:00,35.0
3:00,33.5
1:30,34.6
"
);

told!(
    gaps,
    "time,core,shiver
0:00,36.0,0
1:00,35.0,
5:30,33.4,1
6:00,33.2,
"
);

told!(
    values_that_cannot_be,
    "time,core,water,shiver,sugar
0:00,36.0,150.0,0,5.5
1:00,0.0,14.0,7,-1
2:00,-33.0,,1.5,five
3:00,33.04,,NaN,5.55
4:00,1e3,14.0,1/3,∞
5:00,33.4,14.0,1,5.5
"
);

told!(
    times_in_another_zone,
    "time,core
2026-11-24T08:00,36.0
2026-11-24T09:00+00:00,35.0
2026-11-24T15:30+05:30,34.0
2026-11-24T11:00Z,33.5
2026-11-24T12:00 CET,33.4
2026-11-24T13:00[Europe/Nowhere],33.4
24/11/2026 14:00,33.3
"
);

told!(
    the_night_on_which_clocks_change,
    "time,core
2026-10-25T00:30,36.0
2026-10-25T01:30,35.0
2026-10-25T01:30+00:00,34.0
2026-10-25T02:30,33.5
"
);

told!(
    ragged_rows,
    "time,core,water
0:00,36.0,20.0
1:00,35.0
2:00,34.0,15.0,33.0
3:00,33.5,14.0,,
4:00;33.4;14.0
"
);

told!(
    marks_at_the_head_semicolons_and_decimal_commas,
    "\u{feff}time;core;water\r\n0:00;36,4;20,0\r\n1:00;35,1;\r\n2:00;34,0;15.5\r\n3:00;1.033,5;14,0\r\n"
);

told!(
    decimal_commas_between_commas,
    "time,core\n0:00,\"36,4\"\n1:00,35,1\n2:00,34.0\n"
);

told!(
    columns_that_mean_nothing,
    "time,core,core,heart,,sugar (mg/dL)\n0:00,36.0,36.1,80,x,99\n1:00,35.0,,,,\n"
);

told!(no_column_for_the_time, "date,core\n0:00,36.0\n1:00,35.0\n");

told!(only_a_head, "time,core\n");

told!(nothing_at_all, "");

told!(
    a_quote_that_is_never_closed,
    "time,core\n0:00,36.0\n1:00,\"35.0\n2:00,34.0\n3:00,33.5\n"
);

told!(
    long_form_with_faults,
    "time,reading,value
0:00,core,36.0
0:00,rosc,
1:00,hart,80
1:00,core,
2:00,core
2:00,core,34.0
,core,33.0
"
);

told!(
    records_outside_the_case,
    "time,reading,value
-1:00,rosc,
-0:30,core,36.4
0:00,core,33.0
3:00,core,33.0
5:00,core,35.0
7:00,core,35.0
8:00,core,36.0
9:00,core,36.0
10:00,core,36.0
10:30,core,36.0
11:00,rosc,
"
);

told!(
    marks_that_say_neither_yes_nor_no_and_marks_made_again,
    "time,core,rosc
-1:00,,yes
0:00,36.0,no
1:00,35.0,13:05
2:00,34.0,maybe
3:00,33.5,yes
4:00,33.4,X
"
);

told!(
    two_weights,
    "time,core,weight (kg)
0:00,36.0,82
1:00,35.0,82
2:00,34.0,28
3:00,33.5,29
"
);

told!(
    two_starts,
    "time,name,value
2026-11-24T10:00,start,
2026-11-24T10:00,core,36.0
2026-11-24T12:00,start,yes
2026-11-24T12:00,core,33.5
"
);

told!(
    a_weight_that_is_none,
    "time,core,weight (kg)
0:00,36.0,
1:00,35.0,heavy
"
);

#[test]
fn bytes_that_are_no_text() {
    let mut log = b"time,core\n0:00,36.0\n".to_vec();
    log.extend_from_slice(b"PK\x03\x04\x00\x00\x08\n\xff\xfe\x00\x01\n1:00,35.0\n");
    insta::assert_snapshot!(told(&audit_bytes(&log, Options::default())));
    let utf16: Vec<u8> = [0xff, 0xfe]
        .into_iter()
        .chain("time,core\n0:00,36.0\n".bytes().flat_map(|byte| [byte, 0]))
        .collect();
    insta::assert_snapshot!(told(&audit_bytes(&utf16, Options::default())));
}

#[test]
fn a_log_of_single_bytes_is_read_and_it_is_said() {
    let log = b"time,core (\xb0C)\n0:00,36.0\n1:00,35.0\n";
    insta::assert_snapshot!(told(&audit_bytes(log, Options::default())));
}

#[test]
fn values_finer_than_the_display_are_rounded_only_when_asked() {
    let log = "time,core\n0:00,36.04\n1:00,35.05\n2:00,34.96\n";
    insta::assert_snapshot!(format!(
        "{}with --round\n{}",
        told(&audit(log)),
        told(&audit_with(
            log,
            Options {
                round: true,
                ..Options::default()
            }
        ))
    ));
}

#[test]
fn fahrenheit_by_its_head_is_counted() {
    let told = told(&audit("time,core (°F)\n0:00,96.8\n1:00,93.3\n2:00,91.4\n"));
    insta::assert_snapshot!(told);
}

proptest::proptest! {
    #![proptest_config(proptest::prelude::ProptestConfig {
        failure_persistence: None,
        ..proptest::prelude::ProptestConfig::with_cases(300)
    })]

    /// Whatever the bytes, the log is read to its end, and each of its rows is either
    /// counted or told.
    #[test]
    fn any_bytes(bytes in proptest::collection::vec(proptest::prelude::any::<u8>(), 0..400)) {
        let audit = audit_bytes(&bytes, Options::default());
        proptest::prop_assert!(audit.counted <= audit.entries);
        if audit.entries == 0 {
            proptest::prop_assert!(!audit.problems.is_empty());
        }
    }

    /// A line is never lost in silence: a row that is no entry has its line in a problem.
    #[test]
    fn every_line_is_accounted_for(
        rows in proptest::collection::vec("[0-9]{1,2}:[0-9]{2},(3[0-9]\\.[0-9]|[a-z0-9.;]{1,6}|)", 1..40),
    ) {
        let log = format!("time,core\n{}\n", rows.join("\n"));
        let audit = audit(&log);
        for (index, row) in rows.iter().enumerate() {
            let line = index as u64 + 2;
            let value = row.split_once(',').expect("two fields").1;
            // An empty cell is no record, in quotes or without.
            if value.trim_matches('"').is_empty() {
                continue;
            }
            let is_told = audit.problems.iter().any(|problem| {
                problem.weight == tempwright::audit::Weight::Lost
                    && problem.first_line.is_some_and(|first| first <= line)
                    && problem.last_line.is_some_and(|last| line <= last)
            });
            // A cell may name its own unit: 70f is 21.1 °C.
            let (number, range) = match (value.strip_suffix('f'), value.strip_suffix('c')) {
                (Some(number), _) => (number, 68.0..=113.0),
                (_, Some(number)) => (number, 20.0..=45.0),
                _ => (value, 20.0..=45.0),
            };
            let places = number.split_once('.').map_or(0, |(_, places)| places.len());
            let can_be = number
                .parse::<f64>()
                .is_ok_and(|number| range.contains(&number))
                && places <= 1;
            let time = row.split_once(',').expect("two fields").0;
            let good = can_be && time.split_once(':').is_some_and(|(_, m)| m < "60");
            proptest::prop_assert!(is_told || good, "line {line}: {row}\n{}", told(&audit));
        }
    }
}
