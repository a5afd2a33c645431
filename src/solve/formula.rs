//! What the solver decides: `and` and `or` of differences of two whole numbers.
//!
//! Every reading counts in one common unit, a part of every display step, so each
//! comparison is `left - right <= most` in whole numbers. A comparison with a
//! constant has [`ZERO`] on one side. Its opposite is one of the same kind:
//! `right - left <= -most - 1`. Nothing is rounded but the constant, and that
//! exactly: a difference of two whole numbers is at most 3.7 when it is at most 3.

/// A variable by its place in [`Domains`].
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Var(pub u32);

impl Var {
    pub fn index(self) -> usize {
        self.0 as usize
    }
}

/// The variable that is always 0.
pub const ZERO: Var = Var(0);

/// `left - right <= most`
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct AtMost {
    pub left: Var,
    pub right: Var,
    pub most: i64,
}

impl AtMost {
    pub fn opposite(self) -> AtMost {
        AtMost {
            left: self.right,
            right: self.left,
            most: -self.most - 1,
        }
    }

    pub fn holds(self, values: &[i64]) -> bool {
        self.missing(values) <= 0
    }

    /// By how much it is missed; 0 or less where it holds.
    pub fn missing(self, values: &[i64]) -> i64 {
        let of = |var: Var| values.get(var.index()).copied().unwrap_or(0);
        of(self.left) - of(self.right) - self.most
    }
}

/// `and`, `or` and comparisons. `All` of nothing holds, `Any` of nothing does not.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Formula {
    AtMost(AtMost),
    All(Vec<Formula>),
    Any(Vec<Formula>),
}

impl Formula {
    pub const TRUE: Formula = Formula::All(Vec::new());
    pub const FALSE: Formula = Formula::Any(Vec::new());

    pub fn of(holds: bool) -> Formula {
        if holds { Formula::TRUE } else { Formula::FALSE }
    }

    pub fn is_true(&self) -> bool {
        matches!(self, Formula::All(parts) if parts.is_empty())
    }

    pub fn is_false(&self) -> bool {
        matches!(self, Formula::Any(parts) if parts.is_empty())
    }

    pub fn at_most(left: Var, right: Var, most: i64) -> Formula {
        Formula::AtMost(AtMost { left, right, most })
    }

    pub fn all(parts: impl IntoIterator<Item = Formula>) -> Formula {
        let mut kept = Vec::new();
        for part in parts {
            match part {
                Formula::All(inner) => kept.extend(inner),
                part if part.is_false() => return Formula::FALSE,
                // A value that is held says the same at each look.
                part if kept.last() == Some(&part) => {}
                part => kept.push(part),
            }
        }
        match <[Formula; 1]>::try_from(kept) {
            Ok([only]) => only,
            Err(kept) => Formula::All(kept),
        }
    }

    pub fn any(parts: impl IntoIterator<Item = Formula>) -> Formula {
        let mut kept = Vec::new();
        for part in parts {
            match part {
                Formula::Any(inner) => kept.extend(inner),
                part if part.is_true() => return Formula::TRUE,
                part if kept.last() == Some(&part) => {}
                part => kept.push(part),
            }
        }
        match <[Formula; 1]>::try_from(kept) {
            Ok([only]) => only,
            Err(kept) => Formula::Any(kept),
        }
    }

    pub fn negated(self) -> Formula {
        match self {
            Formula::AtMost(test) => Formula::AtMost(test.opposite()),
            Formula::All(parts) => Formula::any(parts.into_iter().map(Formula::negated)),
            Formula::Any(parts) => Formula::all(parts.into_iter().map(Formula::negated)),
        }
    }

    pub fn holds(&self, values: &[i64]) -> bool {
        match self {
            Formula::AtMost(test) => test.holds(values),
            Formula::All(parts) => parts.iter().all(|part| part.holds(values)),
            Formula::Any(parts) => parts.iter().any(|part| part.holds(values)),
        }
    }

    /// Roughly how far values would have to move for it to hold.
    pub fn missing(&self, values: &[i64]) -> i64 {
        match self {
            Formula::AtMost(test) => test.missing(values).max(0),
            Formula::All(parts) => parts
                .iter()
                .fold(0i64, |sum, part| sum.saturating_add(part.missing(values))),
            Formula::Any(parts) => parts
                .iter()
                .map(|part| part.missing(values))
                .min()
                .unwrap_or(i64::MAX),
        }
    }
}

/// What one variable can be: whole multiples of `step` from `low` to `high`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Domain {
    pub low: i64,
    pub high: i64,
    pub step: i64,
    /// What it is where nothing makes it otherwise.
    pub plan: i64,
}

/// All variables of one question.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Domains {
    all: Vec<Domain>,
}

impl Default for Domains {
    fn default() -> Self {
        Domains {
            all: vec![Domain {
                low: 0,
                high: 0,
                step: 1,
                plan: 0,
            }],
        }
    }
}

impl Domains {
    pub fn add(&mut self, domain: Domain) -> Var {
        let var = Var(u32::try_from(self.all.len()).unwrap_or(u32::MAX));
        self.all.push(domain);
        var
    }

    pub fn len(&self) -> usize {
        self.all.len()
    }

    pub fn is_empty(&self) -> bool {
        self.all.len() <= 1
    }

    pub fn iter(&self) -> impl Iterator<Item = &Domain> {
        self.all.iter()
    }

    /// Every variable as planned.
    pub fn plan(&self) -> Vec<i64> {
        self.all
            .iter()
            .map(|domain| domain.plan.clamp(domain.low, domain.high.max(domain.low)))
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_constant_is_counted_and_is_no_question() {
        let mut domains = Domains::default();
        assert_eq!((domains.len(), domains.is_empty()), (1, true));
        let plan = Domain {
            low: 0,
            high: 9,
            step: 1,
            plan: 3,
        };
        assert_eq!(domains.add(plan), Var(1));
        assert_eq!((domains.len(), domains.is_empty()), (2, false));
        assert_eq!(domains.plan(), [0, 3]);
    }
}
