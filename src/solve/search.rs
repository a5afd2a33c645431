//! Decides a formula: every `or` is split until only comparisons are left.
//!
//! ```text
//! state all comparisons -> strike the branches that the bounds exclude
//!   one branch left: state it      none left: impossible
//!   several left: try the one nearest to the plan first, then the others
//! ```
//!
//! The answer is exact: [`Verdict::Possible`] with values that satisfy the formula,
//! or [`Verdict::Impossible`]. Deciding can take time that grows as 2ⁿ with the
//! `or`s; after [`MOST_BRANCHES`], or as much work as `bounds` allows, the answer is [`Verdict::TooComplex`], never a
//! guess.

use super::bounds::{Bounds, Impossible};
use super::formula::{Domains, Formula, Var};

/// Branches tried before giving up.
pub const MOST_BRANCHES: u32 = 20_000;

/// Solutions looked at for the one nearest to the plan.
const MOST_COMPARED: u32 = 24;

#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Verdict {
    /// One value for each variable; [`super::formula::ZERO`] is 0.
    Possible(Vec<i64>),
    Impossible,
    TooComplex,
}

/// Whether the formula can hold; gives the solution nearest to the plan among the
/// first few.
pub fn decide(domains: &Domains, formula: &Formula) -> Verdict {
    decide_counted(domains, formula).0
}

/// The same, with how much work it took.
pub fn decide_counted(domains: &Domains, formula: &Formula) -> (Verdict, u64) {
    run(domains, formula, MOST_COMPARED)
}

/// The same with any solution: for proofs that only ask whether there is one.
pub fn can_hold(domains: &Domains, formula: &Formula) -> Verdict {
    run(domains, formula, 1).0
}

fn run(domains: &Domains, formula: &Formula, compared: u32) -> (Verdict, u64) {
    let Ok(bounds) = Bounds::new(domains) else {
        return (Verdict::Impossible, 0);
    };
    let mut search = Search {
        plan: domains.plan(),
        best: None,
        solutions: 0,
        compared,
        branches: 0,
        work: 0,
        given_up: false,
    };
    search.branch(bounds, vec![formula]);
    let copied = u64::from(search.branches) * search.plan.len() as u64;
    let verdict = match search.best {
        Some((_, values)) => Verdict::Possible(values),
        None if search.given_up => Verdict::TooComplex,
        None => Verdict::Impossible,
    };
    (verdict, search.work + copied)
}

struct Search {
    plan: Vec<i64>,
    best: Option<(i64, Vec<i64>)>,
    solutions: u32,
    compared: u32,
    branches: u32,
    work: u64,
    given_up: bool,
}

impl Search {
    fn is_over(&self) -> bool {
        self.given_up || self.solutions >= self.compared
    }

    fn branch<'f>(&mut self, mut bounds: Bounds, open: Vec<&'f Formula>) {
        self.branches += 1;
        if self.branches > MOST_BRANCHES {
            // A solution already found stands; only the search for a nearer one ends.
            self.given_up = true;
            return;
        }
        bounds.worked(self.work);
        let settled = settle(&mut bounds, open);
        self.work = bounds.work();
        let Ok(mut splits) = settled else {
            return;
        };
        if bounds.is_tired() {
            self.given_up = true;
            return;
        }
        let fewest = splits
            .iter()
            .enumerate()
            .min_by_key(|(_, (_, branches))| branches.len())
            .map(|(at, _)| at);
        let Some(at) = fewest else {
            self.solution(&bounds);
            return;
        };
        let (_, mut branches) = splits.swap_remove(at);
        branches.sort_by_cached_key(|branch| branch.missing(&self.plan));
        for branch in branches {
            if self.is_over() {
                return;
            }
            let mut open: Vec<&'f Formula> = vec![branch];
            open.extend(splits.iter().map(|(formula, _)| *formula));
            self.branch(bounds.clone(), open);
        }
    }

    /// Puts every variable as near to the plan as the others let it.
    fn solution(&mut self, bounds: &Bounds) {
        let mut bounds = bounds.clone();
        let mut values = vec![0; self.plan.len()];
        let mut away = 0i64;
        for index in 1..self.plan.len() {
            let var = Var(u32::try_from(index).unwrap_or(u32::MAX));
            let plan = self.plan.get(index).copied().unwrap_or(0);
            let near = nearest(&mut bounds, var, plan);
            self.given_up |= bounds.is_tired();
            self.work = bounds.work();
            let Some(value) = near else {
                return;
            };
            away = away.saturating_add((value - plan).abs());
            if let Some(slot) = values.get_mut(index) {
                *slot = value;
            }
        }
        self.solutions += 1;
        if self.best.as_ref().is_none_or(|(best, _)| away < *best) {
            self.best = Some((away, values));
        }
    }
}

