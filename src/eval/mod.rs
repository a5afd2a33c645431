//! Records in, events out: what the protocol says about a case as it goes on.
//!
//! Takes a [`Protocol`], what is known of the [`Case`] and [`Entry`] after entry in
//! order of time; gives [`Event`] after event. It is the plain reading of M1 to M36
//! of the language reference, with no shortcut and no look into the future: what
//! has been said stays said, whatever is recorded later. Memory is bounded by the
//! protocol's windows, not by the number of records.
//!
//! ```text
//! 4:00 core 36.0, water 9.0   ->  (nothing)
//! 5:00 core 36.0, water 9.0   ->  rule cold-water fires: two boxes in a row
//!                                 order: follow shivering-steps
//!                                 entry due: score shiver
//! ```
//!
//! What may go wrong: an entry that cannot be is said as [`What::Refused`] and
//! counts for nothing; orders that contradict are said and none is given. Every
//! order that is given is taken as carried out at that moment: the language has no
//! entry for what was done late or left out.
//!
//! Where a definition leaves room, the part that decides it says so in its own
//! module docs, under "choices".

pub mod asks;
pub mod board;
pub mod calls;
mod carry;
pub mod case;
pub mod condition;
pub mod contradiction;
pub mod entry;
pub mod event;
mod forecast;
pub mod ladders;
pub mod looks;
pub mod machine;
pub mod measures;
pub mod medications;
pub mod order_words;
mod orders;
pub mod phases;
mod queries;
pub mod rules;
pub mod same;
mod shifts;
pub mod standing;
pub mod target;
pub mod wording;

pub use board::{Board, Record};
pub use case::Case;
pub use condition::{Fact, PhaseClock, Seen, Truth, View, Watch};
pub use entry::{Entry, EntryWhat, Refusal, RefusedFor};
pub use event::{Asked, Call, Cause, Event, NotDone, What};
pub use machine::Run;
pub use measures::Measured;
pub use medications::{Given, NotGiven};
pub use phases::EndWhy;
pub use rules::Standing as RuleStanding;
pub use target::{Aimed, NoTarget};

use crate::model::Protocol;
use crate::quantity::Exact;

/// Runs a whole case: all entries, then time up to and including `until`.
pub fn run<'p>(
    protocol: &'p Protocol,
    case: &Case,
    entries: impl IntoIterator<Item = Entry>,
    until: Exact,
) -> Vec<Event<'p>> {
    let mut run = Run::new(protocol, case);
    for entry in entries {
        run.enter(entry);
    }
    run.advance(until);
    run.take_events()
}

/// The same as a stream: events as they become certain, none held back.
pub fn stream<'p, I>(protocol: &'p Protocol, case: &Case, entries: I) -> Stream<'p, I::IntoIter>
where
    I: IntoIterator<Item = Entry>,
{
    Stream {
        run: Run::new(protocol, case),
        entries: entries.into_iter(),
        ready: Vec::new().into_iter(),
        over: false,
    }
}

/// See [`stream`]. It ends with the moment of the last entry.
pub struct Stream<'p, I> {
    run: Run<'p>,
    entries: I,
    ready: std::vec::IntoIter<Event<'p>>,
    over: bool,
}

impl<'p, I: Iterator<Item = Entry>> Iterator for Stream<'p, I> {
    type Item = Event<'p>;

    fn next(&mut self) -> Option<Event<'p>> {
        loop {
            if let Some(event) = self.ready.next() {
                return Some(event);
            }
            if self.over {
                return None;
            }
            match self.entries.next() {
                Some(entry) => self.run.enter(entry),
                None => {
                    self.over = true;
                    self.run.finish();
                }
            }
            self.ready = self.run.take_events().into_iter();
        }
    }
}
