//! Suggested scenarios, pasted under each demo protocol whose own scenarios were taken
//! out: they are read, they pass, and they reach what they are for.

#![allow(clippy::expect_used, clippy::panic)] // a test says so by panicking

use std::path::Path;
use tempwright::model::{self, Loaded};
use tempwright::rehearse::{missing, rehearse, report};
use tempwright::source::MemoryLibrary;
use tempwright::suggest::suggest;

fn load(text: &str) -> Loaded {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("protocols/shared");
    let mut library = MemoryLibrary::default().with("protocols/it.protocol", text);
    for entry in std::fs::read_dir(root).expect("the libraries") {
        let path = entry.expect("an entry").path();
        let name = path
            .file_name()
            .expect("a name")
            .to_string_lossy()
            .into_owned();
        let text = std::fs::read_to_string(&path).expect("a text");
        library = library.with(&format!("protocols/shared/{name}"), &text);
    }
    let loaded = model::load(&library, &["protocols/it.protocol"]).expect("it is there");
    let errors: Vec<&str> = loaded
        .diagnostics
        .iter()
        .filter(|found| found.level == tempwright::diag::Level::Error)
        .map(|found| found.title.as_str())
        .collect();
    assert!(errors.is_empty(), "{errors:?}\n{text}");
    loaded
}

/// What cannot be reached by a suggestion, by name: each with its reason.
const WITHOUT: &[(&str, &[&str])] = &[];

fn pasted(name: &str) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("protocols/{name}.protocol"));
    let text = std::fs::read_to_string(path).expect("a demo");
    let bare = text
        .split("\nscenario ")
        .next()
        .expect("a protocol")
        .to_owned();
    let loaded = load(&bare);
    let (_, protocol) = loaded.protocols.first().expect("a protocol");
    assert!(protocol.scenarios.is_empty());
    let before = missing(protocol);
    let made = suggest(protocol);
    assert!(made.scenarios > 5, "{name}: {made:?}");
    let pasted = load(&format!("{bare}\n{}", made.text));
    let (_, protocol) = pasted.protocols.first().expect("a protocol");
    assert_eq!(protocol.scenarios.len(), made.scenarios);
    let tried = rehearse(protocol, &pasted.sources);
    assert!(
        tried.passed(),
        "{}\n{}",
        report(std::slice::from_ref(&tried)),
        made.text
    );
    let after = missing(protocol);
    let allowed = WITHOUT
        .iter()
        .find(|(of, _)| *of == name)
        .map_or(&[][..], |(_, list)| list);
    assert_eq!(made.without, allowed, "{name}");
    let left = after.phases.len() + after.rules.len() + after.rungs.len();
    assert_eq!(left, made.without.len(), "{name}: {after:?} of {before:?}");
}

macro_rules! pasted {
    ($($test:ident: $name:literal;)*) => {$(
        #[test]
        fn $test() {
            pasted($name);
        }
    )*};
}

pasted! {
    adult_arrest_33: "adult-arrest-33";
    adult_arrest_normothermia: "adult-arrest-normothermia";
    accidental_hypothermia: "accidental-hypothermia";
    heat_stroke: "heat-stroke";
    newborn_cooling: "newborn-cooling";
    theatre_warmth: "theatre-warmth";
}

#[test]
fn as_it_is_pasted() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("protocols/heat-stroke.protocol");
    let text = std::fs::read_to_string(path).expect("a demo");
    let bare = text.split("\nscenario ").next().expect("a protocol");
    let loaded = load(bare);
    let (_, protocol) = loaded.protocols.first().expect("a protocol");
    insta::assert_snapshot!(suggest(protocol).text);
}
