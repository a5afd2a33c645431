//! A common protocol around a few lines under test, and scenarios on it.

use tempwright::diag::Level;
use tempwright::model::{Loaded, load};
use tempwright::rehearse::rehearse;
use tempwright::source::MemoryLibrary;

const HEAD: &str = r#"protocol example {
  title "Example (invented, not for patient care)"
  unit "Saltmarsh District Hospital"
  version 1.0.0
  review 2027-06-30
  purpose therapeutic-hypothermia after cardiac-arrest
  patients adult, weight 40 kg to 140 kg, core 33.0 °C to 37.5 °C on arrival
  method surface feedback from core
  timezone "Europe/London"
  start within 6 h of rosc
  mark rosc "Return of circulation"
  people {
    nurse "Bedside nurse"
    doctor "Doctor on duty"
  }
  reading core "Core" temperature at bladder, shown to 0.1 °C, accurate to 0.2 °C
  reading second "Second" temperature at nasopharynx, shown to 0.1 °C, accurate to 0.2 °C
  reading water "Water" temperature of water, shown to 0.1 °C
  reading shiver "Shivering" score of shivering 0 to 3
"#;

/// One phase that only stands there, 33.0 °C for ever.
pub const HOLD: &str = "
  phase hold \"Hold\" {
    hold core at 33.0 °C within 0.5 °C
    lasts 200 h
  }";

pub fn whole(body: &str, scenarios: &str) -> Loaded {
    let text = format!("{HEAD}{body}\n}}\n{scenarios}");
    let library = MemoryLibrary::default().with("example.protocol", &text);
    let loaded = load(&library, &["example.protocol"]).expect("held in memory");
    let errors: Vec<String> = loaded
        .diagnostics
        .iter()
        .filter(|found| found.level == Level::Error)
        .map(|found| {
            format!(
                "{}: `{}`",
                found.title,
                loaded.sources.text(found.place.span)
            )
        })
        .collect();
    assert!(errors.is_empty(), "{errors:#?}\n{body}\n{scenarios}");
    loaded
}

/// The protocol does what the scenario expects.
pub fn does(body: &str, scenario: &str) {
    let scenario = format!("scenario \"Edge\" for example {{\n{scenario}\n}}\n");
    let loaded = whole(body, &scenario);
    let (_, protocol) = loaded.protocols.first().expect("no errors");
    for trial in rehearse(protocol, &loaded.sources).trials {
        assert!(trial.passed(), "{:#?}\n{body}\n{scenario}", trial.failures);
    }
}

/// A rule `it` with that condition beside [`HOLD`], on hourly records.
pub fn rule(condition: &str) -> String {
    format!(
        "{HOLD}
  every 1 h record core, second, water
  rule it {{
    when {condition}
    then do \"Look\"
  }}"
    )
}

/// Whether it fires, and whether it stays silent, on these records.
pub fn tries(condition: &str, fires: &str, silent: &str) {
    does(&rule(condition), fires);
    does(&rule(condition), &format!("{silent}\nexpect no it"));
}
