//! What stands under the pointer: a name's declaration, a word's meaning, and what the
//! plan and the limits make of it.

use super::Server;
use super::answers::Spot;
use super::place::{is_in_text_or_comment, place, word_at};
use crate::checks::explain::explain;
use crate::model::words::{
    Analyte, DrugClass, Event, Guideline, Means, Medium, Occasion, Population, Purpose, Route,
    Scale, Sign, Site, Topic,
};
use crate::model::{FixedWord, Limit, Loaded, Protocol, Side};
use crate::plan::{Case, Plan};
use crate::source::Span;
use crate::syntax::index::Symbol;
use crate::syntax::{first_words, pattern};
use lsp_types::{Hover, HoverContents, HoverParams, MarkupContent, MarkupKind};

impl Server {
    pub(super) fn hover(&mut self, params: &HoverParams) -> Option<Hover> {
        let spot = self.spot(&params.text_document_position_params)?;
        let mut said = match self.declared_here(&spot) {
            Some(said) => said,
            None => {
                let mut said: Vec<String> = self.meaning_here(&spot).into_iter().collect();
                said.extend(self.boxes_of(&spot).map(|boxes| format!("Here: {boxes}")));
                said.extend(self.limit_here(&spot));
                said
            }
        };
        if said.is_empty() {
            return None;
        }
        for part in &mut said {
            // What was written keeps number and unit together; an editor needs no such care.
            *part = part.replace('\u{a0}', " ");
        }
        Some(Hover {
            contents: HoverContents::Markup(MarkupContent {
                kind: MarkupKind::Markdown,
                value: said.join("\n\n"),
            }),
            range: None,
        })
    }

    /// The declaration of the name here, with what follows from it.
    fn declared_here(&self, spot: &Spot) -> Option<Vec<String>> {
        let (name, _) = self.name_at(spot)?;
        let (path, _, declared) = self.declaration(&spot.path, &name)?;
        let mut said = vec![format!("```\n{}\n```\n{path}", declared.line)];
        match declared.symbol {
            Symbol::Phase => said.extend(self.phase_place(&spot.path, &name)),
            Symbol::Reading => said.extend(self.limits_of(&spot.path, &name)),
            _ => {}
        }
        Some(said)
    }

    /// What the word here means: a finding in an `accept`, a word of the language, the
    /// beginning of a statement, a fixed word.
    fn meaning_here(&self, spot: &Spot) -> Option<String> {
        let offset = spot.offset as usize;
        if is_in_text_or_comment(&spot.text, offset) {
            return None;
        }
        let (word, start) = word_at(&spot.text, offset)?;
        let before = spot.text.get(..start)?;
        let line = before.rsplit('\n').next().unwrap_or("").trim_start();
        if line.trim_end() == "accept"
            && let Some(page) = explain(word)
        {
            return Some(format!("```\n{page}\n```"));
        }
        let place = place(before);
        let begins = line.is_empty() && first_words(place).contains(&word);
        let reads = begins.then(|| format!("It reads: {}", pattern(word, place)));
        match (meaning(word), reads) {
            (Some(meaning), Some(reads)) => Some(format!("{meaning}\n\n{reads}")),
            (Some(meaning), None) => Some(meaning.to_owned()),
            (None, Some(reads)) => Some(reads),
            (None, None) => fixed_word(word),
        }
    }

    /// The limit whose line this is, with the words of its source.
    fn limit_here(&self, spot: &Spot) -> Option<String> {
        let (loaded, protocol) = self.read_of(&spot.path)?;
        let limit = protocol.limits.iter().find(|limit| {
            is_current(loaded, spot, limit.span)
                && limit.span.range().contains(&(spot.offset as usize))
        })?;
        Some(limit_words(protocol, limit))
    }

    /// All limits of a reading, each with the words of its source.
    fn limits_of(&self, path: &str, name: &str) -> Option<String> {
        let (_, protocol) = self.read_of(path)?;
        let limits: Vec<String> = protocol
            .limits
            .iter()
            .filter(|limit| protocol[limit.reading].name.name == name)
            .map(|limit| format!("- {}", limit_words(protocol, limit)))
            .collect();
        (!limits.is_empty()).then(|| limits.join("\n"))
    }

    /// The last good reading of this file, or of a protocol that uses it.
    pub(super) fn read_of(&self, path: &str) -> Option<(&Loaded, &Protocol)> {
        let loaded = self.documents.last_good(path)?;
        loaded
            .protocols
            .first()
            .map(|(_, protocol)| (loaded, protocol))
    }

    /// The rule's condition on this line in the words of the sheet, with the boxes in
    /// a row that its times come to; from the text as it stands.
    fn boxes_of(&self, spot: &Spot) -> Option<String> {
        let (loaded, protocol) = self.read_of(&spot.path)?;
        protocol.rules().find_map(|(_, rule)| {
            let span = rule.when_span;
            let during: Vec<_> = rule.during.iter().map(|phase| phase.value).collect();
            let here =
                is_current(loaded, spot, span) && span.range().contains(&(spot.offset as usize));
            here.then(|| crate::words::Words::of(protocol).condition(&rule.when, &during))
        })
    }

    /// When a phase starts and ends by plan, from the last good reading.
    pub(super) fn phase_place(&self, path: &str, name: &str) -> Option<String> {
        let (_, protocol) = self.read_of(path)?;
        let plan = Plan::of(protocol, &Case::default()).ok()?;
        let phase = plan
            .phases
            .iter()
            .find(|placed| protocol[placed.phase].name.name == name)?;
        Some(format!(
            "starts {}, ends {} after `start`",
            crate::plan::report::window_words(phase.start),
            crate::plan::report::window_words(phase.end)
        ))
    }
}

