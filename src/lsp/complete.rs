//! What could stand here: words of the statement, names of the right kind, units.

use super::Server;
use super::place::{is_in_text_or_comment, place, statement};
use crate::model::words::{
    Analyte, DrugClass, Event, Guideline, Means, Medium, Occasion, Population, Purpose, Route,
    Scale, Sign, Site, Topic,
};
use crate::quantity::{Dimension, Exact, UNITS, Unit};
use crate::syntax::index::{Declaration, Symbol};
use crate::syntax::{Place, first_words, following, pattern};
use lsp_types::{CompletionItem, CompletionItemKind, CompletionParams};

impl Server {
    pub(super) fn complete(&self, params: &CompletionParams) -> Vec<CompletionItem> {
        let at = &params.text_document_position;
        let Some(spot) = self.spot(at) else {
            return Vec::new();
        };
        let offset = spot.offset as usize;
        if is_in_text_or_comment(&spot.text, offset) {
            return Vec::new();
        }
        let before = spot.text.get(..offset).unwrap_or("");
        let place = place(before);
        // The word under way is the editor's to match.
        let written = statement(before);
        let done = written
            .rfind(|one: char| one.is_whitespace() || matches!(one, ',' | '('))
            .map_or("", |at| written.get(..=at).unwrap_or(""))
            .trim_end();
        if done.is_empty() {
            return first_words(place)
                .iter()
                .map(|word| item(word, CompletionItemKind::KEYWORD, pattern(word, place)))
                .collect();
        }
        let declared: Vec<Declaration> = self
            .documents
            .indexes(&spot.path)
            .into_iter()
            .flat_map(|(_, _, index)| index.declarations)
            .collect();
        let last = done.rsplit([' ', ',', '(']).next().unwrap_or("");
        let mut offered = Vec::new();
        if Exact::parse(last).is_some() {
            let units = UNITS
                .iter()
                .filter(|unit| fits(unit, done, place, &declared));
            offered.extend(units.map(|unit| item(unit.name, CompletionItemKind::UNIT, "unit")));
        }
        // `show` has one form only.
        if place == Place::Protocol && done == "show" {
            return vec![item(
                "°C and °F",
                CompletionItemKind::KEYWORD,
                "both scales, the other one in brackets",
            )];
        }
        let following = following(done, place);
        // Letters of a unit look like those of a name.
        if following.name && !following.unit {
            let fixed = fixed_words(done);
            let wanted = if fixed.is_empty() {
                wanted(done, following.number)
            } else {
                Vec::new()
            };
            let fixed = fixed.iter();
            offered.extend(
                fixed.map(|word| item(word, CompletionItemKind::ENUM_MEMBER, "fixed word")),
            );
            let names = declared.iter();
            let names = names.filter(|declaration| wanted.contains(&declaration.symbol));
            offered.extend(names.map(|declaration| {
                let kind = declaration.symbol.word();
                item(&declaration.name, CompletionItemKind::VARIABLE, kind)
            }));
        }
        offered.extend(
            following
                .words
                .iter()
                .map(|word| item(word, CompletionItemKind::KEYWORD, "goes on")),
        );
        offered
    }
}

fn item(label: &str, kind: CompletionItemKind, detail: &str) -> CompletionItem {
    CompletionItem {
        label: label.to_owned(),
        kind: Some(kind),
        detail: Some(detail.to_owned()),
        ..CompletionItem::default()
    }
}

/// Whether a number at the end of `done` can have this unit.
fn fits(unit: &Unit, done: &str, place: Place, declared: &[Declaration]) -> bool {
    let dimension = unit.dimension;
    let words: Vec<&str> = done.split_whitespace().collect();
    let before: Vec<&str> = words.iter().rev().skip(1).copied().collect();
    let one_before = before.first().copied().unwrap_or("");
    match words.first().copied().unwrap_or("") {
        "lasts" | "due" | "ends" | "again" | "recheck" | "start" | "expect" => {
            return dimension == Dimension::Time;
        }
        "every" | "target" if one_before == "every" => return dimension == Dimension::Time,
        "never" => return dimension == Dimension::TemperatureRate,
        "at" if place == Place::Phase => return dimension == Dimension::TemperatureRate,
        "at" if words.len() == 2 => return dimension == Dimension::Time,
        "dose" | "ceiling" if matches!(one_before, "over" | "within" | "per") => {
            return dimension == Dimension::Time;
        }
        "dose" if done.contains(" when weight ") => return matches!(unit.name, "kg" | "g"),
        "dose" | "ceiling" => {
            return matches!(
                dimension,
                Dimension::Mass | Dimension::Dose | Dimension::DosePerKg
            );
        }
        "rounded" => {
            return matches!(
                dimension,
                Dimension::Mass | Dimension::Dose | Dimension::Infusion | Dimension::InfusionPerKg
            );
        }
        "infuse" if matches!(one_before, "every" | "most") => return dimension == Dimension::Time,
        "infuse" => return matches!(dimension, Dimension::Infusion | Dimension::InfusionPerKg),
        "concentration" => return dimension == Dimension::Concentration,
        "measure" if done.contains(" goal at ") => {
            if done.contains(" share of time ") {
                return unit.name == "%";
            }
            if done.contains(" length of time ") {
                return dimension == Dimension::Time;
            }
            // An area has the unit of its reading.
        }
        _ => {}
    }
    let is_time = match one_before {
        "for" | "in" | "every" | "over" | "after" | "per" | "longer" => true,
        "than" => before.get(1) == Some(&"longer"),
        "within" => before.get(2) == Some(&"call") || words.contains(&"call"),
        _ => false,
    };
    if is_time {
        return dimension == Dimension::Time;
    }
    let is_rate = one_before == "rate"
        || (one_before == "at" && matches!(words.first(), Some(&"cool" | &"warm")));
    if is_rate {
        return dimension == Dimension::TemperatureRate;
    }
    if before.contains(&"weight") || before.contains(&"age") || before.contains(&"gestation") {
        let since = before
            .iter()
            .find(|word| matches!(**word, "weight" | "age" | "gestation" | "arrival"));
        match since {
            Some(&"weight") => return matches!(unit.name, "kg" | "g"),
            Some(&"age" | &"gestation") => return dimension == Dimension::Time,
            _ => {}
        }
    }
    if words.contains(&"target") && words.contains(&"by") || words.get(1) == Some(&"target") {
        return dimension == Dimension::Temperature;
    }
    // The unit is that of the reading that was named last.
    let reading = before.iter().find_map(|word| {
        declared.iter().find(|declaration| {
            declaration.symbol == Symbol::Reading
                && declaration.name == word.trim_matches(['(', ','])
        })
    });
    match reading {
        Some(reading) => unit_of(&reading.line, unit),
        None => true,
    }
}

