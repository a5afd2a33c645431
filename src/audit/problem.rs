//! What of a log could not be counted, or was counted with a doubt; by line.
//!
//! The same thing on one line after the other is one entry with its lines, so that a
//! column in the wrong unit is one sentence. INVARIANT: every line is in the list or in
//! the count of an entry; nothing is left out without being said.

use serde::Serialize;

/// How many entries are kept with their lines; what is beyond is counted by kind.
const MOST: usize = 2000;

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Weight {
    /// It counts for nothing.
    Lost,
    /// It was counted, and somebody should look.
    Doubtful,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Problem {
    pub weight: Weight,
    /// `None` where it is about the whole log.
    pub first_line: Option<u64>,
    pub last_line: Option<u64>,
    /// On how many lines.
    pub lines: u64,
    /// A short name of the kind, the same in every version.
    pub kind: &'static str,
    /// In a sentence; of several lines, the first as an example.
    pub what: String,
}

impl Problem {
    /// `line 7`, `lines 7 to 900, the first`, or nothing: what is said of several lines is
    /// what stands on the first.
    pub fn place(&self) -> String {
        match (self.first_line, self.last_line) {
            (Some(first), Some(last)) if first == last && self.lines == 1 => {
                format!("line {first}")
            }
            (Some(first), Some(last)) if last + 1 - first == self.lines => {
                format!("lines {first} to {last}, the first")
            }
            (Some(first), Some(last)) => {
                format!("{} lines between {first} and {last}, the first", self.lines)
            }
            _ => String::new(),
        }
    }
}

/// Collects problems; see the module.
#[derive(Debug, Clone, Default)]
pub struct Problems {
    found: Vec<Entry>,
}

#[derive(Debug, Clone)]
struct Entry {
    problem: Problem,
    /// Which column, or what else makes two of a kind the same thing.
    about: String,
    /// Takes in lines that do not follow each other.
    gathers: bool,
}

impl Problems {
    pub fn add(
        &mut self,
        weight: Weight,
        line: Option<u64>,
        kind: &'static str,
        about: &str,
        what: impl FnOnce() -> String,
    ) {
        let Some(line) = line else {
            let known = |entry: &Entry| {
                entry.problem.first_line.is_none()
                    && entry.problem.kind == kind
                    && entry.about == about
            };
            if !self.found.iter().any(known) {
                self.push(weight, None, kind, about, false, what());
            }
            return;
        };
        let full = self.found.len() >= MOST;
        let same = |entry: &&mut Entry| entry.problem.kind == kind && entry.about == about;
        let near = self.found.iter_mut().rev().take(8).find(same);
        if let Some(near) = near
            && let Some(last) = near.problem.last_line
            && (last == line || last + 1 == line || near.gathers)
        {
            near.problem.lines += u64::from(last != line);
            near.problem.last_line = Some(line.max(last));
            return;
        }
        if full {
            let gathered = |entry: &&mut Entry| {
                entry.gathers && entry.problem.kind == kind && entry.about == about
            };
            if let Some(entry) = self.found.iter_mut().rev().find(gathered) {
                let problem = &mut entry.problem;
                problem.lines += u64::from(problem.last_line != Some(line));
                problem.last_line = Some(line);
                return;
            }
        }
        self.push(weight, Some(line), kind, about, full, what());
    }

    fn push(
        &mut self,
        weight: Weight,
        line: Option<u64>,
        kind: &'static str,
        about: &str,
        gathers: bool,
        what: String,
    ) {
        self.found.push(Entry {
            problem: Problem {
                weight,
                first_line: line,
                last_line: line,
                lines: u64::from(line.is_some()),
                kind,
                what,
            },
            about: about.to_owned(),
            gathers,
        });
    }

    pub fn is_empty(&self) -> bool {
        self.found.is_empty()
    }

    /// By line; what is about the whole log comes first.
    pub fn into_list(self) -> Vec<Problem> {
        let mut list: Vec<Problem> = self.found.into_iter().map(|entry| entry.problem).collect();
        list.sort_by_key(|problem| problem.first_line);
        list
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_that_follow_each_other_are_one_entry() {
        let mut problems = Problems::default();
        for line in [2, 3, 4, 9] {
            problems.add(Weight::Lost, Some(line), "unit", "core", || "x".to_owned());
            problems.add(Weight::Lost, Some(line), "unit", "water", || "y".to_owned());
        }
        let list = problems.into_list();
        let places: Vec<String> = list.iter().map(Problem::place).collect();
        assert_eq!(
            places,
            [
                "lines 2 to 4, the first",
                "lines 2 to 4, the first",
                "line 9",
                "line 9"
            ]
        );
    }

    #[test]
    fn past_what_is_listed_every_line_is_still_counted() {
        let mut problems = Problems::default();
        for line in 0..20_000u64 {
            problems.add(Weight::Lost, Some(line * 2), "value", "core", || {
                "x".to_owned()
            });
        }
        let list = problems.into_list();
        assert!(list.len() <= MOST + 1);
        assert_eq!(list.iter().map(|p| p.lines).sum::<u64>(), 20_000);
    }
}
