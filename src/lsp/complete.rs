//! What could stand here: words of the statement, names of the right kind, units.

use super::Server;
use crate::model::words::{
    Analyte, DrugClass, Event, Guideline, Means, Medium, Occasion, Population, Purpose, Route,
    Scale, Sign, Site, Topic,
};
use crate::quantity::{Dimension, UNITS, Unit};
use crate::syntax::index::Symbol;
use crate::syntax::{Place, first_words};
use lsp_types::{CompletionItem, CompletionItemKind, CompletionParams};

impl Server {
    pub(super) fn complete(&self, params: &CompletionParams) -> Vec<CompletionItem> {
        let at = &params.text_document_position;
        let Some(path) = self.documents.path(&at.text_document.uri) else {
            return Vec::new();
        };
        let Some(text) = self.documents.text(&path) else {
            return Vec::new();
        };
        let offset = self.columns.offset(&text, at.position);
        let before = text.get(..offset).unwrap_or("");
        let line = before.rsplit('\n').next().unwrap_or("").trim_start();
        // The word under way is the editor's to match.
        let done = line
            .rsplit_once([' ', ','])
            .map_or("", |(done, _)| done)
            .trim_end();
        if done.is_empty() {
            return first_words(place(before))
                .iter()
                .map(|word| item(word, CompletionItemKind::KEYWORD, "begins a statement"))
                .collect();
        }
        let last = done.rsplit([' ', ',']).next().unwrap_or("");
        if last.parse::<f64>().is_ok() {
            return UNITS
                .iter()
                .filter(|unit| fits(unit, done))
                .map(|unit| item(unit.name, CompletionItemKind::UNIT, "unit"))
                .collect();
        }
        let fixed = fixed_words(done);
        if !fixed.is_empty() {
            return fixed
                .iter()
                .map(|word| item(word, CompletionItemKind::ENUM_MEMBER, "fixed word"))
                .collect();
        }
        let wanted = wanted(done);
        self.documents
            .indexes(&path)
            .iter()
            .flat_map(|(_, _, index)| index.declarations.iter())
            .filter(|declaration| wanted.contains(&declaration.symbol))
            .map(|declaration| {
                item(
                    &declaration.name,
                    CompletionItemKind::VARIABLE,
                    declaration.symbol.word(),
                )
            })
            .collect()
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

/// The block that the end of `before` lies in, by its open braces.
fn place(before: &str) -> Place {
    let outline = crate::syntax::outline(before, crate::source::FileId::default());
    let mut items = &outline.items;
    let mut place = Place::File;
    // Blocks without their brace end with the text.
    while let Some(crate::syntax::Item::Block(block)) = items.last() {
        let closed = before
            .get(block.span.range())
            .is_some_and(|text| text.ends_with('}'))
            && outline
                .diagnostics
                .iter()
                .all(|found| found.place.span != block.head.span);
        if closed {
            break;
        }
        let head = before.get(block.head.span.range()).unwrap_or("");
        let word = head.split(char::is_whitespace).next().unwrap_or("");
        place = Place::inside(word).unwrap_or(place);
        items = &block.items;
    }
    place
}

fn fits(unit: &Unit, done: &str) -> bool {
    let dimension = unit.dimension;
    let line = done.trim_start();
    let first = line.split(' ').next().unwrap_or("");
    match first {
        "every" | "lasts" | "due" | "ends" | "again" | "recheck" => dimension == Dimension::Time,
        "never" => dimension == Dimension::TemperatureRate,
        "dose" | "ceiling" => matches!(
            dimension,
            Dimension::Mass | Dimension::Dose | Dimension::DosePerKg | Dimension::Time
        ),
        "infuse" => matches!(dimension, Dimension::Infusion | Dimension::InfusionPerKg),
        "concentration" => dimension == Dimension::Concentration,
        "measure" if line.contains(" goal at ") => {
            if line.contains(" share of time ") {
                unit.name == "%"
            } else if line.contains(" length of time ") {
                dimension == Dimension::Time
            } else {
                matches!(dimension, Dimension::Temperature | Dimension::Amount)
            }
        }
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

/// Kinds of name that can follow.
fn wanted(done: &str) -> Vec<Symbol> {
    let last = done.rsplit([' ', ',']).next().unwrap_or("");
    match last {
        "during" | "begin" => vec![Symbol::Phase],
        "follow" => vec![Symbol::Ladder, Symbol::Checklist],
        "call" => vec![Symbol::Person],
        "overrides" => vec![Symbol::Rule],
        "source" => vec![Symbol::Citation],
        "record" | "score" | "test" | "cool" | "warm" | "hold" | "limit" | "on" => {
            vec![Symbol::Reading]
        }
        "give" | "withhold" | "with" => vec![Symbol::Medication],
        "of" | "after" => vec![Symbol::Mark, Symbol::Reading, Symbol::Phase],
        _ if done.starts_with("record") || done.starts_with("every") => vec![Symbol::Reading],
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
