//! The measures that every audit has, written as the language would write them, so that
//! the evaluator adds them up by the same definition (M35) as the protocol's own.

use crate::model::*;
use crate::quantity::{Change, Exact, Quantity, Written};
use crate::source::Span;

/// What a measure of time is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum About {
    /// Inside `within` of the target, or inside the range that is kept.
    InBand,
    /// Within 1 °C of the target.
    WithinOne,
    BelowBand,
    AboveBand,
}

/// One of them, at its place behind the protocol's own.
#[derive(Debug, Clone, Copy)]
pub struct BuiltIn {
    pub phase: PhaseId,
    pub about: About,
    pub index: usize,
}

/// The protocol with these measures behind its own, and which is which.
pub fn with_built_in(protocol: &Protocol) -> (Protocol, Vec<BuiltIn>) {
    let mut extended = protocol.clone();
    let mut list = Vec::new();
    for (id, phase) in protocol.phases() {
        for (about, cond) in conditions(phase) {
            list.push(BuiltIn {
                phase: id,
                about,
                index: extended.measures.len(),
            });
            extended.measures.push(Measure {
                name: phase.name.clone(),
                title: phase.title.clone(),
                what: MeasureWhat::Share(cond),
                during: vec![At::new(id, phase.span)],
                goal: None,
                span: phase.span,
            });
        }
    }
    (extended, list)
}

fn conditions(phase: &Phase) -> Vec<(About, Cond)> {
    let span = phase.span;
    let reading = phase.aim.reading();
    let test = |kind: TestKind| {
        Cond::Test(Test {
            kind,
            sustained: None,
            span,
        })
    };
    let compare = |cmp: Cmp, level: &crate::quantity::Level| {
        test(TestKind::Compare {
            reading,
            cmp,
            level: level.clone(),
        })
    };
    match &phase.aim {
        Aim::Hold { within, .. } => {
            let near = |within: Change| test(TestKind::NearTarget { reading, within });
            let off = |side: Side| {
                test(TestKind::OffTarget {
                    reading,
                    side,
                    by: within.clone(),
                })
            };
            vec![
                (About::InBand, near(within.clone())),
                (About::WithinOne, near(one_degree(span))),
                (About::BelowBand, off(Side::Below)),
                (About::AboveBand, off(Side::Above)),
            ]
        }
        Aim::Keep { low, high, .. } => {
            let mut inside = Vec::new();
            let mut found = Vec::new();
            if let Some(low) = low {
                inside.push(compare(Cmp::AtOrAbove, low));
                found.push((About::BelowBand, compare(Cmp::Below, low)));
            }
            if let Some(high) = high {
                inside.push(compare(Cmp::AtOrBelow, high));
                found.push((About::AboveBand, compare(Cmp::Above, high)));
            }
            found.insert(0, (About::InBand, Cond::All(inside)));
            found
        }
        // On a course the band goes with the moving target.
        Aim::Reach {
            within: Some(within),
            rate: Some(_),
            ..
        } => vec![(
            About::InBand,
            test(TestKind::NearTarget {
                reading,
                within: within.clone(),
            }),
        )],
        Aim::Reach { .. } => Vec::new(),
    }
}

fn one_degree(span: Span) -> Change {
    Quantity::new(
        Exact::ONE,
        Written {
            number: "1".to_owned(),
            unit: "°C",
        },
        span,
    )
}
