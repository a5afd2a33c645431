//! One plain line for each event, for people who ask what a run has said.
//!
//! Takes an event and its protocol; gives words, with the protocol's own names in
//! backticks. Values are shown as their display shows them.

use super::condition::{Fact, Seen, Truth};
use super::entry::{EntryWhat, RefusedFor};
use super::event::{Asked, Cause, Event, NotDone, What};
use super::medications::{Given, NotGiven};
use super::order_words::order_words;
use super::phases::EndWhy;
use super::target::{Aimed, NoTarget};
use crate::model::{Protocol, ReadingId, ReadingKind};
use crate::quantity::{Exact, to_fahrenheit};

/// Minutes from `start` as `H:MM`, with seconds only where there are some.
pub fn time(minutes: Exact) -> String {
    let seconds = minutes.abs() * Exact::int(60);
    let Some(whole) = seconds.to_i64_floor() else {
        return "a time beyond every calendar".to_owned();
    };
    let sign = if minutes.is_negative() { "-" } else { "" };
    let (hours, minutes, rest) = (whole / 3600, whole / 60 % 60, whole % 60);
    let exact = if seconds.is_integer() { "" } else { "+" };
    if rest == 0 && exact.is_empty() {
        format!("{sign}{hours}:{minutes:02}")
    } else {
        format!("{sign}{hours}:{minutes:02}:{rest:02}{exact}")
    }
}

/// The unit in which a reading is shown; empty for a score, a choice, a pH.
pub fn unit(protocol: &Protocol, reading: ReadingId) -> &'static str {
    let about = &protocol[reading];
    let fahrenheit = about
        .shown_to
        .as_ref()
        .is_some_and(|step| step.written.unit.starts_with("°F"));
    match &about.kind {
        ReadingKind::Body(_) | ReadingKind::Medium(_) if fahrenheit => "°F",
        ReadingKind::Body(_) | ReadingKind::Medium(_) => "°C",
        ReadingKind::Amount { unit, .. } => unit.map_or("", |unit| unit.name),
        ReadingKind::Score { .. } | ReadingKind::Choice { .. } => "",
    }
}

/// A value of a reading as its display shows it, with the unit.
pub fn value(protocol: &Protocol, reading: ReadingId, value: Exact) -> String {
    let about = &protocol[reading];
    if let ReadingKind::Choice { words, .. } = &about.kind {
        let word = value
            .to_i64_floor()
            .and_then(|index| usize::try_from(index).ok())
            .and_then(|index| words.get(index));
        return word.map_or_else(|| value.to_string(), |word| word.name.clone());
    }
    let step = about.shown_to.as_ref().map(|step| &step.written);
    let unit = unit(protocol, reading);
    let shown = if unit == "°F" {
        to_fahrenheit(value)
    } else {
        value
    };
    let places = step
        .and_then(|step| step.number.split_once('.'))
        .and_then(|(_, after)| u32::try_from(after.len()).ok())
        .unwrap_or(0);
    let number = shown
        .to_decimal(places)
        .unwrap_or_else(|| shown.to_string());
    if unit.is_empty() {
        number
    } else {
        format!("{number} {unit}")
    }
}

/// What is aimed at, in the unit of the reading that is steered by.
pub fn aimed(protocol: &Protocol, aimed: Aimed) -> String {
    let shown = |at: Exact| match protocol.control_reading() {
        Some(reading) => value(protocol, reading, at),
        None => at.to_string(),
    };
    match aimed {
        Aimed::Nothing => "no target".to_owned(),
        Aimed::Value(at) => format!("target {}", shown(at)),
        Aimed::Range { low, high } => match (low, high) {
            (Some(low), Some(high)) => format!("range {} to {}", shown(low), shown(high)),
            (None, Some(high)) => format!("range up to {}", shown(high)),
            (Some(low), None) => format!("range from {} up", shown(low)),
            (None, None) => "no target".to_owned(),
        },
    }
}

/// Where an order comes from.
pub fn cause(protocol: &Protocol, cause: Cause) -> String {
    let title = |ladder, index| {
        let about: &crate::model::Ladder = &protocol[ladder];
        let title = about.rung_title(index).unwrap_or("").to_owned();
        (about.name.name.clone(), title)
    };
    match cause {
        Cause::Rule(rule) => format!("rule `{}`", protocol[rule].name.name),
        Cause::Rung(ladder, index) => {
            let (name, title) = title(ladder, index);
            format!("`{name}`, rung \"{title}\"")
        }
        Cause::Step(ladder, index) => {
            let (name, title) = title(ladder, index);
            format!("`{name}`, step \"{title}\"")
        }
        Cause::Look(_) => "the looks".to_owned(),
        Cause::Otherwise(medication) => {
            format!("`{}` cannot be given", protocol[medication].name.name)
        }
    }
}

