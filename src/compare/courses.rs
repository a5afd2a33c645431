//! Both planned courses, as the two sheets draw them.

use super::Version;
use crate::document::{Block, Chart, Document};
use crate::model::Protocol;
use crate::plan::{Case, Plan};
use crate::{rules, sheet};
use serde::Serialize;

/// Minutes since the start and thousandths of a degree: for drawing only.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Courses {
    pub unit: String,
    pub old: Drawn,
    pub new: Drawn,
}

#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Drawn {
    /// Each stretch: minute and value.
    pub lines: Vec<Vec<(i64, i64)>>,
    /// Each stretch: minute, lower and upper bound.
    pub bands: Vec<Vec<(i64, i64, i64)>>,
    /// Where each phase begins, and its name.
    pub phases: Vec<(i64, String)>,
    pub to: i64,
    pub low: i64,
    pub high: i64,
}

/// The blank sheet of a version; `None` where it has no plan.
pub(super) fn blank(protocol: &Protocol) -> Option<Document> {
    let case = Case::default();
    let plan = Plan::of(protocol, &case).ok()?;
    let options = sheet::Options {
        fingerprint: rules::fingerprint(protocol),
        ..sheet::Options::default()
    };
    sheet::build(protocol, &plan, &case, &options).ok()
}

/// `None` where either has no chart, both have the same, or one is in °C and one in °F.
pub(super) fn courses(old: &Version<'_>, new: &Version<'_>) -> Option<Courses> {
    let (before, after) = (blank(old.protocol)?, blank(new.protocol)?);
    let (a, b) = (chart(&before.blocks)?, chart(&after.blocks)?);
    // One scale cannot show degrees of both kinds.
    if a.unit != b.unit {
        return None;
    }
    let courses = Courses {
        unit: b.unit.clone(),
        old: drawn(a),
        new: drawn(b),
    };
    (courses.old != courses.new).then_some(courses)
}

fn chart(blocks: &[Block]) -> Option<&Chart> {
    blocks.iter().find_map(|block| match block {
        Block::Chart(chart) => Some(chart),
        Block::Keep(inner) => chart(inner),
        Block::Columns(columns) => columns.iter().find_map(|inner| chart(inner)),
        _ => None,
    })
}

fn drawn(chart: &Chart) -> Drawn {
    Drawn {
        lines: chart
            .courses
            .iter()
            .map(|course| {
                course
                    .points
                    .iter()
                    .map(|point| (point.minute, point.milli))
                    .collect()
            })
            .collect(),
        bands: chart
            .courses
            .iter()
            .map(|course| course.band.clone())
            .collect(),
        phases: chart
            .phases
            .iter()
            .map(|phase| (phase.minute, phase.name.clone()))
            .collect(),
        to: chart.to,
        low: chart.low,
        high: chart.high,
    }
}
