//! What stands beside a change so that it is right at a glance: what one dose comes to, where a
//! step stands, and a record on which the two versions order something else.

#![allow(clippy::expect_used, clippy::panic)] // a test says so by panicking

mod support;

use tempwright::compare::{Change, Kind, Report, Version, changes, compare, markdown};
use tempwright::model::{Loaded, Protocol, load};
use tempwright::source::MemoryLibrary;

const FLAGSHIP: &str = "protocols/adult-arrest-33.protocol";
const SHIVERING: &str = "protocols/shared/shivering.protocol";

fn read(library: &MemoryLibrary) -> Protocol {
    let loaded = load(library, &[FLAGSHIP]).expect("in memory");
    assert!(!loaded.has_errors(), "{:#?}", loaded.diagnostics);
    let (_, protocol) = loaded.protocols.into_iter().next().expect("one");
    protocol
}

/// The changes that one replaced text makes.
fn after(file: &str, from: &str, to: &str) -> Vec<Change> {
    let library = support::library();
    let text = library.files.get(file).expect("the file");
    assert!(text.contains(from), "`{from}` stands in {file}");
    let newer = library.clone().with(file, &text.replacen(from, to, 1));
    changes(&read(&library), &read(&newer))
}

fn the<'c>(changes: &'c [Change], what: &str) -> &'c Change {
    changes
        .iter()
        .find(|change| change.what == what)
        .unwrap_or_else(|| panic!("{what}: {changes:#?}"))
}

fn said(text: &str) -> String {
    text.replace('\u{a0}', " ")
}

#[test]
fn a_dose_is_told_as_what_is_drawn_up() {
    // 2 g of 100 mg/mL are 20 mL, 3 g are 30 mL.
    let found = after(SHIVERING, "dose 2 g iv", "dose 3 g iv");
    assert_eq!(
        said(&the(&found, "dose").consequence),
        "2 g (20 mL) → 3 g (30 mL)"
    );
    // The same dose out of a stronger liquid is less of it.
    let found = after(
        SHIVERING,
        "concentration 10 mcg/mL",
        "concentration 50 mcg/mL",
    );
    assert_eq!(
        said(&the(&found, "concentration").consequence),
        "50 mcg (5 mL) → 50 mcg (1 mL)"
    );
    // 0.3 mcg/kg/h of 4 mcg/mL: 50 kg 3.75 mL/h, 140 kg 10.5 mL/h, rounded down to 0.1.
    let found = after(SHIVERING, "infuse 0.3 mcg/kg/h", "infuse 0.2 mcg/kg/h");
    assert_eq!(
        said(&the(&found, "infusion").consequence),
        "at 50 kg: pump from 3.7 mL/h to 8.7 mL/h → pump from 2.5 mL/h to 8.7 mL/h; \
         at 140 kg: pump from 10.5 mL/h to 24.5 mL/h → pump from 7 mL/h to 24.5 mL/h"
    );
}

#[test]
fn a_step_is_told_with_its_place() {
    let gone = "    step \"Light sedation\" {\n      give dexmedetomidine otherwise continue\n      recheck in 30 min\n    }\n";
    let found = after(SHIVERING, gone, "");
    assert_eq!(
        said(&the(&found, "step").consequence),
        "it was step 3 of 7, after “Opioid”; each later step comes 30 min sooner"
    );
    let found = after(
        SHIVERING,
        "    step \"Warm the skin, magnesium\" {",
        "    step \"Turn off the draught\" {\n      do \"Close the door and the window\"\n      recheck in 10 min\n    }\n    step \"Warm the skin, magnesium\" {",
    );
    assert_eq!(
        said(&the(&found, "step").consequence),
        "the first of 8 steps; each later step comes 10 min later"
    );
}

/// An order that changed alone is shown on a record on which both versions act.
#[test]
fn an_order_is_told_on_a_record() {
    let found = after(
        FLAGSHIP,
        "    then call consultant within 30 min\n    again after 4 h",
        "    then call consultant within 15 min\n    again after 4 h",
    );
    let case = the(&found, "order").case.as_ref().expect("a record");
    assert_eq!(
        (case.old.first(), case.new.first()),
        (
            Some(&"`fever-lasting`: call consultant within 30 min".to_owned()),
            Some(&"`fever-lasting`: call consultant within 15 min".to_owned())
        )
    );
    assert!(
        case.record
            .moments
            .iter()
            .all(|moment| moment.phase == "guard"),
        "{case:#?}"
    );
}

/// Four phases in which the same happens are one line, not four.
#[test]
fn phases_with_the_same_change_are_told_together() {
    let found = after(
        FLAGSHIP,
        "every 1 h record water during cool, hold, rewarm, guard",
        "every 2 h record water during cool, hold, rewarm, guard",
    );
    assert_eq!(
        said(&the(&found, "times").consequence),
        "in `cool`, `hold`, `rewarm`, `guard` every 1 h → every 2 h"
    );
}

#[test]
fn a_rest_that_is_gone_is_told_as_removed() {
    let found = after(
        FLAGSHIP,
        "    ready again when core at or above 32.8 °C\n",
        "",
    );
    let change = the(&found, "ready again");
    assert_eq!(change.kind, Kind::Removed);
    assert_eq!(
        change.consequence,
        "it rests only until its condition no longer holds"
    );
}

