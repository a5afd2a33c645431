//! The safety steps that each route calls for, and where they must stand.
//!
//! Common practice of the trade; no published table says it so. Takes a protocol,
//! gives what its means call for and what of it is absent or comes too late.

use super::super::facts::{self, Covered};
use crate::model::words::{Means, Occasion, Topic};
use crate::model::*;
use crate::source::Span;
use std::collections::BTreeSet;

/// Where a step must stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Place {
    /// In a checklist of that occasion.
    Checklist(Occasion),
    /// In an `every … do`.
    Every,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Wanted {
    pub topic: Topic,
    pub place: Place,
    /// The means that calls for it; `None` is every route.
    pub by: Option<Means>,
    /// Whether it is called for only where there is a checklist of that occasion.
    pub in_list: bool,
}

/// What is wrong about a wanted step.
#[derive(Debug, Clone, Copy)]
pub enum Flaw {
    Missing,
    /// It stands in a checklist that is worked through later.
    TooLate {
        span: Span,
        at: Occasion,
    },
}

const EVERY_ROUTE: &[(Topic, Place)] = &[
    (Topic::Probe, Place::Checklist(Occasion::BeforeStart)),
    (Topic::AlarmLimits, Place::Checklist(Occasion::BeforeStart)),
    (Topic::SkinInspection, Place::Every),
    (Topic::Removal, Place::Checklist(Occasion::End)),
];

const CIRCUIT: &[(Topic, Place)] = &[
    (Topic::Fill, Place::Checklist(Occasion::BeforeStart)),
    (Topic::Flow, Place::Checklist(Occasion::BeforeStart)),
    (Topic::Leaks, Place::Checklist(Occasion::BeforeStart)),
];

const ESOPHAGEAL: &[(Topic, Place)] = &[
    (Topic::Airway, Place::Checklist(Occasion::BeforeStart)),
    (Topic::Depth, Place::Checklist(Occasion::Placing)),
    (Topic::Decompression, Place::Checklist(Occasion::Placing)),
    (Topic::Depth, Place::Checklist(Occasion::EachShift)),
    (Topic::Disposal, Place::Checklist(Occasion::End)),
];

const ON_THE_SKIN: &[(Topic, Place)] = &[(Topic::SkinContact, Place::Checklist(Occasion::Placing))];

// What belongs in a checklist that a unit has, though not every unit has one.

const EVERY_ROUTE_IN_LIST: &[(Topic, Place)] = &[
    (Topic::Probe, Place::Checklist(Occasion::EachShift)),
    (Topic::Probe, Place::Checklist(Occasion::Trouble)),
    (Topic::SkinInspection, Place::Checklist(Occasion::End)),
];

const CIRCUIT_IN_LIST: &[(Topic, Place)] = &[
    (Topic::Flow, Place::Checklist(Occasion::EachShift)),
    (Topic::Leaks, Place::Checklist(Occasion::EachShift)),
    (Topic::AlarmLimits, Place::Checklist(Occasion::EachShift)),
    (Topic::Flow, Place::Checklist(Occasion::Trouble)),
];

const ESOPHAGEAL_IN_LIST: &[(Topic, Place)] = &[
    (Topic::Position, Place::Checklist(Occasion::Placing)),
    (Topic::SkinContact, Place::Checklist(Occasion::Placing)),
    (Topic::Depth, Place::Checklist(Occasion::Trouble)),
];

const IMMERSION_IN_LIST: &[(Topic, Place)] =
    &[(Topic::Airway, Place::Checklist(Occasion::BeforeStart))];

const ON_THE_SKIN_IN_LIST: &[(Topic, Place)] = &[
    (Topic::SkinContact, Place::Checklist(Occasion::Trouble)),
    (Topic::Disposal, Place::Checklist(Occasion::End)),
];

