//! Conditions in bedside words.

use super::boxes::{Run, box_of_then, boxes_back, interval, row_of_boxes};
use super::{Words, count, listed, rhythm};
use crate::model::{Aim, Cond, MoreLess, PhaseId, ReadingId, Side, Test, TestKind, TrendWay};
use crate::quantity::{Change, Duration, Exact};

impl Words<'_> {
    /// A condition as the nurse sees it on the sheet, in these phases (none: the whole case).
    pub fn condition(&self, cond: &Cond, during: &[PhaseId]) -> String {
        let all: Vec<PhaseId>;
        let phases = if during.is_empty() {
            all = self.protocol.phases().map(|(id, _)| id).collect();
            &all
        } else {
            during
        };
        self.part(cond, phases, false)
    }

    /// The boxes in a row that the `for D` of a test comes to in these phases (none: the
    /// whole case); `None` without one, or where nobody is asked for its reading.
    pub fn boxes(&self, test: &Test, during: &[PhaseId]) -> Option<String> {
        let duration = test.sustained.as_ref()?;
        let all: Vec<PhaseId> = self.protocol.phases().map(|(id, _)| id).collect();
        let phases = if during.is_empty() { &all } else { during };
        let said = self.rows_of_boxes(&test.kind.readings(), duration, phases);
        (!said.is_empty()).then(|| listed(&said, "or"))
    }

    fn part(&self, cond: &Cond, phases: &[PhaseId], inside: bool) -> String {
        let (parts, joint) = match cond {
            Cond::Test(test) => return self.test(test, phases),
            Cond::All(parts) => (parts, " **and** "),
            Cond::Any(parts) => (parts, " **or** "),
        };
        let parts: Vec<String> = parts
            .iter()
            .map(|part| self.part(part, phases, true))
            .collect();
        let joined = parts.join(joint);
        if inside {
            format!("({joined})")
        } else {
            joined
        }
    }

    fn test(&self, test: &Test, phases: &[PhaseId]) -> String {
        let (subject, what) = match &test.kind {
            TestKind::Compare {
                reading,
                cmp,
                level,
            } => (
                vec![*reading],
                format!("{} {}", cmp.words(), self.both(level)),
            ),
            TestKind::Outside { reading, low, high } => (
                vec![*reading],
                format!("below {} or above {}", self.both(low), self.both(high)),
            ),
            TestKind::Is { reading, word } => (
                vec![*reading],
                format!("is *{}*", self.choice(*reading, *word)),
            ),
            TestKind::OffTarget { reading, side, by } => {
                (vec![*reading], self.off_target(*side, by, phases))
            }
            TestKind::NearTarget { reading, within } => (
                vec![*reading],
                format!("within {} of the target", self.both(within)),
            ),
            TestKind::Differ {
                first,
                second,
                cmp,
                by,
            } => {
                let cmp = match cmp {
                    MoreLess::More => "more",
                    MoreLess::Less => "less",
                };
                (
                    vec![*first, *second],
                    format!("differ by {cmp} than {}", self.both(by)),
                )
            }
            TestKind::Trend {
                reading,
                way,
                cmp,
                by,
                over,
            } => return self.trend(*reading, (*way, *cmp), by, over, phases),
            TestKind::NotRecorded { reading, over } => {
                return format!("no {} filled in for {over}", self.reading_marked(*reading));
            }
            TestKind::LastsLonger { phase, than } => {
                return format!("phase {} has lasted longer than {than}", self.phase(*phase));
            }
            TestKind::Overdue { phase } => {
                return format!("phase {} is not over when it is due", self.phase(*phase));
            }
            TestKind::PausedLonger { than } => {
                return format!("temperature control has been paused longer than {than}");
            }
        };
        let names: Vec<String> = subject.iter().map(|id| self.reading_marked(*id)).collect();
        let names = listed(&names, "and");
        match &test.sustained {
            None => format!("{names} {what}"),
            Some(duration) => self.sustained(&names, &what, &subject, duration, phases),
        }
    }

    fn choice(&self, reading: ReadingId, word: usize) -> String {
        match &self.protocol[reading].kind {
            crate::model::ReadingKind::Choice { words, .. } => words
                .get(word)
                .map(|word| word.name.replace('-', " "))
                .unwrap_or_default(),
            _ => String::new(),
        }
    }

    /// M11: in a phase that keeps a range, its limits stand for the target.
    fn off_target(&self, side: Side, by: &Change, phases: &[PhaseId]) -> String {
        let keeps = |id: &PhaseId| matches!(self.protocol[*id].aim, Aim::Keep { .. });
        let (over, limit) = match side {
            Side::Above => ("above", "upper limit"),
            Side::Below => ("below", "lower limit"),
        };
        let from = if phases.iter().all(keeps) {
            format!("the {limit}")
        } else if phases.iter().any(keeps) {
            format!("the target (where a range is kept, its {limit})")
        } else {
            "the target".to_string()
        };
        format!("more than {} {over} {from}", self.both(by))
    }

    /// `C for D` (M9).
    fn sustained(
        &self,
        names: &str,
        what: &str,
        readings: &[ReadingId],
        duration: &Duration,
        phases: &[PhaseId],
    ) -> String {
        let said = self.rows_of_boxes(readings, duration, phases);
        match said.as_slice() {
            [] => format!("{names} {what} for {duration}"),
            [one] => format!("{names} {what} in {one} ({duration})"),
            many => format!("{names} {what} for {duration}: in {}", listed(many, "or")),
        }
    }

    /// One for each length that the boxes have in these phases.
    fn rows_of_boxes(
        &self,
        readings: &[ReadingId],
        duration: &Duration,
        phases: &[PhaseId],
    ) -> Vec<String> {
        let runs = row_of_boxes(self.protocol, readings, duration.value, phases);
        runs.iter()
            .map(|run| {
                let one = self.in_a_row(run);
                if runs.len() > 1 {
                    format!("{one} (in {})", self.phases(&run.phases))
                } else {
                    one
                }
            })
            .collect()
    }

    fn in_a_row(&self, run: &Run) -> String {
        format!(
            "{} {} boxes in a row",
            count(run.boxes),
            rhythm(run.interval)
        )
    }

    /// `rises more than X in D` and its three kin (M10).
    fn trend(
        &self,
        reading: ReadingId,
        (way, cmp): (TrendWay, MoreLess),
        by: &Change,
        over: &Duration,
        phases: &[PhaseId],
    ) -> String {
        let name = self.reading_marked(reading);
        let side = match way {
            TrendWay::Rises => "higher",
            TrendWay::Falls => "lower",
        };
        let mut said: Vec<(String, Vec<PhaseId>)> = Vec::new();
        for &phase in phases {
            let Some(interval) = interval(self.protocol, &[reading], phase) else {
                continue;
            };
            let text = trend_boxes(cmp, over, interval);
            match said.iter_mut().find(|(other, _)| *other == text) {
                Some((_, phases)) => phases.push(phase),
                None => said.push((text, vec![phase])),
            }
        }
        let than = match cmp {
            MoreLess::More => "more than",
            MoreLess::Less => "less than",
        };
        let boxes = match said.as_slice() {
            [] => format!("{over} before"),
            [(one, _)] => one.clone(),
            many => {
                let each: Vec<String> = many
                    .iter()
                    .map(|(text, phases)| format!("{text} (in {})", self.phases(phases)))
                    .collect();
                listed(&each, "or")
            }
        };
        format!("{name} {than} {} {side} than {boxes}", self.both(by))
    }
}

fn trend_boxes(cmp: MoreLess, over: &Duration, interval: Exact) -> String {
    match cmp {
        MoreLess::More => match boxes_back(over.value, interval) {
            Some(1) => format!("the box before it ({over})"),
            Some(boxes) => format!("any of the {} boxes before it ({over})", count(boxes)),
            None => format!("any box of the {over} before"),
        },
        MoreLess::Less => match box_of_then(over.value, interval) {
            Some(1) => format!("the box before it ({over})"),
            Some(boxes) => format!("the box {} back ({over} before)", count(boxes)),
            None => format!("the box of {over} before"),
        },
    }
}
