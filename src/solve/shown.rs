//! A record that was found, as a reader sees it: only what matters.

use super::Solver;
use super::question::Found;
use crate::diag::{Witness, WitnessMoment};
use crate::eval::wording;
use crate::model::ReadingId;
use crate::quantity::Exact;
use std::collections::BTreeMap;

impl Solver<'_> {
    /// The moments of the record, each value as its display shows it; and what comes of it.
    pub fn witness(&self, found: &Found, outcome: Vec<String>) -> Witness {
        let protocol = self.protocol;
        let frame = self.frame(found.phase);
        let phase_at = |at: Exact| {
            frame
                .and_then(|frame| frame.runs.iter().rev().find(|(_, begins)| *begins <= at))
                .map_or(found.phase, |(phase, _)| *phase)
        };
        let mut moments: BTreeMap<Exact, Vec<(ReadingId, Exact)>> = BTreeMap::new();
        for (at, reading, value) in &found.shown {
            moments.entry(*at).or_default().push((*reading, *value));
        }
        moments.entry(found.at).or_default();
        let shown = |(reading, value): (ReadingId, Exact)| {
            (
                protocol[reading].name.name.clone(),
                wording::value(protocol, reading, value),
            )
        };
        Witness {
            moments: moments
                .into_iter()
                .map(|(at, records)| WitnessMoment {
                    time: wording::time(at),
                    phase: protocol[phase_at(at)].name.name.clone(),
                    records: records.into_iter().map(shown).collect(),
                })
                .collect(),
            outcome,
        }
    }
}