/// What one test of a condition came to.
pub fn fact(protocol: &Protocol, fact: &Fact<'_>) -> String {
    let test = super::order_words::test_words(protocol, fact.test);
    let came = match fact.truth {
        Truth::Holds => "holds",
        Truth::Fails => "does not hold",
        Truth::Unknown => "is unknown",
    };
    let seen: Vec<String> = fact.seen.iter().map(|seen| look(protocol, seen)).collect();
    if seen.is_empty() {
        format!("`{test}` {came}")
    } else if fact.truth == Truth::Unknown {
        format!("`{test}` {came} (last {})", seen.join(", "))
    } else {
        format!("`{test}` {came} ({})", seen.join(", "))
    }
}

fn look(protocol: &Protocol, seen: &Seen) -> String {
    format!(
        "{}: {} {}",
        time(seen.at),
        protocol[seen.reading].name.name,
        value(protocol, seen.reading, seen.value)
    )
}

/// The whole line, without its time.
pub fn event(protocol: &Protocol, event: &Event<'_>) -> String {
    let causes = |causes: &[Cause]| {
        let all: Vec<String> = causes.iter().map(|each| cause(protocol, *each)).collect();
        all.join(" and ")
    };
    match &event.what {
        What::Recorded {
            reading,
            value: read,
        } => format!(
            "recorded: {} {}",
            protocol[*reading].name.name,
            value(protocol, *reading, *read)
        ),
        What::Refused(refusal) => {
            let what = match refusal.entry.what {
                EntryWhat::Record {
                    reading,
                    value: read,
                } if reading.index() < protocol.readings().count() => format!(
                    "{} {}",
                    protocol[reading].name.name,
                    value(protocol, reading, read)
                ),
                EntryWhat::Mark(mark) if mark.index() < protocol.marks().count() => {
                    protocol[mark].name.name.clone()
                }
                EntryWhat::Record { .. } | EntryWhat::Mark(_) => "an entry".to_owned(),
            };
            format!(
                "not counted: {what} at {}, {}",
                time(refusal.entry.at),
                refused(refusal.why)
            )
        }
        What::Marked(mark) => format!("mark: {}", protocol[*mark].name.name),
        What::LimitPassed { limit, value: read } => match protocol.limits.get(*limit) {
            Some(limit) => format!(
                "limit passed: {} {}",
                protocol[limit.reading].name.name,
                value(protocol, limit.reading, *read)
            ),
            None => "limit passed".to_owned(),
        },
        What::PhaseBegins { phase, by_order } => format!(
            "phase `{}` begins{}",
            protocol[*phase].name.name,
            if *by_order { " by order" } else { "" }
        ),
        What::PhaseEnds { phase, why } => format!(
            "phase `{}` ends: {}",
            protocol[*phase].name.name,
            ended(*why)
        ),
        What::PhaseOverdue(phase) => format!("phase `{}` is overdue", protocol[*phase].name.name),
        What::CaseEnds => "the case ends".to_owned(),
        What::Target(at) => aimed(protocol, *at),
        What::RuleFires { rule, because } => {
            let facts: Vec<String> = because
                .iter()
                .filter(|each| each.truth.holds())
                .map(|each| fact(protocol, each))
                .collect();
            format!(
                "rule `{}` fires: {}",
                protocol[*rule].name.name,
                facts.join("; ")
            )
        }
        What::RuleReady(rule) => format!("rule `{}` is ready again", protocol[*rule].name.name),
        What::RuleSilenced { rule, by } => format!(
            "rule `{}` is silent: `{}` overrides it",
            protocol[*rule].name.name, protocol[*by].name.name
        ),
        What::OrderGiven { order, causes: by } => {
            format!("order: {} ({})", order_words(protocol, order), causes(by))
        }
        What::OrderEnds(order) => format!("order over: {}", order_words(protocol, order)),
        What::OrderNotDone {
            order,
            causes: by,
            why,
        } => format!(
            "order not done: {} ({}): {}",
            order_words(protocol, order),
            causes(by),
            not_done(*why)
        ),
        What::Contradiction { orders } => {
            let all: Vec<String> = orders
                .iter()
                .map(|(order, by)| format!("{} ({})", order_words(protocol, order), causes(by)))
                .collect();
            format!("orders contradict, none is given: {}", all.join("; "))
        }
        What::RungChosen { ladder, rung } => format!(
            "ladder `{}`: rung \"{}\"",
            protocol[*ladder].name.name,
            protocol[*ladder].rung_title(*rung).unwrap_or("")
        ),
        What::StepDone { ladder, step } => format!(
            "ladder `{}`: step \"{}\"",
            protocol[*ladder].name.name,
            protocol[*ladder].rung_title(*step).unwrap_or("")
        ),
        What::NoRung {
            ladder,
            value: read,
        } => format!(
            "ladder `{}`: no rung has {}",
            protocol[*ladder].name.name,
            value(protocol, protocol[*ladder].reading.value, *read)
        ),
        What::LadderRests { ladder, goal_met } => format!(
            "ladder `{}` rests{}",
            protocol[*ladder].name.name,
            if *goal_met { ": its goal is met" } else { "" }
        ),
        What::RecheckDue { ladder } => {
            format!("ladder `{}`: recheck due", protocol[*ladder].name.name)
        }
        What::RecheckAnswered { ladder, due, late } => format!(
            "ladder `{}`: recheck of {} answered{}",
            protocol[*ladder].name.name,
            time(*due),
            if *late { " late" } else { "" }
        ),
        What::EntryDue(asked) => format!("asked: {}", entry(protocol, asked)),
        What::EntryMade { asked, late } => format!(
            "made{}: {}",
            if *late { " late" } else { "" },
            entry(protocol, asked)
        ),
        What::ChecklistDue(list) => format!("checklist due: {}", protocol[*list].name.name),
        What::EntryMissed(asked) => format!("missed: {}", entry(protocol, asked)),
        What::Medication { medication, given } => {
            let name = &protocol[*medication].name.name;
            match given {
                Given::Dose(Some(amount)) => {
                    format!("`{name}`: dose {}", dose(protocol, *medication, *amount))
                }
                Given::Dose(None) => format!("`{name}`: given"),
                Given::Rate(rate) => format!(
                    "`{name}`: runs at {}",
                    rate_words(protocol, *medication, *rate)
                ),
                Given::RunsAlready => format!("`{name}`: runs already"),
                Given::Stopped => format!("`{name}`: stopped"),
                Given::RanOut => format!("`{name}`: its longest time is over"),
            }
        }
        What::NotGiven { medication, why } => format!(
            "`{}` not given: {}",
            protocol[*medication].name.name,
            not_given(protocol, *medication, *why)
        ),
        What::Call(call) => {
            let mut words = format!(
                "call `{}` by {}",
                protocol[call.role].name.name,
                time(call.by)
            );
            for (at, role) in &call.no_reply {
                words.push_str(&format!(
                    ", no reply by {} then `{}`",
                    time(*at),
                    protocol[*role].name.name
                ));
            }
            words
        }
    }
}

