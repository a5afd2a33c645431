//! Whether differences can hold together: shortest paths from the bounds.
//!
//! Each comparison `x - y <= c` is an edge of a graph; the lowest and the highest
//! value of every variable are shortest paths in it from the constant 0. Where two
//! readings have different display steps, a path is rounded to the step of each
//! variable on it: the values that satisfy such comparisons are closed under the
//! smaller and the larger of two solutions, so the highest values that are left
//! are themselves a solution, and so are the lowest. A cycle of negative length
//! shows in a path that is longer than there are variables; with unequal steps it
//! goes on until a variable has no value left. Both are exact.

use super::formula::{AtMost, Domains, Var};

/// Looks at a comparison before giving up on a question. The longest question about the
/// demo protocols takes 111,496.
pub const MOST_WORK: u64 = 4_000_000;

/// The comparisons stated so far, with the values that they leave.
#[derive(Debug, Clone)]
pub struct Bounds {
    low: Vec<i64>,
    high: Vec<i64>,
    step: Vec<i64>,
    edges: Vec<AtMost>,
    /// The round in which a variable was last given fewer values.
    narrowed: Vec<u32>,
    round: u32,
    even: bool,
    /// How often a comparison has been looked at, here and where it was copied from.
    work: u64,
}

/// No values are left.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Impossible;

impl Bounds {
    pub fn new(domains: &Domains) -> Result<Self, Impossible> {
        let steps: Vec<i64> = domains.iter().map(|domain| domain.step.max(1)).collect();
        // The constant has no step of its own.
        let mut others = steps.iter().skip(1);
        let first = others.next().copied().unwrap_or(1);
        let bounds = Bounds {
            low: domains
                .iter()
                .zip(&steps)
                .map(|(domain, step)| up(domain.low, *step))
                .collect(),
            high: domains
                .iter()
                .zip(&steps)
                .map(|(domain, step)| down(domain.high, *step))
                .collect(),
            even: others.all(|step| *step == first),
            narrowed: vec![0; steps.len()],
            round: 0,
            step: steps,
            edges: Vec::new(),
            work: 0,
        };
        if bounds
            .low
            .iter()
            .zip(&bounds.high)
            .any(|(low, high)| low > high)
        {
            return Err(Impossible);
        }
        Ok(bounds)
    }

    pub fn work(&self) -> u64 {
        self.work
    }

    /// Goes on counting from here.
    pub fn worked(&mut self, work: u64) {
        self.work = work;
    }

    /// Too much has been done: what is left is not what could be left, and nothing may
    /// be concluded from it but that a thing is impossible.
    pub fn is_tired(&self) -> bool {
        self.work > MOST_WORK
    }

    pub fn low(&self, var: Var) -> i64 {
        self.low.get(var.index()).copied().unwrap_or(0)
    }

    pub fn high(&self, var: Var) -> i64 {
        self.high.get(var.index()).copied().unwrap_or(0)
    }

    pub fn step(&self, var: Var) -> i64 {
        self.step.get(var.index()).copied().unwrap_or(1)
    }

    /// Whether it holds for every value that is left.
    pub fn entails(&self, test: AtMost) -> bool {
        self.high(test.left) - self.low(test.right) <= test.most
    }

    /// Whether it holds for no value that is left.
    pub fn excludes(&self, test: AtMost) -> bool {
        self.low(test.left) - self.high(test.right) > test.most
    }

    /// States one more comparison.
    pub fn state(&mut self, test: AtMost) -> Result<(), Impossible> {
        if self.excludes(test) || (test.left == test.right && test.most < 0) {
            return Err(Impossible);
        }
        if self.entails(test) {
            return Ok(());
        }
        self.edges.push(test);
        self.touch(test.left);
        self.touch(test.right);
        self.relax()
    }

    /// Whatever is stated of it is looked at in this round and the next.
    fn touch(&mut self, var: Var) {
        if let Some(slot) = self.narrowed.get_mut(var.index()) {
            *slot = self.round;
        }
    }

    /// States that a variable is exactly this.
    pub fn fix(&mut self, var: Var, value: i64) -> Result<(), Impossible> {
        if value < self.low(var) || value > self.high(var) || value % self.step(var) != 0 {
            return Err(Impossible);
        }
        if let (Some(low), Some(high)) = (
            self.low.get_mut(var.index()),
            self.high.get_mut(var.index()),
        ) {
            *low = value;
            *high = value;
        }
        self.touch(var);
        self.relax()
    }

    fn relax(&mut self) -> Result<(), Impossible> {
        let edges = std::mem::take(&mut self.edges);
        let result = self.relax_along(&edges);
        self.edges = edges;
        result
    }

    fn relax_along(&mut self, edges: &[AtMost]) -> Result<(), Impossible> {
        // A round looks at every edge once, so a shortest path is complete after
        // as many rounds as there are variables.
        let mut rounds = 0;
        loop {
            self.work += 1 + edges.len() as u64;
            if self.is_tired() {
                return Ok(());
            }
            self.round += 1;
            let mut changed = false;
            for edge in edges {
                let (left, right) = (edge.left.index(), edge.right.index());
                // What neither this round nor the one before has narrowed says nothing new.
                if self.is_old(left) && self.is_old(right) {
                    continue;
                }
                let high = self.high(edge.right) + edge.most;
                // Limits lie on the step, so what is not below one is not below it rounded down.
                if let Some(slot) = self.high.get_mut(left)
                    && high < *slot
                {
                    *slot = down(high, self.step.get(left).copied().unwrap_or(1));
                    self.touch(edge.left);
                    changed = true;
                }
                let low = self.low(edge.left) - edge.most;
                if let Some(slot) = self.low.get_mut(right)
                    && low > *slot
                {
                    *slot = up(low, self.step.get(right).copied().unwrap_or(1));
                    self.touch(edge.right);
                    changed = true;
                }
                if self.low(edge.left) > self.high(edge.left)
                    || self.low(edge.right) > self.high(edge.right)
                {
                    return Err(Impossible);
                }
            }
            if !changed {
                return Ok(());
            }
            rounds += 1;
            if self.even && rounds > self.low.len() + 1 {
                return Err(Impossible);
            }
        }
    }

