//! Conditions that were turned into formulas once, for all questions about a phase.
//!
//! A [`Store`] keeps, for each condition that belongs to the protocol itself and each
//! moment, its formula and its [`Hull`]: the values that it leaves to each record on
//! its own. Two conditions whose hulls have a record in common, and no value of it,
//! cannot hold together; nothing else follows from a hull.

use super::compare::FREE;
use super::formula::{AtMost, Domain, Domains, Formula, Var, ZERO};
use super::frame::Frame;
use super::scene::{Held, Scene, Values};
use crate::model::{Cond, End, EndTrigger, Order, PhaseId, Protocol, ReadingId, TestKind, Until};
use crate::quantity::Exact;
use rustc_hash::FxHashMap;
use std::collections::BTreeMap;
use std::rc::Rc;

/// A record: its reading and its key in the scene.
pub type Record = (ReadingId, usize);

/// The lowest and the highest value that are left to some records; others are free.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Hull(BTreeMap<Record, (i64, i64)>);

impl Hull {
    fn is_empty(&self) -> bool {
        self.0.values().any(|(low, high)| low > high)
    }

    /// Leaves what both leave; whether that is anything.
    pub fn narrow(&mut self, other: &Hull) -> bool {
        for (record, (low, high)) in &other.0 {
            let own = self.0.entry(*record).or_insert((*low, *high));
            own.0 = own.0.max(*low);
            own.1 = own.1.min(*high);
            if own.0 > own.1 {
                return false;
            }
        }
        true
    }

    /// What one or the other leaves.
    fn widen(mut self, other: &Hull) -> Hull {
        self.0.retain(|record, own| match other.0.get(record) {
            Some((low, high)) => {
                own.0 = own.0.min(*low);
                own.1 = own.1.max(*high);
                true
            }
            None => false,
        });
        self
    }

    /// `None` where the formula can never hold.
    pub(super) fn of(formula: &Formula, vars: &[(Record, Domain)]) -> Option<Hull> {
        match formula {
            Formula::AtMost(test) => {
                let mut hull = Hull::default();
                let (var, low, high) = match *test {
                    AtMost { left, right, most } if right == ZERO => (left, i64::MIN, most),
                    AtMost { left, right, most } if left == ZERO => (right, -most, i64::MAX),
                    _ => return Some(hull),
                };
                if let Some((record, domain)) = place(var).and_then(|at| vars.get(at)) {
                    let left = (low.max(domain.low), high.min(domain.high));
                    hull.0.insert(*record, left);
                }
                (!hull.is_empty()).then_some(hull)
            }
            Formula::All(parts) => {
                let mut all = Hull::default();
                for part in parts {
                    if !all.narrow(&Hull::of(part, vars)?) {
                        return None;
                    }
                }
                Some(all)
            }
            Formula::Any(parts) => parts
                .iter()
                .filter_map(|part| Hull::of(part, vars))
                .reduce(|a, b| a.widen(&b)),
        }
    }
}

/// The place of a variable among those of the store; none for the constant.
fn place(var: Var) -> Option<usize> {
    var.index().checked_sub(1)
}

/// A condition at a moment.
#[derive(Debug)]
pub struct Compiled {
    /// Over the variables 1, 2, … that stand for `records`.
    pub formula: Formula,
    pub records: Vec<(Record, Domain)>,
    pub hull: Hull,
    /// What is left where it does not hold; `None` where it always does.
    pub else_hull: Option<Hull>,
}

/// Phase, how values are chosen, how far records are held to the plan, condition, stretch, moment.
type Key = (PhaseId, Values, Held, usize, Exact, Exact);

#[derive(Debug, Default)]
pub struct Store {
    /// Places in memory of the conditions that live as long as the protocol: a
    /// condition made for one question may stand where another one stood.
    /// With whether the target or a pause plays a part in them.
    own: BTreeMap<usize, bool>,
    done: FxHashMap<Key, Rc<Compiled>>,
}

impl Store {
    pub fn of(protocol: &Protocol) -> Self {
        let rules = protocol.rules().map(|(_, rule)| &rule.when);
        let untils = protocol
            .rules()
            .flat_map(|(_, rule)| &rule.then)
            .filter_map(|action| match &action.order {
                Order::Pause(Until::When(cond)) | Order::KeepTarget(Until::When(cond)) => {
                    Some(cond)
                }
                _ => None,
            });
        let ends = protocol.phases().filter_map(|(_, phase)| match &phase.end {
            End::Awaited {
                trigger: EndTrigger::When(cond),
                ..
            } => Some(cond),
            _ => None,
        });
        Store {
            own: rules
                .chain(ends)
                .chain(untils)
                .map(|cond| (address(cond), hangs_on_orders(cond)))
                .collect(),
            done: FxHashMap::default(),
        }
    }

    /// Whether an order given before can change what the condition comes to.
    pub fn hangs_on_orders(&self, cond: &Cond) -> bool {
        self.own
            .get(&address(cond))
            .copied()
            .unwrap_or_else(|| hangs_on_orders(cond))
    }