/// Whether a place of the last good reading is one of the text as it stands: after a
/// change that cannot be read, places are those of an older text.
pub(super) fn is_current(loaded: &Loaded, spot: &Spot, span: Span) -> bool {
    loaded
        .sources
        .get(span.file)
        .is_some_and(|file| file.path == spot.path && file.text == spot.text)
}

fn limit_words(protocol: &Protocol, limit: &Limit) -> String {
    let side = match limit.side {
        Side::Above => "above",
        Side::Below => "below",
    };
    let mut said = format!(
        "Limit: {} never {side} {}",
        protocol[limit.reading].name.name, limit.level
    );
    let sources: Vec<&str> = limit
        .reason
        .sources
        .iter()
        .map(|cite| protocol[*cite].text.markdown.as_str())
        .collect();
    if !sources.is_empty() {
        said.push_str(&format!(" (source: {})", sources.join("; ")));
    }
    if let Some(because) = &limit.reason.because {
        said.push_str(&format!(", because {}", because.markdown));
    }
    said
}

/// What set a fixed word is of.
fn fixed_word(word: &str) -> Option<String> {
    fn set<W: FixedWord>(word: &str) -> Option<&'static str> {
        W::from_word(word).map(|_| W::SET)
    }
    let sets: Vec<&str> = [
        set::<Purpose>,
        set::<Event>,
        set::<Population>,
        set::<Means>,
        set::<Guideline>,
        set::<Site>,
        set::<Medium>,
        set::<Scale>,
        set::<Sign>,
        set::<Analyte>,
        set::<Route>,
        set::<DrugClass>,
        set::<Occasion>,
        set::<Topic>,
    ]
    .iter()
    .filter_map(|of| of(word))
    .collect();
    (!sets.is_empty()).then(|| format!("`{word}`: a fixed word ({})", sets.join(" or ")))
}

/// What a word of the language means, in a line.
fn meaning(word: &str) -> Option<&'static str> {
    Some(match word {
        "for" => {
            "`for D`: it holds at this look and at each look back to one at least D ago, less a quarter of the interval. On an hourly check `for 1 h` is *two hourly boxes in a row* (M9)."
        }
        "rises" | "falls" => {
            "Compared with the looks of the last D, plus a quarter of the interval (M10)."
        }
        "target" => {
            "The target of the moment: the end aimed at, or the point that the course has reached (M20, M21)."
        }
        "until" => "Ends the order at the first later moment at which it holds (M15).",
        "within" => "The value itself counts as inside (M7).",
        "below" | "above" | "outside" => "The value itself is left out (M7).",
        "due" => "A latest time. It orders nothing; a rule with `is overdue` answers it (M24).",
        "every" => "Asked at the beginning of each stretch and each D after (M5).",
        "ready" | "again" => "A rule that has fired does not fire again before this (M14).",
        "overrides" => {
            "While this rule's condition holds in its phases, those named do not fire (M13)."
        }
        "ceiling" => {
            "Counts this dose, all begun less than D ago, and what infusions ran in; never by calendar day (M28)."
        }
        "start" => "0:00 of the case: every elapsed time counts from it (M2).",
        "paused" => "Target and course stand still; ends, dues, looks and rules go on (M23).",
        "limit" => "Binds every aim, order and rule; a reading past it needs a rule (M34).",
        "recheck" => "Answered by the first record from three quarters of D on (M26).",
        "measure" => {
            "Counted when a finished case is looked at; it orders nothing. Each record holds until the next, unknown time is left out (M35)."
        }
        "goal" => {
            "What a measure is meant to come to: `at most` or `at least` a value of its kind (%, a time, or the unit of the reading × h), judged on the exact number (M35)."
        }
        "accept" => "Covers one warning or one published limit, with reason, name and date (M34).",
        "show" => {
            "`show °C and °F`: each temperature, difference and rate is printed on the sheet as it is written and, in brackets, exactly on the other scale. The meaning and its fingerprint stay the same."
        }
        "share" => {
            "`share of time when C`: of the time in which C is decided, the part in which it holds, in % (M35)."
        }
        "length" => "`length of time when C`: how long C holds (M35).",
        "area" => {
            "`area of READING above V`: degrees (or the reading's unit) beyond V, times hours (M35)."
        }
        "most" | "least" => "The value itself meets it.",
        "workload" => {
            "The longest count of entries in one hour that the unit thinks one nurse can make; 24 unless stated."
        }
        "never" => {
            "In a phase: the cap on how fast it may go. After `limit`: what no aim, order or rule may pass (M34)."
        }
        "overdue" => "Holds from the due time of the phase on while it runs (M12, M24).",
        "otherwise" => "Done when the medication is not given, and only then (M27).",
        "course" | "moves" => {
            "The target stands at whole steps, on the slower side; the course arrives when it is at or past the end (M21)."
        }
        "pause" => "Target and course stand still until its UNTIL holds (M15, M23).",
        "stop" => "After `stop temperature control` only `begin` starts control again (M23).",
        "begin" => {
            "Ends the running phase and begins this one; from there the written order goes on (M25)."
        }
        "follow" => {
            "Asks for the ladder's reading now, and does the rung or step that it chooses (M16, M26)."
        }
        "call" => "To be done no later than D from that moment; `now` is at that moment (M16).",
        "withhold" => "Keeps back doses and raises; stops nothing that runs (M27).",
        "differ" => "Decided on the exact difference of two readings that are both known (M8).",
        "approved" => "Holds while its text is the fingerprint of the meaning (M34).",
        "review" => "From the day after it the sheet is a draft again.",
        _ => return None,
    })
}
