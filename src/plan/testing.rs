//! Protocols for the tests of this folder.

use super::{Case, Plan, Window};
use crate::model::{MarkId, PhaseId, Protocol, load};
use crate::quantity::Exact;
use crate::source::MemoryLibrary;

/// A whole protocol around those statements. Its core is 33.0 °C to 37.5 °C on
/// arrival, and it starts within 6 h of `rosc`.
pub(super) fn protocol(statements: &str) -> Protocol {
    protocol_with("start within 6 h of rosc", statements)
}

/// The same with another line in place of `start within`.
pub(super) fn protocol_with(start: &str, statements: &str) -> Protocol {
    let text = format!(
        r#"protocol demo {{
  title    "Invented example, not for patient care"
  unit     "Saltmarsh District Hospital"
  version  1.0.0
  review   2027-06-30
  purpose  therapeutic-hypothermia after cardiac-arrest
  patients adult, weight 40 kg to 140 kg, core 33.0 °C to 37.5 °C on arrival
  method   surface feedback from core
  timezone "Europe/London"
  {start}
  mark rosc "Return of spontaneous circulation"
  mark awake "Awake"
  reading core "Core temperature" temperature at bladder, continuous, shown to 0.1 °C, accurate to 0.2 °C
  reading second "Second site" temperature at nasopharynx, continuous, shown to 0.1 °C, accurate to 0.2 °C
  reading shiver "Shivering score" score of shivering 0 to 3
  {statements}
}}"#
    );
    let library = MemoryLibrary::default().with("demo.protocol", &text);
    let loaded = load(&library, &["demo.protocol"]).expect("it can be read");
    match loaded.protocols.into_iter().next() {
        Some((_, protocol)) => protocol,
        None => panic!("{:#?}", loaded.diagnostics),
    }
}

pub(super) const ARREST: &str = r#"
  phase cool "Cool to target" {
    cool core to 33.0 °C
    never faster than 2.0 °C/h
    due within 4 h
  }
  phase hold "Hold at target" {
    hold core at 33.0 °C within 0.5 °C
    lasts 24 h
  }
  phase rewarm "Rewarm slowly" {
    warm core from 33.0 °C to 36.5 °C within 0.2 °C at 0.25 °C/h
    never faster than 0.5 °C/h
    target moves every 1 h in steps of 0.1 °C
  }
  phase guard "Prevent fever" {
    keep core 36.0 °C to 37.7 °C
    ends 72 h after rosc
  }
"#;

pub(super) fn phase(protocol: &Protocol, name: &str) -> PhaseId {
    protocol
        .phases()
        .find(|(_, phase)| phase.name.name == name)
        .map(|(id, _)| id)
        .expect("a phase of that name")
}

pub(super) fn mark(protocol: &Protocol, name: &str) -> MarkId {
    protocol
        .marks()
        .find(|(_, mark)| mark.name.name == name)
        .map(|(id, _)| id)
        .expect("a mark of that name")
}

pub(super) fn blank(protocol: &Protocol) -> Plan {
    Plan::of(protocol, &Case::default()).expect("a plan")
}

/// A case of that reading on arrival and that time of `rosc`.
pub(super) fn case_of(protocol: &Protocol, core: Option<&str>, rosc: Option<&str>) -> Case {
    let mut case = Case::default();
    if let Some(core) = core {
        case = case
            .enter_arrival(protocol, "core", core)
            .expect("a reading");
    }
    if let Some(rosc) = rosc {
        case = case.enter_mark(protocol, "rosc", rosc).expect("a mark");
    }
    case
}

pub(super) fn hours(text: &str) -> Exact {
    Exact::parse(text).expect("a number") * Exact::int(60)
}

/// `2.25 to 4`, in hours; `planned` apart where it is not the latest.
pub(super) fn in_hours(window: Window) -> String {
    let hours = |at: Exact| (at / Exact::int(60)).to_string();
    let planned = window.planned.map_or("?".to_owned(), hours);
    match window.latest {
        Some(latest) if window.exact().is_some() => hours(latest),
        Some(latest) if window.planned == Some(latest) => {
            format!("{} to {planned}", hours(window.earliest))
        }
        Some(latest) => format!(
            "{} to {planned}, at most {}",
            hours(window.earliest),
            hours(latest)
        ),
        None => format!("{} to {planned}, open", hours(window.earliest)),
    }
}

/// The ends of all phases, in hours.
pub(super) fn ends(plan: &Plan) -> Vec<String> {
    plan.phases
        .iter()
        .map(|placed| in_hours(placed.end))
        .collect()
}