    /// The condition as a formula, where it is one of the protocol's own.
    pub fn compiled<'s>(
        &mut self,
        scene: &Scene<'s>,
        frame: &'s Frame,
        cond: &Cond,
        since: Exact,
        at: Exact,
    ) -> Option<Rc<Compiled>> {
        let cond_at = address(cond);
        let hangs_on_orders = *self.own.get(&cond_at)?;
        if !scene.silent_after.is_empty() || (hangs_on_orders && !scene.is_plain()) {
            return None;
        }
        let key = (frame.phase, scene.values, scene.held, cond_at, since, at);
        if let Some(done) = self.done.get(&key) {
            return Some(Rc::clone(done));
        }
        let mut own = Scene::new(
            (scene.protocol, scene.grids, scene.intervals),
            frame,
            scene.values,
        );
        own.held = scene.held;
        let formula = own.cond(cond, since, at);
        // What is open is open for each condition by itself.
        if own.vars().any(|(reading, _, _)| reading == FREE) {
            return None;
        }
        let mut records: Vec<(Var, Record)> = own
            .vars()
            .map(|(reading, key, var)| (var, (reading, key)))
            .collect();
        records.sort_unstable();
        let domains: Vec<&Domain> = own.domains.iter().skip(1).collect();
        let records: Vec<(Record, Domain)> = records
            .into_iter()
            .zip(domains)
            .map(|((_, record), domain)| (record, *domain))
            .collect();
        let (formula, hull) = match Hull::of(&formula, &records) {
            Some(hull) => (formula, hull),
            None => (Formula::FALSE, Hull::default()),
        };
        let else_hull = Hull::of(&formula.clone().negated(), &records);
        let done = Rc::new(Compiled {
            formula,
            records,
            hull,
            else_hull,
        });
        self.done.insert(key, Rc::clone(&done));
        Some(done)
    }
}

/// Whether an order given before can change what the condition comes to.
fn hangs_on_orders(cond: &Cond) -> bool {
    cond.tests().iter().any(|test| {
        matches!(
            test.kind,
            TestKind::OffTarget { .. }
                | TestKind::NearTarget { .. }
                | TestKind::PausedLonger { .. }
        )
    })
}

fn address(cond: &Cond) -> usize {
    std::ptr::from_ref(cond).addr()
}

impl Compiled {
    /// The formula over other variables, which `var` gives.
    pub fn over(&self, mut var: impl FnMut(Record, Domain) -> Var) -> Formula {
        let vars: Vec<Var> = self
            .records
            .iter()
            .map(|(record, domain)| var(*record, *domain))
            .collect();
        renamed(&self.formula, &vars)
    }
}

fn renamed(formula: &Formula, vars: &[Var]) -> Formula {
    let name = |var: Var| {
        place(var)
            .and_then(|at| vars.get(at))
            .copied()
            .unwrap_or(ZERO)
    };
    let all = |parts: &[Formula]| parts.iter().map(|part| renamed(part, vars)).collect();
    match formula {
        Formula::AtMost(test) => Formula::AtMost(AtMost {
            left: name(test.left),
            right: name(test.right),
            most: test.most,
        }),
        Formula::All(parts) => Formula::All(all(parts)),
        Formula::Any(parts) => Formula::Any(all(parts)),
    }
}

/// Adds the domain of a record that a scene does not know yet.
pub fn known_or_added(
    vars: &mut BTreeMap<Record, Var>,
    domains: &mut Domains,
    record: Record,
    domain: Domain,
) -> Var {
    *vars.entry(record).or_insert_with(|| domains.add(domain))
}

#[cfg(test)]
mod tests {
    use super::*;

    const CORE: Record = (ReadingId(0), 0);
    const WATER: Record = (ReadingId(1), 0);

    fn hull(formula: &Formula) -> Option<Hull> {
        let domain = Domain {
            low: 0,
            high: 100,
            step: 1,
            plan: 0,
        };
        Hull::of(formula, &[(CORE, domain), (WATER, domain)])
    }

    fn above(var: u32, value: i64) -> Formula {
        Formula::at_most(ZERO, Var(var), -value - 1)
    }

    fn below(var: u32, value: i64) -> Formula {
        Formula::at_most(Var(var), ZERO, value - 1)
    }

    #[test]
    fn an_or_leaves_what_any_branch_leaves() {
        let either = Formula::any([
            below(1, 10),
            Formula::all([above(1, 30), below(1, 40), above(2, 5)]),
        ]);
        let hull = hull(&either).expect("it can hold");
        assert_eq!(hull.0.get(&CORE), Some(&(0, 39)));
        // The first branch says nothing of the water.
        assert_eq!(hull.0.get(&WATER), None);
    }

    #[test]
    fn values_that_no_record_has_are_found_at_once() {
        assert_eq!(hull(&Formula::all([above(1, 30), below(1, 31)])), None);
        assert_eq!(hull(&above(1, 100)), None);
        assert!(hull(&Formula::at_most(Var(1), Var(2), -200)).is_some());
        let mut left = hull(&above(1, 30)).expect("it can hold");
        assert!(!left.narrow(&hull(&below(1, 31)).expect("it can hold")));
        let mut left = hull(&above(1, 30)).expect("it can hold");
        assert!(left.narrow(&hull(&below(2, 1)).expect("it can hold")));
    }
}
