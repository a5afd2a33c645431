//! Other orders in a record that was found.
//!
//! A question is answered as if no other rule gave an order before the moment. On
//! the record that was found one may: it begins another phase, or moves the target,
//! pauses or stops control. Then the evaluator does not come to the same. Here it is
//! seen which rule or rung that was; the question is asked again with a guard that
//! it does not fire before.
//!
//! A guard against a `begin` leaves nothing out: who has left the phase is in it no
//! more. One against an order on the target or on control may, so what was only
//! refused by such a guard is never taken as proof.

use super::Solver;
use super::ask::Before;
use super::formula::Formula;
use super::frame::Frame;
use super::question::{Found, Goal, Question};
use super::replay::Replay;
use super::said;
use super::scene::Scene;
use crate::eval::{Cause, What};
use crate::model::*;
use crate::quantity::Exact;
use std::collections::{BTreeMap, BTreeSet};

/// What gave an order that disturbed a record.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum By {
    Rule(RuleId),
    /// A rung of a ladder that is followed at each record of its reading.
    Rung(LadderId, usize),
}

/// One such order in a record.
#[derive(Debug, Clone, Copy)]
pub(super) struct Disturbed {
    pub by: By,
    pub at: Exact,
    /// It begins another phase.
    pub leaves: bool,
}

/// What must not give its order before the moment.
#[derive(Debug, Clone, Default)]
pub(super) struct Guards {
    all: BTreeMap<By, BTreeSet<Exact>>,
    others: bool,
}

impl Guards {
    /// Adds them; whether one of them is new.
    pub fn add(&mut self, disturbed: &[Disturbed]) -> bool {
        let mut new = false;
        for one in disturbed {
            new |= self.all.entry(one.by).or_default().insert(one.at);
            self.others |= !one.leaves;
        }
        new
    }

    /// Whether all of them only keep the phase from being left.
    pub fn only_leave(&self) -> bool {
        !self.others
    }
}

/// What the evaluator made of a record.
pub(super) enum Shown {
    Yes,
    Disturbed(Vec<Disturbed>),
}

impl<'p> Solver<'p> {
    /// Runs a record through the evaluator: does it show what was asked?
    pub(super) fn shown(&self, frame: &Frame, question: &Question<'_>, found: &Found) -> Shown {
        let replay = if question.unshown {
            self.replay_quietly(question, found)
        } else {
            self.replay(found)
        };
        self.replayed.set(self.replayed.get() + 1);
        self.budget
            .spend(super::replay::steps(self.protocol, found));
        let right = replay.is_in_phase(found)
            && question
                .goals
                .iter()
                .all(|goal| self.is_met(&replay, goal, found))
            && (question.either.is_empty()
                || question
                    .either
                    .iter()
                    .any(|goals| goals.iter().all(|goal| self.is_met(&replay, goal, found))));
        let disturbed = self.disturbed(frame, &replay, found);
        let moved = question.hangs_on_target() && disturbed.iter().any(|one| one.at < found.at);
        if right && !moved {
            return Shown::Yes;
        }
        if disturbed.is_empty() {
            // One that fired before and is at rest is not seen to hold at the moment
            // at which another one leaves the phase.
            return Shown::Disturbed(self.fired_before(&replay, question, found));
        }
        // Who is still in the phase was not led out of it.
        let kept = disturbed
            .iter()
            .filter(|one| one.leaves != replay.is_in_phase(found))
            .copied()
            .collect::<Vec<_>>();
        Shown::Disturbed(if kept.is_empty() { disturbed } else { kept })
    }

    fn fired_before(
        &self,
        replay: &Replay<'p>,
        question: &Question<'_>,
        found: &Found,
    ) -> Vec<Disturbed> {
        let rules: Vec<RuleId> = question
            .conds()
            .filter_map(|cond| self.rule_of(cond))
            .collect();
        replay
            .events
            .iter()
            .filter(|event| event.at < found.at)
            .filter_map(|event| match &event.what {
                What::RuleFires { rule, .. } if rules.contains(rule) => Some(Disturbed {
                    by: By::Rule(*rule),
                    at: event.at,
                    leaves: false,
                }),
                _ => None,
            })
            .collect()
    }

    /// A condition of a rule is looked up in the run; values are what was recorded.
    fn is_met(&self, replay: &Replay<'p>, goal: &Goal<'_>, found: &Found) -> bool {
        match goal {
            Goal::Cond {
                cond,
                during: Some(_),
                holds,
            } => match self.rule_of(cond) {
                Some(rule) => replay.holds(rule, found) == *holds,
                None => true,
            },
            Goal::Cond { during: None, .. } | Goal::Value { .. } | Goal::NotValue { .. } => true,
        }
    }

    pub(super) fn rule_of(&self, cond: &Cond) -> Option<RuleId> {
        self.protocol
            .rules()
            .find(|(_, rule)| std::ptr::eq(&raw const rule.when, cond))
            .map(|(id, _)| id)
    }

