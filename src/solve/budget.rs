//! How much work all questions together may take: counted, so that the same question has the same
//! answer on every machine.

use std::cell::Cell;
use std::rc::Rc;

/// Shared by all who hold a copy. Without a bound nothing is ever refused.
#[derive(Debug, Clone, Default)]
pub struct Budget(Option<Rc<Left>>);

#[derive(Debug)]
struct Left {
    steps: Cell<u64>,
    refused: Cell<bool>,
}

impl Budget {
    /// A step is a look at a comparison, or one look of the protocol at one entry of a record.
    pub fn of(steps: u64) -> Self {
        Budget(Some(Rc::new(Left {
            steps: Cell::new(steps),
            refused: Cell::new(false),
        })))
    }

    /// Counts what has been done.
    pub fn spend(&self, steps: u64) {
        if let Some(left) = &self.0 {
            left.steps.set(left.steps.get().saturating_sub(steps));
        }
    }

    /// Whether there is enough left for so much more; nothing is begun that is not.
    pub fn allows(&self, steps: u64) -> bool {
        let Some(left) = &self.0 else { return true };
        let enough = left.steps.get() > steps;
        if !enough {
            left.refused.set(true);
        }
        enough
    }

    /// Whether something was left undone.
    pub fn has_refused(&self) -> bool {
        self.0.as_ref().is_some_and(|left| left.refused.get())
    }
}

#[cfg(test)]
mod tests {
    use super::Budget;

    #[test]
    fn copies_share_what_is_left_and_what_was_refused() {
        let budget = Budget::of(100);
        let copy = budget.clone();
        copy.spend(60);
        assert!(budget.allows(39) && !budget.has_refused());
        // Too much is refused; less may still be done.
        assert!(!budget.allows(40) && copy.has_refused());
        assert!(budget.allows(10));
        budget.spend(u64::MAX);
        assert!(!copy.allows(0));
    }

    #[test]
    fn without_a_bound_nothing_is_refused() {
        let budget = Budget::default();
        budget.spend(u64::MAX);
        assert!(budget.allows(u64::MAX) && !budget.has_refused());
    }
}
