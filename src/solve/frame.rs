//! A regular record of one phase, before its values are chosen: when which reading
//! is recorded, what it may be there, and what the target is (M5, M6, M20, M32).
//!
//! Takes a protocol and a phase. It is run on a copy without rules and ladders, the
//! patient on plan, through the phases ahead of it, and then on in that phase for as
//! long as any window needs. So the times are those that the evaluator itself asks
//! for, whatever stretches of `during` they begin with.
//!
//! ```text
//! cool 0:00, hold 0:00                       <- shortest way into the phase
//! core   0:00=33.0  1:00  2:00  3:00 …       <- free from the second on
//! water  0:00       1:00  2:00  3:00 …
//! ```
//!
//! `None` where no regular record leads into the phase: an end ahead of it waits for
//! something that cannot be, or the phase is empty.

use super::drive::Drive;
use super::grid::Grids;
use super::intervals::Intervals;
use super::possible::is_begun_by_order;
use crate::eval::{self, Aimed, Case};
use crate::model::*;
use crate::plan::Course;
use crate::quantity::{Exact, Level, Written};
use std::collections::BTreeMap;
use std::sync::OnceLock;

/// One time at which a reading is recorded, with the values that keep the phases
/// where they are.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sample {
    pub at: Exact,
    /// It stands up to and including then (M6).
    pub known_until: Exact,
    pub low: i64,
    pub high: i64,
    /// From the lowest to the highest where the course of the phase has been held up, so that
    /// what would have ended the phase does not.
    pub wide: (i64, i64),
    /// What the display can show: for a record that leads into the phase in another way.
    pub display: (i64, i64),
    pub plan: i64,
}

#[derive(Debug, Clone)]
pub struct Frame {
    pub phase: PhaseId,
    pub begins: Exact,
    /// The phase is over then.
    pub ends: Option<Exact>,
    /// By reading, in order of time.
    pub samples: Vec<Vec<Sample>>,
    /// The phases that run, each from when; the last is `phase`.
    pub runs: Vec<(PhaseId, Exact)>,
    /// Moments in the phase, in order of time.
    pub moments: Vec<Exact>,
    pub aimed: BTreeMap<Exact, Aimed>,
    /// Marks known before the start, and those entered later.
    pub marks: Vec<(MarkId, Exact)>,
    pub due: Option<Exact>,
    /// The course begins at what is recorded.
    pub course: Option<CourseFrom>,
    /// An order can begin the phase, out of its turn or once more.
    pub begun_by_order: bool,
    /// The course begins at a value that is known, when the phase does.
    pub stated: Option<Course>,
    /// By reading: the lowest and the highest value that can stay all the time, by plan and
    /// where the course was held up.
    pub held: Vec<[OnceLock<(i64, i64)>; 2]>,
}

/// A course without `from`: it begins at a record, whatever that shows (M21).
#[derive(Debug, Clone)]
pub struct CourseFrom {
    pub reading: ReadingId,
    /// Its place among the samples of the reading.
    pub sample: usize,
    pub since: Exact,
    /// Where it begins here counts for nothing.
    pub course: Course,
    /// Reaching the end by so much ends the phase.
    pub within: Exact,
}

impl Frame {
    /// When a stretch that takes in these phases began (M8).
    pub fn stretch(&self, during: &[At<PhaseId>]) -> Exact {
        if during.is_empty() {
            return Exact::ZERO;
        }
        let mut since = self.begins;
        for (phase, begins) in self.runs.iter().rev() {
            if !during.iter().any(|within| within.value == *phase) {
                break;
            }
            since = *begins;
        }
        since
    }

    /// The first moment at which a record can show another value where the course of the phase
    /// was held up.
    pub fn widens(&self) -> Option<Exact> {
        let all = self.samples.iter().flatten();
        all.filter(|sample| sample.wide != (sample.low, sample.high))
            .map(|sample| sample.at)
            .min()
    }

