//! A record on which the two versions part ways, and what either says at its end.
//!
//! INVARIANT: a case is made only of a record that both versions have been run on, all rules of
//! either in force, and on which they did not say the same.

use super::acting::rule_named;
use super::acts::{Names, Side, Sides, is_during};
use super::change::PartingCase;
use crate::eval::{self, Entry, EntryWhat, What, wording};
use crate::model::*;
use crate::plan;
use crate::quantity::Exact;
use crate::solve::replay::{replay, steps};
use crate::solve::{Found, Goal, Question, Solver};
use std::collections::BTreeSet;

/// What both versions do on a record.
pub(super) enum Parting {
    Told(Box<PartingCase>),
    Alike,
    /// Too much was recorded to find out what matters of it, within what a comparison may take.
    Untold,
}

impl<'p> Sides<'p> {
    /// Runs both versions on a record; the case, if the rule acts in only one of them.
    pub fn parting(
        &self,
        base: Side,
        found: &Found,
        old: Option<RuleId>,
        new: Option<RuleId>,
    ) -> Parting {
        let Some((before, now)) = self.both_say(base, found, old, new) else {
            return Parting::Untold;
        };
        if before.acts == now.acts || before.lines() == now.lines() {
            return Parting::Alike;
        }
        match self.case(base, found, (old, new), (before, now)) {
            Some(case) => Parting::Told(Box::new(case)),
            None => Parting::Untold,
        }
    }

    /// The first record on which a rule acts that only one version has.
    pub fn alone(&self, side: Side, rule: RuleId) -> Option<PartingCase> {
        let (old, new) = match side {
            Side::Old => (Some(rule), None),
            Side::New => (None, Some(rule)),
        };
        self.acting(side, rule)
            .iter()
            .find_map(|found| match self.parting(side, found, old, new) {
                Parting::Told(case) => Some(*case),
                Parting::Alike | Parting::Untold => None,
            })
    }

    /// The first record on which both versions of a rule act, and order something else.
    pub fn ordering(&self, old: RuleId, new: RuleId) -> Option<PartingCase> {
        self.acting(Side::New, new).iter().find_map(|found| {
            let (before, now) = self.both_say(Side::New, found, Some(old), Some(new))?;
            if !before.fires || !now.fires || before.own == now.own {
                return None;
            }
            self.case(Side::New, found, (Some(old), Some(new)), (before, now))
        })
    }

    /// A record on which both versions of a rule act, and what it does while the values stay.
    pub fn again(&self, old: RuleId, new: RuleId) -> Option<PartingCase> {
        self.acting(Side::New, new).iter().find_map(|found| {
            let held = self.held(found, new);
            let work = steps(self.old, &held) + steps(self.new, &held);
            if !self.budget.allows(work) {
                return None;
            }
            self.budget.spend(work);
            let there = Names {
                from: self.new,
                to: self.old,
            }
            .record(&held);
            let (before, now) = (
                spoken(self.old, &there, old, found.at)?,
                spoken(self.new, &held, new, found.at)?,
            );
            (before != now).then(|| PartingCase {
                record: self.solver(Side::New).witness(found, Vec::new()),
                old: vec![before],
                new: vec![now],
            })
        })
    }

    /// The same record with its last values written down again for two days, as often as asked.
    fn held(&self, found: &Found, rule: RuleId) -> Found {
        let mut held = found.clone();
        held.at = found.at + Exact::int(LATER);
        for reading in self.new[rule].when.readings() {
            let last = found
                .entries
                .iter()
                .rev()
                .find_map(|entry| match entry.what {
                    EntryWhat::Record {
                        reading: one,
                        value,
                    } if one == reading => Some(value),
                    _ => None,
                });
            let every = plan::interval_in_force(self.new, reading, found.phase)
                .unwrap_or(Exact::int(60))
                .max(Exact::int(5));
            let mut at = found.at + every;
            while let Some(value) = last.filter(|_| at <= held.at) {
                held.entries.push(Entry::record(at, reading, value));
                at = at + every;
            }
        }
        held.entries.sort_by_key(|entry| entry.at);
        held
    }