/// Whether values of the reading that this line declares have that unit.
fn unit_of(line: &str, unit: &Unit) -> bool {
    let kind = line.rsplit_once('"').map_or(line, |(_, kind)| kind);
    let mut words = kind
        .trim()
        .split([' ', ','])
        .filter(|word| !word.is_empty());
    match words.next() {
        Some("temperature") => unit.dimension == Dimension::Temperature,
        Some("amount") => {
            let own = words.skip_while(|word| *word != "in").nth(1);
            own.is_some_and(|own| own == unit.name || unit.spellings.contains(&own))
        }
        Some("score" | "choice") => false,
        _ => true,
    }
}

fn words_of<W: crate::model::FixedWord>() -> Vec<&'static str> {
    W::ALL.iter().map(|word| word.word()).collect()
}

/// Words of a closed set, where only they can stand.
fn fixed_words(done: &str) -> Vec<&'static str> {
    let mut words = done.split_whitespace();
    let first = words.next().unwrap_or("");
    let ends = |tail: &str| done == tail || done.ends_with(&format!(" {tail}"));
    match first {
        "purpose" if ends("after") => words_of::<Event>(),
        "purpose" => words_of::<Purpose>(),
        "patients" if done == "patients" => words_of::<Population>(),
        "method" if !done.contains("feedback") => words_of::<Means>(),
        "by" => words_of::<Means>(),
        "guideline" => words_of::<Guideline>(),
        "class" => words_of::<DrugClass>(),
        "accept" if done == "accept" => crate::checks::explain::names(),
        "checklist" if ends("at") => words_of::<Occasion>(),
        "dose" => words_of::<Route>(),
        "reading" if ends("temperature at") => words_of::<Site>(),
        "reading" if ends("temperature of") => words_of::<Medium>(),
        "reading" if ends("score of") => words_of::<Scale>(),
        "reading" if ends("amount of") => words_of::<Analyte>(),
        "reading" if ends("choice of") => words_of::<Sign>(),
        _ if ends("covers") => words_of::<Topic>(),
        _ => Vec::new(),
    }
}

/// Kinds of name that can follow; `number` where a number could stand as well.
fn wanted(done: &str, number: bool) -> Vec<Symbol> {
    let mut done = done;
    // Of a list, what it began with decides.
    while let Some(list) = done.trim_end().strip_suffix(',') {
        done = list
            .trim_end()
            .rsplit_once(' ')
            .map_or("", |(before, _)| before);
    }
    let last = done.rsplit([' ', '(']).next().unwrap_or("");
    match last {
        "during" | "begin" => vec![Symbol::Phase],
        "follow" => vec![Symbol::Ladder, Symbol::Checklist],
        "call" | "then" => vec![Symbol::Person],
        "overrides" | "no" => vec![Symbol::Rule],
        "expect" => vec![Symbol::Rule],
        "source" => vec![Symbol::Citation],
        "record" | "score" | "test" | "cool" | "warm" | "hold" | "keep" | "limit" => {
            vec![Symbol::Reading]
        }
        "raise" | "lower" | "stop" | "give" | "withhold" | "with" => vec![Symbol::Medication],
        "when" | "and" | "or" => vec![Symbol::Reading, Symbol::Phase],
        "" if done.ends_with('(') => vec![Symbol::Reading, Symbol::Phase],
        "until" => vec![Symbol::Reading, Symbol::Mark, Symbol::Phase],
        "area" => vec![Symbol::Reading],
        "of" if done.starts_with("measure") => vec![Symbol::Reading],
        "of" | "after" | "before" => vec![Symbol::Mark, Symbol::Phase],
        "at" | "ends" if done.starts_with("at") || done.starts_with("ends") => {
            vec![Symbol::Mark, Symbol::Phase, Symbol::Value]
        }
        "on" if done.starts_with("accept") => Symbol::ALL.to_vec(),
        "on" => vec![Symbol::Reading],
        "phase" => vec![Symbol::Phase],
        "for" if done.starts_with("scenario") => vec![Symbol::Protocol],
        _ if done.starts_with("patients") => vec![Symbol::Reading],
        _ if number => vec![Symbol::Value],
        _ => vec![
            Symbol::Reading,
            Symbol::Value,
            Symbol::Phase,
            Symbol::Mark,
            Symbol::Rule,
            Symbol::Medication,
        ],
    }
}
