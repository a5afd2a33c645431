//! One change between two versions of a protocol, in the terms of a reviewer.

use crate::diag::Witness;
use serde::Serialize;

/// What the newer version does beside the older one.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// Nothing that is done to a patient differs.
    SameMeaning,
    /// All that was asked or bounded before still is, and more.
    Stricter,
    /// Less is asked or bounded than before.
    Looser,
    /// Neither of the two, or nobody can say which.
    Different,
}

impl Verdict {
    pub fn words(self) -> &'static str {
        match self {
            Verdict::SameMeaning => "same meaning",
            Verdict::Stricter => "stricter",
            Verdict::Looser => "looser",
            Verdict::Different => "different",
        }
    }

    /// Of two parts of one change.
    pub fn and(self, other: Verdict) -> Verdict {
        match (self, other) {
            (Verdict::SameMeaning, one) | (one, Verdict::SameMeaning) => one,
            (one, same) if one == same => one,
            _ => Verdict::Different,
        }
    }

    /// The verdict of the comparison the other way round.
    pub fn mirrored(self) -> Verdict {
        match self {
            Verdict::Stricter => Verdict::Looser,
            Verdict::Looser => Verdict::Stricter,
            same => same,
        }
    }
}

/// What has happened to the thing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Kind {
    Added,
    Removed,
    Changed,
    Renamed,
    /// Things whose order has meaning stand in another order.
    Reordered,
}

impl Kind {
    pub fn word(self) -> &'static str {
        match self {
            Kind::Added => "added",
            Kind::Removed => "removed",
            Kind::Changed => "changed",
            Kind::Renamed => "renamed",
            Kind::Reordered => "reordered",
        }
    }

    pub fn mirrored(self) -> Kind {
        match self {
            Kind::Added => Kind::Removed,
            Kind::Removed => Kind::Added,
            same => same,
        }
    }
}

/// Which part of a protocol it is about, in the order in which a report tells it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Area {
    Patients,
    Phases,
    Limits,
    Medications,
    Rules,
    Ladders,
    Looks,
    Readings,
    Marks,
    People,
    Checklists,
    Exceptions,
    Measures,
    Head,
    Names,
    Sources,
}

impl Area {
    pub fn title(self) -> &'static str {
        match self {
            Area::Patients => "patients",
            Area::Phases => "phases",
            Area::Limits => "limits",
            Area::Medications => "medications",
            Area::Rules => "rules",
            Area::Ladders => "ladders",
            Area::Looks => "looks",
            Area::Readings => "readings",
            Area::Marks => "marks",
            Area::People => "people",
            Area::Checklists => "checklists",
            Area::Exceptions => "exceptions",
            Area::Measures => "measures",
            Area::Head => "heading",
            Area::Names => "names",
            Area::Sources => "sources",
        }
    }
}

/// Which number of a version has to rise, and with it who has to look again.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Step {
    None,
    /// Wording, reasons and citations, titles, the review date.
    Patch,
    /// What is looked at, asked, told and written down; names.
    Minor,
    /// Patients, targets, phases, limits, doses, rules, ladders, readings.
    Major,
}

impl Step {
    pub fn word(self) -> &'static str {
        match self {
            Step::None => "none",
            Step::Patch => "patch",
            Step::Minor => "minor",
            Step::Major => "major",
        }
    }
}

/// A record on which the two versions part ways, replayed through the evaluator
/// under both.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct PartingCase {
    pub record: Witness,
    /// What the older version says at the last moment.
    pub old: Vec<String>,
    pub new: Vec<String>,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Change {
    pub area: Area,
    pub kind: Kind,
    /// The named thing: `rule too-cold`.
    pub about: String,
    /// What of it: `condition`; empty where it is the whole.
    pub what: String,
    pub from: Option<String>,
    pub to: Option<String>,
    /// In bedside terms; empty where from and to say it all.
    pub consequence: String,
    pub verdict: Verdict,
    pub step: Step,
    /// Of wording, order or names only: told in a section of its own.
    pub wording: bool,
    pub case: Option<PartingCase>,
}

impl Change {
    pub fn new(area: Area, kind: Kind, about: impl Into<String>) -> Self {
        Change {
            area,
            kind,
            about: about.into(),
            what: String::new(),
            from: None,
            to: None,
            consequence: String::new(),
            verdict: Verdict::Different,
            step: Step::Major,
            wording: false,
            case: None,
        }
    }

    pub fn of(mut self, what: impl Into<String>) -> Self {
        self.what = what.into();
        self
    }

    pub fn between(mut self, from: Option<String>, to: Option<String>) -> Self {
        self.from = from;
        self.to = to;
        self
    }

    pub fn verdict(mut self, verdict: Verdict) -> Self {
        self.verdict = verdict;
        self
    }

    pub fn step(mut self, step: Step) -> Self {
        self.step = step;
        self
    }

    pub fn consequence(mut self, words: impl Into<String>) -> Self {
        self.consequence = words.into();
        self
    }

    pub fn wording(mut self) -> Self {
        self.wording = true;
        self.step = Step::Patch;
        self
    }
}