/// The possible value of a variable that is nearest to `plan`; what it leaves for the
/// others is then left.
fn nearest(bounds: &mut Bounds, var: Var, plan: i64) -> Option<i64> {
    let step = bounds.step(var);
    let (low, high) = (bounds.low(var), bounds.high(var));
    let start = (plan.clamp(low, high)).div_euclid(step) * step;
    let start = if start < low { start + step } else { start };
    let mut distance = 0;
    // With equal steps the first one fits; with unequal ones a few may not.
    while start - distance >= low || start + distance <= high {
        for value in [start - distance, start + distance] {
            let mut tried = bounds.clone();
            let fits = tried.fix(var, value).is_ok();
            bounds.worked(tried.work());
            if bounds.is_tired() {
                return None;
            }
            if fits {
                *bounds = tried;
                return Some(value);
            }
        }
        distance += step;
    }
    None
}

/// An `or` with those of its branches that are left.
type Split<'f> = (&'f Formula, Vec<&'f Formula>);

/// States all comparisons and all `or`s that have one branch left, until nothing
/// changes. Gives the `or`s that still have several.
fn settle<'f>(
    bounds: &mut Bounds,
    mut open: Vec<&'f Formula>,
) -> Result<Vec<Split<'f>>, Impossible> {
    let mut splits: Vec<Split<'f>> = Vec::new();
    loop {
        while let Some(formula) = open.pop() {
            match formula {
                Formula::AtMost(test) => bounds.state(*test)?,
                Formula::All(parts) => open.extend(parts),
                Formula::Any(parts) => splits.push((formula, parts.iter().collect())),
            }
        }
        let mut kept = Vec::new();
        for (formula, branches) in splits {
            if branches.iter().any(|branch| is_certain(bounds, branch)) {
                continue;
            }
            let left: Vec<&Formula> = branches
                .into_iter()
                .filter(|branch| !is_excluded(bounds, branch))
                .collect();
            match left.as_slice() {
                [] => return Err(Impossible),
                [only] => open.push(only),
                _ => kept.push((formula, left)),
            }
        }
        splits = kept;
        if open.is_empty() {
            return Ok(splits);
        }
    }
}

fn is_certain(bounds: &Bounds, formula: &Formula) -> bool {
    match formula {
        Formula::AtMost(test) => bounds.entails(*test),
        Formula::All(parts) => parts.iter().all(|part| is_certain(bounds, part)),
        Formula::Any(parts) => parts.iter().any(|part| is_certain(bounds, part)),
    }
}

/// Whether the bounds alone rule it out; `false` decides nothing.
fn is_excluded(bounds: &Bounds, formula: &Formula) -> bool {
    match formula {
        Formula::AtMost(test) => bounds.excludes(*test),
        Formula::All(parts) => parts.iter().any(|part| is_excluded(bounds, part)),
        Formula::Any(parts) => parts.iter().all(|part| is_excluded(bounds, part)),
    }
}

#[cfg(test)]
mod tests {
    use super::super::formula::{Domain, ZERO};
    use super::*;

    fn domains(plans: &[i64]) -> (Domains, Vec<Var>) {
        let mut domains = Domains::default();
        let vars = plans
            .iter()
            .map(|plan| {
                domains.add(Domain {
                    low: 0,
                    high: 100,
                    step: 1,
                    plan: *plan,
                })
            })
            .collect();
        (domains, vars)
    }

    #[test]
    fn the_solution_is_the_one_nearest_to_the_plan() {
        let (domains, vars) = domains(&[50, 50]);
        // a <= 10 or a >= 53, and b at least 2 above a.
        let formula = Formula::all([
            Formula::any([
                Formula::at_most(vars[0], ZERO, 10),
                Formula::at_most(ZERO, vars[0], -53),
            ]),
            Formula::at_most(vars[0], vars[1], -2),
        ]);
        assert_eq!(
            decide(&domains, &formula),
            Verdict::Possible(vec![0, 53, 55])
        );
    }

    #[test]
    fn a_formula_and_its_opposite_share_no_solution() {
        let (domains, vars) = domains(&[0, 0]);
        let formula = Formula::any([
            Formula::at_most(vars[0], vars[1], 3),
            Formula::all([
                Formula::at_most(ZERO, vars[0], -7),
                Formula::at_most(vars[1], ZERO, 90),
            ]),
        ]);
        let both = Formula::all([formula.clone(), formula.negated()]);
        assert_eq!(can_hold(&domains, &both), Verdict::Impossible);
    }

    #[test]
    fn what_takes_too_long_is_said_in_bounded_time() {
        // Ten things in nine places, no two in one: hard for every case split.
        let mut domains = Domains::default();
        let things: Vec<Var> = (0..10)
            .map(|_| {
                domains.add(Domain {
                    low: 0,
                    high: 8,
                    step: 1,
                    plan: 0,
                })
            })
            .collect();
        let mut apart = Vec::new();
        for (at, a) in things.iter().enumerate() {
            for b in things.iter().skip(at + 1) {
                apart.push(Formula::any([
                    Formula::at_most(*a, *b, -1),
                    Formula::at_most(*b, *a, -1),
                ]));
            }
        }
        assert_eq!(
            can_hold(&domains, &Formula::all(apart)),
            Verdict::TooComplex
        );
    }
}
