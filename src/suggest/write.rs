//! A record as a scenario, in the one style.

use super::{Record, Wanted, events};
use crate::eval::order_words::order_words_without_until;
use crate::eval::{Cause, Entry, EntryWhat, What, wording};
use crate::model::*;
use crate::quantity::Exact;
use std::fmt::Write as _;

pub(super) fn scenario(protocol: &Protocol, record: &Record, wanted: Wanted) -> String {
    let mut out = format!(
        "scenario \"Suggested: {}\" for {} {{\n",
        name(protocol, wanted).replace(['"', '`', '\\'], ""),
        protocol.name.name
    );
    let mut line = |text: String| {
        // Writing into a string does not fail.
        let _ = writeln!(out, "  {text}");
    };
    for (mark, at) in &record.marks {
        let side = if at.is_negative() { "before" } else { "after" };
        line(format!(
            "given {} {} {side} start",
            protocol[*mark].name.name,
            duration(at.abs())
        ));
    }
    for (times, text) in lines(protocol, &record.entries) {
        line(format!("{times} {text}"));
    }
    for expected in expected(protocol, record, wanted) {
        line(format!("expect {expected} at {}", wording::time(record.at)));
    }
    out.push_str("}\n");
    out
}

pub(super) fn name(protocol: &Protocol, wanted: Wanted) -> String {
    match wanted {
        Wanted::Phase(phase) => format!("phase `{}` begins", protocol[phase].name.name),
        Wanted::Rule(rule) => format!("rule `{}` fires", protocol[rule].name.name),
        Wanted::Rung(ladder, at) => {
            let stated = &protocol[ladder];
            let title = stated.rung_title(at).unwrap_or("");
            let what = match stated.form {
                LadderForm::Rungs(_) => "rung",
                LadderForm::Steps { .. } => "step",
            };
            format!("`{}`, {what} {}: {title}", stated.name.name, at + 1)
        }
    }
}

/// What shows it: the rule, the phase, or the orders that the rung gives. Free text is not
/// expected, since a word of it may change without any change of meaning.
fn expected(protocol: &Protocol, record: &Record, wanted: Wanted) -> Vec<String> {
    let events = events(protocol, record);
    match wanted {
        Wanted::Phase(phase) => vec![format!("phase {}", protocol[phase].name.name)],
        Wanted::Rule(rule) => vec![protocol[rule].name.name.clone()],
        Wanted::Rung(ladder, at) => {
            let mut orders: Vec<String> = events
                .iter()
                .filter(|event| event.at == record.at)
                .filter_map(|event| match &event.what {
                    What::OrderGiven { order, causes } => {
                        let own = causes.contains(&Cause::Rung(ladder, at))
                            || causes.contains(&Cause::Step(ladder, at));
                        let plain = !matches!(**order, Order::Do { .. } | Order::Continue);
                        (own && plain).then(|| order_words_without_until(protocol, order))
                    }
                    _ => None,
                })
                .collect();
            orders.dedup();
            if orders.is_empty() {
                let running = super::last_phase(&events);
                orders.extend(running.map(|phase| format!("phase {}", protocol[phase].name.name)));
            }
            orders
        }
    }
}

/// `at TIME` for one moment, `from … to … every …` for a run of the same.
fn lines(protocol: &Protocol, entries: &[Entry]) -> Vec<(String, String)> {
    let mut moments: Vec<(Exact, String)> = Vec::new();
    let mut sorted = entries.to_vec();
    sorted.sort_by_key(|entry| entry.at);
    for entry in &sorted {
        let text = match entry.what {
            EntryWhat::Record { reading, value } => format!(
                "{} {}",
                protocol[reading].name.name,
                wording::value(protocol, reading, value)
            ),
            EntryWhat::Mark(mark) => protocol[mark].name.name.clone(),
        };
        match moments.last_mut() {
            Some((at, all)) if *at == entry.at => {
                all.push_str(", ");
                all.push_str(&text);
            }
            _ => moments.push((entry.at, text)),
        }
    }
    let mut found = Vec::new();
    let mut begin = 0;
    while let Some((at, text)) = moments.get(begin) {
        let step = moments.get(begin + 1).map(|(next, _)| *next - *at);
        let same = moments
            .get(begin..)
            .unwrap_or_default()
            .windows(2)
            .take_while(|pair| match pair {
                [(before, old), (after, new)] => Some(*after - *before) == step && old == new,
                _ => false,
            })
            .count();
        match (same, step, moments.get(begin + same)) {
            (2.., Some(step), Some((last, _))) => {
                found.push((
                    format!(
                        "from {} to {} every {}",
                        wording::time(*at),
                        wording::time(*last),
                        duration(step)
                    ),
                    text.clone(),
                ));
                begin += same + 1;
            }
            _ => {
                found.push((format!("at {}", wording::time(*at)), text.clone()));
                begin += 1;
            }
        }
    }
    found
}

/// `2 h`, `90 min`, `30 s`.
fn duration(minutes: Exact) -> String {
    let hours = minutes / Exact::int(60);
    if hours.is_integer() && !hours.is_zero() {
        format!("{hours} h")
    } else if minutes.is_integer() {
        format!("{minutes} min")
    } else {
        format!("{} s", minutes * Exact::int(60))
    }
}
