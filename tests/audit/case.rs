//! A small protocol and its logs.

use tempwright::audit::{Audit, Auditor, Options};
use tempwright::eval::Case;
use tempwright::model::{self, Protocol};
use tempwright::source::MemoryLibrary;

pub const HEAD: &str = r#"protocol trial {
  title    "A trial (invented example, not for patient care)"
  unit     "None"
  version  1.0.0
  review   2027-01-01
  purpose  therapeutic-hypothermia
  patients adult, weight 40 kg to 140 kg
  method   surface feedback from core
  timezone "Europe/London"
  people {
    nurse  "Bedside nurse"
    doctor "Doctor on duty"
  }
  mark rosc "Return of circulation"
  reading core   "Core temperature" temperature at bladder, shown to 0.1 °C, accurate to 0.2 °C
  reading water  "Exchanger water"  temperature of water, shown to 0.1 °C
  reading shiver "Shivering"        score of shivering 0 to 3
  reading sugar  "Glucose" amount of glucose in mmol/L, shown to 0.1 mmol/L, reads 0.5 mmol/L to 40.0 mmol/L
"#;

pub const BODY: &str = r#"
  phase cool "Cool" {
    cool core to 33.0 °C
  }
  phase hold "Hold" {
    hold core at 33.0 °C within 0.5 °C
    lasts 3 h
  }
  phase rewarm "Rewarm" {
    warm core from 33.0 °C to 35.0 °C within 0.2 °C at 0.5 °C/h
  }
  phase guard "Guard" {
    keep core 35.0 °C to 37.5 °C
    lasts 3 h
  }
  every 1 h record core
  every 2 h score shiver
  limit core never below 32.0 °C
  rule too-cold {
    when core below 32.5 °C during hold
    then score shiver now
    then call doctor now
  }
  rule fast {
    when core rises more than 0.6 °C in 2 h during rewarm
    then call doctor now
  }
  measure cold "Area below 33" area of core below 33.0 °C
  measure long-cold "Time below 33" length of time when core below 33.0 °C
"#;

pub fn protocol(body: &str) -> Protocol {
    let text = format!("{HEAD}{body}\n}}\n");
    let library = MemoryLibrary::default().with("trial.protocol", &text);
    let mut loaded = model::load(&library, &["trial.protocol"]).expect("the file is there");
    let errors: Vec<&str> = loaded
        .diagnostics
        .iter()
        .filter(|found| found.level == tempwright::diag::Level::Error)
        .map(|found| found.title.as_str())
        .collect();
    assert!(errors.is_empty(), "{errors:#?}\n{text}");
    loaded.protocols.pop().expect("one protocol").1
}

pub fn audit(log: &str) -> Audit {
    audit_with(log, Options::default())
}

pub fn audit_with(log: &str, options: Options) -> Audit {
    audit_bytes(log.as_bytes(), options)
}

pub fn audit_bytes(log: &[u8], options: Options) -> Audit {
    let protocol = protocol(BODY);
    Auditor::new(&protocol, options)
        .audit("log", || Ok(log), &Case::default(), &mut |_, _| {})
        .expect("memory can be read")
}

/// What was counted and what was not, line by line.
pub fn told(audit: &Audit) -> String {
    let mut out = format!(
        "{} rows, {} entries, {} counted\n",
        audit.rows, audit.entries, audit.counted
    );
    for problem in &audit.problems {
        let weight = match problem.weight {
            tempwright::audit::Weight::Lost => "lost    ",
            tempwright::audit::Weight::Doubtful => "doubtful",
        };
        out.push_str(&format!(
            "{weight} {}: {} [{}]\n",
            problem.place(),
            problem.what,
            problem.kind
        ));
    }
    out
}
