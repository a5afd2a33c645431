//! What a protocol says, gathered so that a check need not walk the whole model.
//!
//! Takes a [`Protocol`]; gives its orders and conditions with the phases in which
//! they can count, how often a reading is asked for, and whether anything would
//! answer a value. Phases without `during` are all phases.

use crate::model::*;
use crate::quantity::{Duration, Exact};
use crate::source::Span;
use std::collections::BTreeSet;

/// Where an order stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Origin {
    Rule(RuleId),
    /// A rung or a step, by its place in the ladder.
    Ladder(LadderId, usize),
    Look,
}

/// An order and where it can be given.
#[derive(Debug, Clone)]
pub struct Ordered<'a> {
    pub action: &'a Action,
    pub origin: Origin,
    /// The name of the rule or ladder, for `about`.
    pub name: Option<&'a Named>,
    pub phases: Vec<PhaseId>,
}

/// A condition and what waits for it.
#[derive(Debug, Clone)]
pub struct Waiting<'a> {
    pub cond: &'a Cond,
    pub what: WaitsFor,
    /// The rule, ladder or phase that has it.
    pub name: Option<&'a Named>,
    pub phases: Vec<PhaseId>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WaitsFor {
    Rule,
    ReadyAgain,
    Until,
    PhaseEnd,
}

pub fn all_phases(protocol: &Protocol) -> Vec<PhaseId> {
    protocol.phases().map(|(id, _)| id).collect()
}

pub fn during(protocol: &Protocol, phases: &[At<PhaseId>]) -> Vec<PhaseId> {
    if phases.is_empty() {
        all_phases(protocol)
    } else {
        let set: BTreeSet<PhaseId> = phases.iter().map(|phase| phase.value).collect();
        set.into_iter().collect()
    }
}

/// Values of a temperature in °C, both ends taken in; an end that is open has no value.
#[derive(Debug, Clone, Copy)]
pub struct Band {
    pub low: Option<Exact>,
    pub high: Option<Exact>,
}

/// The band in which a phase keeps its reading; open where it is brought somewhere.
pub fn band_kept(aim: &Aim) -> Band {
    match aim {
        Aim::Hold { at, within, .. } => Band {
            low: Some(at.value - within.value),
            high: Some(at.value + within.value),
        },
        Aim::Keep { low, high, .. } => Band {
            low: low.as_ref().map(|low| low.value),
            high: high.as_ref().map(|high| high.value),
        },
        Aim::Reach { .. } => Band {
            low: None,
            high: None,
        },
    }
}

/// The phases in which each ladder can be followed.
pub fn ladder_phases(protocol: &Protocol, ladder: LadderId) -> Vec<PhaseId> {
    let mut found = BTreeSet::new();
    let mut seen = BTreeSet::new();
    collect_ladder_phases(protocol, ladder, &mut seen, &mut found);
    found.into_iter().collect()
}

fn collect_ladder_phases(
    protocol: &Protocol,
    ladder: LadderId,
    seen: &mut BTreeSet<LadderId>,
    found: &mut BTreeSet<PhaseId>,
) {
    if !seen.insert(ladder) {
        return;
    }
    for look in &protocol.looks {
        let follows = match &look.what {
            LookWhat::Ask { then_follow, .. } => then_follow
                .as_ref()
                .is_some_and(|follow| follow.value == ladder),
            LookWhat::Order(action) => follows(action, ladder),
            LookWhat::Do { .. } | LookWhat::Give(_) => false,
        };
        if follows {
            found.extend(look_phases(protocol, look));
        }
    }
    for (_, rule) in protocol.rules() {
        if rule.then.iter().any(|action| follows(action, ladder)) {
            found.extend(during(protocol, &rule.during));
        }
    }
    for (id, other) in protocol.ladders() {
        if id != ladder && other.actions().any(|(_, action)| follows(action, ladder)) {
            collect_ladder_phases(protocol, id, seen, found);
        }
    }
}

fn follows(action: &Action, ladder: LadderId) -> bool {
    action
        .with_otherwise()
        .iter()
        .any(|action| matches!(&action.order, Order::FollowLadder(to) if to.value == ladder))
}

