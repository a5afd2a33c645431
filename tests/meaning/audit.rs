//! A finished case in a table, held against its protocol.

use crate::case::protocol;
use tempwright::audit::{audit, read, report};
use tempwright::eval::Case;
use tempwright::plan::Clock;
use tempwright::quantity::Exact;

const BODY: &str = r#"
  phase cool "Cool" {
    cool core to 33.0 °C
  }
  phase hold "Hold" {
    hold core at 33.0 °C within 0.5 °C
    lasts 24 h
  }
  every 1 h record core
  rule too-cold { when core below 32.5 °C during hold  then call doctor now }
  measure in-band "In the band" share of time when core within 0.5 °C of target during hold
  measure cold "Cold burden" area of core below 33.0 °C
  measure warm "Above 34" length of time when core above 34.0 °C
"#;

const WIDE: &str = "time,core,rosc,awake,weight
0:00,36.0,yes,alert,
1:00,34.0,,,
2:00,33.0,,verbal,
3:00,32.4,,,80
4:20,33.6,,asleep,
5:00,33.05,,,
6:00,\"33,0\",,,
";

#[test]
fn a_wide_table() {
    let protocol = protocol(BODY);
    let table = read(&protocol, WIDE, None);
    insta::assert_snapshot!(report(&audit(&protocol, &Case::default(), &table)));
}

#[test]
fn long_is_the_same_as_wide() {
    let protocol = protocol(BODY);
    let wide = read(
        &protocol,
        "time,core,rosc,awake\n0:00,36.0,x,alert\n1:30,34.0,,\n",
        None,
    );
    let long = read(
        &protocol,
        "Time;Name;Value\r\n0:00;core;36.0\r\n0:00;rosc;\r\n0:00;awake;alert\r\n1:30;core;34.0\r\n",
        None,
    );
    assert!(wide.problems.is_empty() && long.problems.is_empty());
    assert_eq!(wide, long);
}

#[test]
fn dates_need_a_start_by_the_clock() {
    let protocol = protocol(BODY);
    let text = "time,core\n2026-11-24 08:00,36.0\n2026-11-25T00:30:30,34.0\n";
    let clock = Clock::parse("UTC", "2026-11-24T07:30").expect("a start");
    let table = read(&protocol, text, Some(&clock));
    assert_eq!(table.problems, []);
    let times: Vec<Exact> = table.entries.iter().map(|entry| entry.at).collect();
    assert_eq!(times, [Exact::int(30), Exact::ratio(2041, 2)]);
    assert_eq!(read(&protocol, text, None).problems.len(), 2);
}

#[test]
fn rows_out_of_order_are_put_in_order_and_it_is_said() {
    let protocol = protocol(BODY);
    let table = read(&protocol, "time,core\n2:00,36.0\n1:00,34.0\n", None);
    assert_eq!(
        table.entries.first().map(|entry| entry.at),
        Some(Exact::int(60))
    );
    assert_eq!(table.problems.len(), 1);
}

#[test]
fn what_is_no_table_is_said_and_nothing_is_guessed() {
    let protocol = protocol(BODY);
    for text in [
        "",
        "core\n33.0\n",
        "time,core\n1:00\n",
        "time,core\n1:60,33.0\n",
        "time,core\n1:00,1/3\n",
        "time,core\n\"1:00,33.0\n",
    ] {
        let table = read(&protocol, text, None);
        assert_eq!(
            (table.entries.len(), table.problems.len()),
            (0, 1),
            "{text}"
        );
    }
}
