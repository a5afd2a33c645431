//! Starters for the purposes for which this project has a whole protocol of its invented
//! hospital: the same protocol as one file, without what belongs to that hospital, and with what
//! a unit must settle for itself marked.

use super::{Kind, Wish};
use crate::format::format;
use std::collections::BTreeSet;

/// A protocol of the invented hospital with the libraries that it uses.
pub(super) struct Demo {
    name: &'static str,
    text: &'static str,
    libraries: &'static [&'static str],
}

const ESOPHAGEAL: &str = include_str!("../../protocols/shared/route-esophageal.protocol");
const FORCED_AIR: &str = include_str!("../../protocols/shared/route-forced-air.protocol");
const IMMERSION: &str = include_str!("../../protocols/shared/route-immersion.protocol");
const SURFACE: &str = include_str!("../../protocols/shared/route-surface.protocol");

const NEWBORN: Demo = Demo {
    name: "newborn-cooling",
    text: include_str!("../../protocols/newborn-cooling.protocol"),
    libraries: &[SURFACE],
};
const REWARMING: Demo = Demo {
    name: "accidental-hypothermia",
    text: include_str!("../../protocols/accidental-hypothermia.protocol"),
    libraries: &[ESOPHAGEAL, FORCED_AIR],
};
const HEAT_STROKE: Demo = Demo {
    name: "heat-stroke",
    text: include_str!("../../protocols/heat-stroke.protocol"),
    libraries: &[IMMERSION],
};
const THEATRE: Demo = Demo {
    name: "theatre-warmth",
    text: include_str!("../../protocols/theatre-warmth.protocol"),
    libraries: &[FORCED_AIR],
};

/// What the unit settles, before the first line of that kind.
const DECIDE: &[(&str, &str)] = &[
    ("unit", "the name of your unit and hospital"),
    ("review", "when this is to be looked at again"),
    (
        "patients",
        "which patients, and which temperatures on arrival",
    ),
    ("method", "by which means; the checklists belong to it"),
    ("timezone", "your time zone"),
    (
        "people",
        "whom the nurse calls, and who is next when nobody replies",
    ),
    ("include", "who is treated, and who is not"),
    (
        "reading",
        "where you measure, and how your thermometers show it",
    ),
    ("limit", "the values that are never passed"),
    ("phase", "targets, rates and times of every phase"),
    ("every", "how often each value is looked at"),
    ("rule", "what each finding calls for here"),
    ("ladder", "your steps and medicines, in which order"),
    (
        "medication",
        "your medicines, with their doses, concentrations and ceilings",
    ),
    (
        "checklist",
        "the steps of your own device, by its instructions for use",
    ),
    (
        "measure",
        "what is counted afterwards, and each goal with your unit's reason",
    ),
];

impl Kind {
    pub(super) fn demo(self) -> Option<&'static Demo> {
        match self {
            Kind::FeverControl | Kind::Hypothermia => None,
            Kind::NewbornCooling => Some(&NEWBORN),
            Kind::AccidentalHypothermia => Some(&REWARMING),
            Kind::HeatStroke => Some(&HEAT_STROKE),
            Kind::PerioperativeWarmth => Some(&THEATRE),
        }
    }
}

impl Demo {
    /// What is written after `patients`, without the temperatures on arrival.
    pub(super) fn patients(&self) -> String {
        let (patients, _) = self.patients_and_arrival();
        patients
    }

    fn patients_and_arrival(&self) -> (String, String) {
        let mut lines = self
            .text
            .lines()
            .skip_while(|line| !line.starts_with("  patients "));
        let mut statement = String::new();
        for line in lines.by_ref() {
            statement.push_str(line.trim());
            if !line.ends_with(',') {
                break;
            }
            statement.push(' ');
        }
        let statement = statement.trim_start_matches("patients ").to_owned();
        let mut parts: Vec<&str> = statement.split(", ").collect();
        let mut arrival = Vec::new();
        while parts
            .last()
            .is_some_and(|part| part.ends_with(" on arrival"))
        {
            arrival.extend(parts.pop());
        }
        arrival.reverse();
        (parts.join(", "), arrival.join(", "))
    }
}

