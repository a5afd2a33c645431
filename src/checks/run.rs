//! Every check over everything that was read.
//!
//! Takes what loading gives; gives all findings, sorted, and those accepted. A
//! protocol with errors of notation has only those: what follows from a wrong
//! number would only be noise.

use super::{Context, Depth, check_to};
use crate::diag::Diagnostic;
use crate::model::{Loaded, Protocol};
use crate::parallel;
use crate::source::{FileId, Sources};
use std::collections::BTreeMap;
use std::sync::atomic::{AtomicUsize, Ordering};

/// What checking has found in everything that was read.
#[derive(Debug, Default)]
pub struct Checked {
    pub sources: Sources,
    /// Those without errors of notation.
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
    check_each(loaded, on, depth, &|_, _, _| {})
}

/// The same; `tell` hears of each protocol that is done, on whichever thread: its path, how many
/// are done, and of how many.
pub fn check_each(
    loaded: Loaded,
    on: Option<jiff::civil::Date>,
    depth: Depth,
    tell: &(dyn Fn(&str, usize, usize) + Sync),
) -> Checked {
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
        .map(|(root, protocol)| (*root, protocol, own.remove(root).unwrap_or_default()))
        .collect();
    let mut findings: Vec<Diagnostic> = own.into_values().flatten().collect();
    let done = AtomicUsize::new(0);
    let reports = parallel::map(work, |(root, protocol, own)| {
        // It takes as long as many a check, and only approvals are compared with it.
        let approved = !protocol.head.approvals.is_empty();
        let fingerprint = approved.then(|| crate::rules::fingerprint(protocol));
        let context = Context::new(protocol, &sources)
            .on(on)
            .with_fingerprint(fingerprint.as_deref());
        let report = check_to(&context, own, depth);
        let path = sources.get(root).map_or("", |file| file.path.as_str());
        tell(
            path,
            done.fetch_add(1, Ordering::Relaxed) + 1,
            protocols.len(),
        );
        report
    });
    let mut accepted = Vec::new();
    for report in reports {
        findings.extend(report.findings);
        accepted.extend(report.accepted.into_iter().map(|accepted| accepted.finding));
    }
    // A finding in a shared library is told once.
    let mut seen = std::collections::BTreeSet::new();
    findings.retain(|found| seen.insert((found.name, found.place.span, found.title.clone())));
    super::sort(&sources, &mut findings);
    Checked {
        sources,
        protocols,
        findings,
        accepted,
    }
}
