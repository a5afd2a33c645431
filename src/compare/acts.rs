//! Does the newer condition hold on more records than the older one, or on fewer?
//!
//! Takes a rule (or a condition of its own) in both versions. Asks the solver, phase
//! by phase and over the regular records of both versions, whether one can hold
//! where the other does not. The answer is exact over regular records (M32) unless
//! it says that it is undecided. A record that was found is shown only after both
//! versions have been run on it and did part ways.

use super::change::{PartingCase, Verdict};
use super::parting::Parting;
use crate::eval;
use crate::model::*;
use crate::solve::{Answer, Budget, Found, Goal, Question, Solver};

/// The two versions, the older one with the names of the newer.
pub(super) struct Sides<'p> {
    pub old: &'p Protocol,
    pub new: &'p Protocol,
    pub old_solver: Solver<'p>,
    pub new_solver: Solver<'p>,
    /// For all questions and replays of the comparison.
    pub budget: Budget,
}

/// Steps that one comparison may take. A demo protocol with every number in its conditions changed
/// takes less than a quarter of it.
const MOST_STEPS: u64 = 500_000_000;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Side {
    Old,
    New,
}

/// Where two conditions part ways.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct Acts {
    /// The newer one holds where the older does not.
    pub more: bool,
    pub fewer: bool,
    /// Something could not be decided; nothing may be concluded from a `false`.
    pub undecided: bool,
    pub case: Option<PartingCase>,
    /// A record was found and both versions did the same on it.
    pub not_shown: bool,
    /// A record was found, and nothing left to find out what both versions do on it.
    pub untold: bool,
}

impl Acts {
    fn undecided() -> Self {
        Acts {
            undecided: true,
            ..Acts::default()
        }
    }

    /// For a condition on which something is done: more often is stricter.
    pub fn verdict(&self) -> Verdict {
        match (self.undecided, self.more, self.fewer) {
            (false, true, false) => Verdict::Stricter,
            (false, false, true) => Verdict::Looser,
            (false, false, false) => Verdict::SameMeaning,
            _ => Verdict::Different,
        }
    }

    pub fn words(&self) -> &'static str {
        match (self.undecided, self.more, self.fewer) {
            (_, true, true) => {
                "acts on records on which it did not, and is silent on others on which it acted"
            }
            (true, ..) => "whether it acts more or less often could not be decided",
            (_, true, false) => "acts on every record on which it acted before, and on more",
            (_, false, true) => "acts on fewer records than before, and on no other",
            (_, false, false) => {
                "acts on the same records: no record that can be made lies between"
            }
        }
    }
}

/// A condition with the phases of its stretch, in its own protocol.
#[derive(Clone, Copy)]
pub(super) struct Watched<'c> {
    pub cond: &'c Cond,
    pub during: &'c [At<PhaseId>],
}

impl<'p> Sides<'p> {
    pub fn new(old: &'p Protocol, new: &'p Protocol) -> Self {
        Sides::within(old, new, MOST_STEPS)
    }

    fn within(old: &'p Protocol, new: &'p Protocol, steps: u64) -> Self {
        let budget = Budget::of(steps);
        Sides {
            old,
            new,
            old_solver: Solver::new(old).within(&budget),
            new_solver: Solver::new(new).within(&budget),
            budget,
        }
    }

