//! A record that was found, gone on with for one more time of a reading.

use super::Solver;
use super::question::Found;
use super::replay::Replay;
use crate::eval::{Entry, EntryWhat};
use crate::model::ReadingId;
use crate::quantity::Exact;
use std::rc::Rc;

impl<'p> Solver<'p> {
    /// The same record up to the next time at which the reading is asked for, where it
    /// shows this value and everything else what it last showed; and what comes of it.
    pub fn next(
        &self,
        found: &Found,
        reading: ReadingId,
        value: Exact,
    ) -> Option<(Found, Rc<Replay<'p>>)> {
        let frame = self.frame(found.phase)?;
        let at = frame
            .samples_of(reading)
            .iter()
            .find(|sample| sample.at > found.at)?
            .at;
        let mut next = found.clone();
        for (other, _) in self.protocol.readings() {
            let is_silent = found.silent.iter().any(|(silent, _)| *silent == other);
            if is_silent {
                continue;
            }
            for sample in frame.samples_of(other) {
                if sample.at <= found.at || sample.at > at {
                    continue;
                }
                let shows = if other == reading && sample.at == at {
                    value
                } else {
                    found
                        .last(other)
                        .unwrap_or_else(|| self.grids.value(sample.plan))
                };
                next.entries.push(Entry::record(sample.at, other, shows));
            }
        }
        next.entries.sort_by_key(|entry| entry.at);
        next.shown.push((at, reading, value));
        next.at = at;
        let replay = self.replay(&next);
        self.replayed.set(self.replayed.get() + 1);
        Some((next, replay))
    }
}

impl Found {
    /// What was last recorded of a reading.
    pub fn last(&self, reading: ReadingId) -> Option<Exact> {
        self.entries
            .iter()
            .rev()
            .find_map(|entry| match entry.what {
                EntryWhat::Record { reading: of, value } if of == reading => Some(value),
                _ => None,
            })
    }
}
