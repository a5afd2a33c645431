//! Which rules fire, which are silenced, and when a rule is ready again (M13, M14).
//!
//! Choices where the definitions leave room:
//! - `ready again when` has the same stretch as the rule, and releases it at a
//!   later moment than the one at which it fired; where it holds already when the rule
//!   fires, that is the next moment. Whether that is a chattering rule is `chatter`.
//! - The rules of a phase are not decided on the record that ends it: at each
//!   moment the rules of one phase speak, those of the phase that then runs.

use super::condition::{Fact, Truth, View, Watch};
use super::event::{Event, Events, What};
use crate::model::{PhaseId, Protocol, RuleId};
use crate::quantity::Exact;

#[derive(Debug, Clone)]
pub struct Rules<'p> {
    protocol: &'p Protocol,
    states: Vec<State<'p>>,
    /// By rule: those that override it.
    overriders: Vec<Vec<RuleId>>,
    /// By rule: it is not looked at.
    asleep: Vec<bool>,
}

#[derive(Debug, Clone, Default)]
struct State<'p> {
    /// There while the rule is in its phases.
    stretch: Option<Stretch<'p>>,
}

#[derive(Debug, Clone)]
struct Stretch<'p> {
    when: Watch<'p>,
    ready_again: Option<Watch<'p>>,
    fired: Option<Exact>,
    silenced: bool,
}

/// How a rule stands at one moment, for whoever asks why it did or did not fire.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Standing<'p> {
    /// None of its phases runs.
    NotInPhase,
    InPhase {
        truth: Truth,
        facts: Vec<Fact<'p>>,
        /// At rest since it fired then.
        fired: Option<Exact>,
        overridden_by: Option<RuleId>,
    },
}

impl<'p> Rules<'p> {
    pub fn new(protocol: &'p Protocol) -> Self {
        let mut overriders = vec![Vec::new(); protocol.rules().count()];
        for (id, rule) in protocol.rules() {
            for overridden in &rule.overrides {
                if let Some(list) = overriders.get_mut(overridden.value.index()) {
                    list.push(id);
                }
            }
        }
        Rules {
            protocol,
            states: protocol.rules().map(|_| State::default()).collect(),
            overriders,
            asleep: Vec::new(),
        }
    }

    /// From the next moment on these rules alone are looked at.
    pub fn watch(&mut self, only: &[bool]) {
        self.asleep = only.iter().map(|awake| !awake).collect();
    }

    /// Begins and ends stretches (M8) once the phases of a moment have settled.
    pub fn settle(&mut self, phase: Option<PhaseId>, now: Exact) {
        let protocol = self.protocol;
        for ((id, rule), state) in protocol.rules().zip(&mut self.states) {
            let asleep = self.asleep.get(id.index()).copied().unwrap_or(false);
            let within = phase.filter(|_| !asleep).is_some_and(|phase| {
                rule.during.is_empty() || rule.during.iter().any(|p| p.value == phase)
            });
            if !within {
                state.stretch = None;
            } else if state.stretch.is_none() {
                state.stretch = Some(Stretch {
                    when: Watch::new(&rule.when, now),
                    ready_again: rule.ready_again.as_ref().map(|cond| Watch::new(cond, now)),
                    fired: None,
                    silenced: false,
                });
            }
        }
    }

    /// Decides all conditions on this moment's records.
    pub fn observe(&mut self, view: &View<'_>) {
        for stretch in self.states.iter_mut().filter_map(|s| s.stretch.as_mut()) {
            stretch.when.observe(view);
            if let Some(ready_again) = &mut stretch.ready_again {
                ready_again.observe(view);
            }
        }
    }

    /// Makes rules ready again and fires those that are; in the order written.
    pub fn fire(&mut self, view: &View<'_>, events: &mut Events<'p>) -> Vec<RuleId> {
        let protocol = self.protocol;
        let holds: Vec<bool> = self
            .states
            .iter()
            .map(|state| {
                state
                    .stretch
                    .as_ref()
                    .is_some_and(|stretch| stretch.when.truth(view).holds())
            })
            .collect();
        let mut firing = Vec::new();
        for (id, rule) in protocol.rules() {
            let overridden_by = self.overrider(id, &holds);
            let Some(stretch) = self
                .states
                .get_mut(id.index())
                .and_then(|state| state.stretch.as_mut())
            else {
                continue;
            };
            let mut say = |what| {
                events.push(Event { at: view.now, what });
            };
            if let Some(fired) = stretch.fired.filter(|fired| *fired < view.now) {
                let waited = rule
                    .again_after
                    .as_ref()
                    .is_some_and(|after| view.now >= fired + after.value);
                let released = match &stretch.ready_again {
                    Some(ready_again) => ready_again.truth(view).holds(),
                    None => stretch.when.truth(view) == Truth::Fails,
                };
                if waited || released {
                    stretch.fired = None;
                    say(What::RuleReady(id));
                }
            }
            if !holds.get(id.index()).copied().unwrap_or(false) {
                stretch.silenced = false;
                continue;
            }
            if stretch.fired.is_some() {
                continue;
            }
            match overridden_by {
                Some(by) => {
                    if !stretch.silenced {
                        say(What::RuleSilenced { rule: id, by });
                    }
                    stretch.silenced = true;
                }
                None => {
                    say(What::RuleFires {
                        rule: id,
                        because: stretch.when.facts(view),
                    });
                    stretch.fired = Some(view.now);
                    stretch.silenced = false;
                    firing.push(id);
                }
            }
        }
        firing
    }

    fn overrider(&self, rule: RuleId, holds: &[bool]) -> Option<RuleId> {
        self.overriders
            .get(rule.index())?
            .iter()
            .copied()
            .find(|by| *by != rule && holds.get(by.index()).copied().unwrap_or(false))
    }

    /// How a rule stands.
    pub fn standing(&self, rule: RuleId, view: &View<'_>) -> Standing<'p> {
        let holds: Vec<bool> = self
            .states
            .iter()
            .map(|state| {
                state
                    .stretch
                    .as_ref()
                    .is_some_and(|stretch| stretch.when.truth(view).holds())
            })
            .collect();
        match self.states.get(rule.index()).map(|state| &state.stretch) {
            Some(Some(stretch)) => Standing::InPhase {
                truth: stretch.when.truth(view),
                facts: stretch.when.facts(view),
                fired: stretch.fired,
                overridden_by: self.overrider(rule, &holds),
            },
            Some(None) | None => Standing::NotInPhase,
        }
    }

    /// The next moment at which time alone makes a condition true or a rule ready.
    pub fn wakes(&self, view: &View<'_>) -> Option<Exact> {
        let again = |index: usize, stretch: &Stretch<'_>| {
            let rule = &self.protocol[RuleId(u32::try_from(index).unwrap_or(u32::MAX))];
            Some(stretch.fired? + rule.again_after.as_ref()?.value)
        };
        self.states
            .iter()
            .enumerate()
            .filter_map(|(index, state)| Some((index, state.stretch.as_ref()?)))
            .flat_map(|(index, stretch)| {
                [
                    stretch.when.wakes(view),
                    stretch.ready_again.as_ref().and_then(|w| w.wakes(view)),
                    again(index, stretch),
                ]
            })
            .flatten()
            .filter(|at| *at > view.now)
            .min()
    }
}