    pub fn protocol(&self, side: Side) -> &'p Protocol {
        match side {
            Side::Old => self.old,
            Side::New => self.new,
        }
    }

    /// Both versions of one rule.
    pub fn rules(&self, old: RuleId, new: RuleId) -> Acts {
        let watched = |rule: &'p Rule| Watched {
            cond: &rule.when,
            during: &rule.during,
        };
        self.conditions(
            watched(&self.old[old]),
            watched(&self.new[new]),
            Some((old, new)),
        )
    }

    /// Two conditions; with the rules that they belong to, a case is shown.
    pub fn conditions(
        &self,
        old: Watched<'_>,
        new: Watched<'_>,
        rules: Option<(RuleId, RuleId)>,
    ) -> Acts {
        let mut acts = Acts::default();
        let mut found: Vec<(Side, Found)> = Vec::new();
        for base in [Side::New, Side::Old] {
            let (old_here, new_here) = match (
                self.translated(Side::Old, base, old),
                self.translated(Side::New, base, new),
            ) {
                (Some(old), Some(new)) => (old, new),
                _ => return Acts::undecided(),
            };
            let solver = match base {
                Side::Old => &self.old_solver,
                Side::New => &self.new_solver,
            };
            for (phase, stated) in self.protocol(base).phases() {
                let in_old = self.applies(Side::Old, old.during, &stated.name.name);
                let in_new = self.applies(Side::New, new.during, &stated.name.name);
                for (more, holds, fails, here, there) in [
                    (true, &new_here, &old_here, in_new, in_old),
                    (false, &old_here, &new_here, in_old, in_new),
                ] {
                    if !here {
                        continue;
                    }
                    let goal = |watched: &'_ (Cond, Vec<At<PhaseId>>), wanted: bool| {
                        // Borrowed only for this question.
                        (watched.0.clone(), watched.1.clone(), wanted)
                    };
                    let (yes, no) = (goal(holds, true), goal(fails, false));
                    let mut goals = vec![Goal::Cond {
                        cond: &yes.0,
                        during: Some(&yes.1),
                        holds: true,
                    }];
                    if there {
                        goals.push(Goal::Cond {
                            cond: &no.0,
                            during: Some(&no.1),
                            holds: false,
                        });
                    }
                    match solver.ask(&Question::new(phase, goals)) {
                        Answer::Found(record) => {
                            if more {
                                acts.more = true;
                            } else {
                                acts.fewer = true;
                            }
                            found.push((base, *record));
                        }
                        Answer::Never => {}
                        // No record leads there, so none parts the two.
                        Answer::NoRecord => {}
                        Answer::TooComplex | Answer::NotShown(_) => acts.undecided = true,
                    }
                }
            }
        }
        found.sort_by_key(|(_, found)| (found.at, found.shown.len()));
        if let Some((old, new)) = rules {
            for (base, found) in &found {
                match self.parting(*base, found, Some(old), Some(new)) {
                    Parting::Told(case) => {
                        acts.case = Some(*case);
                        break;
                    }
                    Parting::Untold => acts.untold = true,
                    Parting::Alike => {}
                }
            }
            acts.not_shown = acts.case.is_none() && !acts.untold && !found.is_empty();
        }
        acts
    }

    /// Whether a condition counts in the phase of that name.
    fn applies(&self, side: Side, during: &[At<PhaseId>], phase: &str) -> bool {
        self.protocol(side)
            .phases()
            .any(|(id, stated)| stated.name.name == phase && is_during(during, id))
    }

    fn translated(
        &self,
        from: Side,
        to: Side,
        watched: Watched<'_>,
    ) -> Option<(Cond, Vec<At<PhaseId>>)> {
        if from == to {
            return Some((watched.cond.clone(), watched.during.to_vec()));
        }
        let names = Names {
            from: self.protocol(from),
            to: self.protocol(to),
        };
        let during: Vec<At<PhaseId>> = watched
            .during
            .iter()
            .filter_map(|phase| Some(At::new(names.phase(phase.value)?, phase.span)))
            .collect();
        Some((names.cond(watched.cond)?, during))
    }
}

pub(super) fn is_during(during: &[At<PhaseId>], phase: PhaseId) -> bool {
    during.is_empty() || during.iter().any(|within| within.value == phase)
}

/// Ids of one version in terms of the other, by name.
pub(super) struct Names<'a> {
    pub from: &'a Protocol,
    pub to: &'a Protocol,
}

