//! Everything that can be wrong with a protocol.
//!
//! Takes a [`Context`]: the typed protocol, the texts that it was read from, its
//! plan, and what the run knows about the world (a date, a fingerprint). Gives a
//! [`Report`]: the findings in a stable order, and those that the committee has
//! accepted. Nothing here reads files or the clock; nothing here can fail to run.
//!
//! A check is one file: its metadata first, then a pure function from the context
//! to findings. To add one, write the file and enter it in the list of its family.
//!
//! ```text
//! Context -> every check of CHECKS -> findings -> accept lines -> Report
//! ```

pub mod accepts;
mod answers;
pub mod evidence;
pub mod example;
pub mod explain;
mod facts;
mod governance;
mod looking;
pub(crate) mod medication;
mod notation;
mod procedure;
mod reading;
mod rules;
pub mod run;
mod timeline;
mod timing;
mod words;

pub use explain::{Page, explain};

use crate::diag::{Diagnostic, Level};
use crate::model::Protocol;
use crate::parallel;
use crate::plan::{Case, Plan, PlanError};
use crate::solve::Solver;
use crate::source::{FileId, Sources};

/// What a check looks at.
pub struct Context<'a> {
    pub protocol: &'a Protocol,
    pub sources: &'a Sources,
    /// The protocol placed in time for all its patients; `None` where a number is
    /// too large to calculate with.
    pub plan: Option<Plan>,
    /// The day against which reviews and exceptions are judged. Without it they
    /// are not judged: no check reads the clock.
    pub date: Option<jiff::civil::Date>,
    /// The fingerprint of the meaning, for `approved … as` (M34).
    pub fingerprint: Option<&'a str>,
    /// Whether conditions can hold, and on which record.
    pub solver: Solver<'a>,
}

impl<'a> Context<'a> {
    pub fn new(protocol: &'a Protocol, sources: &'a Sources) -> Self {
        Context {
            protocol,
            sources,
            plan: Plan::of(protocol, &Case::default()).ok(),
            date: None,
            fingerprint: None,
            solver: Solver::new(protocol),
        }
    }

    pub fn on(mut self, date: Option<jiff::civil::Date>) -> Self {
        self.date = date;
        self
    }

    pub fn with_fingerprint(mut self, fingerprint: Option<&'a str>) -> Self {
        self.fingerprint = fingerprint;
        self
    }
}

/// Checks that look at the same thing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Family {
    Notation,
    Timeline,
    Looking,
    Rules,
    Medication,
    Procedure,
    Evidence,
    Governance,
}

impl Family {
    pub fn word(self) -> &'static str {
        match self {
            Family::Notation => "notation",
            Family::Timeline => "timeline",
            Family::Looking => "looking",
            Family::Rules => "rules",
            Family::Medication => "medication",
            Family::Procedure => "procedure",
            Family::Evidence => "evidence",
            Family::Governance => "governance",
        }
    }
}

/// How findings of a check come about.
#[derive(Clone, Copy)]
pub enum Run {
    /// By looking at the typed protocol.
    Over(fn(&Context) -> Vec<Diagnostic>),
    /// While the text is read: syntax and lowering report it.
    Reading,
    /// While `accept` lines are weighed against the other findings.
    Accepting,
}

/// One check: what it is called, what it is for, and how it is done.
///
/// `fires` and `passes` are examples in the form of [`example`]: the first gives
/// exactly one finding, of this check; the second gives none of any check.
#[derive(Clone, Copy)]
pub struct Check {
    /// Stable, kebab-case, names the bad thing.
    pub name: &'static str,
    pub family: Family,
    /// The gravest level at which it speaks.
    pub level: Level,
    /// The version of this program that had it first.
    pub since: &'static str,
    pub summary: &'static str,
    pub catches: &'static str,
    /// What a person at the bedside could do wrong.
    pub why: &'static str,
    pub fires: &'static str,
    pub passes: &'static str,
    /// A document, "structural" for pure logic, or "common practice, no source".
    pub source: &'static str,
    pub run: Run,
}

impl Check {
    /// A finding of this check at its own level.
    fn found(&self, span: crate::source::Span, title: impl Into<String>) -> Diagnostic {
        Diagnostic::new(self.name, self.level, span, title).source(self.source)
    }
}

/// Every check, by family. The rows of the evidence table stand in
/// [`evidence::rows`].
pub fn all() -> impl Iterator<Item = &'static Check> {
    [
        reading::CHECKS,
        notation::CHECKS,
        timeline::CHECKS,
        looking::CHECKS,
        rules::CHECKS,
        medication::CHECKS,
        procedure::CHECKS,
        evidence::CHECKS,
        governance::CHECKS,
    ]
    .into_iter()
    .flatten()
    .copied()
}