fn calls_for(means: Means) -> Vec<(Topic, Place)> {
    let parts: &[&[(Topic, Place)]] = match means {
        Means::Esophageal => &[CIRCUIT, ESOPHAGEAL],
        Means::Surface => &[CIRCUIT, ON_THE_SKIN],
        Means::Intravascular | Means::Extracorporeal => &[CIRCUIT],
        Means::IcePacks | Means::ForcedAir | Means::Immersion => &[ON_THE_SKIN],
        Means::Evaporative | Means::ColdFluids | Means::WarmFluids | Means::Lavage => &[],
        Means::Passive => &[],
    };
    parts.concat()
}

fn calls_for_in_list(means: Means) -> Vec<(Topic, Place)> {
    let parts: &[&[(Topic, Place)]] = match means {
        Means::Esophageal => &[CIRCUIT_IN_LIST, ESOPHAGEAL_IN_LIST],
        Means::Surface => &[CIRCUIT_IN_LIST, ON_THE_SKIN_IN_LIST],
        Means::Intravascular | Means::Extracorporeal => &[CIRCUIT_IN_LIST],
        Means::ForcedAir => &[ON_THE_SKIN_IN_LIST],
        Means::Immersion => &[ON_THE_SKIN_IN_LIST, IMMERSION_IN_LIST],
        Means::IcePacks
        | Means::Evaporative
        | Means::ColdFluids
        | Means::WarmFluids
        | Means::Lavage
        | Means::Passive => &[],
    };
    parts.concat()
}

/// Every means of the method and of any phase.
fn means(protocol: &Protocol) -> BTreeSet<Means> {
    let of_phases = protocol.phases().flat_map(|(_, phase)| phase.by.iter());
    protocol
        .head
        .method
        .means
        .iter()
        .chain(of_phases)
        .map(|means| means.value)
        .collect()
}

/// The steps that the routes of this protocol call for, each once.
pub fn wanted(protocol: &Protocol) -> Vec<Wanted> {
    let means = means(protocol);
    if means.iter().all(|means| *means == Means::Passive) {
        return Vec::new();
    }
    let mut wanted: Vec<Wanted> = Vec::new();
    let mut want = |parts: &[(Topic, Place)], by: Option<Means>, in_list: bool| {
        for (topic, place) in parts {
            let known = wanted
                .iter()
                .any(|other| other.topic == *topic && other.place == *place);
            if !known && (!in_list || has_list(protocol, *place)) {
                wanted.push(Wanted {
                    topic: *topic,
                    place: *place,
                    by,
                    in_list,
                });
            }
        }
    };
    want(EVERY_ROUTE, None, false);
    for by in &means {
        want(&calls_for(*by), Some(*by), false);
    }
    want(EVERY_ROUTE_IN_LIST, None, true);
    for by in &means {
        want(&calls_for_in_list(*by), Some(*by), true);
    }
    wanted
}

fn has_list(protocol: &Protocol, place: Place) -> bool {
    protocol
        .checklists()
        .any(|(_, checklist)| Place::Checklist(shown_at(checklist)) == place)
}

/// What is looked at while a device runs may be looked at in those phases only.
fn shown_at(checklist: &Checklist) -> Occasion {
    match checklist.at.value {
        Occasion::EachShiftOfControl => Occasion::EachShift,
        other => other,
    }
}

/// `None` where the step stands where it must.
pub fn flaw(protocol: &Protocol, wanted: Wanted) -> Option<Flaw> {
    let mut late = None;
    for covered in facts::covering(protocol, wanted.topic) {
        match (&covered, wanted.place) {
            (Covered::Step(checklist, at), Place::Checklist(occasion)) => {
                if shown_at(checklist) == occasion {
                    return None;
                }
                if let Some(step) = checklist.steps.get(*at)
                    && rank(checklist.at.value) > rank(occasion)
                    && occasion != Occasion::EachShift
                    && !wanted.in_list
                {
                    late.get_or_insert(Flaw::TooLate {
                        span: step.span,
                        at: checklist.at.value,
                    });
                }
            }
            (Covered::Look(look), Place::Every) if matches!(look.when, LookWhen::Every { .. }) => {
                return None;
            }
            _ => {}
        }
    }
    Some(late.unwrap_or(Flaw::Missing))
}

