//! A record that nobody is shown, run without the rules that cannot change it.
//!
//! A rule that only calls somebody or has something done changes nothing that a condition
//! could see. Most rules are like that, and of 500 of them each asks whether it can fire.

use super::question::{Found, Question};
use super::replay::{self, LeadIns, Replay};
use super::{Solver, said};
use crate::model::{Order, Protocol, RuleId};
use crate::quantity::Exact;
use std::cell::OnceCell;
use std::rc::Rc;

/// So many rules are few.
const FEW: usize = 50;

/// What such runs share.
#[derive(Default)]
pub(super) struct Quiet<'p> {
    /// By rule: it can change what another one sees.
    loud: OnceCell<Vec<bool>>,
    lead_ins: LeadIns<'p>,
}

impl<'p> Solver<'p> {
    pub(super) fn replay_quietly(&self, question: &Question<'_>, found: &Found) -> Rc<Replay<'p>> {
        if let Some(replay) = self.replayed_last(found) {
            return replay;
        }
        let protocol = self.protocol;
        let loud = self.quiet.loud.get_or_init(|| loud(protocol));
        let asked: Vec<RuleId> = question
            .conds()
            .filter_map(|cond| self.rule_of(cond))
            .collect();
        let mut awake = loud.clone();
        for rule in &asked {
            mark(&mut awake, *rule);
        }
        with_overriders(protocol, &mut awake);
        let own =
            |(rule, awake): (usize, &bool)| *awake && !loud.get(rule).copied().unwrap_or(false);
        let begins = self
            .frame(found.phase)
            .map_or(Exact::ZERO, |frame| frame.begins);
        let begin_here = awake
            .iter()
            .enumerate()
            .filter(|one| own(*one))
            .all(|(rule, _)| {
                let rule = RuleId(u32::try_from(rule).unwrap_or(u32::MAX));
                let during = &protocol[rule].during;
                self.frame(found.phase)
                    .is_some_and(|frame| frame.stretch(during) == begins)
            });
        let begun = |only: &[bool]| {
            let mut run = replay::begun(protocol, found);
            run.say_only_what_is_decided();
            run.watch(only);
            run
        };
        let (mut run, rest) = match self.parted(found) {
            // Of few rules the way with all of them takes little more, and serves all questions.
            Some((ahead, rest)) if awake.len() <= FEW => {
                let all = vec![true; awake.len()];
                let run = replay::led_in(&self.lead_ins, found, ahead, || begun(&all));
                (run, rest)
            }
            // Those that are asked about look at nothing before the phase.
            Some((ahead, rest)) if begin_here => (
                replay::led_in(&self.quiet.lead_ins, found, ahead, || begun(loud)),
                rest,
            ),
            Some(_) | None => (begun(&awake), &found.entries[..]),
        };
        run.watch(&awake);
        Rc::new(replay::gone_on(run, rest, found.at))
    }
}

fn mark(rules: &mut [bool], rule: RuleId) {
    if let Some(marked) = rules.get_mut(rule.index()) {
        *marked = true;
    }
}

/// The rules of whose orders one can change what is recorded, the target, control, the phase
/// or a medication; and those that override one of these.
fn loud(protocol: &Protocol) -> Vec<bool> {
    let mut loud: Vec<bool> = protocol
        .rules()
        .map(|(_, rule)| {
            !said::said(protocol, rule).iter().all(|said| {
                matches!(
                    said.action.order,
                    Order::Call { .. }
                        | Order::Do { .. }
                        | Order::FollowChecklist(_)
                        | Order::FollowLadder(_)
                )
            })
        })
        .collect();
    with_overriders(protocol, &mut loud);
    loud
}

/// Marks also the rules that override a marked one.
fn with_overriders(protocol: &Protocol, marked: &mut [bool]) {
    loop {
        let more: Vec<RuleId> = protocol
            .rules()
            .filter(|(id, rule)| {
                let is = |rule: RuleId| marked.get(rule.index()).copied().unwrap_or(false);
                !is(*id) && rule.overrides.iter().any(|over| is(over.value))
            })
            .map(|(id, _)| id)
            .collect();
        if more.is_empty() {
            return;
        }
        for rule in more {
            mark(marked, rule);
        }
    }
}