impl Names<'_> {
    fn phase(&self, id: PhaseId) -> Option<PhaseId> {
        let name = &self.from[id].name.name;
        self.to
            .phases()
            .find(|(_, phase)| phase.name.name == *name)
            .map(|(id, _)| id)
    }

    fn mark(&self, id: MarkId) -> Option<MarkId> {
        let name = &self.from[id].name.name;
        self.to
            .marks()
            .find(|(_, mark)| mark.name.name == *name)
            .map(|(id, _)| id)
    }

    fn reading(&self, id: ReadingId) -> Option<ReadingId> {
        let name = &self.from[id].name.name;
        self.to
            .readings()
            .find(|(_, reading)| reading.name.name == *name)
            .map(|(id, _)| id)
    }

    /// Only where the values of the two are the same numbers.
    fn watched(&self, id: ReadingId) -> Option<ReadingId> {
        let to = self.reading(id)?;
        let same = match (&self.from[id].kind, &self.to[to].kind) {
            (ReadingKind::Body(_) | ReadingKind::Medium(_), other) => other.is_temperature(),
            (ReadingKind::Amount { unit: a, .. }, ReadingKind::Amount { unit: b, .. }) => {
                a.map(|unit| unit.name) == b.map(|unit| unit.name)
            }
            (ReadingKind::Score { .. }, ReadingKind::Score { .. }) => true,
            (ReadingKind::Choice { words: a, .. }, ReadingKind::Choice { words: b, .. }) => a
                .iter()
                .map(|word| &word.name)
                .eq(b.iter().map(|word| &word.name)),
            _ => false,
        };
        same.then_some(to)
    }

    fn cond(&self, cond: &Cond) -> Option<Cond> {
        let all = |parts: &[Cond]| -> Option<Vec<Cond>> {
            parts.iter().map(|part| self.cond(part)).collect()
        };
        Some(match cond {
            Cond::Test(test) => Cond::Test(self.test(test)?),
            Cond::All(parts) => Cond::All(all(parts)?),
            Cond::Any(parts) => Cond::Any(all(parts)?),
        })
    }

    fn test(&self, test: &Test) -> Option<Test> {
        let mut test = test.clone();
        match &mut test.kind {
            TestKind::Compare { reading, .. }
            | TestKind::Outside { reading, .. }
            | TestKind::Is { reading, .. }
            | TestKind::OffTarget { reading, .. }
            | TestKind::NearTarget { reading, .. }
            | TestKind::Trend { reading, .. }
            | TestKind::NotRecorded { reading, .. } => *reading = self.watched(*reading)?,
            TestKind::Differ { first, second, .. } => {
                *first = self.watched(*first)?;
                *second = self.watched(*second)?;
            }
            TestKind::LastsLonger { phase, .. } | TestKind::Overdue { phase } => {
                *phase = self.phase(*phase)?;
            }
            TestKind::PausedLonger { .. } => {}
        }
        Some(test)
    }

    /// The same record for the other version; what it does not know is left out.
    pub fn record(&self, found: &Found) -> Found {
        let entries = found
            .entries
            .iter()
            .filter_map(|entry| {
                let mut entry = *entry;
                match &mut entry.what {
                    eval::EntryWhat::Record { reading, .. } => *reading = self.reading(*reading)?,
                    eval::EntryWhat::Mark(mark) => *mark = self.mark(*mark)?,
                }
                Some(entry)
            })
            .collect();
        Found {
            phase: self.phase(found.phase).unwrap_or(found.phase),
            at: found.at,
            marks: found
                .marks
                .iter()
                .filter_map(|(mark, at)| Some((self.mark(*mark)?, *at)))
                .collect(),
            entries,
            shown: Vec::new(),
            silent: Vec::new(),
            first: None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::compare::acting::rule_named;
    use crate::model::load;
    use crate::source::MemoryLibrary;

    fn protocol(text: &str) -> Protocol {
        let library = MemoryLibrary::default().with("p.protocol", text);
        let loaded = load(&library, &["p.protocol"]).expect("it can be read");
        loaded.protocols.into_iter().next().expect("a protocol").1
    }

    /// However little it may take: it comes to the same, or says that it does not know.
    #[test]
    fn what_is_not_found_out_is_never_claimed() {
        let text = include_str!("../checks/hosts/fever.protocol");
        let old = protocol(text);
        let new = protocol(&text.replace("when core above 37.5 °C", "when core above 37.6 °C"));
        let acts = |steps: u64| {
            let sides = Sides::within(&old, &new, steps);
            let rule = |of| rule_named(of, "too-warm").expect("the rule");
            let acts = sides.rules(rule(&old), rule(&new));
            (acts, sides.budget.has_refused())
        };
        let (whole, open) = acts(MOST_STEPS);
        assert!(!open && whole.case.is_some());
        assert_eq!(whole.verdict(), Verdict::Looser);
        let mut kinds = [0, 0];
        for power in 0..28 {
            let steps = (1 << power) - 1;
            let (found, open) = acts(steps);
            assert_eq!((&found, open), (&acts(steps).0, acts(steps).1), "{steps}");
            kinds[usize::from(open)] += 1;
            if !open {
                assert_eq!(found, whole, "{steps}");
                continue;
            }
            assert!(
                found.undecided || found.untold || found == whole,
                "{steps}: {found:?}"
            );
            assert!(!found.not_shown, "{steps}");
            if found.undecided {
                assert_eq!(found.verdict(), Verdict::Different);
                assert!(found.words().contains("could not be decided"), "{steps}");
            }
        }
        assert!(kinds.iter().all(|count| *count > 2), "{kinds:?}");
    }
}