    /// Whether a stretch that takes in these phases takes in one ahead of the last, be it for no
    /// time at all.
    pub fn reaches_ahead(&self, during: &[At<PhaseId>]) -> bool {
        let takes_in = |phase: PhaseId| during.iter().any(|within| within.value == phase);
        let takes_in_another =
            during.is_empty() || during.iter().any(|within| within.value != self.phase);
        let ahead = self.runs.iter().rev().nth(1);
        ahead.is_some_and(|(phase, _)| during.is_empty() || takes_in(*phase))
            || (self.begun_by_order && takes_in_another)
    }

    /// [`Frame::stretch`] at an earlier moment of the record; `None` where none of these phases
    /// runs then.
    pub fn stretch_at(&self, during: &[At<PhaseId>], at: Exact) -> Option<Exact> {
        if during.is_empty() {
            return Some(Exact::ZERO);
        }
        let mut since = None;
        for (phase, begins) in self.runs.iter().rev().filter(|(_, begins)| *begins <= at) {
            if !during.iter().any(|within| within.value == *phase) {
                break;
            }
            since = Some(*begins);
        }
        since
    }

    pub fn samples_of(&self, reading: ReadingId) -> &[Sample] {
        self.samples.get(reading.index()).map_or(&[], Vec::as_slice)
    }

    pub fn aimed_at(&self, at: Exact) -> Aimed {
        self.aimed.get(&at).copied().unwrap_or(Aimed::Nothing)
    }
}

/// What a phase that `ends when` was made to end with, for the phases behind it.
#[derive(Debug, Clone)]
pub struct Ending {
    pub length: Exact,
    /// Minutes from the phase's beginning, reading, value in units.
    pub values: Vec<(Exact, ReadingId, i64)>,
}

pub struct Builder<'a> {
    pub protocol: &'a Protocol,
    pub grids: &'a Grids,
    pub neutral: &'a [i64],
    pub intervals: &'a Intervals,
    /// By phase, where that is known.
    pub endings: &'a BTreeMap<PhaseId, Ending>,
}

