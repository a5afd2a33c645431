//! Ids to names on the way out, names to ids on the way in.

use super::refusal::Refusal;
use crate::model::{
    At, ChecklistId, CiteId, LadderId, MarkId, MarkRef, MedicationId, Named, PhaseId, Protocol,
    Reading, ReadingId, ReadingKind, RoleId, RuleId, Text,
};
use crate::source::Span;
use std::collections::BTreeMap;

pub(super) fn at<T>(value: T) -> At<T> {
    At::new(value, Span::default())
}

pub(super) fn named(name: &str) -> Named {
    Named {
        name: name.to_owned(),
        span: Span::default(),
    }
}

pub(super) fn text(markdown: &str) -> Text {
    Text {
        markdown: markdown.to_owned(),
        span: Span::default(),
    }
}

/// The names of one protocol by their ids.
#[derive(Clone, Copy)]
pub(super) struct Out<'p>(pub &'p Protocol);

macro_rules! out {
    ($($method:ident: $id:ident => $table:ident;)*) => {$(
        pub fn $method(&self, id: $id) -> String {
            self.0.$table.get(id.index()).map(|one| one.name.name.clone()).unwrap_or_default()
        }
    )*};
}

/// Ids always point into their protocol; what a broken one would be called.
const NO_KIND: ReadingKind = ReadingKind::Amount {
    of: None,
    unit: None,
};

impl<'p> Out<'p> {
    out! {
        cite: CiteId => cites;
        role: RoleId => roles;
        mark: MarkId => marks;
        reading: ReadingId => readings;
        phase: PhaseId => phases;
        rule: RuleId => rules;
        ladder: LadderId => ladders;
        checklist: ChecklistId => checklists;
        medication: MedicationId => medications;
    }

    pub fn kind(&self, id: ReadingId) -> &'p ReadingKind {
        self.0
            .readings
            .get(id.index())
            .map_or(&NO_KIND, |reading| &reading.kind)
    }

    /// `start`, `hold.start`, `hold.end` or the name of a mark.
    pub fn moment(&self, mark: MarkRef) -> String {
        match mark {
            MarkRef::Start => "start".to_owned(),
            MarkRef::PhaseStart(phase) => format!("{}.start", self.phase(phase)),
            MarkRef::PhaseEnd(phase) => format!("{}.end", self.phase(phase)),
            MarkRef::Named(mark) => self.mark(mark),
        }
    }

    /// The word of a choice by its index.
    pub fn word(&self, reading: ReadingId, index: usize) -> String {
        match self.kind(reading) {
            ReadingKind::Choice { words, .. } => words
                .get(index)
                .map(|word| word.name.clone())
                .unwrap_or_default(),
            _ => String::new(),
        }
    }
}

/// The ids of one file by their names.
#[derive(Debug, Default)]
pub(super) struct In {
    tables: BTreeMap<&'static str, BTreeMap<String, u32>>,
    /// Of the readings, in the order of their ids.
    kinds: Vec<ReadingKind>,
}

macro_rules! find {
    ($($method:ident: $id:ident => $table:literal;)*) => {$(
        pub fn $method(&self, name: &str) -> Result<$id, Refusal> {
            self.find($table, name).map($id)
        }
    )*};
}

impl In {
    /// Enters the names of one kind; a name that stands twice is refused.
    pub fn declare<'n>(
        &mut self,
        what: &'static str,
        names: impl Iterator<Item = &'n str>,
    ) -> Result<(), Refusal> {
        let table = self.tables.entry(what).or_default();
        for (index, name) in names.enumerate() {
            let id = u32::try_from(index)
                .map_err(|_| Refusal::inconsistent(format!("there are too many {what}s")))?;
            if table.insert(name.to_owned(), id).is_some() {
                return Err(Refusal::inconsistent(format!(
                    "the {what} `{name}` is declared twice"
                )));
            }
        }
        Ok(())
    }

    pub fn kinds(&mut self, readings: &[Reading]) {
        self.kinds = readings
            .iter()
            .map(|reading| reading.kind.clone())
            .collect();
    }

    fn find(&self, what: &'static str, name: &str) -> Result<u32, Refusal> {
        self.tables
            .get(what)
            .and_then(|table| table.get(name))
            .copied()
            .ok_or_else(|| {
                Refusal::inconsistent(format!(
                    "it speaks of the {what} `{name}`, which it does not declare"
                ))
            })
    }

    find! {
        cite: CiteId => "citation";
        role: RoleId => "role";
        mark: MarkId => "mark";
        reading: ReadingId => "reading";
        phase: PhaseId => "phase";
        rule: RuleId => "rule";
        ladder: LadderId => "ladder";
        checklist: ChecklistId => "checklist";
        medication: MedicationId => "medication";
    }

    pub fn kind(&self, id: ReadingId) -> Result<&ReadingKind, Refusal> {
        self.kinds
            .get(id.index())
            .ok_or_else(|| Refusal::inconsistent("a reading has no kind"))
    }

    pub fn moment(&self, name: &str) -> Result<MarkRef, Refusal> {
        if name == "start" {
            return Ok(MarkRef::Start);
        }
        if let Some(phase) = name.strip_suffix(".start") {
            return self.phase(phase).map(MarkRef::PhaseStart);
        }
        if let Some(phase) = name.strip_suffix(".end") {
            return self.phase(phase).map(MarkRef::PhaseEnd);
        }
        self.mark(name).map(MarkRef::Named)
    }

    pub fn word(&self, reading: ReadingId, word: &str) -> Result<usize, Refusal> {
        match self.kind(reading)? {
            ReadingKind::Choice { words, .. } => words.iter().position(|one| one.name == word),
            _ => None,
        }
        .ok_or_else(|| Refusal::inconsistent(format!("`{word}` is no word of its reading")))
    }
}

/// All of a list, or the first refusal.
pub(super) fn each<A, B>(
    list: &[A],
    make: impl Fn(&A) -> Result<B, Refusal>,
) -> Result<Vec<B>, Refusal> {
    list.iter().map(make).collect()
}

/// What stands there, if something does, or its refusal.
pub(super) fn maybe<A, B>(
    one: &Option<A>,
    make: impl Fn(&A) -> Result<B, Refusal>,
) -> Result<Option<B>, Refusal> {
    one.as_ref().map(make).transpose()
}

/// Citations are looked up often enough to have their own helper.
pub(super) fn cite_names(out: Out<'_>, ids: &[CiteId]) -> Vec<String> {
    ids.iter().map(|id| out.cite(*id)).collect()
}
