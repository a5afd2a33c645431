//! What a protocol asks about a case, and what can be said beside each answer.

use super::days::Day;
use crate::document::text;
use crate::model::{Aim, End, EndTrigger, Protocol, ReadingKind};
use crate::plan::CaseError;
use crate::words::Words;
use serde::Serialize;
use std::collections::BTreeMap;

/// One thing to fill in.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Field {
    /// `start`, `weight`, `mark:rosc`, `reading:core`, `rate:rewarm`, `reached:cool`.
    pub id: String,
    /// A time has a day beside it.
    pub time: bool,
    pub label: String,
    pub unit: String,
    pub hint: String,
    /// Without it there is no sheet of a case.
    pub needed: bool,
    /// Of the second print, when something has been reached.
    pub later: bool,
}

/// What stands beside a field.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
pub struct Beside {
    pub state: State,
    /// What was understood.
    pub said: String,
    /// What was understood and looks odd.
    pub note: String,
    pub problem: String,
    pub why: String,
    pub help: String,
    pub choices: Vec<Choice>,
    /// The days that can be chosen.
    pub days: Vec<Day>,
    /// The day that was meant, where none was chosen.
    pub day: String,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum State {
    #[default]
    Empty,
    Good,
    Wrong,
    /// It can be judged only when another field is right.
    Waiting,
}

/// One of the things that an entry may mean.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Choice {
    pub label: String,
    pub text: String,
    /// Where the choice is about the day.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub day: Option<String>,
}

impl Choice {
    pub fn of(text: String) -> Choice {
        Choice {
            label: text.clone(),
            text,
            day: None,
        }
    }
}

impl Beside {
    pub fn wrong(error: CaseError, choices: Vec<Choice>) -> Beside {
        // The page has a field for the day: nobody types a date.
        let help = match error.help.as_str() {
            _ if !choices.is_empty() => "choose what was meant",
            help if help.contains("write the date") => {
                "check both times, and the day chosen beside each"
            }
            help => help,
        };
        Beside {
            state: State::Wrong,
            problem: error.title,
            why: error.why,
            help: help.to_owned(),
            choices,
            ..Beside::default()
        }
    }
}

pub type Besides = BTreeMap<String, Beside>;

/// Every field, in the order in which they are asked.
pub fn of(protocol: &Protocol) -> Vec<Field> {
    let words = Words::of(protocol);
    let head = &protocol.head;
    let plain = |markdown: &str| text::inline(markdown).plain();
    let usual = |id: String, label: String| Field {
        id,
        time: true,
        label,
        unit: String::new(),
        hint: String::new(),
        needed: false,
        later: false,
    };
    let mut fields = vec![Field {
        hint: "When temperature control starts, 0:00 on the sheet".to_owned(),
        needed: true,
        ..usual("start".to_owned(), "Start".to_owned())
    }];
    if let Some(range) = head.patients.dosing_weight() {
        let birth = head.patients.weight.is_none();
        fields.push(Field {
            time: false,
            unit: "kg".to_owned(),
            hint: format!(
                "{} to {}. In kilograms only",
                range.low.written.number, range.high
            ),
            ..usual(
                "weight".to_owned(),
                if birth { "Birth weight" } else { "Weight" }.to_owned(),
            )
        });
    }
    for (id, mark) in protocol.marks() {
        let hint = match head.start_within.as_ref().filter(|start| start.of == id) {
            Some(start) => format!("The start must be within {} of it", start.within),
            None => "Leave it empty until it has happened".to_owned(),
        };
        fields.push(Field {
            hint,
            ..usual(
                format!("mark:{}", mark.name.name),
                plain(&mark.title.markdown),
            )
        });
    }
    for (id, range) in &head.patients.on_arrival {
        let reading = &protocol[*id];
        let unit = match &reading.kind {
            ReadingKind::Body(_) | ReadingKind::Medium(_) => range.low.written.unit,
            ReadingKind::Amount { unit, .. } => unit.map_or("", |unit| unit.name),
            ReadingKind::Score { .. } | ReadingKind::Choice { .. } => "",
        };
        fields.push(Field {
            time: false,
            unit: unit.to_owned(),
            hint: format!("{} to {}", range.low.written.number, range.high),
            ..usual(
                format!("reading:{}", reading.name.name),
                format!("{} on arrival", plain(words.reading(*id))),
            )
        });
    }
    for (id, phase) in protocol.phases() {
        if let Aim::Reach {
            rate: Some(rate), ..
        } = &phase.aim
            && rate.second.is_some()
        {
            let (slower, faster) = (rate.slower(), rate.faster());
            fields.push(Field {
                time: false,
                unit: slower.written.unit.to_owned(),
                hint: format!(
                    "{} to {faster}. Left empty: {slower}",
                    slower.written.number
                ),
                ..usual(
                    format!("rate:{}", phase.name.name),
                    format!("Rate of {}", plain(&words.phase(id))),
                )
            });
        }
    }
    for (id, phase) in protocol.phases() {
        let title = plain(&words.phase(id));
        let label = match &phase.end {
            End::Reached => format!("{title}: target reached at"),
            End::Awaited {
                trigger: EndTrigger::When(_),
                ..
            } => format!("{title}: ended at"),
            End::Awaited {
                trigger: EndTrigger::Mark(_),
                ..
            }
            | End::Lasts(_)
            | End::After { .. } => continue,
        };
        fields.push(Field {
            hint: "Empty until then; with it the later times become definite".to_owned(),
            later: true,
            ..usual(format!("reached:{}", phase.name.name), label)
        });
    }
    fields
}
