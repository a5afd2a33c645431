//! The working of a dose as it is printed, calculated again from what is printed.
//!
//! `0.3 mcg/kg/h × 82 kg = 24.6 mcg/h ÷ 4 mcg/mL = 6.15 mL/h: pump 6.1 mL/h`

use crate::numbers::{Figure, figures};

/// How many mg, mmol, units or mL a unit holds, and per how many hours.
fn factor(unit: &str) -> f64 {
    let mut parts = unit.split('/');
    let amount = match parts.next() {
        Some("mcg") => 0.001,
        Some("g") => 1000.0,
        _ => 1.0,
    };
    let per_minute = parts.any(|part| part == "min");
    amount * if per_minute { 60.0 } else { 1.0 }
}

fn value(figure: &Figure) -> f64 {
    figure.number.parse::<f64>().unwrap_or(f64::NAN) * factor(&figure.unit)
}

/// Whether the working in a text holds; `None` where there is none. A decimal that goes on (`…`)
/// may be less by what was left out.
pub fn is_right(text: &str) -> Option<bool> {
    let (worked, result) = text.split_once(": ").unwrap_or((text, ""));
    let (product, rest) = worked.split_once(" × ")?;
    if product.contains([';', '(']) || worked.contains('_') {
        return None;
    }
    let first = figures(product);
    let all = figures(rest);
    let [dose] = first.as_slice() else {
        return None;
    };
    let (weight, others) = all.split_first()?;
    let mut expected = value(dose) * weight.number.parse::<f64>().ok()?;
    let mut right = true;
    let mut divided = rest.contains('÷');
    for figure in others {
        if figure.unit.ends_with("/mL") && divided {
            expected /= value(figure);
            divided = false;
            continue;
        }
        right &= close(value(figure), expected);
    }
    // What is given is rounded down to what can be set, and never up.
    for figure in figures(result) {
        if figure.unit.ends_with("/mL") {
            continue;
        }
        let given = value(&figure);
        let share: f64 = if result.starts_with("pump") {
            0.1
        } else {
            0.05
        };
        right &= given <= expected * 1.000_001 && given >= expected - share.max(expected * 0.05);
    }
    Some(right)
}

/// The results in a text that follow from what stands beside them.
pub fn results(text: &str) -> Vec<Figure> {
    if is_right(text) == Some(true) {
        return figures(text);
    }
    let mut out = Vec::new();
    for clause in text.split("; ") {
        let all = figures(clause);
        // `give 2 g = 20 mL of 100 mg/mL`
        if let [given, volume, strength] = all.as_slice()
            && clause.contains(" = ")
            && volume.unit == "mL"
            && close(value(volume), value(given) / value(strength))
        {
            out.push(volume.clone());
        }
        // `never more than 16.8 mcg/kg in any 24 h (× 82 kg = 1377.6 mcg)`
        if let [most, _, weight, product] = all.as_slice()
            && clause.contains("(× ")
            && weight.unit == "kg"
            && close(value(product), value(most) * value(weight))
        {
            out.push(product.clone());
        }
    }
    out
}

/// Equal, but for what is left out after the third decimal.
fn close(printed: f64, expected: f64) -> bool {
    (printed - expected).abs() <= expected.abs() * 2e-4
}

#[test]
fn a_wrong_working_is_seen() {
    let good = "0.3 mcg/kg/h × 82 kg = 24.6 mcg/h ÷ 4 mcg/mL = 6.15 mL/h: pump 6.1 mL/h";
    assert_eq!(is_right(good), Some(true));
    for (from, to) in [
        ("24.6", "24.7"),
        ("6.15", "6.25"),
        ("6.1 ", "6.2 "),
        ("6.1 ", "5.1 "),
    ] {
        assert_eq!(is_right(&good.replacen(from, to, 1)), Some(false), "{to}");
    }
    let perfusor = "20 mcg/kg/min × 82 kg = 1640 mcg/min ÷ 10 mg/mL = 9.84 mL/h: pump 9.8 mL/h";
    assert_eq!(is_right(perfusor), Some(true));
}
