//! Entries that an order asks for once: `record core in 30 min` (M16, M26).
//!
//! As with a recheck, a record from three quarters of D on answers it, and up to a
//! quarter of D after the time is not late. `now` names no time to be late for.

use super::event::{Asked, Event, Events, What};
use crate::model::{AskWay, ReadingId};
use crate::quantity::Exact;

#[derive(Debug, Clone, Default)]
pub struct Asks {
    open: Vec<OpenAsk>,
}

#[derive(Debug, Clone, Copy)]
struct OpenAsk {
    asked: Asked,
    /// D; 0 for `now`.
    after: Exact,
}

impl Asks {
    /// Asks for an entry `after` that many minutes. INVARIANT: one open ask for
    /// each reading and D, so that what nobody answers does not pile up.
    pub fn ask(
        &mut self,
        way: AskWay,
        reading: ReadingId,
        after: Exact,
        just_recorded: bool,
        now: Exact,
        events: &mut Events<'_>,
    ) {
        let asked = Asked {
            way,
            reading,
            due: now + after,
        };
        let mut say = |what| events.push(Event { at: now, what });
        if let Some(open) = self
            .open
            .iter()
            .position(|open| open.asked.reading == reading && open.after == after)
        {
            let before = self.open.remove(open);
            if before.asked.due >= now {
                self.open.push(before);
                return;
            }
            say(What::EntryMissed(before.asked));
        }
        say(What::EntryDue(asked));
        if after.is_zero() && just_recorded {
            say(What::EntryMade { asked, late: false });
        } else {
            self.open.push(OpenAsk { asked, after });
        }
    }

    pub fn record(&mut self, reading: ReadingId, now: Exact, events: &mut Events<'_>) {
        self.open.retain(|open| {
            let quarter = open.after * Exact::ratio(1, 4);
            let answered = open.asked.reading == reading && now >= open.asked.due - quarter;
            if answered {
                events.push(Event {
                    at: now,
                    what: What::EntryMade {
                        asked: open.asked,
                        late: !open.after.is_zero() && now > open.asked.due + quarter,
                    },
                });
            }
            !answered
        });
    }
}
