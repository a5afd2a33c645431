//! What a run says: one [`Event`] for everything that happens at a moment.
//!
//! INVARIANT: events come in order of time, and an event once given is never
//! taken back by a later record.

use super::condition::Fact;
use super::entry::Refusal;
use super::medications::{Given, NotGiven};
use super::phases::EndWhy;
use super::target::{Aimed, NoTarget};
use crate::model::{
    AskWay, ChecklistId, LadderId, MarkId, MedicationId, Order, PhaseId, ReadingId, RoleId, RuleId,
};
use crate::quantity::Exact;
use std::borrow::Cow;

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Event<'p> {
    /// Minutes from `start`.
    pub at: Exact,
    pub what: What<'p>,
}

/// No more are mostly said in one moment.
const MOSTLY: usize = 12;

/// What has been said and not been taken yet.
#[derive(Debug, Clone, Default)]
pub struct Events<'p> {
    said: Vec<Event<'p>>,
    only_decided: bool,
}

impl<'p> Events<'p> {
    pub fn push(&mut self, event: Event<'p>) {
        if !(self.only_decided && event.what.is_of_the_boxes()) {
            if self.said.is_empty() {
                self.said.reserve(MOSTLY);
            }
            self.said.push(event);
        }
    }

    /// Whether this has been said at this moment, which is the last.
    pub fn has_said(&self, now: Exact, what: &What<'p>) -> bool {
        let of_now = self.said.iter().rev().take_while(|event| event.at == now);
        of_now.map(|event| &event.what).any(|said| said == what)
    }

    pub fn take(&mut self) -> Vec<Event<'p>> {
        std::mem::take(&mut self.said)
    }

    /// From now on the boxes are passed over.
    pub fn only_decided(&mut self) {
        self.only_decided = true;
    }
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub enum What<'p> {
    Recorded {
        reading: ReadingId,
        value: Exact,
    },
    /// An entry that cannot be, and therefore counts for nothing (M4).
    Refused(Refusal),
    Marked(MarkId),
    /// By its place in `Protocol::limits`.
    LimitPassed {
        limit: usize,
        value: Exact,
    },

    PhaseBegins {
        phase: PhaseId,
        /// Entered by `begin`, not in the written order.
        by_order: bool,
    },
    PhaseEnds {
        phase: PhaseId,
        why: EndWhy,
    },
    PhaseOverdue(PhaseId),
    CaseEnds,
    Target(Aimed),

    RuleFires {
        rule: RuleId,
        because: Vec<Fact<'p>>,
    },
    RuleReady(RuleId),
    /// It would fire, but a rule that overrides it has a condition that holds.
    RuleSilenced {
        rule: RuleId,
        by: RuleId,
    },

    OrderGiven {
        order: Cow<'p, Order>,
        causes: Vec<Cause>,
    },
    /// Its UNTIL holds, or what it applied to is over.
    OrderEnds(&'p Order),
    OrderNotDone {
        order: Cow<'p, Order>,
        causes: Vec<Cause>,
        why: NotDone,
    },
    /// Orders that contradict each other: none of them is given (M33).
    Contradiction {
        orders: Vec<(Cow<'p, Order>, Vec<Cause>)>,
    },

    RungChosen {
        ladder: LadderId,
        rung: usize,
    },
    StepDone {
        ladder: LadderId,
        step: usize,
    },
    /// No rung has this value.
    NoRung {
        ladder: LadderId,
        value: Exact,
    },
    LadderRests {
        ladder: LadderId,
        goal_met: bool,
    },
    RecheckDue {
        ladder: LadderId,
    },
    RecheckAnswered {
        ladder: LadderId,
        due: Exact,
        late: bool,
    },

    EntryDue(Asked),
    EntryMade {
        asked: Asked,
        late: bool,
    },
    EntryMissed(Asked),
    /// A checklist for each shift (M5).
    ChecklistDue(ChecklistId),

    Medication {
        medication: MedicationId,
        given: Given,
    },
    NotGiven {
        medication: MedicationId,
        why: NotGiven,
    },

    /// The one call of this role that now stands (M16).
    Call(Call),
}

impl What<'_> {
    /// What is written down, due, made or missed, and the target at each moment.
    fn is_of_the_boxes(&self) -> bool {
        matches!(
            self,
            What::Recorded { .. }
                | What::Marked(_)
                | What::Target(_)
                | What::EntryDue(_)
                | What::EntryMade { .. }
                | What::EntryMissed(_)
                | What::ChecklistDue(_)
        )
    }
}

/// One entry that somebody is asked to make.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Asked {
    pub way: AskWay,
    pub reading: ReadingId,
    pub due: Exact,
}

/// A call, and who is called when nobody replies.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Call {
    pub role: RoleId,
    /// No later than this.
    pub by: Exact,
    /// Without a reply until then, that role is called; one after the other.
    pub no_reply: Vec<(Exact, RoleId)>,
}

/// Where an order comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Cause {
    Rule(RuleId),
    /// Index of the rung or step.
    Rung(LadderId, usize),
    Step(LadderId, usize),
    /// By its place in `Protocol::looks`.
    Look(usize),
    /// The `otherwise` of a medication that was not given.
    Otherwise(MedicationId),
}

/// Why an order is not done.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum NotDone {
    Target(NoTarget),
    /// `begin` of the phase that runs.
    RunsAlready,
    /// Phases have led back to this one at one and the same moment.
    GoingRound,
}
