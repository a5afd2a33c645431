//! Every check of the rules on the examples of all checks: it fires on its own first
//! example, and nowhere else.

mod rules;

use rules::{load_text, rule_findings, shown};
use tempwright::checks::{self, Family, Run, example};

#[test]
fn hosts_are_clean() {
    let mut wrong = Vec::new();
    for host in example::hosts() {
        let text = example::complete(&format!("# host {host}\n")).expect("a host");
        wrong.extend(findings(host, &text, &[]));
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn own_examples_fire_and_pass() {
    let mut wrong = Vec::new();
    for check in checks::all().filter(|check| check.family == Family::Rules) {
        let text = example::complete(check.fires).expect("a host");
        wrong.extend(findings(
            &format!("{} fires", check.name),
            &text,
            &[check.name],
        ));
        let text = example::complete(check.passes).expect("a host");
        wrong.extend(findings(&format!("{} passes", check.name), &text, &[]));
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn examples_of_other_checks_are_clean() {
    let mut wrong = Vec::new();
    for check in checks::all()
        .filter(|check| check.family != Family::Rules && !matches!(check.run, Run::Reading))
    {
        for (kind, example) in [("fires", check.fires), ("passes", check.passes)] {
            let text = example::complete(example).expect("a host");
            wrong.extend(findings(&format!("{} {kind}", check.name), &text, &[]));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// What is found beside `expected`, or not found though expected.
fn findings(what: &str, text: &str, expected: &[&str]) -> Vec<String> {
    let loaded = load_text(text);
    if loaded.protocols.is_empty() {
        return if expected.is_empty() {
            Vec::new()
        } else {
            vec![format!(
                "{what}: not a whole protocol: {:#?}",
                loaded.diagnostics
            )]
        };
    }
    let (found, replays) = rule_findings(&loaded);
    let mut wrong = Vec::new();
    let names: Vec<&str> = found.iter().map(|finding| finding.name).collect();
    if names != expected {
        wrong.push(format!("== {what}: {names:?}\n{}", shown(&loaded, &found)));
    }
    if !replays.wrong.is_empty() {
        wrong.push(format!("== {what}: not reproduced: {:?}", replays.wrong));
    }
    wrong
}
