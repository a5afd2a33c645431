//! What comes again within a part of a minute is refused when the protocol is read: a
//! rule that was ready again every few milliseconds once filled the memory.

#![allow(clippy::expect_used)] // a test says so by panicking

use tempwright::model::load;
use tempwright::source::MemoryLibrary;

const DEMO: &str = include_str!("../protocols/adult-arrest-33.protocol");
const LADDER: &str = include_str!("../protocols/shared/shivering.protocol");

/// What is said of the demo in which `words` stand once more with another interval.
fn titles(words: &str, instead: &str) -> Vec<String> {
    assert!(DEMO.contains(words) || LADDER.contains(words), "{words}");
    let demo = DEMO.replacen(words, instead, 1);
    let ladder = LADDER.replacen(words, instead, 1);
    let library = MemoryLibrary::default()
        .with("protocols/adult-arrest-33.protocol", &demo)
        .with("protocols/shared/shivering.protocol", &ladder);
    load(&library, &["protocols/adult-arrest-33.protocol"])
        .expect("the texts are in memory")
        .diagnostics
        .into_iter()
        .filter(|found| found.name == "not-positive")
        .map(|found| found.title)
        .collect()
}

#[test]
fn what_comes_again_within_a_minute_is_refused() {
    for (words, short, least, said) in [
        (
            "again after 2 h",
            "again after 0.000001 h",
            "again after 1 min",
            "follow a rule again",
        ),
        (
            "every 15 min record core",
            "every 59 s record core",
            "every 60 s record core",
            "look",
        ),
        (
            "target moves every 1 h",
            "target moves every 0.99 min",
            "target moves every 1 min",
            "move a target",
        ),
        (
            "recheck in 20 min",
            "recheck in 1 s",
            "recheck in 1 min",
            "look again",
        ),
    ] {
        let found = titles(words, short);
        assert_eq!(found.len(), 1, "{short}: {found:?}");
        assert!(found.iter().all(|title| title.contains(said)), "{found:?}");
        assert_eq!(titles(words, least), Vec::<String>::new(), "{least}");
    }
}
