//! Finished cases held against their protocol: what their logs come to.
//!
//! Takes a protocol and logs (CSV, see [`log`]); gives for each an [`Audit`]: its
//! [`Figure`]s, how each phase ran, which rules fired, and every line that could not be
//! counted or was counted with a doubt; and over all of them a [`Summary`]. [`report`]
//! makes text of it; the data serialise.
//!
//! ```text
//! rows ─► columns, when, value ─► log ─► tally (the evaluator runs along) ─► figures
//!                                  └─► problem: by line, nothing is left out unsaid
//! ```
//!
//! What the numbers mean:
//! - *Time to target* is from the beginning of a phase that cools or warms to the record
//!   that ends it; and, where a mark is known, from the mark.
//! - *Share of readings* is of the records of the phase's reading in the phase; a record
//!   that ends a phase counts in both (M17). *Share of time* holds each record until the
//!   next, and leaves out the time for which the reading is unknown (M35); so the two
//!   differ where records are not evenly spaced.
//! - *In band* is inside `within` of the target of that moment, or inside the range that
//!   is kept, the limits themselves included. Depth is beyond the band.
//! - *Fastest change* is over the window of the rule that watches it, or over an hour,
//!   to a look no older than that and a quarter of the interval in force (M10).
//! - A *goal* is that of a measure, or the `due within` of a phase. It is judged on the
//!   exact value; what is not known neither meets nor misses it, but a target that is
//!   overdue (M24) is missed, reached later or not.
//! - An entry is *missed*, *late* or *in time* as in M5; one whose time is not over when
//!   the log ends is *open*.
//! - A rule is *answered* by the first record of each reading that its orders ask for.
//!
//! What may go wrong: a line that cannot be read is a [`Problem`] and is left out of
//! everything; nothing is guessed. A log that cannot be opened is a [`LogError`].

mod built_in;
mod columns;
mod figure;
mod figures;
mod goals;
mod log;
mod mark;
mod phase_tally;
mod problem;
mod report;
mod rows;
mod sliding;
mod summary;
mod survey;
mod tally;
mod trace;
mod value;
mod when;

pub use figure::{Figure, Part, Unit, shown};
pub use log::{LogError, Options};
pub use problem::{Problem, Weight};
pub use report::{report, report_all};
pub use summary::{Met, Spread, Summary, summary};
pub use trace::Point;

use crate::eval::{Case, wording};
use crate::model::Protocol;
use crate::plan::Clock;
use crate::quantity::Exact;
use built_in::BuiltIn;
use log::LogReader;
use problem::Problems;
use serde::Serialize;
use std::io::{self, BufRead};
use tally::Tally;

/// What a case came to.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Audit {
    /// What its log is called.
    pub case: String,
    pub protocol: String,
    pub version: String,
    /// By the clock, where the log has dates.
    pub start: Option<String>,
    pub start_from: String,
    /// From the start to the last entry that counted.
    pub length: String,
    pub rows: u64,
    pub entries: u64,
    pub counted: u64,
    pub problems: Vec<Problem>,
    pub phases: Vec<PhaseRun>,
    pub figures: Vec<Figure>,
    pub rules: Vec<Fired>,
    /// For drawing.
    #[serde(skip)]
    pub course: Vec<Point>,
    /// For placing the plan.
    #[serde(skip)]
    pub clock: Option<Clock>,
    #[serde(skip)]
    pub facts: crate::plan::Case,
}

impl Audit {
    /// Whether every line counted without a doubt, and no goal was missed.
    pub fn is_clean(&self) -> bool {
        self.problems.is_empty() && self.figures.iter().all(|f| f.goal_met != Some(false))
    }

    pub fn figure(&self, key: &str) -> Option<&Figure> {
        self.figures.iter().find(|figure| figure.key == key)
    }
}

/// One run of a phase; times are from the start.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct PhaseRun {
    pub phase: String,
    pub title: String,
    pub from: String,
    /// `None` where the records end before the phase does.
    pub to: Option<String>,
    pub by_order: bool,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Fired {
    pub rule: String,
    pub fired: u64,
    /// The first of them.
    pub times: Vec<String>,
    /// What its orders ask to be written down.
    pub asks: Vec<String>,
    pub answered: u64,
    pub unanswered: u64,
    /// Not answered yet when the log ends.
    pub open: bool,
    pub mean_answer: Option<String>,
    pub longest_answer: Option<String>,
    /// Until it was ready again, on the mean.
    pub mean_until_ready: Option<String>,
}