/// The order in which checklists are worked through. A depth that is due before
/// the start is not late at placing: placing is part of getting ready.
fn rank(occasion: Occasion) -> u8 {
    match occasion {
        Occasion::BeforeStart => 0,
        Occasion::Placing => 1,
        Occasion::Start => 2,
        Occasion::EachShift | Occasion::EachShiftOfControl | Occasion::Trouble => 3,
        Occasion::End => 4,
    }
}

/// A checklist for trouble that moves something while control runs.
pub struct Unpaused<'a> {
    pub checklist: &'a Checklist,
    /// The first such step on position, depth or contact.
    pub first: Span,
    /// A pause that comes later.
    pub pause: Option<Span>,
    /// Control was paused before, and this step has started it again.
    pub resumed: Option<Span>,
}

fn covers(step: &CheckStep, topics: &[Topic]) -> bool {
    step.covers
        .iter()
        .any(|covers| topics.contains(&covers.value))
}

/// In trouble, control is paused before anything is moved, and starts again after it.
pub fn unpaused(protocol: &Protocol) -> Vec<Unpaused<'_>> {
    const MOVES: &[Topic] = &[Topic::Position, Topic::Depth, Topic::SkinContact];
    let mut found = Vec::new();
    for (_, checklist) in protocol.checklists() {
        if checklist.at.value != Occasion::Trouble {
            continue;
        }
        let mut paused = false;
        let mut resumed = None;
        let mut first = None;
        for (at, step) in checklist.steps.iter().enumerate() {
            // A step may say all of it: pause, look at the position, start again.
            paused |= covers(step, &[Topic::Pause]);
            if covers(step, MOVES) && !paused {
                first = Some((at, step));
                break;
            }
            if paused && covers(step, &[Topic::Resume]) {
                paused = false;
                resumed = Some(step.span);
            }
        }
        if let Some((at, step)) = first {
            found.push(Unpaused {
                checklist,
                first: step.span,
                pause: checklist
                    .steps
                    .iter()
                    .skip(at + 1)
                    .find(|step| covers(step, &[Topic::Pause]))
                    .map(|step| step.span),
                resumed,
            });
        }
    }
    found
}

/// The pause of each checklist after which nothing starts control again: no step of the same
/// list, nor one of the list at the start where the list is worked through before it. At the
/// end nothing is to start again.
pub fn unresumed(protocol: &Protocol) -> Vec<(&Checklist, Span)> {
    let starts = protocol.checklists().any(|(_, checklist)| {
        checklist.at.value == Occasion::Start
            && checklist
                .steps
                .iter()
                .any(|step| covers(step, &[Topic::Resume]))
    });
    let mut found = Vec::new();
    for (_, checklist) in protocol.checklists() {
        let before_start = rank(checklist.at.value) < rank(Occasion::Start);
        if checklist.at.value == Occasion::End || (before_start && starts) {
            continue;
        }
        let last = |topic: Topic| {
            checklist
                .steps
                .iter()
                .rposition(|step| covers(step, &[topic]))
        };
        let Some(pause) = last(Topic::Pause) else {
            continue;
        };
        if last(Topic::Resume).is_some_and(|resume| resume >= pause) {
            continue;
        }
        if let Some(step) = checklist.steps.get(pause) {
            found.push((checklist, step.span));
        }
    }
    found
}

/// `in a checklist at before-start`.
pub fn place_words(place: Place) -> String {
    use crate::model::words::FixedWord;
    match place {
        Place::Checklist(occasion) => format!("in a checklist at {}", occasion.word()),
        Place::Every => "in an `every … do`".to_owned(),
    }
}
