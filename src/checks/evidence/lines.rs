//! Upper lines of a temperature: where something begins to count as too warm.

use super::super::facts::during;
use super::super::words::name;
use crate::model::*;
use crate::quantity::Exact;
use crate::source::Span;

/// One upper line.
pub struct UpperLine {
    pub reading: ReadingId,
    pub phases: Vec<PhaseId>,
    /// As written.
    pub value: Exact,
    /// The first value that the display can show past the line: `above 37.7 °C`
    /// and `at or above 37.8 °C` are one line on a display of 0.1 °C.
    pub first_past: Exact,
    pub span: Span,
    pub has_source: bool,
    pub about: String,
    pub words: String,
}

pub fn upper_lines(protocol: &Protocol) -> Vec<UpperLine> {
    let mut found = Vec::new();
    for (id, phase) in protocol.phases() {
        if let Aim::Keep {
            reading,
            high: Some(high),
            ..
        } = &phase.aim
        {
            found.push(UpperLine {
                reading: reading.value,
                phases: vec![id],
                value: high.value,
                first_past: past(protocol, reading.value, Cmp::Above, high.value),
                span: high.span,
                has_source: !phase.aim_reason.sources.is_empty(),
                about: phase.name.name.clone(),
                words: format!("the range of {}", name(&phase.name)),
            });
        }
    }
    for limit in &protocol.limits {
        if limit.side == Side::Above {
            found.push(UpperLine {
                reading: limit.reading,
                phases: protocol.phases().map(|(id, _)| id).collect(),
                value: limit.level.value,
                first_past: past(protocol, limit.reading, Cmp::Above, limit.level.value),
                span: limit.span,
                has_source: !limit.reason.sources.is_empty(),
                about: protocol[limit.reading].name.name.clone(),
                words: format!("the limit on {}", name(&protocol[limit.reading].name)),
            });
        }
    }
    for (_, rule) in protocol.rules() {
        for test in rule.when.tests() {
            let (reading, cmp, level) = match &test.kind {
                TestKind::Compare {
                    reading,
                    cmp: cmp @ (Cmp::Above | Cmp::AtOrAbove),
                    level,
                } => (*reading, *cmp, level),
                TestKind::Outside { reading, high, .. } => (*reading, Cmp::Above, high),
                _ => continue,
            };
            found.push(UpperLine {
                reading,
                phases: during(protocol, &rule.during),
                value: level.value,
                first_past: past(protocol, reading, cmp, level.value),
                span: test.span,
                has_source: !rule.reason.sources.is_empty()
                    || rule
                        .then
                        .iter()
                        .any(|action| !action.reason.sources.is_empty()),
                about: rule.name.name.clone(),
                words: name(&rule.name),
            });
        }
    }
    found.retain(|line| protocol[line.reading].kind.is_body());
    found
}

fn past(protocol: &Protocol, reading: ReadingId, cmp: Cmp, value: Exact) -> Exact {
    let Some(grid) = protocol[reading].grid() else {
        return value;
    };
    let at = value.round_up_to(grid.step);
    if cmp.holds(at, value) {
        at
    } else {
        at + grid.step
    }
}