/// A protocol made ready to audit many logs.
pub struct Auditor {
    protocol: Protocol,
    built_in: Vec<BuiltIn>,
    /// How many measures are the protocol's own.
    own: usize,
    options: Options,
}

/// How far the reading of a log has come, in bytes of so many.
pub type Progress<'a> = &'a mut dyn FnMut(u64, u64);

impl Auditor {
    pub fn new(protocol: &Protocol, options: Options) -> Auditor {
        let (extended, built_in) = built_in::with_built_in(protocol);
        Auditor {
            own: protocol.measures.len(),
            protocol: extended,
            built_in,
            options,
        }
    }

    /// Audits one log, which is opened twice. `known` is what is known of the case
    /// beside its log.
    pub fn audit<R: BufRead>(
        &self,
        name: &str,
        open: impl Fn() -> io::Result<R>,
        known: &Case,
        progress: Progress<'_>,
    ) -> Result<Audit, LogError> {
        let reader = LogReader::new(&self.protocol, &self.options)?;
        let survey = reader.survey(open().map_err(LogError::Disk)?)?;
        let mut problems = Problems::default();
        let mut facts = crate::plan::Case::default();
        let mut case = known.clone();
        let clock = survey
            .start
            .and_then(|start| Clock::at_instant(reader.zone().name(), start));
        case.clock.clone_from(&clock);
        if let (Some((line, text)), None) = (&survey.weight, case.weight) {
            match facts.clone().enter_weight(&self.protocol, text) {
                Ok(with) => {
                    case.weight = with.weight.as_ref().map(|weight| weight.value);
                    facts = with;
                }
                Err(why) => problems.add(Weight::Lost, Some(*line), "weight", text, || {
                    why.to_string()
                }),
            }
        }
        if let (Some(first), Some((line, other))) = (survey.start, survey.other_start) {
            let [first, other] = [first, other].map(|start| reader.zone().shows(start));
            problems.add(Weight::Doubtful, Some(line), "two-starts", "start", || {
                format!("the case starts at {other} here and at {first} before: {first} was counted all through")
            });
        }
        if let (Some((_, first)), Some((line, other))) = (&survey.weight, &survey.other_weight) {
            problems.add(Weight::Doubtful, Some(*line), "two-weights", "weight", || {
                format!("the weight is {other} here and {first} before: {first} was counted all through")
            });
        }
        let mut tally = Tally::new(&self.protocol, &self.built_in, &case);
        let mut seen = 0u64;
        let rows = reader.entries(
            open().map_err(LogError::Disk)?,
            &survey,
            &mut problems,
            &mut |placed, problems, bytes| {
                seen += 1;
                if seen.is_multiple_of(4096) {
                    progress(bytes, survey.bytes);
                }
                tally.enter(placed, problems);
            },
        )?;
        tally.finish(&mut problems);
        facts.clock.clone_from(&clock);
        facts.marks = tally.marks.clone();
        // The plan is placed where the phases really ended.
        facts.reached = self
            .protocol
            .phases()
            .zip(&tally.phases)
            .filter_map(|((id, _), seen)| Some((id, seen.arrived?.1)))
            .collect();
        Ok(Audit {
            case: name.to_owned(),
            protocol: self.protocol.name.name.clone(),
            version: self.protocol.head.version.value.to_string(),
            start: survey.start.map(|start| reader.zone().shows(start)),
            start_from: survey.start_from.to_owned(),
            length: wording::time(tally.until),
            rows,
            entries: tally.entries,
            counted: tally.counted,
            problems: problems.into_list(),
            phases: figures::phase_runs(&tally),
            figures: figures::figures(&tally, self.own),
            rules: figures::fired(&tally),
            course: std::mem::take(&mut tally.trace).points(),
            clock,
            facts,
        })
    }

    /// Audits a log that is in memory.
    pub fn audit_text(&self, name: &str, text: &str, known: &Case) -> Result<Audit, LogError> {
        self.audit(name, || Ok(text.as_bytes()), known, &mut |_, _| {})
    }
}

/// Minutes as a number that a chart can place.
pub fn whole_minutes(at: Exact) -> Option<i64> {
    at.to_i64_floor()
}