    fn is_old(&self, var: usize) -> bool {
        self.narrowed.get(var).is_none_or(|at| *at + 1 < self.round)
    }
}

fn down(value: i64, step: i64) -> i64 {
    value.div_euclid(step) * step
}

fn up(value: i64, step: i64) -> i64 {
    -down(-value, step)
}

#[cfg(test)]
mod tests {
    use super::super::formula::{Domain, ZERO};
    use super::*;
    use proptest::prelude::*;

    fn domains(steps: &[i64]) -> (Domains, Vec<Var>) {
        let mut domains = Domains::default();
        let vars = steps
            .iter()
            .map(|step| {
                domains.add(Domain {
                    low: 0,
                    high: 1_000_000,
                    step: *step,
                    plan: 0,
                })
            })
            .collect();
        (domains, vars)
    }

    fn at_most(left: Var, right: Var, most: i64) -> AtMost {
        AtMost { left, right, most }
    }

    #[test]
    fn a_negative_cycle_is_impossible_without_counting_down() {
        let (domains, vars) = domains(&[1, 1, 1]);
        let mut bounds = Bounds::new(&domains).expect("domains with values");
        let (a, b, c) = (vars[0], vars[1], vars[2]);
        assert_eq!(bounds.state(at_most(a, b, -1)), Ok(()));
        assert_eq!(bounds.state(at_most(b, c, -1)), Ok(()));
        assert_eq!((bounds.low(c), bounds.high(a)), (2, 999_998));
        assert_eq!(bounds.state(at_most(c, a, 1)), Err(Impossible));
    }

    #[test]
    fn unequal_steps_are_rounded_to_each() {
        let (domains, vars) = domains(&[3, 5]);
        let (a, b) = (vars[0], vars[1]);
        let mut bounds = Bounds::new(&domains).expect("domains with values");
        // a = b + 1: 6 and 5, 21 and 20 …
        assert_eq!(bounds.state(at_most(a, b, 1)), Ok(()));
        assert_eq!(bounds.state(at_most(b, a, -1)), Ok(()));
        assert_eq!((bounds.low(a), bounds.low(b)), (6, 5));
        assert_eq!(bounds.state(at_most(a, ZERO, 20)), Ok(()));
        assert_eq!((bounds.high(a), bounds.high(b)), (6, 5));
        assert_eq!(bounds.state(at_most(ZERO, a, -7)), Err(Impossible));
    }

    #[test]
    fn a_comparison_with_itself() {
        let (domains, vars) = domains(&[1]);
        let mut bounds = Bounds::new(&domains).expect("domains with values");
        assert_eq!(bounds.state(at_most(vars[0], vars[0], 0)), Ok(()));
        assert_eq!(bounds.state(at_most(vars[0], vars[0], -1)), Err(Impossible));
    }

    /// The same without leaving anything out: every comparison in every round.
    fn thorough(domains: &Domains, stated: &[AtMost]) -> Option<Vec<(i64, i64)>> {
        let steps: Vec<i64> = domains.iter().map(|domain| domain.step).collect();
        let mut left: Vec<(i64, i64)> = domains
            .iter()
            .map(|domain| (up(domain.low, domain.step), down(domain.high, domain.step)))
            .collect();
        loop {
            let before = left.clone();
            for test in stated {
                let (x, y) = (test.left.index(), test.right.index());
                left[x].1 = left[x].1.min(down(left[y].1 + test.most, steps[x]));
                left[y].0 = left[y].0.max(up(left[x].0 - test.most, steps[y]));
                if left[x].0 > left[x].1 || left[y].0 > left[y].1 {
                    return None;
                }
            }
            if left == before {
                return Some(left);
            }
        }
    }

    proptest! {
        #[test]
        fn what_is_passed_over_would_have_changed_nothing(
            steps in prop::collection::vec(1i64..6, 2..6),
            stated in prop::collection::vec((0usize..6, 0usize..6, -40i64..41), 1..24),
        ) {
            let mut domains = Domains::default();
            let mut vars = vec![ZERO];
            for step in &steps {
                let domain = Domain { low: -60, high: 60, step: *step, plan: 0 };
                vars.push(domains.add(domain));
            }
            let stated: Vec<AtMost> = stated
                .iter()
                .map(|(left, right, most)| at_most(
                    vars[left % vars.len()],
                    vars[right % vars.len()],
                    *most,
                ))
                .filter(|test| test.left != test.right)
                .collect();
            let mut bounds = Bounds::new(&domains).expect("domains with values");
            for (count, test) in stated.iter().enumerate() {
                let stands = bounds.state(*test).is_ok();
                let thorough = thorough(&domains, &stated[..=count]);
                prop_assert_eq!(stands, thorough.is_some(), "{:?}", &stated[..=count]);
                let Some(left) = thorough else { break };
                for var in &vars {
                    prop_assert_eq!((bounds.low(*var), bounds.high(*var)), left[var.index()]);
                }
            }
        }
    }
}
