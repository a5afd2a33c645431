//! Numbers and lists as a sentence has them.

use crate::model::{AskWay, Named, PhaseId, Protocol, Reading, ReadingKind};
use crate::quantity::Exact;

/// Between a number and its unit.
const SPACE: &str = "\u{a0}";

/// Minutes as a person says them: `2 h 15 min`, `45 s`, `3 days` as `72 h`.
pub fn time(minutes: Exact) -> String {
    if minutes.is_negative() {
        return format!("-{}", time(-minutes));
    }
    let hours = (minutes / Exact::int(60)).floor();
    let rest = minutes - hours * Exact::int(60);
    let whole = rest.floor();
    let seconds = (rest - whole) * Exact::int(60);
    let mut parts = Vec::new();
    if hours > Exact::ZERO {
        parts.push(format!("{hours}{SPACE}h"));
    }
    if whole > Exact::ZERO {
        parts.push(format!("{whole}{SPACE}min"));
    }
    if seconds > Exact::ZERO {
        // Less than a second is nobody's business at a bedside.
        let shown = seconds.ceil();
        parts.push(format!("{shown}{SPACE}s"));
    }
    if parts.is_empty() {
        return format!("0{SPACE}min");
    }
    parts.join(" ")
}

/// A temperature with one decimal at least: `36.0 °C`, `33.25 °C`, `101/3 °C`.
pub fn celsius(value: Exact) -> String {
    format!("{}{SPACE}°C", decimal(value))
}

/// A rate: `0.5 °C/h`, `1/3 °C/h`.
pub fn per_hour(value: Exact) -> String {
    format!("{value}{SPACE}°C/h")
}

fn decimal(value: Exact) -> String {
    value.to_decimal(1).unwrap_or_else(|| value.to_string())
}

/// A value of that reading in its own unit.
pub fn value(reading: &Reading, value: Exact) -> String {
    match &reading.kind {
        ReadingKind::Body(_) | ReadingKind::Medium(_) => celsius(value),
        ReadingKind::Score { .. } => value.to_string(),
        ReadingKind::Amount { unit, .. } => match unit {
            Some(unit) => format!("{}{SPACE}{}", in_steps(reading, value), unit.name),
            None => in_steps(reading, value),
        },
        ReadingKind::Choice { words, .. } => value
            .to_i64_floor()
            .and_then(|index| usize::try_from(index).ok())
            .and_then(|index| words.get(index))
            .map_or_else(|| value.to_string(), |word| word.name.clone()),
    }
}

/// With as many decimals as the display has.
fn in_steps(reading: &Reading, value: Exact) -> String {
    let places = reading
        .shown_to
        .as_ref()
        .and_then(|step| step.written.number.split_once('.'))
        .map_or(0, |(_, digits)| digits.len());
    u32::try_from(places)
        .ok()
        .and_then(|places| value.to_decimal(places))
        .unwrap_or_else(|| value.to_string())
}

/// `a`, `a and b`, `a, b and c`.
pub fn list<S: AsRef<str>>(items: &[S]) -> String {
    match items {
        [] => String::new(),
        [only] => only.as_ref().to_owned(),
        [first @ .., last] => {
            let first: Vec<&str> = first.iter().map(AsRef::as_ref).collect();
            format!("{} and {}", first.join(", "), last.as_ref())
        }
    }
}

/// In backticks, as the author's own words are shown.
pub fn name(named: &Named) -> String {
    format!("`{}`", named.name)
}

/// The names of phases: `cool` and `hold`.
pub fn phases(protocol: &Protocol, ids: &[PhaseId]) -> String {
    let names: Vec<String> = ids.iter().map(|id| name(&protocol[*id].name)).collect();
    list(&names)
}

/// The names of phases as they stand after `during`: `cool, hold`.
pub fn during(protocol: &Protocol, ids: &[PhaseId]) -> String {
    let names: Vec<&str> = ids
        .iter()
        .map(|id| protocol[*id].name.name.as_str())
        .collect();
    names.join(", ")
}

/// The verb with which that reading is asked for.
pub fn verb(reading: &Reading) -> &'static str {
    match &reading.kind {
        ReadingKind::Score { .. } => AskWay::Score.word(),
        ReadingKind::Amount { of: Some(of), .. } if is_laboratory(of.value) => AskWay::Test.word(),
        _ => AskWay::Record.word(),
    }
}

fn is_laboratory(analyte: crate::model::words::Analyte) -> bool {
    use crate::model::words::Analyte as A;
    match analyte {
        A::Potassium
        | A::Magnesium
        | A::Phosphate
        | A::Glucose
        | A::Ph
        | A::BaseDeficit
        | A::Lactate => true,
        A::MeanPressure
        | A::SystolicPressure
        | A::IntracranialPressure
        | A::HeartRate
        | A::OxygenSaturation => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn time_is_said_in_hours_minutes_and_seconds() {
        for (minutes, said) in [
            (Exact::ZERO, "0\u{a0}min"),
            (Exact::int(135), "2\u{a0}h 15\u{a0}min"),
            (Exact::int(4320), "72\u{a0}h"),
            (Exact::ratio(45, 2), "22\u{a0}min 30\u{a0}s"),
            (Exact::int(-60), "-1\u{a0}h"),
        ] {
            assert_eq!(time(minutes), said);
        }
    }

    #[test]
    fn temperatures_keep_one_decimal() {
        assert_eq!(celsius(Exact::int(36)), "36.0\u{a0}°C");
        assert_eq!(celsius(Exact::ratio(133, 4)), "33.25\u{a0}°C");
    }

    #[test]
    fn lists_end_with_and() {
        assert_eq!(list(&["a"]), "a");
        assert_eq!(list(&["a", "b", "c"]), "a, b and c");
    }
}
