//! Clock times where the clock or the calendar jumps. What is expected is worked out here from the
//! zone's rules by hand, not by the program.

use crate::printed::{case_at, demo, grids, print, section};
use tempwright::document::{Cell, Document, Paper, Row};

/// The rows of one phase of the record: a date, or a time with the hours before it.
fn rows(document: &Document, phase: &str) -> Vec<String> {
    let mut out = Vec::new();
    let mut inside = false;
    for table in grids(document) {
        for row in &table.rows {
            if let Some(text) = section(row) {
                inside = text.plain().starts_with(phase);
                continue;
            }
            match row {
                Row::Band { text, divider, .. } if inside && *divider => out.push(text.plain()),
                Row::Cells { cells, .. } if inside => {
                    let texts = cells.iter().map_while(|cell| match cell {
                        Cell::Text(text) => Some(text.plain()),
                        _ => None,
                    });
                    out.push(texts.collect::<Vec<_>>().join(" "));
                }
                _ => {}
            }
        }
    }
    out
}

/// The record of a hold that was reached then.
fn hold(start: &str, mark: &str, reached: &str) -> Vec<String> {
    let protocol = demo("adult-arrest-33");
    let case = case_at(&protocol, start, mark, "82 kg")
        .enter_reached(&protocol, reached)
        .expect("reached");
    rows(&print(&protocol, &case, Paper::A4), "2 Hold at target")
}

fn has(rows: &[String], wanted: &[&str]) {
    let found = rows
        .windows(wanted.len())
        .any(|window| window.iter().zip(wanted).all(|(row, wanted)| row == wanted));
    assert!(found, "{wanted:?} in {rows:#?}");
}

#[test]
fn midnight_names_the_new_day() {
    let rows = hold("2026-11-24T20:00", "2026-11-24T19:00", "2026-11-24T22:30");
    has(
        &rows,
        &[
            "Tue 24 Nov 2026",
            "0:00 22:30",
            "1:00 23:30",
            "Wed 25 Nov 2026",
            "2:00 00:30",
        ],
    );
}

#[test]
fn the_end_of_a_month_and_of_a_year() {
    let rows = hold("2026-12-31T20:00", "2026-12-31T19:00", "2026-12-31T23:00");
    has(
        &rows,
        &[
            "Thu 31 Dec 2026",
            "0:00 23:00",
            "Fri 1 Jan 2027",
            "1:00 00:00",
        ],
    );
    let rows = hold("2026-11-30T20:00", "2026-11-30T19:00", "2026-11-30T23:00");
    has(
        &rows,
        &[
            "Mon 30 Nov 2026",
            "0:00 23:00",
            "Tue 1 Dec 2026",
            "1:00 00:00",
        ],
    );
}

#[test]
fn the_29th_of_february_is_there_in_a_leap_year_only() {
    let rows = hold("2028-02-28T20:00", "2028-02-28T19:00", "2028-02-28T23:30");
    has(
        &rows,
        &[
            "Mon 28 Feb 2028",
            "0:00 23:30",
            "Tue 29 Feb 2028",
            "1:00 00:30",
        ],
    );
    let rows = hold("2027-02-28T20:00", "2027-02-28T19:00", "2027-02-28T23:30");
    has(
        &rows,
        &[
            "Sun 28 Feb 2027",
            "0:00 23:30",
            "Mon 1 Mar 2027",
            "1:00 00:30",
        ],
    );
}

/// Europe/London, Sunday 28 March 2027: at 01:00 the clock goes to 02:00.
#[test]
fn an_hour_of_the_clock_is_left_out_in_spring() {
    let rows = hold("2027-03-27T20:00", "2027-03-27T19:00", "2027-03-27T23:00");
    has(
        &rows,
        &[
            "0:00 23:00",
            "Sun 28 Mar 2027",
            "1:00 00:00",
            "2:00 02:00",
            "3:00 03:00",
        ],
    );
}

/// Europe/London, Sunday 25 October 2026: at 02:00 the clock goes back to 01:00, and each hour
/// that comes twice says which it is.
#[test]
fn an_hour_of_the_clock_comes_twice_in_autumn() {
    let rows = hold("2026-10-24T20:00", "2026-10-24T19:00", "2026-10-24T23:00");
    has(
        &rows,
        &[
            "0:00 23:00",
            "Sun 25 Oct 2026",
            "1:00 00:00",
            "2:00 01:00 (+01:00)",
            "3:00 01:00 (+00:00)",
            "4:00 02:00",
        ],
    );
}

#[test]
fn the_phases_on_page_one_end_by_elapsed_time_over_a_change_of_the_clock() {
    // Reached on Saturday at 23:00; 24 h later the clock has gone forward: Sunday, midnight.
    let protocol = demo("adult-arrest-33");
    let case = case_at(&protocol, "2027-03-27T20:00", "2027-03-27T19:00", "82 kg")
        .enter_reached(&protocol, "2027-03-27T23:00")
        .expect("reached");
    let document = print(&protocol, &case, Paper::A4);
    let tables = crate::printed::tables(&document.blocks);
    let phases = tables.first().expect("the phases");
    let Some(Row::Cells { cells, .. }) = phases.rows.get(1) else {
        panic!("{phases:?}");
    };
    let words: Vec<String> = cells
        .iter()
        .map(|cell| match cell {
            Cell::Text(text) => text.plain().replace('\u{a0}', " "),
            _ => String::new(),
        })
        .collect();
    assert_eq!(words[1], "Sat 27 Mar 23:00");
    assert_eq!(words[2], "Mon 29 Mar 00:00");
}

/// Hours and clock of each row go together: so many hours after the phase began.
#[test]
fn in_every_row_the_clock_is_the_beginning_and_the_hours() {
    let mut seen = 0;
    for sheet in crate::printed::all(&[Paper::A4]) {
        for table in grids(&sheet.document) {
            let mut first: Option<i64> = None;
            for row in &table.rows {
                if section(row).is_some() {
                    first = None;
                }
                let Row::Cells { cells, .. } = row else {
                    continue;
                };
                let [Cell::Text(hours), Cell::Text(clock), ..] = cells.as_slice() else {
                    continue;
                };
                let minutes = |text: String| -> Option<i64> {
                    let (hours, minutes) = text.split_once(':')?;
                    Some(hours.parse::<i64>().ok()? * 60 + minutes.parse::<i64>().ok()?)
                };
                if let (Some(hours), Some(clock)) = (minutes(hours.plain()), minutes(clock.plain()))
                {
                    let begun = (clock - hours).rem_euclid(1440);
                    assert_eq!(*first.get_or_insert(begun), begun, "{}", sheet.what());
                    seen += 1;
                }
            }
        }
    }
    assert!(seen > 10, "{seen}");
}
