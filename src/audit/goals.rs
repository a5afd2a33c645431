//! The protocol's own measures, and what they and its times are meant to come to.

use super::figure::{Figure, Part, Unit};
use super::figures::shown_change;
use super::tally::Tally;
use crate::eval::{Measured, order_words, wording};
use crate::model::*;
use crate::quantity::Exact;

/// `due within` is the goal of a time to target, and missed as soon as the phase is
/// overdue (M24), whether it arrives later or not.
pub(super) fn due(tally: &Tally<'_>, id: PhaseId, phase: &Phase, mut figure: Figure) -> Figure {
    let Some(due) = &phase.due else {
        return figure;
    };
    let seen = tally.phases.get(id.index());
    let within = &due.within;
    match &due.of {
        None => {
            figure.goal = Some(format!("within {within}"));
            figure.goal_at = Some(within.value);
        }
        Some(mark) => {
            let mark = order_words::mark_words(tally.protocol, mark.value);
            figure.goal = Some(format!("within {within} of {mark}"));
        }
    }
    figure.goal_met = match seen {
        Some(seen) if seen.overdue => Some(false),
        Some(seen) if seen.arrived.is_some() => Some(true),
        _ => None,
    };
    if figure.value.is_none() && figure.goal_met == Some(false) {
        figure.shown = "not reached in time".to_owned();
    }
    figure
}

pub(super) fn measure(
    tally: &Tally<'_>,
    measure: &Measure,
    sum: &Measured,
    found: &mut Vec<Figure>,
) {
    let (value, unit) = match &measure.what {
        MeasureWhat::Share(_) => (sum.share(), Unit::Share),
        MeasureWhat::Length(_) => (Some(sum.held), Unit::Minutes),
        MeasureWhat::Area { reading, .. } => {
            let unit = wording::unit(tally.protocol, *reading);
            (Some(shown_change(sum.area, &unit)), Unit::Area(unit))
        }
    };
    let name = &measure.name.name;
    let title = measure.title.markdown.clone();
    let figure = Figure::new(
        Part::Measures,
        format!("measure.{name}"),
        title,
        value.filter(|_| sum.known > Exact::ZERO),
        unit.clone(),
    );
    found.push(match &measure.goal {
        Some(goal) => {
            let (at, words) = goal_of(goal, &unit);
            figure.judged(goal.bound, at, words)
        }
        None => figure,
    });
    found.push(Figure::new(
        Part::Measures,
        format!("measure.{name}.known"),
        format!("`{name}`: known for"),
        Some(sum.known),
        Unit::Minutes,
    ));
    found.push(Figure::new(
        Part::Measures,
        format!("measure.{name}.unknown"),
        format!("`{name}`: not known for"),
        Some(sum.unknown),
        Unit::Minutes,
    ));
}

/// In the unit of the figure, and as the report writes it.
fn goal_of(goal: &MeasureGoal, unit: &Unit) -> (Exact, String) {
    let word = goal.bound.word();
    match (&goal.value, unit) {
        (GoalValue::Share(share), _) => (share.value / Exact::int(100), format!("{word} {share}")),
        (GoalValue::Length(length), _) => (length.value, format!("{word} {length}")),
        (GoalValue::Area(_, area), Unit::Area(of)) => {
            (shown_change(area.value, of), format!("{word} {area} × h"))
        }
        (GoalValue::Area(_, area), _) => (area.value, format!("{word} {area} × h")),
    }
}
