//! An order that moves the target to where no phase has it.

use super::super::facts::{self, Band};
use super::super::words::{celsius, name};
use super::super::{Check, Context, Family, Run};
use super::past_limit::{is_past_a_limit, moved_to};
use crate::diag::{Diagnostic, Level};
use crate::model::*;
use crate::quantity::{self, Exact};

pub const CHECK: Check = Check {
    name: "outside-aims",
    family: Family::Rules,
    level: Level::Warning,
    since: "0.1.0",
    summary: "an order moves the target beyond all that the phases aim at",
    catches: "A value that an order may set, raise or lower the target to, above or below everything that a phase of \
              the same reading aims at, its band included, and that a patient may have on arrival. What a `limit` \
              forbids is told as that.",
    why: "A digit that was mistyped (44 for 34) goes to the exchanger; no other line of the protocol knows such a patient.",
    fires: "\
rule still-warm {
  when core above 33.5 °C during hold
  then lower target by 0.2 °C, at least 32.2 °C
  again after 2 h
}
",
    passes: "\
rule still-warm {
  when core above 33.5 °C during hold
  then lower target by 0.2 °C, at least 32.5 °C
  again after 2 h
}
",
    source: "structural",
    run: Run::Over(run),
};

fn run(context: &Context) -> Vec<Diagnostic> {
    let protocol = context.protocol;
    let mut findings = Vec::new();
    for order in facts::orders(protocol) {
        let Some(value) = moved_to(&order.action.order) else {
            continue;
        };
        let readings = order.phases.iter().map(|id| protocol[*id].aim.reading());
        let outside = readings
            .filter(|reading| !is_past_a_limit(protocol, *reading, value))
            .map(|reading| known(protocol, reading))
            .find(|known| !holds(known, value.value));
        let Some(known) = outside else {
            continue;
        };
        let named = order.name;
        let who = named.map_or_else(|| "an order".to_owned(), name);
        let found = finding(value, &known, &who);
        findings.push(match named {
            Some(named) => found.about(&named.name),
            None => found,
        });
    }
    findings
}

fn holds(known: &Band, value: Exact) -> bool {
    known.low.is_none_or(|low| low <= value) && known.high.is_none_or(|high| value <= high)
}

/// The values of a reading that the protocol knows.
fn known(protocol: &Protocol, reading: ReadingId) -> Band {
    let aims = protocol.phases().map(|(_, phase)| &phase.aim);
    let mut lows = Vec::new();
    let mut highs = Vec::new();
    for aim in aims.filter(|aim| aim.reading() == reading) {
        let band = match aim {
            Aim::Reach { from, to, .. } => {
                let from = from.as_ref().unwrap_or(to).value;
                Band {
                    low: Some(from.min(to.value)),
                    high: Some(from.max(to.value)),
                }
            }
            Aim::Hold { .. } | Aim::Keep { .. } => facts::band_kept(aim),
        };
        lows.push(band.low);
        highs.push(band.high);
    }
    for (_, arrives) in protocol
        .head
        .patients
        .on_arrival
        .iter()
        .filter(|(of, _)| *of == reading)
    {
        lows.push(Some(arrives.low.value));
        highs.push(Some(arrives.high.value));
    }
    // One phase that is open at an end leaves all of it open.
    let all = |ends: Vec<Option<Exact>>| ends.into_iter().collect::<Option<Vec<Exact>>>();
    Band {
        low: all(lows).and_then(|lows| lows.into_iter().min()),
        high: all(highs).and_then(|highs| highs.into_iter().max()),
    }
}

fn finding(value: &quantity::Level, known: &Band, who: &str) -> Diagnostic {
    let is_low = known.low.is_some_and(|low| value.value < low);
    let (side, end) = if is_low {
        ("below", known.low)
    } else {
        ("above", known.high)
    };
    let end = end.map(celsius).unwrap_or_default();
    CHECK
        .found(
            value.span,
            format!("{who} may bring the target to {value}, {side} all that the phases aim at"),
        )
        .here(format!("no phase goes {side} {end}"))
        .why("a digit that was mistyped goes to the exchanger, and no other line knows such a patient")
        .help("correct the value, or accept the finding with the committee's reason")
}
