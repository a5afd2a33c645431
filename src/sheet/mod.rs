//! The bedside run sheet of one protocol, as a document.
//!
//! Takes a protocol, its plan and a case (an empty one gives the blank form), and what only the
//! caller knows: the fingerprint and the paper. Returns a [`Document`] for any renderer. What may
//! go wrong is what can go wrong in a plan: numbers too large to calculate with.
//!
//! INVARIANT: every number on the sheet comes from the protocol, the plan or the case; no clock
//! time is printed for a phase whose beginning is not known yet, so that none can be wrong.

mod case_page;
mod chart;
mod checklists;
mod counted;
mod doses;
mod entries;
mod grid;
mod ladders;
mod record;
mod rows;
mod rules;
mod times;

use crate::document::{Block, Chart, CoursePoint, Document, Footer, Meta, Paper, text};
use crate::model::Protocol;
use crate::model::words::Occasion;
use crate::plan::{self, Case, Plan, PlanError, Round, Schedule};
use crate::quantity::Exact;
use crate::words::Words;
use times::Times;

/// What only the caller knows.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Options {
    /// Fingerprint of the meaning; approval is judged by it (M34).
    pub fingerprint: String,
    pub paper: Paper,
    /// Why an approval of this meaning does not count, where the caller knows one.
    pub withheld: Option<String>,
    /// What was recorded of the reading of the chart, piece by piece where there are gaps.
    pub records: Vec<Vec<CoursePoint>>,
}

/// What is printed across a sheet that nobody has approved.
pub const DRAFT: &str = "DRAFT: not approved for use";

/// All that the parts of a sheet are made from.
struct Sheet<'a> {
    protocol: &'a Protocol,
    plan: &'a Plan,
    case: &'a Case,
    paper: Paper,
    schedule: Schedule,
    words: Words<'a>,
    times: Times<'a>,
    records: Vec<Vec<CoursePoint>>,
}

/// The whole sheet.
pub fn build(
    protocol: &Protocol,
    plan: &Plan,
    case: &Case,
    options: &Options,
) -> Result<Document, PlanError> {
    let sheet = Sheet {
        protocol,
        plan,
        case,
        paper: options.paper,
        schedule: plan::schedule(protocol, case)?,
        words: Words::of(protocol),
        times: Times::of(case),
        records: options.records.clone(),
    };
    let mut blocks = sheet.case_page();
    let before = sheet.checklists_at(&[Occasion::BeforeStart, Occasion::Placing, Occasion::Start]);
    part(&mut blocks, "Before and during start", halves(before));
    part(&mut blocks, "The record", sheet.record());
    part(&mut blocks, "If … then", sheet.rules());
    blocks.extend(sheet.steps_and_doses());
    // Short lists, side by side.
    let mut last = Vec::new();
    let trouble = sheet.checklists_at(&[Occasion::Trouble]);
    last.extend(lists_under("Not responding", trouble));
    last.extend(lists_under("Ending", sheet.checklists_at(&[Occasion::End])));
    blocks.extend(halves(last));
    blocks.extend(sheet.log());
    Ok(sheet.document(blocks, options))
}

/// Down the left half of the page, then the right.
fn halves(blocks: Vec<Block>) -> Vec<Block> {
    match blocks.is_empty() {
        true => blocks,
        false => vec![Block::Halves(blocks)],
    }
}

/// The chart alone, with what was recorded over it; none where no temperature is controlled
/// or the plan cannot be made.
pub fn chart(protocol: &Protocol, case: &Case, records: Vec<Vec<CoursePoint>>) -> Option<Chart> {
    let plan = Plan::of(protocol, case).ok()?;
    Sheet {
        protocol,
        plan: &plan,
        case,
        paper: Paper::A4,
        schedule: plan::schedule(protocol, case).ok()?,
        words: Words::of(protocol),
        times: Times::of(case),
        records,
    }
    .chart()
}

/// Lists under a heading; one alone has its own title for a heading.
fn lists_under(title: &str, mut lists: Vec<Block>) -> Vec<Block> {
    let mut out = Vec::new();
    if let [Block::Checklist(only)] = lists.as_mut_slice() {
        let text = std::mem::take(&mut only.title);
        out.push(Block::Heading { level: 1, text });
        out.append(&mut lists);
    } else {
        part(&mut out, title, lists);
    }
    out
}

/// A part with its heading; nothing where it has nothing to say.
fn part(blocks: &mut Vec<Block>, title: &str, inner: Vec<Block>) {
    if inner.is_empty() {
        return;
    }
    blocks.push(Block::heading(1, title));
    blocks.extend(inner);
}

impl Sheet<'_> {
    fn document(&self, blocks: Vec<Block>, options: &Options) -> Document {
        let head = &self.protocol.head;
        let name = self.protocol.name.name.clone();
        let version = head.version.value.to_string();
        let print = options.fingerprint.trim();
        let approved = crate::approval::of_this(self.protocol, print);
        // The first day of the case, not today: a sheet says what was known then.
        let starts = self
            .times
            .clock(Exact::ZERO, Round::Down)
            .map(|time| time.date());
        let held = options
            .withheld
            .clone()
            .or_else(|| starts.and_then(|day| crate::approval::review_over(self.protocol, day)));
        let names: Vec<String> = approved
            .iter()
            .map(|one| {
                format!(
                    "{} on {}",
                    text::inline(&one.by.markdown).plain(),
                    one.on.value
                )
            })
            .collect();
        let is_draft = approved.is_empty() || held.is_some();
        let status = match (is_draft, held) {
            (false, _) => format!("approved by {}", crate::words::listed(&names, "and")),
            (true, Some(why)) => format!("{DRAFT} ({why})"),
            (true, None) => DRAFT.to_string(),
        };
        let short: String = print.chars().take(16).collect();
        let lines = vec![
            format!("{name}, version {version}"),
            format!("fingerprint {short} · {status}"),
            "Supports and does not replace local policy and clinical judgement.".to_string(),
        ];
        Document {
            title: text::inline(&head.title.markdown).plain(),
            subtitle: text::inline(&head.unit.markdown).plain(),
            language: "en".to_string(),
            meta: Meta {
                protocol: name.clone(),
                version: version.clone(),
                fingerprint: print.to_string(),
                status: status.clone(),
            },
            paper: options.paper,
            draft: is_draft.then(|| DRAFT.to_string()),
            label: Some("Patient label".to_string()),
            facts: self.facts(&status, print),
            footer: Footer {
                lines,
                // Capital letters make the code coarser, and so easier to read from paper.
                code: format!("{name} {version} {print}").to_uppercase(),
            },
            blocks,
        }
    }
}

#[cfg(test)]
mod tests;
