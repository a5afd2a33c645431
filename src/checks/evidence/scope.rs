//! For whom and for what a protocol is: what a row is matched against.

use crate::model::Protocol;
use crate::model::words::{Event, Guideline, Means, Population, Purpose};

pub struct Scope {
    pub population: Population,
    pub purpose: Purpose,
    pub after: Option<Event>,
    pub guidelines: Vec<Guideline>,
    /// Some phase controls temperature actively.
    pub active: bool,
    /// Every means of the method and of any phase.
    pub means: Vec<Means>,
}

impl Scope {
    pub fn of(protocol: &Protocol) -> Scope {
        let head = &protocol.head;
        let mut means: Vec<Means> = head.method.means.iter().map(|means| means.value).collect();
        for (_, phase) in protocol.phases() {
            means.extend(phase.by.iter().map(|means| means.value));
        }
        Scope {
            population: head.patients.group.value,
            purpose: head.purpose.value,
            after: head.after.as_ref().map(|after| after.value),
            guidelines: head
                .guidelines
                .iter()
                .map(|guideline| guideline.value)
                .collect(),
            active: protocol
                .phases()
                .any(|(_, phase)| protocol.is_active(phase)),
            means,
        }
    }

    pub fn adult(&self) -> bool {
        self.population == Population::Adult
    }

    pub fn child(&self) -> bool {
        self.population == Population::Child
    }

    pub fn newborn_cooling(&self) -> bool {
        self.population == Population::Newborn && self.purpose == Purpose::NewbornCooling
    }

    pub fn hypothermia(&self) -> bool {
        self.purpose == Purpose::TherapeuticHypothermia
    }

    pub fn fever_control(&self) -> bool {
        self.purpose == Purpose::FeverControl
    }

    pub fn after(&self, event: Event) -> bool {
        self.after == Some(event)
    }

    /// Cooling or fever control after cardiac arrest.
    pub fn after_arrest(&self) -> bool {
        self.after(Event::CardiacArrest) && (self.hypothermia() || self.fever_control())
    }

    pub fn adult_after_arrest(&self) -> bool {
        self.adult() && self.after_arrest()
    }

    pub fn arrest_hypothermia(&self) -> bool {
        self.adult_after_arrest() && self.hypothermia()
    }

    pub fn child_after_arrest(&self) -> bool {
        self.child() && self.after_arrest()
    }

    pub fn adult_hypothermia(&self) -> bool {
        self.adult() && self.hypothermia()
    }

    pub fn accidental(&self) -> bool {
        self.purpose == Purpose::AccidentalHypothermia
    }

    pub fn adult_accidental(&self) -> bool {
        self.adult() && self.accidental()
    }

    pub fn theatre(&self) -> bool {
        self.adult() && self.purpose == Purpose::PerioperativeWarmth
    }

    pub fn heat_stroke(&self) -> bool {
        self.purpose == Purpose::HeatStroke
    }

    pub fn follows(&self, editions: &[Guideline]) -> bool {
        self.guidelines
            .iter()
            .any(|guideline| editions.contains(guideline))
    }

    pub fn uses(&self, means: &[Means]) -> bool {
        self.means.iter().any(|used| means.contains(used))
    }
}
