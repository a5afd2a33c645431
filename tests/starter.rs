//! Every starter checks clean, passes its own scenarios, and is in the one style.

#![allow(clippy::expect_used)] // a test says so by panicking

use tempwright::checks::run::check_all;
use tempwright::diag::render::concise;
use tempwright::format::format;
use tempwright::model::load;
use tempwright::rehearse::rehearse;
use tempwright::source::MemoryLibrary;
use tempwright::starter::{Kind, ROUTES, Wish, text};

#[test]
fn every_starter_is_clean() {
    for kind in Kind::ALL {
        for route in ROUTES
            .iter()
            .take(if kind.has_routes() { ROUTES.len() } else { 1 })
        {
            let written = text(&Wish {
                name: "first-draft".to_owned(),
                kind,
                route: *route,
                patients: kind.usual_patients(),
                target: "33.0 °C".to_owned(),
                hold: "24 h".to_owned(),
                rewarm: "0.25 °C/h".to_owned(),
            });
            for of_the_example in ["Saltmarsh", "nvented", "\n  use \""] {
                assert!(
                    !written.contains(of_the_example),
                    "{kind:?}: {of_the_example}"
                );
            }
            assert_eq!(format(&written).as_deref(), Ok(written.as_str()));
            let library = MemoryLibrary::default().with("first-draft.protocol", &written);
            let loaded = load(&library, &["first-draft.protocol"]).expect("read");
            let checked = check_all(loaded, None);
            let found: Vec<String> = checked
                .findings
                .iter()
                // What is still to be decided is said, and fails nothing.
                .filter(|found| found.name != "undecided")
                .map(|found| concise(found, &checked.sources))
                .collect();
            assert!(found.is_empty(), "{kind:?} {route:?}: {found:#?}");
            let (_, protocol) = checked.protocols.first().expect("a protocol");
            assert!(rehearse(protocol, &checked.sources).passed());
            let undecided = written.matches("# decide:").count();
            let told = checked.findings.iter();
            let told = told.filter(|found| found.name == "undecided").count();
            assert_eq!(told, undecided, "each is told until it is gone");
            assert!(
                undecided >= 10,
                "the open decisions are listed: {undecided}"
            );
        }
    }
}
