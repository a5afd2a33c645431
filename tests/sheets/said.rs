//! What a protocol orders stands on its sheet, wherever it is ordered.

use crate::printed::{BOTH, all};
use std::collections::BTreeSet;
use tempwright::document::markdown;
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