/// A wait that changed is shown by when the rule speaks next.
#[test]
fn a_wait_is_told_by_the_next_time() {
    let found = after(
        FLAGSHIP,
        "    then call consultant within 30 min\n    again after 4 h",
        "    then call consultant within 30 min\n    again after 6 h",
    );
    let case = the(&found, "not again within")
        .case
        .as_ref()
        .expect("a record");
    let time = |lines: &[String]| -> i64 {
        let (hours, minutes) = lines[0]
            .rsplit(' ')
            .next()
            .and_then(|time| time.split_once(':'))
            .unwrap_or_else(|| panic!("{case:#?}"));
        hours.parse::<i64>().expect("hours") * 60 + minutes.parse::<i64>().expect("minutes")
    };
    // `core` is looked at every hour in that phase.
    assert_eq!(time(&case.new) - time(&case.old), 120, "{case:#?}");
}

/// What an `overrides` does is shown: which rule is silent, and because of which.
#[test]
fn a_rule_that_is_overridden_is_shown_to_be_silent() {
    let list = "overrides too-cold, too-warm, warming-too-fast, ahead-of-course, behind-course";
    let found = after(FLAGSHIP, list, &format!("{list}, fever"));
    assert_eq!(found.len(), 1, "{found:#?}");
    let change = the(&found, "overridden rule");
    assert_eq!(change.to.as_deref(), Some("overrides fever"));
    let case = change.case.as_ref().expect("a record");
    assert!(
        case.old
            .first()
            .is_some_and(|line| line.starts_with("`fever`: do ")),
        "{case:#?}"
    );
    assert_eq!(
        case.new.first().map(String::as_str),
        Some("`fever` is silent: `sites-disagree` overrides it")
    );
    // What `sites-disagree` says in both is not told.
    assert_eq!((case.old.len(), case.new.len()), (1, 1), "{case:#?}");
}

fn loaded(library: &MemoryLibrary, path: &str) -> Loaded {
    let loaded = load(library, &[path]).expect("in memory");
    assert!(!loaded.has_errors(), "{:#?}", loaded.diagnostics);
    loaded
}

fn version(loaded: &Loaded) -> Version<'_> {
    Version {
        protocol: &loaded.protocols[0].1,
        sources: &loaded.sources,
        reading: &loaded.diagnostics,
    }
}

/// A change as large as can be: everything is another protocol.
#[test]
fn another_protocol_altogether_still_fits_into_a_comment() {
    let library = support::library();
    let old = loaded(&library, FLAGSHIP);
    let new = loaded(&library, "protocols/heat-stroke.protocol");
    let found = compare(&version(&old), &version(&new));
    let total = found.of_meaning().count();
    assert!(total > 100, "{total} changes");
    let mut report = Report::new("`old`", "`new`");
    report.compared.push(found);
    let comment = markdown::report(&report);
    assert!(comment.chars().count() <= 60_000);
    // Whole in what is seen first, and what is missing is said.
    assert!(comment.contains(&format!("- {total} changes of meaning: ")));
    assert!(comment.contains("**The version does not fit:** the version goes back from 2.2.0 to"));
    assert!(comment.contains(&format!("**{} more changes of meaning** stand", total - 40)));
    assert!(comment.contains("**Cut here: "));
    assert_eq!(
        comment.matches("<details>").count(),
        comment.matches("</details>").count()
    );
}

/// The pages of a changed part are those on which its changed words are printed.
#[test]
fn the_pages_that_change_are_named() {
    use tempwright::document::pdf::{TextRole, lay_out};

    let library = support::library();
    let text = library.files.get(SHIVERING).expect("the file");
    let newer = library.clone().with(
        SHIVERING,
        &text.replacen("Deep sedation", "Deepest sleep", 1),
    );
    let (old, new) = (loaded(&library, FLAGSHIP), loaded(&newer, FLAGSHIP));
    let found = compare(&version(&old), &version(&new));
    let now = &new.protocols[0].1;
    assert_eq!(
        found.versions.libraries,
        ["library `shivering` has changed and is still version 1.0.0"]
    );
    let case = tempwright::plan::Case::default();
    let plan = tempwright::plan::Plan::of(now, &case).expect("a plan");
    let options = tempwright::sheet::Options::default();
    let document = tempwright::sheet::build(now, &plan, &case, &options).expect("a sheet");
    let layout = lay_out(&document).expect("pages");
    let printed: Vec<usize> = layout
        .texts()
        .iter()
        .filter(|text| text.role == TextRole::Body && text.text.contains("Deepest"))
        .map(|text| text.page)
        .collect();
    assert!(!printed.is_empty());
    let [part] = found.effects.sheet.as_slice() else {
        panic!("one part: {:#?}", found.effects.sheet);
    };
    let (first, last) = part.pages.expect("pages");
    assert!(
        printed.iter().all(|page| (first..=last).contains(page)),
        "{printed:?} in {first} to {last}"
    );
    assert!(last - first < 2, "not half the sheet: {first} to {last}");
    assert!(layout.page_count() > 5);
}
