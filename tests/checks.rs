//! The registry of checks, walked: names, texts, and both examples of each.

#![allow(clippy::expect_used, clippy::panic)] // a test says so by panicking

use std::collections::BTreeSet;
use tempwright::checks::{self, Check, Context, Report, Run, evidence, example};
use tempwright::model::load;
use tempwright::parallel;
use tempwright::source::MemoryLibrary;

/// Everything that is found in a whole protocol.
fn found(text: &str, day: Option<jiff::civil::Date>) -> Report {
    let library = MemoryLibrary::default().with("example.protocol", text);
    let loaded = load(&library, &["example.protocol"]).expect("the text is in memory");
    let Some((_, protocol)) = loaded.protocols.first() else {
        let titles: Vec<&str> = loaded
            .diagnostics
            .iter()
            .map(|d| d.title.as_str())
            .collect();
        panic!("not a whole protocol: {titles:#?}");
    };
    let context = Context::new(protocol, &loaded.sources)
        .on(day)
        .with_fingerprint(Some(example::FINGERPRINT));
    checks::check(&context, loaded.diagnostics.clone())
}

fn names(report: &Report) -> Vec<&'static str> {
    report.findings.iter().map(|finding| finding.name).collect()
}

/// Name and title, for messages of failing tests.
fn titles(report: &Report) -> Vec<String> {
    report
        .findings
        .iter()
        .map(|finding| format!("{}: {}", finding.name, finding.title))
        .collect()
}

fn of_example(check: &Check, text: &str) -> Report {
    let whole = example::complete(text)
        .unwrap_or_else(|| panic!("`{}`: its example has no host", check.name));
    found(&whole, example::day(text))
}

#[test]
fn on_two_cores_the_same_is_found_as_on_one() {
    let examples: Vec<&Check> = checks::all()
        .filter(|check| !matches!(check.run, Run::Reading))
        .collect();
    // Where the cores have their work already, each protocol is checked on one.
    let alone = parallel::map(examples.clone(), |check| of_example(check, check.fires));
    for (check, alone) in examples.iter().zip(alone) {
        assert_eq!(of_example(check, check.fires), alone, "`{}`", check.name);
    }
}

#[test]
fn every_name_is_unique_and_in_kebab_case() {
    let mut seen = BTreeSet::new();
    for name in checks::explain::names() {
        assert!(seen.insert(name), "`{name}` stands twice");
        assert!(
            name.chars()
                .all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-'),
            "`{name}`"
        );
    }
}

#[test]
fn nothing_of_a_check_is_empty() {
    for check in checks::all() {
        for text in [
            check.summary,
            check.catches,
            check.why,
            check.source,
            check.since,
        ] {
            assert!(!text.is_empty(), "`{}`", check.name);
        }
        if !matches!(check.run, Run::Reading) {
            assert!(!check.fires.is_empty(), "`{}` has no example", check.name);
            assert!(!check.passes.is_empty(), "`{}` has no example", check.name);
        }
    }
    for row in evidence::rows() {
        for text in [
            row.quantity,
            row.patients,
            row.intent,
            row.limit,
            row.protects,
            row.source,
            row.seen,
        ] {
            assert!(!text.is_empty(), "`{}`", row.id);
        }
    }
}

#[test]
fn every_host_is_without_findings() {
    for host in ["arrest", "newborn"] {
        let text = example::complete(&format!("# host {host}\n")).expect("a host");
        let report = found(&text, None);
        assert!(report.findings.is_empty(), "{host}: {:#?}", titles(&report));
    }
}

#[test]
fn the_first_example_fires_exactly_its_own_check() {
    let mut wrong = Vec::new();
    for check in checks::all().filter(|check| !matches!(check.run, Run::Reading)) {
        let report = of_example(check, check.fires);
        let mut names = names(&report);
        if check.name == "exception-expired" {
            // What was let stand shows again.
            names.retain(|name| *name != "second-site-missing");
        }
        if names != [check.name] {
            wrong.push((check.name, titles(&report)));
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn the_second_example_gives_no_finding_at_all() {
    let mut wrong = Vec::new();
    for check in checks::all().filter(|check| !matches!(check.run, Run::Reading)) {
        let report = of_example(check, check.passes);
        if !report.findings.is_empty() {
            wrong.push((check.name, titles(&report)));
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn a_finding_says_what_where_why_and_how() {
    for check in checks::all().filter(|check| !matches!(check.run, Run::Reading)) {
        for finding in of_example(check, check.fires).findings {
            let title = &finding.title;
            assert!(!title.ends_with('.'), "{title}");
            assert!(title.starts_with(|c: char| !c.is_uppercase()), "{title}");
            assert!(!finding.why.is_empty(), "{title}");
            assert!(!finding.help.is_empty(), "{title}");
            assert!(finding.source.is_some(), "{title}");
            assert!(finding.place.span.end > finding.place.span.start, "{title}");
        }
    }
}

/// Everything that reading can report has a page, so `explain` never fails on a
/// name that a person has just read.
#[test]
fn every_finding_of_reading_has_a_page() {
    let mut sources = String::new();
    for folder in ["src/syntax", "src/model", "src/plan"] {
        read_all(std::path::Path::new(folder), &mut sources);
    }
    let mut missing = BTreeSet::new();
    for (at, _) in sources.match_indices('"') {
        let rest = &sources[at + 1..];
        let Some((name, after)) = rest.split_once('"') else {
            continue;
        };
        let before = sources[..at].trim_end();
        let begins = ["error(", "warning(", "note("]
            .iter()
            .any(|call| before.ends_with(call));
        let kebab = name.chars().all(|c| c.is_ascii_lowercase() || c == '-');
        if begins && kebab && after.starts_with(',') && checks::explain(name).is_none() {
            missing.insert(name.to_owned());
        }
    }
    assert!(missing.is_empty(), "{missing:?}");
}

fn read_all(folder: &std::path::Path, into: &mut String) {
    let mut entries: Vec<_> = std::fs::read_dir(folder)
        .expect("a folder of the sources")
        .map(|entry| entry.expect("an entry").path())
        .collect();
    entries.sort();
    for path in entries {
        if path.is_dir() {
            read_all(&path, into);
        } else if path.extension().is_some_and(|extension| extension == "rs") {
            into.push_str(&std::fs::read_to_string(&path).expect("a source file"));
        }
    }
}

/// Who reads that an order begins and ends at once, never ends, or is seen too late
/// is shown a record on which it does.
#[test]
fn what_happens_is_shown_on_a_record() {
    for name in ["chatter", "seen-too-late", "until-never"] {
        let check = checks::all()
            .find(|check| check.name == name)
            .expect("a check");
        for finding in of_example(check, check.fires).findings {
            let case = finding.witness.unwrap_or_else(|| panic!("`{name}`"));
            assert!(!case.outcome.is_empty(), "`{name}`");
            let recorded = case.moments.iter().flat_map(|moment| &moment.records);
            assert!(recorded.count() > 0, "`{name}`: {:?}", case.moments);
        }
    }
}
