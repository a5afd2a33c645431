//! What a protocol orders stands on its sheet, wherever it is ordered.

use crate::printed::{BOTH, all};
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
            assert!(text.contains(" the steps"), "{}", sheet.what());
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
