//! What decided on a phase, a target or a rung, where no rule did.

use super::trial::Ran;
use crate::eval::{Event, What, wording};
use crate::model::{End, LadderForm, LadderId, Order, Phase, PhaseId, Protocol};
use crate::quantity::Exact;
use crate::words::Words;

/// The events up to a time, the latest first.
fn back<'r, 'p>(ran: &'r Ran<'p>, at: Exact) -> impl Iterator<Item = &'r Event<'p>> {
    ran.events.iter().rev().filter(move |event| event.at <= at)
}

/// `phase hold, since 3:00: hold core at 33.0 °C ± 0.5 °C; lasts 24 h`
pub(super) fn phase(protocol: &Protocol, id: PhaseId, at: Exact, ran: &Ran<'_>) -> String {
    let phase = &protocol[id];
    let words = Words::of(protocol);
    let since = back(ran, at).find_map(|event| match &event.what {
        What::PhaseBegins { phase, by_order } if *phase == id => Some((event.at, *by_order)),
        _ => None,
    });
    let until = match (&phase.end, since) {
        (End::Lasts(length), Some((since, _))) => {
            format!(", until {}", wording::time(since + length.value))
        }
        _ => String::new(),
    };
    let since = since.map_or_else(String::new, |(since, by_order)| {
        let order = if by_order { " by order" } else { "" };
        format!(", since {}{order}", wording::time(since))
    });
    let mut said = format!(
        "phase `{}`{since}: {}; {}{until}",
        phase.name.name,
        plain(&words.aim(phase)),
        plain(&words.end(phase, id))
    );
    if matches!(phase.end, End::Reached) {
        said.push_str(&format!(", {}", latest(protocol, phase, at, ran)));
    }
    said
}

/// The record by which a phase that ends by arriving has not arrived.
fn latest(protocol: &Protocol, phase: &Phase, at: Exact, ran: &Ran<'_>) -> String {
    let reading = phase.aim.reading();
    let name = &protocol[reading].name.name;
    let found = back(ran, at).find_map(|event| match &event.what {
        What::Recorded { reading: it, value } if *it == reading => Some((event.at, *value)),
        _ => None,
    });
    match found {
        Some((at, value)) => format!(
            "latest {}: {name} {}",
            wording::time(at),
            wording::value(protocol, reading, value)
        ),
        None => format!("no {name} is recorded"),
    }
}

/// The orders that last moved the target in this phase; the phase alone where none did.
pub(super) fn target_orders(
    protocol: &Protocol,
    at: Exact,
    ran: &Ran<'_>,
    counts: impl Fn(&Order) -> bool,
) -> Vec<String> {
    let since = back(ran, at)
        .find(|event| matches!(event.what, What::PhaseBegins { .. }))
        .map_or(Exact::ZERO, |event| event.at);
    let mut given: Vec<String> = back(ran, at)
        .take_while(|event| event.at >= since)
        .filter(|event| matches!(&event.what, What::OrderGiven { order, .. } if counts(order)))
        .map(|event| {
            format!(
                "{} {}",
                wording::time(event.at),
                wording::event(protocol, event)
            )
        })
        .collect();
    given.reverse();
    given
}

/// On which rung a ladder gives an order, and which it has come to.
pub(super) fn ladder(
    protocol: &Protocol,
    id: LadderId,
    gives: impl Fn(&[crate::model::Action]) -> bool,
    at: Exact,
    ran: &Ran<'_>,
) -> String {
    let ladder = &protocol[id];
    let titles: Vec<String> = match &ladder.form {
        LadderForm::Rungs(rungs) => rungs
            .iter()
            .filter(|rung| gives(&rung.actions))
            .map(|rung| format!("rung \"{}\"", rung.title.markdown))
            .collect(),
        LadderForm::Steps { steps, .. } => steps
            .iter()
            .filter(|step| gives(&step.actions))
            .map(|step| format!("step \"{}\"", step.title.markdown))
            .collect(),
    };
    let came = back(ran, at).find_map(|event| match &event.what {
        What::RungChosen { ladder, rung } if *ladder == id => Some((event.at, "rung", *rung)),
        What::StepDone { ladder, step } if *ladder == id => Some((event.at, "step", *step)),
        _ => None,
    });
    let came = match came {
        Some((at, what, index)) => format!(
            "its latest is {what} \"{}\" at {}",
            ladder.rung_title(index).unwrap_or(""),
            wording::time(at)
        ),
        None => "it has come to none".to_owned(),
    };
    format!(
        "ladder `{}` orders it on {}; {came}",
        ladder.name.name,
        titles.join(" and ")
    )
}

/// Without the marks that set off a word on paper.
fn plain(text: &str) -> String {
    text.replace("**", "").replace('\u{a0}', " ")
}
