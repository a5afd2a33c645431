//! What the figures of many cases come to together.

use super::{Audit, Figure, Part, Unit};
use crate::quantity::Exact;
use serde::Serialize;

#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Summary {
    pub cases: usize,
    pub spreads: Vec<Spread>,
}

/// One figure over the cases that have it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Spread {
    pub part: Part,
    pub key: String,
    pub title: String,
    /// In how many cases it is known.
    pub known: usize,
    pub lowest: String,
    pub median: String,
    pub highest: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub goal: Option<Met>,
    #[serde(skip)]
    pub unit: Unit,
    #[serde(skip)]
    pub middle: Exact,
    /// By case; `None` where it is not known.
    #[serde(skip)]
    pub values: Vec<Option<Exact>>,
}

/// In how many cases a goal was met, and in how many missed; in the others that is not
/// known.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Met {
    pub goal: String,
    pub met: usize,
    pub missed: usize,
    #[serde(skip)]
    pub at: Option<Exact>,
}

impl Met {
    fn of(audits: &[Audit], first: &Figure) -> Option<Met> {
        let goal = first.goal.clone()?;
        let count = |wanted: bool| {
            audits
                .iter()
                .filter_map(|audit| audit.figure(&first.key)?.goal_met)
                .filter(|met| *met == wanted)
                .count()
        };
        Some(Met {
            goal,
            met: count(true),
            missed: count(false),
            at: first.goal_at,
        })
    }

    /// `met in 7 of 9`, of the cases in which it is known.
    pub fn told(&self) -> String {
        format!("met in {} of {}", self.met, self.met + self.missed)
    }
}

/// Over all cases of one protocol, in the order in which the figures first appear.
pub fn summary(audits: &[Audit]) -> Summary {
    let mut firsts: Vec<&Figure> = Vec::new();
    for audit in audits {
        for figure in &audit.figures {
            if !firsts.iter().any(|known| known.key == figure.key) {
                firsts.push(figure);
            }
        }
    }
    firsts.sort_by_key(|figure| figure.part);
    let spreads = firsts
        .into_iter()
        .filter_map(|first| {
            let values: Vec<Option<Exact>> = audits
                .iter()
                .map(|audit| audit.figure(&first.key).and_then(|figure| figure.value))
                .collect();
            let mut known: Vec<Exact> = values.iter().flatten().copied().collect();
            known.sort();
            let goal = Met::of(audits, first);
            // A target that no case reached is missed all the same.
            let Some(middle) = median(&known) else {
                return goal.filter(|goal| goal.missed > 0).map(|goal| Spread {
                    part: first.part,
                    key: first.key.clone(),
                    title: first.title.clone(),
                    known: 0,
                    lowest: "–".to_owned(),
                    median: "–".to_owned(),
                    highest: "–".to_owned(),
                    goal: Some(goal),
                    unit: first.unit.clone(),
                    middle: Exact::ZERO,
                    values,
                });
            };
            let shown = |value: Exact| super::shown(value, &first.unit);
            Some(Spread {
                part: first.part,
                key: first.key.clone(),
                title: first.title.clone(),
                known: known.len(),
                lowest: shown(*known.first()?),
                median: shown(middle),
                highest: shown(*known.last()?),
                goal,
                unit: first.unit.clone(),
                middle,
                values,
            })
        })
        .collect();
    Summary {
        cases: audits.len(),
        spreads,
    }
}

/// Of an even number, the mean of the two in the middle.
fn median(sorted: &[Exact]) -> Option<Exact> {
    let upper = *sorted.get(sorted.len() / 2)?;
    if sorted.len().is_multiple_of(2) {
        let lower = *sorted.get(sorted.len() / 2 - 1)?;
        Some((lower + upper) / Exact::int(2))
    } else {
        Some(upper)
    }
}
