//! Orders and conditions in the words of the language, for what a run says.

use crate::model::{
    Cond, MoreLess, Order, Protocol, ReadingKind, Side, Test, TestKind, TrendWay, Until,
};

/// As it is expected of a scenario (M36).
pub fn order_words_without_until(protocol: &Protocol, order: &Order) -> String {
    match order {
        Order::KeepTarget(_) => "keep target here".to_owned(),
        Order::Pause(_) => "pause temperature control".to_owned(),
        Order::Withhold { medication, .. } => {
            format!("withhold {}", protocol[medication.value].name.name)
        }
        _ => order_words(protocol, order),
    }
}

pub fn order_words(protocol: &Protocol, order: &Order) -> String {
    match order {
        Order::Ask {
            way,
            readings,
            after,
        } => {
            let names: Vec<&str> = readings
                .iter()
                .map(|reading| protocol[reading.value].name.name.as_str())
                .collect();
            let when = after
                .as_ref()
                .map_or_else(|| "now".to_owned(), |after| format!("in {after}"));
            format!("{} {} {when}", way.word(), names.join(", "))
        }
        Order::FollowLadder(ladder) => format!("follow {}", protocol[ladder.value].name.name),
        Order::FollowChecklist(list) => format!("follow {}", protocol[list.value].name.name),
        Order::Call { role, within } => {
            let when = within
                .as_ref()
                .map_or_else(|| "now".to_owned(), |within| format!("within {within}"));
            format!("call {} {when}", protocol[role.value].name.name)
        }
        Order::Do { text, .. } => format!("do \"{}\"", text.markdown.trim()),
        Order::Continue => "continue".to_owned(),
        Order::Begin(phase) => format!("begin {}", protocol[phase.value].name.name),
        Order::SetTarget(value) => format!("set target {value}"),
        Order::RaiseTarget { by, at_most } => {
            format!("raise target by {by}, at most {at_most}")
        }
        Order::LowerTarget { by, at_least } => {
            format!("lower target by {by}, at least {at_least}")
        }
        Order::KeepTarget(until) => format!("keep target here {}", until_words(protocol, until)),
        Order::SetRate(rate) => format!("set rate {rate}"),
        Order::Pause(until) => {
            format!("pause temperature control {}", until_words(protocol, until))
        }
        Order::Stop => "stop temperature control".to_owned(),
        Order::Give { medication, .. } => format!("give {}", protocol[medication.value].name.name),
        Order::RaiseRate { medication, .. } => {
            format!("raise {}", protocol[medication.value].name.name)
        }
        Order::LowerRate { medication, .. } => {
            format!("lower {}", protocol[medication.value].name.name)
        }
        Order::Withhold { medication, until } => format!(
            "withhold {} {}",
            protocol[medication.value].name.name,
            until_words(protocol, until)
        ),
        Order::StopMedication(medication) => {
            format!("stop {}", protocol[medication.value].name.name)
        }
    }
    .replace('\u{a0}', " ")
}

fn until_words(protocol: &Protocol, until: &Until) -> String {
    match until {
        Until::When(cond) => format!("until {}", cond_words(protocol, cond)),
        Until::Mark(mark) => format!("until {}", mark_words(protocol, mark.value)),
        Until::For(duration) => format!("for {duration}"),
    }
}

pub fn mark_words(protocol: &Protocol, mark: crate::model::MarkRef) -> String {
    use crate::model::MarkRef;
    match mark {
        MarkRef::Start => "start".to_owned(),
        MarkRef::PhaseStart(phase) => format!("{}.start", protocol[phase].name.name),
        MarkRef::PhaseEnd(phase) => format!("{}.end", protocol[phase].name.name),
        MarkRef::Named(mark) => protocol[mark].name.name.clone(),
    }
}

pub fn cond_words(protocol: &Protocol, cond: &Cond) -> String {
    let join = |parts: &[Cond], word: &str| {
        let parts: Vec<String> = parts
            .iter()
            .map(|part| match part {
                Cond::Test(test) => test_words(protocol, test),
                Cond::All(_) | Cond::Any(_) => format!("({})", cond_words(protocol, part)),
            })
            .collect();
        parts.join(word)
    };
    match cond {
        Cond::Test(test) => test_words(protocol, test),
        Cond::All(parts) => join(parts, " and "),
        Cond::Any(parts) => join(parts, " or "),
    }
}

pub fn test_words(protocol: &Protocol, test: &Test) -> String {
    let name = |reading: crate::model::ReadingId| protocol[reading].name.name.as_str();
    let amount = |cmp: &MoreLess| match cmp {
        MoreLess::More => "more",
        MoreLess::Less => "less",
    };
    let mut words = match &test.kind {
        TestKind::Compare {
            reading,
            cmp,
            level,
        } => format!("{} {} {level}", name(*reading), cmp.words()),
        TestKind::Outside { reading, low, high } => {
            format!("{} outside {low} to {high}", name(*reading))
        }
        TestKind::Is { reading, word } => {
            let word = match &protocol[*reading].kind {
                ReadingKind::Choice { words, .. } => {
                    words.get(*word).map_or("", |word| word.name.as_str())
                }
                ReadingKind::Body(_)
                | ReadingKind::Medium(_)
                | ReadingKind::Score { .. }
                | ReadingKind::Amount { .. } => "",
            };
            format!("{} is {word}", name(*reading))
        }
        TestKind::OffTarget { reading, side, by } => {
            let side = match side {
                Side::Above => "above",
                Side::Below => "below",
            };
            format!("{} {side} target by more than {by}", name(*reading))
        }
        TestKind::NearTarget { reading, within } => {
            format!("{} within {within} of target", name(*reading))
        }
        TestKind::Differ {
            first,
            second,
            cmp,
            by,
        } => format!(
            "{} and {} differ by {} than {by}",
            name(*first),
            name(*second),
            amount(cmp)
        ),
        TestKind::Trend {
            reading,
            way,
            cmp,
            by,
            over,
        } => {
            let way = match way {
                TrendWay::Rises => "rises",
                TrendWay::Falls => "falls",
            };
            format!(
                "{} {way} {} than {by} in {over}",
                name(*reading),
                amount(cmp)
            )
        }
        TestKind::NotRecorded { reading, over } => {
            format!("{} not recorded for {over}", name(*reading))
        }
        TestKind::LastsLonger { phase, than } => {
            format!("{} lasts longer than {than}", protocol[*phase].name.name)
        }
        TestKind::Overdue { phase } => format!("{} is overdue", protocol[*phase].name.name),
        TestKind::PausedLonger { than } => format!("paused longer than {than}"),
    };
    if let Some(duration) = &test.sustained {
        words.push_str(&format!(" for {duration}"));
    }
    words.replace('\u{a0}', " ")
}
