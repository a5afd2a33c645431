//! What a protocol orders stands on its sheet, wherever it is ordered.

use crate::printed::{BOTH, all, case_at, demo, grids, print, section};
use std::collections::BTreeSet;
use tempwright::document::{Cell, Document, Paper, Row, markdown};
use tempwright::model::{LookWhat, ReadingKind};
use tempwright::words::Words;

/// A ladder that a look follows needs no rule: the nurse begins it at the value.
#[test]
fn steps_that_a_look_follows_say_when_they_begin() {
    let mut seen = 0;
    for sheet in all(&BOTH[..1]) {
        let text = markdown::render(&sheet.document).replace('\u{a0}', " ");
        for look in &sheet.protocol.looks {
            let LookWhat::Ask {
                then_follow: Some(ladder),
                ..
            } = &look.what
            else {
                continue;
            };
            let ladder = &sheet.protocol[ladder.value];
            let name = sheet.protocol[ladder.reading.value].title.markdown.trim();
            let begins = format!("**Begin at each {name} that is not so, in phase");
            assert!(text.contains(&begins), "{}: {begins}", sheet.what());
            let by_column = text.lines().find(|line| line.starts_with("By column: "));
            let column = format!("**{name}**: ");
            let (_, rest) = by_column
                .and_then(|line| line.split_once(&column))
                .expect("its column");
            let places = rest.split(';').next().unwrap_or(rest);
            assert!(places.contains("the steps"), "{}: {places}", sheet.what());
            seen += 1;
        }
    }
    assert_eq!(seen, 10, "five demos, blank and as a case");
}

/// Where a temperature of the body is taken stands in its title or in how the record is filled in.
#[test]
fn each_body_site_is_named() {
    let mut seen = 0;
    for sheet in all(&BOTH[..1]) {
        let text = markdown::render(&sheet.document).replace('\u{a0}', " ");
        let words = Words::of(&sheet.protocol);
        for (id, reading) in sheet.protocol.readings() {
            let ReadingKind::Body(site) = &reading.kind else {
                continue;
            };
            let site = tempwright::model::words::FixedWord::word(site.value).replace('-', " ");
            let name = words.reading(id);
            let told = text.contains(&format!("{}: {site}", words.reading_marked(id)));
            assert!(
                told || name.to_lowercase().contains(&site),
                "{}: {name} at {site}",
                sheet.what()
            );
            seen += 1;
        }
    }
    assert!(seen > 12, "{seen}");
}

/// The printed targets are those of a course that nothing has moved or held up.
#[test]
fn who_moves_a_target_is_told_to_write_the_others() {
    let told: BTreeSet<&str> = all(&BOTH[..1])
        .iter()
        .filter(|sheet| markdown::render(&sheet.document).contains("write the new targets beside"))
        .map(|sheet| sheet.name)
        .collect();
    // Those with a course and a rule that pauses control, or keeps or moves the target.
    let wanted = [
        "accidental-hypothermia",
        "adult-arrest-33",
        "newborn-cooling",
    ];
    assert_eq!(told, BTreeSet::from(wanted));
}

/// The head of a phase in the record, how many of its rows have a time, and how many are marked +.
fn rows(document: &Document, phase: &str) -> (String, usize, usize) {
    let (mut head, mut timed, mut more) = (String::new(), 0, 0);
    let mut inside = false;
    for row in grids(document).iter().flat_map(|table| &table.rows) {
        if let Some(text) = section(row) {
            inside = text.plain().starts_with(phase);
            if inside {
                head = text.plain();
            }
        } else if let (true, Row::Cells { cells, .. }) = (inside, row) {
            match cells.first() {
                Some(Cell::Text(text)) if text.plain() == "+" => more += 1,
                _ => timed += 1,
            }
        }
    }
    (head, timed, more)
}

/// Control ends 72 h after the return of circulation, 12:50 on 5 December, whenever its last
/// phase begins: between 14:30 + 24 h + 14 h and, for up to 4 h of cooling, 4 h later.
#[test]
fn a_phase_that_ends_by_the_clock_has_rows_for_when_it_begins_sooner() {
    let protocol = demo("adult-arrest-33");
    let case = case_at(&protocol, "2026-12-02T14:30", "2026-12-02T12:50", "82 kg");
    let (head, timed, more) = rows(&print(&protocol, &case, Paper::A4), "4 Prevent fever");
    assert!(
        head.ends_with("; ends Sat\u{a0}5\u{a0}Dec 12:50"),
        "{head:?}"
    );
    // From the latest beginning, 4 December 08:30, it is 28 h 20 min.
    assert_eq!((timed, more), (29, 2));
    // What began in truth leaves nothing open: 2 December 16:30 + 24 h + 14 h is 06:30.
    let known = case
        .enter_reached(&protocol, "cool=2026-12-02T16:30")
        .and_then(|case| case.enter_reached(&protocol, "rewarm=2026-12-04T06:30"))
        .expect("reached");
    let (head, timed, more) = rows(&print(&protocol, &known, Paper::A4), "4 Prevent fever");
    assert!(
        head.ends_with("; ends Sat\u{a0}5\u{a0}Dec 12:50"),
        "{head:?}"
    );
    assert_eq!((timed, more), (31, 0));
}

/// Nobody looks after an exchanger that is out.
#[test]
fn a_list_of_control_has_no_column_where_control_is_over() {
    let protocol = demo("adult-arrest-33");
    let case = case_at(&protocol, "2026-12-02T14:30", "2026-12-02T12:50", "82 kg");
    let text = markdown::render(&print(&protocol, &case, Paper::A4));
    let heads = text
        .lines()
        .find(|line| line.starts_with("| Step | Wed 2"))
        .expect("the list");
    // Control is over on 5 December at 12:50, the sheet on the 6th.
    assert!(heads.contains("Sat 5 07:30"), "{heads}");
    assert!(
        !heads.contains("Sat 5 19:30") && !heads.contains("Sun 6"),
        "{heads}"
    );
    assert!(text.contains("change of shift, as long as temperature is controlled: **Each shift"));
}

/// The plan counts on the latest beginning, 20 h, and so skips a phase that ends at 18 h; begun at
/// once it lasts all of them.
#[test]
fn a_phase_that_the_plan_skips_has_its_rows_all_the_same() {
    let protocol = crate::small::protocol(
        "  phase warm \"Warm\" {\n    warm core to 36.0 °C\n    due within 20 h\n  }\n  \
         phase hold \"Hold\" {\n    hold core at 36.0 °C within 0.5 °C\n    ends 18 h after start\n  }\n  \
         every 1 h record core",
    );
    let case = tempwright::plan::Case::default();
    let (head, timed, more) = rows(&print(&protocol, &case, Paper::A4), "2 Hold");
    assert!(head.starts_with("2 Hold"), "{head:?}");
    assert_eq!((timed, more), (18, 0));
}
