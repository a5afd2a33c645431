//! The typed protocol: every name resolved, every quantity of the right kind.
//!
//! Takes the statements of `syntax`, gives a [`Protocol`] and the findings of
//! the notation family. Nothing here knows time, records or paper.
//!
//! INVARIANT: an id in a [`Protocol`] always points into that same protocol.

pub mod condition;
pub mod dosing;
mod load;
mod lower;
pub mod medication;
pub mod order;
pub mod parts;
pub mod phase;
pub mod scenario;
mod uses;
pub mod words;

pub use condition::{Cmp, Cond, MoreLess, Side, Test, TestKind, TrendWay};
pub use dosing::{WorkedDose, WorkedRate};
pub use load::{LoadError, Loaded, Lowered, load};
pub use medication::{
    Band, Ceiling, Concentration, Dose, DoseLine, InfusionLine, InfusionRate, Medication, Rounding,
};
pub use order::{Action, AskWay, Order, Until};
pub use parts::*;
pub use phase::{Aim, CourseSteps, Due, End, EndTrigger, Phase, Planned, RateRange, Way};
pub use scenario::{Entry, EntryValue, Expect, Expected, Given, Scenario, ScenarioLine};
pub(crate) use uses::resolve;
pub use uses::{Opened, open};
pub use words::FixedWord;

use crate::source::Span;

/// A word of the author's, and where it stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Named {
    pub name: String,
    pub span: Span,
}

/// Free text in CommonMark, without its quotes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Text {
    pub markdown: String,
    pub span: Span,
}

/// A value and where it stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct At<T> {
    pub value: T,
    pub span: Span,
}

impl<T> At<T> {
    pub fn new(value: T, span: Span) -> Self {
        At { value, span }
    }
}

/// Why a statement says what it says.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Reason {
    pub sources: Vec<CiteId>,
    pub because: Option<Text>,
}

/// The reason of a statement that is only a part of something: `by`, `class`,
/// `overrides`, the title of the head.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StatedReason {
    /// The block that it stands in, with its name: `phase` `rewarm`. In the
    /// protocol itself, what the statement declares.
    pub block: String,
    pub name: Option<String>,
    /// The title of the rung or step that it stands in.
    pub part: Option<Text>,
    /// The word that the statement begins with.
    pub statement: String,
    pub reason: Reason,
    pub span: Span,
}

macro_rules! ids {
    ($($(#[$doc:meta])* $id:ident => $table:ident: $entity:ident;)*) => {
        $(
            $(#[$doc])*
            #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
            pub struct $id(pub u32);

            impl $id {
                pub fn index(self) -> usize {
                    self.0 as usize
                }
            }

            impl std::ops::Index<$id> for Protocol {
                type Output = $entity;
                fn index(&self, id: $id) -> &$entity {
                    // Ids are only made by lowering, which fills the table first.
                    &self.$table[id.index()]
                }
            }
        )*

        impl Protocol {
            $(
                #[doc = concat!("All of `", stringify!($table), "` with their ids, as written.")]
                pub fn $table(&self) -> impl Iterator<Item = ($id, &$entity)> {
                    self.$table
                        .iter()
                        .enumerate()
                        .map(|(index, entity)| ($id(u32::try_from(index).unwrap_or(u32::MAX)), entity))
                }
            )*
        }
    };
}

ids! {
    CiteId => cites: Cite;
    RoleId => roles: Role;
    MarkId => marks: Mark;
    ReadingId => readings: Reading;
    PhaseId => phases: Phase;
    RuleId => rules: Rule;
    LadderId => ladders: Ladder;
    ChecklistId => checklists: Checklist;
    MedicationId => medications: Medication;
}

/// One unit's protocol with everything that it uses.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Protocol {
    pub name: Named,
    pub head: Head,
    /// Libraries that were used, by path as shown, in the order of use.
    pub uses: Vec<Used>,
    pub lets: Vec<Let>,
    pub cites: Vec<Cite>,
    pub roles: Vec<Role>,
    pub marks: Vec<Mark>,
    pub criteria: Vec<Criterion>,
    pub readings: Vec<Reading>,
    pub limits: Vec<Limit>,
    pub phases: Vec<Phase>,
    pub looks: Vec<Look>,
    pub rules: Vec<Rule>,
    pub ladders: Vec<Ladder>,
    pub checklists: Vec<Checklist>,
    pub medications: Vec<Medication>,
    pub accepts: Vec<Accept>,
    pub measures: Vec<Measure>,
    /// Reasons of statements whose own part of the model has no place for one.
    pub reasons: Vec<StatedReason>,
    pub scenarios: Vec<Scenario>,
    /// The whole file's span, for findings about what is absent.
    pub span: Span,
}

impl Protocol {
    /// The reading by whose value temperature is controlled: `feedback from`,
    /// or that of the first phase.
    pub fn control_reading(&self) -> Option<ReadingId> {
        self.head
            .method
            .feedback
            .as_ref()
            .map(|feedback| feedback.value)
            .or_else(|| self.phases.first().map(|phase| phase.aim.reading()))
    }

    /// The means of a phase: its own `by`, or those of `method`.
    pub fn means<'a>(&'a self, phase: &'a Phase) -> &'a [At<words::Means>] {
        if phase.by.is_empty() {
            &self.head.method.means
        } else {
            &phase.by
        }
    }

    /// Whether temperature is controlled actively in that phase.
    pub fn is_active(&self, phase: &Phase) -> bool {
        self.means(phase)
            .iter()
            .any(|means| means.value != words::Means::Passive)
    }

    /// Whether a checklist for each shift is worked through at a change of shift in that phase.
    pub fn is_asked_each_shift(&self, list: &Checklist, phase: PhaseId) -> bool {
        match list.at.value {
            words::Occasion::EachShift => true,
            words::Occasion::EachShiftOfControl => self.is_active(&self[phase]),
            words::Occasion::BeforeStart
            | words::Occasion::Placing
            | words::Occasion::Start
            | words::Occasion::Trouble
            | words::Occasion::End => false,
        }
    }
}
