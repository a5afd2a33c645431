//! What the committee lets stand.
//!
//! `accept FINDING [on NAME]` covers one warning, or one finding of the evidence
//! table whatever its level, until its day (M34). Takes all findings; gives those
//! that still show and those that are covered, and adds `exception-expired` and
//! `exception-unused`.

use super::{Accepted, Context, Report, evidence, governance};
use crate::diag::{Diagnostic, Level};
use crate::model::Accept;

pub(super) fn weigh(context: &Context, findings: Vec<Diagnostic>) -> Report {
    let mut report = Report {
        findings,
        accepted: Vec::new(),
    };
    for (index, accept) in context.protocol.accepts.iter().enumerate() {
        let expired = context.date.is_some_and(|date| date > accept.until.value);
        let covered = covered_by(accept, &report.findings);
        if covered.is_empty() {
            let grave = report
                .findings
                .iter()
                .find(|finding| is_meant(accept, finding) && !may_stand(finding));
            report
                .findings
                .push(governance::exception_unused::finding(accept, grave));
            continue;
        }
        if expired {
            report
                .findings
                .push(governance::exception_expired::finding(accept, context.date));
            continue;
        }
        // From the back, so that the places before stay right.
        for at in covered.into_iter().rev() {
            let finding = report.findings.remove(at);
            report.accepted.insert(
                0,
                Accepted {
                    accept: index,
                    finding,
                },
            );
        }
    }
    report
}

/// Without `on`, the first finding of that name. With it, all that are about
/// that thing: they have one cause.
fn covered_by(accept: &Accept, findings: &[Diagnostic]) -> Vec<usize> {
    let mut covered: Vec<usize> = findings
        .iter()
        .enumerate()
        .filter(|(_, finding)| is_meant(accept, finding) && may_stand(finding))
        .map(|(at, _)| at)
        .collect();
    if accept.on.is_none() {
        covered.truncate(1);
    }
    covered
}

fn is_meant(accept: &Accept, finding: &Diagnostic) -> bool {
    finding.name == accept.finding.name
        && accept
            .on
            .as_ref()
            .is_none_or(|on| finding.about.as_deref() == Some(on.name.as_str()))
}

fn may_stand(finding: &Diagnostic) -> bool {
    match finding.level {
        Level::Warning | Level::Note => !is_about_exceptions(finding.name),
        Level::Error => evidence::row(finding.name).is_some(),
    }
}

/// An exception cannot excuse another exception.
fn is_about_exceptions(name: &str) -> bool {
    name == governance::exception_expired::CHECK.name
        || name == governance::exception_unused::CHECK.name
}
