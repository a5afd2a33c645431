//! How long a whole check takes: the demo protocols, and protocols of 50 to 500 rules
//! over 12 readings, on one core. `cargo bench --bench rules` prints the times.
//!
//! The generated rules are of the kinds that a unit writes: half order a move of the
//! target, one way or the other, so very many pairs could contradict each other and
//! none does.

#![allow(clippy::expect_used)]

use std::fmt::Write as _;
use std::path::Path;
use tempwright::checks::run::check_all;
use tempwright::model::load;
use tempwright::parallel::alone;
use tempwright::source::MemoryLibrary;

fn main() {
    divan::main();
}

fn protocol(rules: usize) -> String {
    let mut text = String::from(
        r#"protocol many {
  title    "Many rules (invented example, not for patient care)"
  unit     "Adult intensive care, Saltmarsh District Hospital"
  version  1.0.0
  review   2027-06-30
  purpose  fever-control after stroke
  patients adult, core 35.5 °C to 37.0 °C on arrival
  method   surface feedback from core
  timezone "Europe/London"
  people {
    nurse  "Bedside nurse"
    doctor "Doctor on duty"
  }
  reading core "Core temperature" temperature at bladder, continuous, shown to 0.1 °C, accurate to 0.2 °C
"#,
    );
    for at in 1..12 {
        let _ = writeln!(
            text,
            "  reading r{at} \"Reading {at}\" amount in mmHg, shown to 1 mmHg, reads 0 mmHg to 250 mmHg"
        );
    }
    text.push_str(
        "  phase hold \"Hold\" { hold core at 36.0 °C within 0.5 °C\n lasts 24 h }\n  every 1 h record core\n  every 1 h record ",
    );
    let names: Vec<String> = (1..12).map(|at| format!("r{at}")).collect();
    text.push_str(&names.join(", "));
    text.push('\n');
    for at in 0..rules {
        let reading = format!("r{}", at % 11 + 1);
        let far = at / 11;
        let (when, then) = match at % 4 {
            0 => (
                format!("core below 35.5 °C and {reading} above {} mmHg", 100 + far),
                "raise target by 0.1 °C, at most 36.5 °C".to_owned(),
            ),
            1 => (
                format!("core above 36.5 °C and {reading} below {} mmHg", 100 - far),
                "lower target by 0.1 °C, at least 35.5 °C".to_owned(),
            ),
            2 => (
                format!("{reading} above {} mmHg for 2 h", 150 + far),
                format!("do \"Look at {reading}, {at}\""),
            ),
            _ => (
                format!("{reading} rises more than {} mmHg in 2 h", 20 + far),
                format!("do \"Look at {reading} again, {at}\""),
            ),
        };
        let _ = writeln!(
            text,
            "  rule rule-{at} {{ when {when}\n then {then}\n then do \"Write down that {at}\"\n then call doctor within 30 min\n again after 2 h }}"
        );
    }
    text.push_str("}\n");
    text
}

#[divan::bench(args = [50, 100, 200, 500], sample_count = 5, sample_size = 1)]
fn many_rules(bencher: divan::Bencher<'_, '_>, rules: usize) {
    let library = MemoryLibrary::default().with("many.protocol", &protocol(rules));
    let loaded = || load(&library, &["many.protocol"]).expect("in memory");
    let first = check_all(loaded(), None);
    assert_eq!(first.protocols.len(), 1, "{:#?}", first.findings);
    let contradictions = first
        .findings
        .iter()
        .filter(|finding| ["contradiction", "not-proved"].contains(&finding.name))
        .count();
    assert_eq!(contradictions, 0, "{:#?}", first.findings.first());
    bencher
        .with_inputs(loaded)
        .bench_values(|loaded| alone(|| check_all(loaded, None)));
}

#[divan::bench(args = ["accidental-hypothermia", "adult-arrest-33", "adult-arrest-normothermia",
    "heat-stroke", "newborn-cooling", "theatre-warmth"], sample_count = 10, sample_size = 1)]
fn demo(bencher: divan::Bencher<'_, '_>, name: &str) {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("protocols");
    let mut library = MemoryLibrary::default();
    for folder in ["", "shared"] {
        for entry in std::fs::read_dir(root.join(folder)).expect("the demos") {
            let path = entry.expect("a file").path();
            if path.extension().is_some_and(|ext| ext == "protocol") {
                let name = path.strip_prefix(&root).expect("below the root");
                let text = std::fs::read_to_string(&path).expect("UTF-8");
                library = library.with(&name.to_string_lossy(), &text);
            }
        }
    }
    let path = format!("{name}.protocol");
    bencher
        .with_inputs(|| load(&library, &[&path]).expect("in memory"))
        .bench_values(|loaded| alone(|| check_all(loaded, None)));
}