    /// A record on which both rules hold, and only in one version the first silences the other.
    pub fn silencing(&self, by: &str, silenced: &str) -> Option<PartingCase> {
        let (old, new) = (
            rule_named(self.old, silenced),
            rule_named(self.new, silenced),
        );
        [Side::New, Side::Old].into_iter().find_map(|side| {
            let protocol = self.protocol(side);
            let (by, silenced) = (
                &protocol[rule_named(protocol, by)?],
                &protocol[rule_named(protocol, silenced)?],
            );
            protocol
                .phases()
                .filter(|(phase, _)| {
                    is_during(&by.during, *phase) && is_during(&silenced.during, *phase)
                })
                .find_map(|(phase, _)| {
                    let goals = vec![Goal::rule(by, true), Goal::rule(silenced, true)];
                    let found = self
                        .solver(side)
                        .ask(&Question::new(phase, goals))
                        .found()?;
                    let (before, now) = self.both_say(side, &found, old, new)?;
                    if before.own == now.own {
                        return None;
                    }
                    self.case(side, &found, (old, new), (before, now))
                })
        })
    }

    /// Records on which the rule acts, the earliest first; one from each phase.
    fn acting(&self, side: Side, rule: RuleId) -> Vec<Found> {
        let protocol = self.protocol(side);
        let about = &protocol[rule];
        let mut found: Vec<Found> = protocol
            .phases()
            .filter(|(phase, _)| is_during(&about.during, *phase))
            .filter_map(|(phase, _)| {
                let question = Question::new(phase, vec![Goal::rule(about, true)]);
                self.solver(side).ask(&question).found()
            })
            .collect();
        found.sort_by_key(|found| found.at);
        found
    }

    fn solver(&self, side: Side) -> &Solver<'p> {
        match side {
            Side::Old => &self.old_solver,
            Side::New => &self.new_solver,
        }
    }

    /// What either version says at the last moment of a record of `base`; `None` where nothing is
    /// left to find it out with.
    fn both_say(
        &self,
        base: Side,
        found: &Found,
        old: Option<RuleId>,
        new: Option<RuleId>,
    ) -> Option<(Said, Said)> {
        let work = steps(self.old, found) + steps(self.new, found);
        if !self.budget.allows(work) {
            return None;
        }
        self.budget.spend(work);
        let other = match base {
            Side::Old => Side::New,
            Side::New => Side::Old,
        };
        let there = Names {
            from: self.protocol(base),
            to: self.protocol(other),
        }
        .record(found);
        let (in_old, in_new) = match base {
            Side::Old => (found, &there),
            Side::New => (&there, found),
        };
        Some((said(self.old, in_old, old), said(self.new, in_new, new)))
    }

    fn case(
        &self,
        base: Side,
        found: &Found,
        (old, new): (Option<RuleId>, Option<RuleId>),
        (mut before, mut now): (Said, Said),
    ) -> Option<PartingCase> {
        let mut told = found.clone();
        let same = (before.lines(), now.lines());
        // What other rules say in both is not what parts the two.
        if !before.own.is_empty() && !now.own.is_empty() {
            let both: Vec<String> = before
                .others
                .iter()
                .filter(|line| now.others.contains(line))
                .cloned()
                .collect();
            before.others.retain(|line| !both.contains(line));
            now.others.retain(|line| !both.contains(line));
        }
        // Where another rule speaks in one version only, what the solver shows does not explain
        // it: then every entry without which either version would say something else is told.
        if before.others != now.others {
            let hidden = hidden(found);
            // All of them or none: half an explanation would be a wrong one.
            let work = steps(self.old, found) + steps(self.new, found);
            if !self.budget.allows(work.saturating_mul(hidden.len() as u64)) {
                return None;
            }
            for (at, reading, value) in hidden {
                let mut without = found.clone();
                without.entries.retain(|entry| {
                    entry.at != at
                        || !matches!(entry.what, EntryWhat::Record { reading: one, .. } if one == reading)
                });
                let (a, b) = self.both_say(base, &without, old, new)?;
                if (a.lines(), b.lines()) != same {
                    told.shown.push((at, reading, value));
                }
            }
            told.shown.sort();
        }
        Some(PartingCase {
            record: self.solver(base).witness(&told, Vec::new()),
            old: before.lines(),
            new: now.lines(),
        })
    }
}

