//! From the exact numbers of an audit to points that can be drawn.

use crate::audit::{Audit, Point, Spread, Unit, shown};
use crate::document::{CoursePoint, RunChart, text};
use crate::quantity::Exact;

/// The recorded course, piece by piece where the reading was unknown between.
pub fn records(course: &[Point]) -> Vec<Vec<CoursePoint>> {
    let mut pieces: Vec<Vec<CoursePoint>> = Vec::new();
    for point in course {
        let (Some(minute), Some(milli)) = (
            point.at.to_i64_floor(),
            (point.value * Exact::int(1000)).to_i64_floor(),
        ) else {
            continue;
        };
        if point.broken || pieces.is_empty() {
            pieces.push(Vec::new());
        }
        if let Some(last) = pieces.last_mut() {
            last.push(CoursePoint { minute, milli });
        }
    }
    pieces
}

/// One figure over the cases.
pub(super) fn runs(spread: &Spread, audits: &[Audit]) -> RunChart {
    // A drawing has hours and percent, where the numbers are minutes and parts of one.
    let (unit, scale) = match &spread.unit {
        Unit::Minutes => ("h".to_owned(), Exact::ratio(1, 60)),
        Unit::Share => ("%".to_owned(), Exact::int(100)),
        other => (other.name(), Exact::ONE),
    };
    let milli = |value: Exact| {
        (value * scale * Exact::int(1000) + Exact::ratio(1, 2))
            .to_i64_floor()
            .unwrap_or(0)
    };
    let title = text::inline(&spread.title).plain();
    let each: Vec<String> = audits
        .iter()
        .zip(&spread.values)
        .map(|(audit, value)| {
            let value = value.map_or_else(
                || "not known".to_owned(),
                |value| shown(value, &spread.unit),
            );
            format!("{}: {value}", audit.case)
        })
        .collect();
    let goal = spread.goal.as_ref().map_or_else(String::new, |goal| {
        format!(
            "Goal {}: met in {} of {}. ",
            goal.goal,
            goal.met,
            goal.met + goal.missed
        )
    });
    RunChart {
        summary: held_together(&format!(
            "{goal}Median {}, from {} to {}, over {} cases. {}.",
            spread.median,
            spread.lowest,
            spread.highest,
            spread.known,
            each.join("; ")
        )),
        title,
        unit,
        values: spread.values.iter().map(|value| value.map(milli)).collect(),
        median: milli(spread.middle),
        // The axis has the unit; hours and minutes are not to be read as decimal hours.
        median_words: match spread.unit {
            Unit::Minutes => spread.median.replace(' ', "\u{a0}"),
            _ => spread
                .median
                .split(' ')
                .next()
                .unwrap_or_default()
                .to_owned(),
        },
        goal: spread.goal.as_ref().and_then(|goal| goal.at).map(milli),
    }
}

/// A number is not parted from its unit at the end of a line.
pub(super) fn held_together(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut rest = text.chars().peekable();
    let mut before = ' ';
    while let Some(character) = rest.next() {
        let unit = rest.peek().is_some_and(|next| "%°×h".contains(*next));
        let parted = character == ' '
            && (unit
                && (before.is_ascii_digit() || before == 'C' || before == 'F' || before == '×'));
        out.push(if parted { '\u{a0}' } else { character });
        before = character;
    }
    out
}