/// What the checks have found.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Report {
    /// By file, line and name.
    pub findings: Vec<Diagnostic>,
    /// What an `accept` lets stand, with its place among `Protocol::accepts` of its
    /// protocol.
    pub accepted: Vec<Accepted>,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Accepted {
    pub accept: usize,
    pub finding: Diagnostic,
}

impl Report {
    /// Whether nothing is left that fails a run: notes never do.
    pub fn is_clean(&self) -> bool {
        self.findings
            .iter()
            .all(|finding| finding.level == Level::Note)
    }
}

/// How much is checked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Depth {
    /// Everything.
    Whole,
    /// All but what asks on which record conditions can hold: for a first answer
    /// while somebody types.
    Quick,
}

/// Runs every check. `reading` is what reading the text has already found.
pub fn check(context: &Context, reading: Vec<Diagnostic>) -> Report {
    check_to(context, reading, Depth::Whole)
}

/// The same, as deep as is wanted.
pub fn check_to(context: &Context, reading: Vec<Diagnostic>, depth: Depth) -> Report {
    let mut findings = reading;
    if let Err(PlanError::TooLarge(finding)) = Plan::of(context.protocol, &Case::default()) {
        findings.push(*finding);
    }
    findings.extend(match depth {
        Depth::Quick => without_rules(context),
        Depth::Whole => whole(context),
    });
    sort(context.sources, &mut findings);
    let mut report = accepts::weigh(context, findings);
    if depth == Depth::Quick {
        // What an exception lets stand may not have been looked for.
        let unused = governance::exception_unused::CHECK.name;
        report.findings.retain(|found| found.name != unused);
    }
    sort(context.sources, &mut report.findings);
    report
}

fn without_rules(context: &Context) -> Vec<Diagnostic> {
    let mut findings = run_all(context, |check| check.family != Family::Rules);
    findings.extend(evidence::run(context));
    findings
}

fn run_all(context: &Context, wanted: impl Fn(&Check) -> bool) -> Vec<Diagnostic> {
    let wanted = all().filter(|check| wanted(check));
    let mut findings = Vec::new();
    for check in wanted {
        if let Run::Over(run) = check.run {
            findings.extend(run(context));
        }
    }
    findings
}

/// All, on two cores where they are free.
fn whole(context: &Context) -> Vec<Diagnostic> {
    if parallel::threads() < 2 {
        let mut findings = without_rules(context);
        findings.extend(run_all(context, |check| check.family == Family::Rules));
        return findings;
    }
    let is = |check: &Check, other: &Check| check.name == other.name;
    let is_beside = |check: &Check| rules::BESIDE.iter().any(|other| is(check, other));
    let given = (context.protocol, context.sources, context.date);
    let (plan, fingerprint) = (&context.plan, context.fingerprint);
    let frames = context.solver.frames();
    let (mut findings, (beside, open)) = parallel::both(
        || {
            // Those that ask nothing; then its half of what all questions need.
            let mut findings = without_rules(context);
            context.solver.make_frames();
            findings.extend(run_all(context, |check| {
                check.family == Family::Rules && !is_beside(check) && !is(check, rules::LAST)
            }));
            findings
        },
        || {
            let (protocol, sources, date) = given;
            let context = Context {
                protocol,
                sources,
                plan: plan.clone(),
                date,
                fingerprint,
                solver: Solver::with(protocol, frames.clone()),
            };
            let found = run_all(&context, is_beside);
            (found, context.solver.unsettled())
        },
    );
    findings.extend(beside);
    context.solver.leave_open(open);
    findings.extend(run_all(context, |check| is(check, rules::LAST)));
    findings
}

/// By file, line, name, column, title: the order in which they are shown.
fn sort(sources: &Sources, findings: &mut [Diagnostic]) {
    findings.sort_by_cached_key(|finding| {
        let span = finding.place.span;
        let at = sources
            .get(span.file)
            .map(|file| file.line_column(span.start as usize));
        (
            span.file,
            at.map(|at| at.line),
            finding.name,
            at.map(|at| at.column),
            finding.title.clone(),
        )
    });
}

/// The files that the protocol was read from: its own and those it uses.
fn files<'a>(context: &'a Context) -> impl Iterator<Item = (FileId, &'a str)> {
    let protocol = context.protocol;
    context
        .sources
        .iter()
        .filter(move |(id, file)| {
            *id == protocol.span.file || protocol.uses.iter().any(|used| used.path == file.path)
        })
        .map(|(id, file)| (id, file.text.as_str()))
}
