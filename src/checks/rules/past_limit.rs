//! An aim or an order beyond the protocol's own `limit` (M34).

use super::super::facts::{self, Origin};
use super::super::words::name;
use super::super::{Check, Context, Family, Run};
use crate::diag::{Diagnostic, Level};
use crate::model::*;
use crate::quantity;

pub const CHECK: Check = Check {
    name: "past-limit",
    family: Family::Rules,
    level: Level::Error,
    since: "0.1.0",
    summary: "an aim or an order goes past the protocol's own limit",
    catches: "A value that a phase aims at, or that an order may set, raise or lower the target to, beyond a `limit` \
              of the same reading. The limit itself is allowed.",
    why: "The sheet forbids a value and orders it, and whoever holds it has to choose.",
    fires: "\
limit core never below 32.5 °C
rule still-warm {
  when core above 33.5 °C during hold
  then lower target by 0.5 °C, at least 32.0 °C
  again after 2 h
}
",
    passes: "\
limit core never below 32.5 °C
rule still-warm {
  when core above 33.5 °C during hold
  then lower target by 0.5 °C, at least 32.5 °C
  again after 2 h
}
",
    source: "structural",
    run: Run::Over(run),
};

fn run(context: &Context) -> Vec<Diagnostic> {
    let protocol = context.protocol;
    let mut findings = Vec::new();
    for limit in &protocol.limits {
        for (_, phase) in protocol.phases() {
            if phase.aim.reading() != limit.reading {
                continue;
            }
            let aimed = match &phase.aim {
                Aim::Reach { to, .. } => vec![to],
                Aim::Hold { at, .. } => vec![at],
                Aim::Keep { low, high, .. } => low.iter().chain(high).collect(),
            };
            for value in aimed.into_iter().filter(|value| is_past(limit, value)) {
                let who = format!("{} aims at {value}", name(&phase.name));
                findings.push(finding(context, limit, value, &who).about(&phase.name.name));
            }
        }
        for order in facts::orders(protocol) {
            let here = order
                .phases
                .iter()
                .any(|phase| protocol[*phase].aim.reading() == limit.reading);
            let Some(value) = moved_to(&order.action.order) else {
                continue;
            };
            if !here || !is_past(limit, value) {
                continue;
            }
            let mut found = finding(
                context,
                limit,
                value,
                &format!("an order may bring the target to {value}"),
            );
            if let (Origin::Rule(_) | Origin::Ladder(..), Some(named)) = (order.origin, order.name)
            {
                let who = format!("{} may bring the target to {value}", name(named));
                found = finding(context, limit, value, &who).about(&named.name);
            }
            findings.push(found);
        }
    }
    findings
}

/// The furthest value to which an order may move the target.
pub(super) fn moved_to(order: &Order) -> Option<&quantity::Level> {
    match order {
        Order::SetTarget(to) => Some(to),
        Order::RaiseTarget { at_most, .. } => Some(at_most),
        Order::LowerTarget { at_least, .. } => Some(at_least),
        _ => None,
    }
}

/// Whether the value lies beyond a limit of the reading.
pub(super) fn is_past_a_limit(
    protocol: &Protocol,
    reading: ReadingId,
    value: &quantity::Level,
) -> bool {
    let mut limits = protocol.limits.iter();
    limits.any(|limit| limit.reading == reading && is_past(limit, value))
}

fn is_past(limit: &Limit, value: &quantity::Level) -> bool {
    match limit.side {
        Side::Below => value.value < limit.level.value,
        Side::Above => value.value > limit.level.value,
    }
}

fn finding(context: &Context, limit: &Limit, value: &quantity::Level, who: &str) -> Diagnostic {
    let side = match limit.side {
        Side::Below => "below",
        Side::Above => "above",
    };
    let reading = &context.protocol[limit.reading].name;
    CHECK
        .found(
            value.span,
            format!("{who}, past the limit of {}", name(reading)),
        )
        .here(format!("{side} {}", limit.level))
        .also(limit.span, "the protocol's own limit")
        .why("the sheet forbids a value and orders it, and whoever holds it has to choose")
        .help(format!(
            "write {} or {}, or let the committee change the limit",
            limit.level,
            match limit.side {
                Side::Below => "more",
                Side::Above => "less",
            }
        ))
}