/// Two days, in minutes.
const LATER: i64 = 48 * 60;

/// When the rule speaks after it has spoken at `at`; `None` where it did not speak then.
fn spoken(protocol: &Protocol, found: &Found, rule: RuleId, at: Exact) -> Option<String> {
    let replay = replay(protocol, found);
    let mut times = replay
        .events
        .iter()
        .filter(|event| matches!(event.what, What::RuleFires { rule: one, .. } if one == rule))
        .map(|event| event.at)
        .filter(|time| *time >= at);
    (times.next()? == at).then(|| {
        let name = &protocol[rule].name.name;
        match times.next() {
            Some(again) => format!(
                "`{name}` speaks, and while the values stay again at {}",
                wording::time(again)
            ),
            None => format!("`{name}` speaks, and not again while the values stay"),
        }
    })
}

/// What was recorded and is not shown.
fn hidden(found: &Found) -> Vec<(Exact, ReadingId, Exact)> {
    found
        .entries
        .iter()
        .filter_map(|entry| match entry.what {
            EntryWhat::Record { reading, value } => Some((entry.at, reading, value)),
            EntryWhat::Mark(_) => None,
        })
        .filter(|entry| entry.0 <= found.at && !found.shown.contains(entry))
        .collect()
}

/// What a version says at the last moment of a record.
struct Said {
    /// Whether the condition of the rule holds.
    acts: bool,
    fires: bool,
    own: Vec<String>,
    others: Vec<String>,
}

impl Said {
    fn lines(&self) -> Vec<String> {
        let mut lines: Vec<String> = self.own.iter().chain(&self.others).cloned().collect();
        if lines.is_empty() {
            lines.push("nothing".to_owned());
        }
        lines
    }
}

fn said(protocol: &Protocol, found: &Found, rule: Option<RuleId>) -> Said {
    let replay = replay(protocol, found);
    let acts = rule.is_some_and(|rule| replay.holds(rule, found));
    let fired: BTreeSet<RuleId> = replay
        .events
        .iter()
        .filter(|event| event.at == found.at)
        .filter_map(|event| match event.what {
            What::RuleFires { rule, .. } => Some(rule),
            _ => None,
        })
        .collect();
    let silenced = replay
        .events
        .iter()
        .filter(|event| event.at == found.at)
        .find_map(|event| match event.what {
            What::RuleSilenced { rule: one, by } if Some(one) == rule => Some(by),
            _ => None,
        });
    let line = |id: RuleId| {
        let about = &protocol[id];
        let orders: Vec<String> = about
            .then
            .iter()
            .map(|action| eval::order_words::order_words(protocol, &action.order))
            .collect();
        format!("`{}`: {}", about.name.name, orders.join("; "))
    };
    let own = rule.map(|rule| {
        let name = &protocol[rule].name.name;
        if fired.contains(&rule) {
            line(rule)
        } else if let Some(by) = silenced {
            format!(
                "`{name}` is silent: `{}` overrides it",
                protocol[by].name.name
            )
        } else if acts {
            format!("`{name}`: its condition holds, and it has spoken before")
        } else {
            format!("`{name}` is silent")
        }
    });
    Said {
        acts,
        fires: rule.is_some_and(|rule| fired.contains(&rule)),
        own: own.into_iter().collect(),
        others: fired
            .iter()
            .filter(|id| Some(**id) != rule)
            .map(|id| line(*id))
            .collect(),
    }
}
