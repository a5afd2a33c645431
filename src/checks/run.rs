//! Every check over everything that was read.
//!
//! Takes what loading gives; gives all findings, sorted, and those accepted. A
//! protocol with errors of notation has only those: what follows from a wrong
//! number would only be noise.

use super::{Context, Depth, Report, check_to};
use crate::diag::{self, Diagnostic};
use crate::model::{Loaded, Lowered, Opened, Protocol};
use crate::parallel;
use crate::source::{FileId, Sources};
use std::collections::BTreeMap;
use std::sync::atomic::{AtomicUsize, Ordering};

/// What checking has found in everything that was read.
#[derive(Debug, Default)]
pub struct Checked {
    pub sources: Sources,
    /// Those without errors of notation; none where [`check_each`] let them go.
    pub protocols: Vec<(FileId, Protocol)>,
    pub findings: Vec<Diagnostic>,
    /// What an `accept` lets stand.
    pub accepted: Vec<Diagnostic>,
}

/// Runs every check. Dates are judged against `on`, and not at all without it.
pub fn check_all(loaded: Loaded, on: Option<jiff::civil::Date>) -> Checked {
    check_all_to(loaded, on, Depth::Whole)
}

/// The same, as deep as is wanted.
pub fn check_all_to(loaded: Loaded, on: Option<jiff::civil::Date>, depth: Depth) -> Checked {
    let Loaded {
        sources,
        protocols,
        diagnostics,
        ..
    } = loaded;
    // What reading found in its own file is handed in, so that an `accept` of a
    // protocol can cover it, and none of another's.
    let mut own: BTreeMap<FileId, Vec<Diagnostic>> = BTreeMap::new();
    for found in diagnostics {
        own.entry(found.place.span.file).or_default().push(found);
    }
    let work: Vec<_> = protocols
        .iter()
        .map(|(root, protocol)| (protocol, own.remove(root).unwrap_or_default()))
        .collect();
    let reports = parallel::map(work, |(protocol, own)| {
        report(protocol, &sources, own, on, depth)
    });
    let rest = own.into_values().flatten().collect();
    Checked {
        protocols,
        ..together(sources, reports, rest)
    }
}

/// Runs every check over files that were opened. No protocol is kept, so that thousands need
/// little memory. `tell` hears of each file that is done, on whichever thread: its path, how many
/// are done, and of how many.
pub fn check_each(
    opened: Opened,
    on: Option<jiff::civil::Date>,
    tell: &(dyn Fn(&str, usize, usize) + Sync),
) -> Checked {
    let done = AtomicUsize::new(0);
    let (parts, mut rest) = opened.each(|lowered| {
        let Lowered {
            root,
            protocol,
            found,
        } = lowered;
        let part = match protocol {
            Some(protocol) => {
                let own = |found: &Diagnostic| found.place.span.file == root;
                let (own, others) = found.into_iter().partition(own);
                let report = report(&protocol, &opened.sources, own, on, Depth::Whole);
                (Some(report), others)
            }
            None => (None, found),
        };
        let file = opened.sources.get(root);
        let path = file.map_or("", |file| file.path.as_str());
        let done = done.fetch_add(1, Ordering::Relaxed) + 1;
        tell(path, done, opened.asked_for());
        part
    });
    let mut reports = Vec::new();
    for (report, mut found) in parts {
        reports.extend(report);
        rest.append(&mut found);
    }
    together(opened.sources, reports, rest)
}

fn report(
    protocol: &Protocol,
    sources: &Sources,
    own: Vec<Diagnostic>,
    on: Option<jiff::civil::Date>,
    depth: Depth,
) -> Report {
    // It takes as long as many a check, and only approvals are compared with it.
    let approved = !protocol.head.approvals.is_empty();
    let fingerprint = approved.then(|| crate::rules::fingerprint(protocol));
    let context = Context::new(protocol, sources)
        .on(on)
        .with_fingerprint(fingerprint.as_deref());
    check_to(&context, own, depth)
}

fn together(sources: Sources, reports: Vec<Report>, mut findings: Vec<Diagnostic>) -> Checked {
    let mut accepted = Vec::new();
    for report in reports {
        findings.extend(report.findings);
        accepted.extend(report.accepted.into_iter().map(|accepted| accepted.finding));
    }
    // A finding in a shared library is told once.
    diag::tell_once(&mut findings);
    super::sort(&sources, &mut findings);
    Checked {
        sources,
        protocols: Vec::new(),
        findings,
        accepted,
    }
}
