//! The goal of a measure: a bound of the kind that the measure comes to.

use super::values::Raw;
use super::*;
use crate::quantity::{Change, Dimension, Duration, Exact, Share};

/// How a goal of each measure is written.
const SHARE: &str = "a share is judged in percent: `goal at least 95 %`";
const LENGTH: &str = "a length is judged as a time: `goal at most 30 min`";

impl<'t> Lowerer<'t> {
    pub(super) fn measure_goal(
        &mut self,
        node: &Node<'t>,
        what: &MeasureWhat,
    ) -> Option<MeasureGoal> {
        let bound = match node.find(R::goal_side)?.text() {
            "most" => Bound::AtMost,
            _ => Bound::AtLeast,
        };
        let raw = self.raw(&node.find(R::value)?, "a goal")?;
        let hours = node.find(R::times_hours);
        let value = match what {
            MeasureWhat::Share(_) => GoalValue::Share(self.share(&raw, hours.as_ref())?),
            MeasureWhat::Length(_) => GoalValue::Length(self.length(&raw, hours.as_ref())?),
            MeasureWhat::Area { reading, .. } => {
                GoalValue::Area(*reading, self.area(&raw, hours.as_ref(), *reading)?)
            }
        };
        let always = match (&value, bound) {
            (GoalValue::Share(most), Bound::AtMost) => most.value >= Exact::int(100),
            (_, Bound::AtMost) => false,
            (_, Bound::AtLeast) => raw.value.is_zero(),
        };
        if always {
            self.error(
                Diagnostic::error(
                    "idle-goal",
                    node.span(),
                    format!("every case meets `goal {} {}`", bound.word(), raw.shown()),
                )
                .why("an audit would report a goal that nobody can miss")
                .help("write what the unit means to reach, or take the goal away")
                .source("structural"),
            );
            return None;
        }
        Some(MeasureGoal {
            bound,
            value,
            span: node.span(),
        })
    }

    fn share(&mut self, raw: &Raw, hours: Option<&Node<'t>>) -> Option<Share> {
        if raw.written.unit != "%" || hours.is_some() {
            self.mismatch(raw, "a share in percent", SHARE);
            return None;
        }
        if raw.value > Exact::int(100) {
            self.error(
                Diagnostic::error(
                    "off-scale",
                    raw.span,
                    format!("no share is `{}`", raw.shown()),
                )
                .here("all of the time is 100 %")
                .why("a goal that no case can reach, or none can miss, says nothing")
                .help("write a share from 0 % to 100 %")
                .source("structural"),
            );
            return None;
        }
        Some(Share::new(raw.value, raw.written.clone(), raw.span))
    }

    fn length(&mut self, raw: &Raw, hours: Option<&Node<'t>>) -> Option<Duration> {
        let is_time = raw.dimension() == Some(Dimension::Time)
            && !matches!(raw.written.unit, "month" | "months" | "year" | "years");
        if !is_time || hours.is_some() {
            self.mismatch(raw, "a length of time", LENGTH);
            return None;
        }
        Some(Duration::new(raw.scaled(), raw.written.clone(), raw.span))
    }

    /// Degrees times hours: `2.0 °C h`. Of a score, which has no unit, `6 h`.
    fn area(&mut self, raw: &Raw, hours: Option<&Node<'t>>, reading: ReadingId) -> Option<Change> {
        let (kind, title) = self.reading_kind(reading)?;
        let (unit, fits) = match &kind {
            ReadingKind::Body(_) | ReadingKind::Medium(_) => {
                ("°C", raw.dimension() == Some(Dimension::Temperature))
            }
            ReadingKind::Amount {
                unit: Some(unit), ..
            } => (unit.name, raw.unit == Some(*unit)),
            // The only unit there is the hour, and it stands with the number.
            ReadingKind::Amount { unit: None, .. }
            | ReadingKind::Score { .. }
            | ReadingKind::Choice { .. } => ("", raw.written.unit == "h"),
        };
        if !fits || hours.is_none() != unit.is_empty() {
            let (wanted, help) = if unit.is_empty() {
                (
                    format!("an area of `{title}`, which is times hours,"),
                    "an area is the value beyond the level times hours: `goal at most 6 h`"
                        .to_owned(),
                )
            } else {
                (
                    format!("an area of `{title}`, in {unit} times hours,"),
                    format!(
                        "an area is {unit} beyond the level times hours: `goal at most 2.0 {unit} h`"
                    ),
                )
            };
            self.mismatch(raw, &wanted, &help);
            return None;
        }
        let mut written = raw.written.clone();
        if unit.is_empty() {
            written.unit = "";
            return Some(Change::new(raw.value, written, raw.span));
        }
        Some(Change::new(raw.scaled(), written, raw.span))
    }
}

impl std::fmt::Display for MeasureGoal {
    /// As it stands in the protocol, behind `goal`.
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let word = self.bound.word();
        match &self.value {
            GoalValue::Share(share) => write!(out, "{word} {share}"),
            GoalValue::Length(length) => write!(out, "{word} {length}"),
            GoalValue::Area(_, area) => write!(out, "{word} {area}\u{a0}h"),
        }
    }
}
