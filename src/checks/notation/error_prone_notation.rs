//! Notation that has been misread before: the published lists, in doses and texts.

use super::super::{Check, Context, Family, Run};
use super::published_list::{ENTRIES, Entry, search};
use super::texts::printed;
use crate::diag::{Diagnostic, Level};
use crate::model::*;
use crate::quantity::Written;
use crate::source::Span;

pub const CHECK: Check = Check {
    name: "error-prone-notation",
    family: Family::Notation,
    level: Level::Error,
    since: "0.1.0",
    summary: "a dose or a text is written in a way that has been misread before",
    catches: "What stands on the published lists of error-prone abbreviations, symbols and dose designations: a \
              trailing zero or a naked decimal point in a dose, the sign for micro, U, IU, QD, cc, drug names cut \
              short, and the rest, in doses and in every text that is printed. A trailing zero is let be where it \
              states the precision of something measured (`potassium 3.0 mmol/L`, `36.0 °C`), and greater-than \
              signs are let be in code and in tables.",
    why: "1.0 mg is read as 10 mg, 10 U as 100, and a microgram sign as mg: a tenfold or thousandfold dose.",
    fires: "\
medication paracetamol \"Paracetamol\" {
  class   antipyretic
  dose    1.0 g nasogastric, not again within 6 h
  ceiling 4 g per 24 h
}
",
    passes: "\
medication paracetamol \"Paracetamol\" {
  class   antipyretic
  dose    1 g nasogastric, not again within 6 h
  ceiling 4 g per 24 h
}
",
    source: "Institute for Safe Medication Practices, List of Error-Prone Abbreviations, Symbols, and Dose \
             Designations, 2021; The Joint Commission, official \"Do Not Use\" list, 2009",
    run: Run::Over(run),
};

fn run(context: &Context) -> Vec<Diagnostic> {
    let mut found = Vec::new();
    for (_, medication) in context.protocol.medications() {
        doses(context, medication, &mut found);
    }
    for printed in printed(context.protocol) {
        let mut said: Vec<&str> = Vec::new();
        for hit in search(&printed.text.markdown) {
            let Some(word) = printed.text.markdown.get(hit.at.clone()) else {
                continue;
            };
            // One finding for each kind of slip in a text.
            if said.contains(&hit.entry.id) {
                continue;
            }
            said.push(hit.entry.id);
            let span = place(context, printed.text.span, word);
            found.push(finding(hit.entry, span, word, printed.about));
        }
    }
    found
}

/// The word itself where the raw text has it, or else the whole text.
fn place(context: &Context, text: Span, word: &str) -> Span {
    context
        .sources
        .text(text)
        .find(word)
        .map_or(text, |offset| {
            let start = text.start as usize + offset;
            Span::new(text.file, start, start + word.len())
        })
}

fn finding(entry: &'static Entry, span: Span, word: &str, about: Option<&str>) -> Diagnostic {
    let mut finding = Diagnostic::new(
        CHECK.name,
        entry.level,
        span,
        format!("`{}` is easily misread", word.trim()),
    )
    .here(format!("entry {} of the list", entry.id))
    .why(format!("it has been read as {}", entry.read_as))
    .help(format!("write {}", entry.instead))
    .source(entry.list);
    finding.about = about.map(str::to_owned);
    finding
}

/// What is written as a dose, a rate, a strength or a rounding step.
fn doses(context: &Context, medication: &Medication, found: &mut Vec<Diagnostic>) {
    let mut written: Vec<(&Written, Span)> = Vec::new();
    for line in &medication.doses {
        written.push((&line.dose.written, line.dose.span));
        written.extend(line.at_most.iter().map(|dose| (&dose.written, dose.span)));
    }
    if let Some(infusion) = &medication.infusion {
        written.push((&infusion.first.written, infusion.first.span));
        for rate in [&infusion.top, &infusion.step].into_iter().flatten() {
            written.push((&rate.written, rate.span));
        }
    }
    if let Some(concentration) = &medication.concentration {
        written.push((&concentration.written, concentration.span));
    }
    if let Some(rounding) = &medication.rounded_to {
        written.push((&rounding.written, rounding.span));
    }
    if let Some(ceiling) = &medication.ceiling {
        written.push((&ceiling.dose.written, ceiling.dose.span));
    }
    let mut said: Vec<(Span, &str)> = Vec::new();
    for (written, span) in written {
        // The words as they stand show a missing space; the model shows the rest.
        let raw = context.sources.text(span);
        let spaced = format!("{} {}", written.number, written.unit);
        let text = if raw.is_empty() { spaced.as_str() } else { raw };
        for hit in search(text) {
            // Names of lets and cut spans are no dose; the sheet shows `written`.
            if said.contains(&(span, hit.entry.id)) {
                continue;
            }
            said.push((span, hit.entry.id));
            found.push(dose_finding(hit.entry, span, &spaced, medication));
        }
        let zero = written
            .number
            .split_once('.')
            .is_some_and(|(_, part)| part.ends_with('0'));
        if zero && !said.contains(&(span, "trailing-zero")) {
            said.push((span, "trailing-zero"));
            if let Some(entry) = ENTRIES.iter().find(|entry| entry.id == "trailing-zero") {
                found.push(dose_finding(entry, span, &spaced, medication));
            }
        }
    }
}

fn dose_finding(
    entry: &'static Entry,
    span: Span,
    spaced: &str,
    medication: &Medication,
) -> Diagnostic {
    let finding = finding(entry, span, spaced, Some(&medication.name.name));
    if entry.id != "trailing-zero" {
        return finding;
    }
    let plain = without_trailing_zero(spaced);
    let mut finding = finding.fix(span, plain.clone());
    finding.help = vec![format!("write `{plain}`")];
    finding
}

/// `1.0 g` as `1 g`, `0.50 mg` as `0.5 mg`.
fn without_trailing_zero(spaced: &str) -> String {
    let (number, unit) = spaced.split_once(' ').unwrap_or((spaced, ""));
    let number = number.trim_end_matches('0').trim_end_matches('.');
    format!("{number} {unit}")
}

#[cfg(test)]
mod tests {
    use super::without_trailing_zero;

    #[test]
    fn zeros_after_the_point_go() {
        assert_eq!(without_trailing_zero("1.0 g"), "1 g");
        assert_eq!(without_trailing_zero("0.50 mg"), "0.5 mg");
    }
}