/// The phases in which a look can fall. A mark that somebody writes down can fall
/// in any.
pub fn look_phases(protocol: &Protocol, look: &Look) -> Vec<PhaseId> {
    match &look.when {
        LookWhen::Every { during: phases, .. } => during(protocol, phases),
        LookWhen::At { after, mark } => match (after, mark.value) {
            (None, MarkRef::PhaseStart(phase)) => vec![phase],
            (None, MarkRef::Start) => all_phases(protocol).into_iter().take(1).collect(),
            (None, MarkRef::PhaseEnd(phase)) => {
                // The record that ends a phase belongs to the next one too (M17).
                let next = all_phases(protocol).into_iter().find(|id| *id > phase);
                std::iter::once(phase).chain(next).collect()
            }
            (Some(_), MarkRef::PhaseStart(phase)) => after_phase(protocol, phase),
            (Some(_), MarkRef::PhaseEnd(phase)) => after_phase(protocol, phase),
            (Some(_), MarkRef::Start) | (_, MarkRef::Named(_)) => all_phases(protocol),
        },
        LookWhen::Before { phase, .. } => all_phases(protocol)
            .into_iter()
            .filter(|id| *id <= phase.value)
            .collect(),
    }
}

fn after_phase(protocol: &Protocol, phase: PhaseId) -> Vec<PhaseId> {
    all_phases(protocol)
        .into_iter()
        .filter(|id| *id >= phase)
        .collect()
}

/// Every order in the protocol, those behind `otherwise` too.
pub fn orders(protocol: &Protocol) -> Vec<Ordered<'_>> {
    orders_that(protocol, |_| true)
}

/// Those of them that are like that. In which phases an order speaks is worked out for these only.
fn orders_that(protocol: &Protocol, is: impl Fn(&Action) -> bool) -> Vec<Ordered<'_>> {
    let mut found = Vec::new();
    let wanted = |action: &&Action| is(action);
    for (id, rule) in protocol.rules() {
        let actions = rule.then.iter().flat_map(Action::with_otherwise);
        for action in actions.filter(wanted) {
            found.push(Ordered {
                action,
                origin: Origin::Rule(id),
                name: Some(&rule.name),
                phases: during(protocol, &rule.during),
            });
        }
    }
    for (id, ladder) in protocol.ladders() {
        let mut phases = None;
        for (at, action) in ladder.actions() {
            for action in action.with_otherwise().into_iter().filter(wanted) {
                let phases = phases.get_or_insert_with(|| ladder_phases(protocol, id));
                found.push(Ordered {
                    action,
                    origin: Origin::Ladder(id, at),
                    name: Some(&ladder.name),
                    phases: phases.clone(),
                });
            }
        }
    }
    for look in &protocol.looks {
        if let LookWhat::Order(action) = &look.what {
            for action in action.with_otherwise().into_iter().filter(wanted) {
                found.push(Ordered {
                    action,
                    origin: Origin::Look,
                    name: None,
                    phases: look_phases(protocol, look),
                });
            }
        }
    }
    found
}

/// Every condition that something waits for.
pub fn conditions(protocol: &Protocol) -> Vec<Waiting<'_>> {
    let mut found = Vec::new();
    for (_, rule) in protocol.rules() {
        let phases = during(protocol, &rule.during);
        found.push(Waiting {
            cond: &rule.when,
            what: WaitsFor::Rule,
            name: Some(&rule.name),
            phases: phases.clone(),
        });
        if let Some(cond) = &rule.ready_again {
            found.push(Waiting {
                cond,
                what: WaitsFor::ReadyAgain,
                name: Some(&rule.name),
                phases,
            });
        }
    }
    let waits = |action: &Action| matches!(until(action), Some(Until::When(_)));
    for order in orders_that(protocol, waits) {
        if let Some(Until::When(cond)) = until(order.action) {
            found.push(Waiting {
                cond,
                what: WaitsFor::Until,
                name: order.name,
                phases: order.phases,
            });
        }
    }
    for (id, phase) in protocol.phases() {
        if let End::Awaited {
            trigger: EndTrigger::When(cond),
            ..
        } = &phase.end
        {
            found.push(Waiting {
                cond,
                what: WaitsFor::PhaseEnd,
                name: Some(&phase.name),
                phases: vec![id],
            });
        }
    }
    found
}

pub fn until(action: &Action) -> Option<&Until> {
    match &action.order {
        Order::KeepTarget(until) | Order::Pause(until) | Order::Withhold { until, .. } => {
            Some(until)
        }
        _ => None,
    }
}

/// The shortest `every` that asks for the reading in that phase (M5).
pub fn interval(protocol: &Protocol, reading: ReadingId, phase: PhaseId) -> Option<&Duration> {
    intervals(protocol, reading, phase)
        .into_iter()
        .map(|(interval, _)| interval)
        .min_by_key(|interval| interval.value)
}