impl Builder<'_> {
    /// The frame of a phase, `for_long` minutes of it where it lasts so long.
    pub fn build(&self, phase: PhaseId, for_long: Exact) -> Option<Frame> {
        let stripped = self.stripped(phase);
        let marks = self.marks_before();
        let case = Case {
            marks: marks.clone(),
            ..Case::default()
        };
        let mut drive = Drive {
            with: self,
            stripped: &stripped,
            wanted: phase,
            last: BTreeMap::new(),
            arrival: None,
            frame: Frame {
                phase,
                begins: Exact::OVERFLOW,
                ends: None,
                samples: vec![Vec::new(); stripped.readings.len()],
                runs: Vec::new(),
                moments: Vec::new(),
                aimed: BTreeMap::new(),
                marks,
                due: None,
                course: None,
                begun_by_order: is_begun_by_order(self.protocol, phase),
                stated: None,
                held: vec![[const { OnceLock::new() }; 2]; stripped.readings.len()],
            },
        };
        drive.go(eval::Run::new(&stripped, &case), for_long)?;
        let mut frame = drive.frame;
        self.set_known_until(&mut frame);
        frame.course = self.course_from(&frame);
        frame.stated = self.stated_course(&frame);
        // A record that ends the phase ahead may end the wanted one with it.
        let empty = |sample: &Sample| sample.low > sample.high;
        (!frame.samples.iter().flatten().any(empty)).then_some(frame)
    }

    fn stated_course(&self, frame: &Frame) -> Option<Course> {
        let stated = &self.protocol[frame.phase];
        let Aim::Reach {
            from: Some(_),
            rate: Some(rate),
            ..
        } = &stated.aim
        else {
            return None;
        };
        let Aimed::Value(begin) = frame.aimed_at(frame.begins) else {
            return None;
        };
        Course::of(stated, begin, rate.slower().value)
    }

    fn course_from(&self, frame: &Frame) -> Option<CourseFrom> {
        let stated = &self.protocol[frame.phase];
        let Aim::Reach {
            reading,
            within,
            from: None,
            rate: Some(rate),
            ..
        } = &stated.aim
        else {
            return None;
        };
        let samples = frame.samples_of(reading.value);
        let behind = samples.partition_point(|sample| sample.at <= frame.begins);
        let standing = behind.checked_sub(1).filter(|at| {
            samples
                .get(*at)
                .is_some_and(|sample| sample.known_until >= frame.begins)
        });
        let sample = standing.unwrap_or(behind);
        let since = samples.get(sample)?.at.max(frame.begins);
        Some(CourseFrom {
            reading: reading.value,
            sample,
            since,
            course: Course::of(stated, Exact::ZERO, rate.slower().value)?,
            within: within.as_ref().map_or(Exact::ZERO, |within| within.value),
        })
    }

    /// Only what makes time pass: phases and looks. The wanted phase does not end
    /// by what is recorded.
    fn stripped(&self, wanted: PhaseId) -> Protocol {
        let mut copy = self.protocol.clone();
        copy.rules.clear();
        copy.scenarios.clear();
        copy.measures.clear();
        copy.limits.clear();
        for look in &mut copy.looks {
            if let LookWhat::Ask { then_follow, .. } = &mut look.what {
                *then_follow = None;
            }
        }
        copy.looks.retain(|look| match &look.what {
            LookWhat::Ask { .. } => true,
            LookWhat::Order(action) => !matches!(
                action.order,
                Order::FollowLadder(_) | Order::Do { .. } | Order::Call { .. }
            ),
            LookWhat::Do { .. } | LookWhat::Give(_) => false,
        });
        let gives = |look: &Look| matches!(look.what, LookWhat::Order(_));
        if !copy.looks.iter().any(gives) {
            // Nothing is left that names one.
            copy.medications.clear();
            copy.ladders.clear();
        }
        let name = |id: PhaseId| &self.protocol[id];
        for (index, phase) in copy.phases.iter_mut().enumerate() {
            let id = PhaseId(u32::try_from(index).unwrap_or(u32::MAX));
            let never = EndTrigger::Mark(At::new(MarkRef::PhaseEnd(id), name(id).span));
            if id == wanted {
                match &mut phase.end {
                    end @ End::Reached => {
                        let length = minutes(Exact::ZERO, name(id).span);
                        *end = End::Awaited {
                            trigger: never,
                            plan: Planned {
                                first: length,
                                last: None,
                            },
                            at_least: None,
                            at_most: None,
                        };
                    }
                    End::Awaited { trigger, .. } => *trigger = never,
                    End::Lasts(_) | End::After { .. } => {}
                }
            } else if let (
                End::Awaited {
                    trigger: EndTrigger::When(_),
                    ..
                },
                Some(ending),
            ) = (&phase.end, self.endings.get(&id))
            {
                phase.end = End::Lasts(minutes(ending.length, name(id).span));
            }
        }
        copy
    }

    /// The mark of `start within` lies at the start: a timed end that hangs on it
    /// then comes as late as it can.
    fn marks_before(&self) -> Vec<(MarkId, Exact)> {
        self.protocol
            .head
            .start_within
            .iter()
            .map(|start| (start.of, Exact::ZERO))
            .collect()
    }

    fn set_known_until(&self, frame: &mut Frame) {
        let runs = &frame.runs;
        for (index, samples) in frame.samples.iter_mut().enumerate() {
            let reading = ReadingId(u32::try_from(index).unwrap_or(u32::MAX));
            let good_for = self.protocol[reading]
                .good_for
                .as_ref()
                .map(|good| good.value);
            for sample in samples {
                if let Some(good_for) = good_for {
                    sample.known_until = sample.at + good_for;
                    continue;
                }
                let old = |phase: PhaseId| {
                    let interval = self.intervals.at(reading, phase)?;
                    Some(sample.at + interval * Exact::ratio(3, 2))
                };
                let own = runs
                    .iter()
                    .rev()
                    .find(|(_, begins)| *begins <= sample.at)
                    .map(|(phase, _)| *phase);
                let mut until = own.and_then(old).unwrap_or(sample.at);
                for (phase, begins) in runs {
                    if *begins > sample.at && *begins <= until {
                        until = until.min(old(*phase).unwrap_or(until));
                    }
                }
                sample.known_until = until;
            }
        }
    }
}

fn minutes(value: Exact, span: crate::source::Span) -> crate::quantity::Duration {
    Level::new(value, Written::default(), span).cast()
}