fn entry(protocol: &Protocol, asked: &Asked) -> String {
    format!(
        "{} {} at {}",
        asked.way.word(),
        protocol[asked.reading].name.name,
        time(asked.due)
    )
}

pub fn refused(why: RefusedFor) -> &'static str {
    match why {
        RefusedFor::Unknown => "the protocol has no such reading or mark",
        RefusedFor::OutOfRange => "outside what can be read",
        RefusedFor::OffStep => "between two steps of the display",
        RefusedFor::OutOfOrder => "earlier than an entry before it",
        RefusedFor::BeforeStart => "before the start",
        RefusedFor::AfterEnd => "after the end of the case",
        RefusedFor::TooLate => "more than a year after the start",
    }
}

fn ended(why: EndWhy) -> &'static str {
    match why {
        EndWhy::Arrived => "arrived",
        EndWhy::Time => "its time is over",
        EndWhy::Mark => "its mark was made",
        EndWhy::Condition => "its condition holds",
        EndWhy::AtMost => "its longest time is over",
        EndWhy::Order => "by order",
    }
}

fn not_done(why: NotDone) -> &'static str {
    match why {
        NotDone::Target(NoTarget::NoneHere) => "there is no target in this phase",
        NotDone::Target(NoTarget::NotBegun) => "the course has not begun",
        NotDone::Target(NoTarget::NoRate) => "the target does not move in this phase",
        NotDone::RunsAlready => "that phase runs already",
        NotDone::GoingRound => "the phases lead round in a ring at this moment",
    }
}

fn not_given(protocol: &Protocol, id: crate::model::MedicationId, why: NotGiven) -> String {
    match why {
        NotGiven::Withheld => "withheld".to_owned(),
        NotGiven::TooSoon(next) => format!("too soon, not before {}", time(next)),
        NotGiven::TopRate => "at its top rate".to_owned(),
        NotGiven::LowestRate => "at its lowest rate".to_owned(),
        NotGiven::NotRunning => "it does not run".to_owned(),
        NotGiven::LongestTime => "it has run for its longest time".to_owned(),
        NotGiven::Alone => "none that it goes only with is running".to_owned(),
        NotGiven::PastCeiling(total) => {
            let unit = protocol[id]
                .ceiling
                .as_ref()
                .map_or("", |ceiling| base_unit(ceiling.dose.base));
            format!("it would come to {total} {unit}, at or past the ceiling")
        }
        NotGiven::NoDose => "no dose can be worked out for this patient".to_owned(),
    }
}

fn dose(protocol: &Protocol, id: crate::model::MedicationId, amount: Exact) -> String {
    let unit = protocol[id]
        .doses
        .first()
        .map_or("", |line| base_unit(line.dose.base));
    format!("{amount} {unit}")
}

fn rate_words(protocol: &Protocol, id: crate::model::MedicationId, rate: Exact) -> String {
    match &protocol[id].infusion {
        Some(line) => format!(
            "{rate} {}{}/h",
            base_unit(line.first.base),
            if line.first.per_kg { "/kg" } else { "" }
        ),
        None => rate.to_string(),
    }
}

fn base_unit(base: crate::quantity::Base) -> &'static str {
    use crate::quantity::Base;
    match base {
        Base::Mass => "mg",
        Base::Moles => "mmol",
        Base::Volume => "mL",
        Base::Units => "units",
        Base::None => "",
    }
}