/// The starter in the one style.
pub(super) fn text(demo: &Demo, wish: &Wish) -> String {
    let mut draft = Draft {
        demo,
        wish,
        decided: BTreeSet::new(),
        cited: BTreeSet::new(),
        out: String::from(super::FIRST_LINE),
    };
    draft.protocol();
    // The lines are joined from several files; the style closes the gaps between them.
    format(&draft.out).unwrap_or(draft.out)
}

struct Draft<'a> {
    demo: &'a Demo,
    wish: &'a Wish,
    decided: BTreeSet<&'static str>,
    cited: BTreeSet<&'a str>,
    out: String,
}

impl<'a> Draft<'a> {
    fn protocol(&mut self) {
        let text = self.demo.text;
        let head = format!("protocol {} {{", self.demo.name);
        let (_, body) = text.split_once(&head).unwrap_or(("", text));
        let (body, scenarios) = body.split_once("\n}\n").unwrap_or((body, ""));
        self.line(&format!("protocol {} {{", self.wish.name));
        self.statements(body, false);
        for library in self.demo.libraries {
            let inner = library
                .split_once("{\n")
                .and_then(|(_, rest)| rest.rsplit_once("\n}"));
            self.out.push('\n');
            self.statements(inner.map_or("", |(inner, _)| inner), true);
        }
        self.line("}");
        let of_demo = format!(" for {} {{", self.demo.name);
        let of_wish = format!(" for {} {{", self.wish.name);
        self.out.push_str(&scenarios.replace(&of_demo, &of_wish));
    }

    fn line(&mut self, line: &str) {
        self.out.push_str(line);
        self.out.push('\n');
    }

    /// The lines of a block. One that begins further in goes on with what is before it.
    fn statements(&mut self, body: &'a str, of_library: bool) {
        let mut left_out = false;
        for line in body.lines() {
            let word = line
                .strip_prefix("  ")
                .and_then(|line| line.split([' ', '{']).next())
                .filter(|word| word.starts_with(|first: char| first.is_ascii_lowercase()));
            let Some(word) = word else {
                if !left_out || line.is_empty() {
                    left_out = false;
                    self.line(line);
                }
                continue;
            };
            left_out = false;
            let written = match word {
                "use" => None,
                "title" | "version" | "review" if of_library => None,
                "cite" => {
                    let name = line.split_whitespace().nth(1).unwrap_or_default();
                    self.cited.insert(name).then(|| line.to_owned())
                }
                "title" => Some(without_mark(line)),
                "measure" => Some(without_its_reason(line)),
                "unit" => Some(without_hospital(line)),
                "version" => Some("  version 0.1.0".to_owned()),
                "review" => Some("  review 2030-01-01".to_owned()),
                "patients" => {
                    let (_, arrival) = self.demo.patients_and_arrival();
                    let comma = if arrival.is_empty() { "" } else { ", " };
                    self.decide(word);
                    self.line(&format!(
                        "  patients {}{comma}{arrival}",
                        self.wish.patients
                    ));
                    None
                }
                "accept" => {
                    self.line(
                        "  # decide: whether your committee lets this stand, and who says so",
                    );
                    Some(accepted_by_nobody(line))
                }
                _ => Some(line.to_owned()),
            };
            match written {
                Some(written) => {
                    self.decide(word);
                    self.line(&written);
                }
                None => left_out = true,
            }
        }
    }

    fn decide(&mut self, word: &str) {
        let open = DECIDE.iter().find(|(first, _)| *first == word);
        if let Some((first, what)) = open
            && self.decided.insert(first)
        {
            self.line(&format!("  # decide: {what}"));
        }
    }
}

/// A text without the mark that it belongs to an invented example.
fn without_mark(line: &str) -> String {
    line.replace(" (*invented example, not for patient care*)", "")
}

/// A goal without the reason that the invented hospital gives for it.
fn without_its_reason(line: &str) -> String {
    match line.split_once(" because ") {
        Some((before, reason)) if reason.contains("invented example") => before.to_owned(),
        _ => line.to_owned(),
    }
}

fn without_hospital(line: &str) -> String {
    match line.split_once(", ") {
        Some((unit, _)) => format!("{unit}\""),
        None => without_mark(line),
    }
}

fn accepted_by_nobody(line: &str) -> String {
    match line.rsplit_once(" by \"") {
        Some((before, _)) => format!("{before} by \"nobody yet\" until 2030-01-01"),
        None => line.to_owned(),
    }
}