/// Every `every` that asks for the reading in that phase, as written.
pub fn intervals(
    protocol: &Protocol,
    reading: ReadingId,
    phase: PhaseId,
) -> Vec<(&Duration, Span)> {
    protocol
        .looks
        .iter()
        .filter_map(|look| match (&look.when, &look.what) {
            (
                LookWhen::Every {
                    interval,
                    during: phases,
                },
                LookWhat::Ask { readings, .. },
            ) if readings.iter().any(|asked| asked.value == reading)
                && during(protocol, phases).contains(&phase) =>
            {
                Some((interval, look.span))
            }
            _ => None,
        })
        .collect()
}

/// Whether anybody is asked for the reading in that phase, by whatever statement.
pub fn is_asked(protocol: &Protocol, reading: ReadingId, phase: PhaseId) -> bool {
    is_asked_by_look(protocol, reading, phase)
        || orders_that(protocol, |action| asks(protocol, action, reading))
            .iter()
            .any(|order| order.phases.contains(&phase))
}

/// The same, without orders that come only once the reading has been taken, or has
/// been missed: they bring it back, and nobody looks for the first time.
pub fn is_looked_at(protocol: &Protocol, reading: ReadingId, phase: PhaseId) -> bool {
    is_asked_by_look(protocol, reading, phase)
        || orders_that(protocol, |action| asks(protocol, action, reading))
            .iter()
            .any(|order| {
                order.phases.contains(&phase)
                    && match order.origin {
                        Origin::Rule(rule) => holds_without(&protocol[rule].when, reading),
                        Origin::Ladder(ladder, _) => protocol[ladder].reading.value != reading,
                        Origin::Look => true,
                    }
            })
}

fn is_asked_by_look(protocol: &Protocol, reading: ReadingId, phase: PhaseId) -> bool {
    protocol.looks.iter().any(|look| {
        let asks = match &look.what {
            LookWhat::Ask { readings, .. } => readings.iter().any(|asked| asked.value == reading),
            LookWhat::Order(action) => asks(protocol, action, reading),
            LookWhat::Do { .. } | LookWhat::Give(_) => false,
        };
        asks && look_phases(protocol, look).contains(&phase)
    })
}

/// Whether the condition can hold while nothing is known about the reading and
/// nobody has missed it.
fn holds_without(cond: &Cond, reading: ReadingId) -> bool {
    match cond {
        Cond::Test(test) => !test.kind.readings().contains(&reading),
        Cond::All(parts) => parts.iter().all(|part| holds_without(part, reading)),
        Cond::Any(parts) => parts.iter().any(|part| holds_without(part, reading)),
    }
}

fn asks(protocol: &Protocol, action: &Action, reading: ReadingId) -> bool {
    match &action.order {
        Order::Ask { readings, .. } => readings.iter().any(|asked| asked.value == reading),
        // Following a ladder asks for its reading (M16).
        Order::FollowLadder(ladder) => protocol[ladder.value].reading.value == reading,
        _ => false,
    }
}

/// What a `covers` stands on.
#[derive(Debug, Clone)]
pub enum Covered<'a> {
    Criterion,
    Look(&'a Look),
    Step(&'a Checklist, usize),
    Order(Ordered<'a>),
}

/// Every place that covers a topic.
pub fn covering(protocol: &Protocol, topic: words::Topic) -> Vec<Covered<'_>> {
    let has = |covers: &[At<words::Topic>]| covers.iter().any(|covers| covers.value == topic);
    let mut found = Vec::new();
    found.extend(
        protocol
            .criteria
            .iter()
            .filter(|criterion| has(&criterion.covers))
            .map(|_| Covered::Criterion),
    );
    found.extend(
        protocol
            .looks
            .iter()
            .filter(|look| match &look.what {
                LookWhat::Do { covers, .. } => has(covers),
                LookWhat::Order(action) => action
                    .with_otherwise()
                    .iter()
                    .any(|action| matches!(&action.order, Order::Do { covers, .. } if has(covers))),
                LookWhat::Ask { .. } | LookWhat::Give(_) => false,
            })
            .map(Covered::Look),
    );
    for (_, checklist) in protocol.checklists() {
        found.extend(
            checklist
                .steps
                .iter()
                .enumerate()
                .filter(|(_, step)| has(&step.covers))
                .map(|(at, _)| Covered::Step(checklist, at)),
        );
    }
    let does = |action: &Action| matches!(&action.order, Order::Do { covers, .. } if has(covers));
    found.extend(
        orders_that(protocol, does)
            .into_iter()
            .filter(|order| order.origin != Origin::Look)
            .map(Covered::Order),
    );
    found
}