    /// The orders that can have changed what the record shows.
    fn disturbed(&self, frame: &Frame, replay: &Replay<'p>, found: &Found) -> Vec<Disturbed> {
        let mut all = Vec::new();
        for event in &replay.events {
            let What::OrderGiven { order, causes } = &event.what else {
                continue;
            };
            let leaves = matches!(&**order, Order::Begin(_));
            // What is ordered at the moment itself changes only what comes after it.
            if !order.steers() || event.at >= found.at {
                continue;
            }
            for by in causes
                .iter()
                .flat_map(|cause| self.behind(frame, replay, event.at, *cause))
            {
                if found.first.map(|(rule, at)| (By::Rule(rule), at)) != Some((by, event.at)) {
                    all.push(Disturbed {
                        by,
                        at: event.at,
                        leaves,
                    });
                }
            }
        }
        all
    }

    /// Who is behind an order: the rule itself, the rules that follow a ladder then,
    /// or the rung where the ladder is followed at each look.
    fn behind(&self, frame: &Frame, replay: &Replay<'p>, at: Exact, cause: Cause) -> Vec<By> {
        let (ladder, rung) = match cause {
            Cause::Rule(rule) => return vec![By::Rule(rule)],
            Cause::Look(_) => return Vec::new(),
            Cause::Otherwise(_) => (None, None),
            Cause::Rung(ladder, at) | Cause::Step(ladder, at) => (Some(ladder), Some(at)),
        };
        let rules: Vec<By> = replay
            .events
            .iter()
            .filter(|event| event.at <= at)
            .filter_map(|event| match &event.what {
                What::RuleFires { rule, .. } => Some(*rule),
                _ => None,
            })
            .filter(|rule| {
                said::said(self.protocol, &self.protocol[*rule])
                    .iter()
                    .any(|said| match ladder {
                        Some(ladder) => said.through.iter().any(|(of, _)| *of == ladder),
                        None => said.instead_of.is_some(),
                    })
            })
            .map(By::Rule)
            .collect();
        let recorded = |ladder: LadderId| {
            let samples = frame.samples_of(self.protocol[ladder].reading.value);
            samples.iter().any(|sample| sample.at == at)
        };
        match (rules.is_empty(), ladder, rung) {
            (true, Some(ladder), Some(rung)) if recorded(ladder) => vec![By::Rung(ladder, rung)],
            _ => rules,
        }
    }
}

/// That nothing of what is guarded gave its order before the moment.
pub(super) fn at_rest<'s>(
    solver: &'s Solver<'_>,
    scene: &mut Scene<'s>,
    frame: &'s Frame,
    guards: &Guards,
    at: Exact,
    before: Option<Before<'_>>,
) -> Formula {
    let mut all = Vec::new();
    for (by, times) in &guards.all {
        match by {
            By::Rule(rule) => {
                let from = before
                    .filter(|before| before.rule == *rule)
                    .map(|before| before.at);
                for moment in moments(solver, frame, *rule, times) {
                    if moment < at && from.is_none_or(|from| moment < from) {
                        all.push(fires(solver, scene, frame, *rule, moment).negated());
                    }
                }
            }
            By::Rung(ladder, rung) => {
                let reading = solver.protocol[*ladder].reading.value;
                let samples = scene.samples(reading);
                for (index, sample) in samples.iter().enumerate() {
                    if sample.at >= at {
                        break;
                    }
                    let goals = said::rung_goals(solver.protocol, frame, (*ladder, *rung));
                    let mut chosen = Vec::new();
                    for goal in goals {
                        if let Goal::Value { cmp, value, .. } = goal {
                            let var = scene.var(reading, index);
                            chosen.push(scene.compare(var, cmp, value));
                        }
                    }
                    all.push(Formula::all(chosen).negated());
                }
            }
        }
    }
    Formula::all(all)
}

/// When a rule can fire: at records of its readings, at the moments of the phase,
/// and at those at which it has been seen to.
fn moments(
    solver: &Solver<'_>,
    frame: &Frame,
    rule: RuleId,
    times: &BTreeSet<Exact>,
) -> BTreeSet<Exact> {
    let rule = &solver.protocol[rule];
    let mut moments = times.clone();
    moments.extend(frame.moments.iter().copied());
    for reading in rule.when.readings() {
        moments.extend(frame.samples_of(reading).iter().map(|sample| sample.at));
    }
    moments
}

/// That a rule's condition holds at a moment of one of its phases, and none that
/// overrides it.
fn fires<'s>(
    solver: &'s Solver<'_>,
    scene: &mut Scene<'s>,
    frame: &'s Frame,
    rule: RuleId,
    at: Exact,
) -> Formula {
    let stated = &solver.protocol[rule];
    let Some(since) = frame.stretch_at(&stated.during, at) else {
        return Formula::FALSE;
    };
    let mut all = vec![solver.cond(scene, frame, &stated.when, since, at)];
    for (_, other) in solver.protocol.rules() {
        if other.overrides.iter().any(|over| over.value == rule)
            && let Some(since) = frame.stretch_at(&other.during, at)
        {
            all.push(solver.cond(scene, frame, &other.when, since, at).negated());
        }
    }
    Formula::all(all)
}
