//! Orders in bedside words.

use super::{Words, lasting, listed, whole};
use crate::model::{Action, MarkRef, Order, PhaseId, Until};

impl Words<'_> {
    /// One order, as a line that begins with its verb.
    pub fn order(&self, action: &Action, during: &[PhaseId]) -> String {
        match &action.order {
            Order::Ask {
                way,
                readings,
                after,
            } => {
                let names: Vec<String> = readings
                    .iter()
                    .map(|at| self.reading_marked(at.value))
                    .collect();
                let when = match after {
                    None => "now".to_string(),
                    Some(after) => format!("in {after}"),
                };
                format!("{} {} {when}", way.word(), listed(&names, "and"))
            }
            Order::FollowLadder(ladder) => format!(
                "go through the steps **{}**",
                whole(&self.protocol[ladder.value].title.markdown)
            ),
            Order::FollowChecklist(list) => format!(
                "work through the list **{}**",
                whole(&self.protocol[list.value].title.markdown)
            ),
            Order::Call { role, within } => {
                let when = match within {
                    None => "now".to_string(),
                    Some(within) => format!("within {within}"),
                };
                format!("**call {} {when}**", whole(self.role(role.value)))
            }
            Order::Do { text, .. } => text.markdown.trim().to_string(),
            Order::Continue => "carry on".to_string(),
            Order::Begin(phase) => format!("begin phase **{}**", self.phase(phase.value)),
            Order::SetTarget(level) => format!("set the target to **{}**", self.both(level)),
            Order::RaiseTarget { by, at_most } => {
                format!(
                    "raise the target by **{}**, to no more than {}",
                    self.both(by),
                    self.both(at_most)
                )
            }
            Order::LowerTarget { by, at_least } => {
                format!(
                    "lower the target by **{}**, to no less than {}",
                    self.both(by),
                    self.both(at_least)
                )
            }
            Order::KeepTarget(until) => format!(
                "**keep the target where it is now** {}",
                self.until(until, during)
            ),
            Order::SetRate(rate) => format!("set the rate to **{}**", self.both(rate)),
            Order::Pause(until) => {
                format!(
                    "**pause temperature control** {}",
                    self.until(until, during)
                )
            }
            Order::Stop => "**stop temperature control**".to_string(),
            Order::Give {
                medication,
                otherwise,
            } => {
                let name = whole(&self.protocol[medication.value].title.markdown);
                self.with_otherwise(&format!("give **{name}**"), otherwise.as_deref(), during)
            }
            Order::RaiseRate {
                medication,
                otherwise,
            } => {
                let name = whole(&self.protocol[medication.value].title.markdown);
                let order = format!("raise **{name}** by one step");
                self.with_otherwise(&order, otherwise.as_deref(), during)
            }
            Order::LowerRate {
                medication,
                otherwise,
            } => {
                let name = whole(&self.protocol[medication.value].title.markdown);
                let order = format!("lower **{name}** by one step");
                self.with_otherwise(&order, otherwise.as_deref(), during)
            }
            Order::Withhold { medication, until } => {
                let name = whole(&self.protocol[medication.value].title.markdown);
                format!("do **not** give **{name}** {}", self.until(until, during))
            }
            Order::StopMedication(medication) => {
                let name = whole(&self.protocol[medication.value].title.markdown);
                format!("**stop {name}**")
            }
        }
    }

    /// M27: what is done where the dose may not be given.
    fn with_otherwise(
        &self,
        order: &str,
        otherwise: Option<&Action>,
        during: &[PhaseId],
    ) -> String {
        match otherwise {
            None => order.to_string(),
            Some(other) => format!(
                "{order}; if that is not allowed: {}",
                self.order(other, during)
            ),
        }
    }

    /// What ends an order (M15).
    pub fn until(&self, until: &Until, during: &[PhaseId]) -> String {
        match until {
            Until::For(duration) => lasting(duration),
            Until::When(cond) => format!("until {}", self.condition(cond, during)),
            Until::Mark(mark) => match mark.value {
                MarkRef::PhaseStart(id) => format!("until phase {} begins", self.phase(id)),
                MarkRef::PhaseEnd(id) => format!("until phase {} ends", self.phase(id)),
                MarkRef::Start | MarkRef::Named(_) => format!("until {}", self.mark(mark.value)),
            },
        }
    }
}
