//! What is known of each reading: its last record, how long that is good, and
//! how often somebody looks (M5, M6, M8).
//!
//! Takes records and the running phase; gives the value that stands, or that the
//! reading is unknown. Keeps one record of each reading, whatever the length of
//! the case.
//!
//! Two choices where the definitions leave room:
//! - The interval of a phase that a record ends does not count for that record:
//!   only what is in force *after* it can make it old.
//! - A record made while nobody asks for its reading stays good at its own moment
//!   only, even when a later phase begins to ask.

use crate::model::{LookWhat, LookWhen, PhaseId, Protocol, ReadingId};
use crate::quantity::Exact;
use std::rc::Rc;

/// The last record of one reading.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Record {
    pub value: Exact,
    pub at: Exact,
    /// It stands up to and including this moment (M6).
    pub good_until: Exact,
    /// The reading has been known without a break since then.
    pub unbroken_since: Exact,
}

#[derive(Debug, Clone)]
pub struct Board {
    intervals: Intervals,
    good_for: Vec<Option<Exact>>,
    records: Vec<Option<Record>>,
    phase: Option<PhaseId>,
}

impl Board {
    pub fn new(protocol: &Protocol) -> Self {
        Board {
            intervals: Intervals::of(protocol),
            good_for: protocol
                .readings()
                .map(|(_, reading)| reading.good_for.as_ref().map(|good| good.value))
                .collect(),
            records: protocol.readings().map(|_| None).collect(),
            phase: None,
        }
    }

    /// A record that has passed the check of its value. Of two at one moment the
    /// later one stands: it is a correction.
    pub fn enter(&mut self, reading: ReadingId, value: Exact, now: Exact) {
        let Some(slot) = self.records.get_mut(reading.index()) else {
            return;
        };
        let unbroken_since = match slot {
            Some(last) if last.good_until >= now || last.at == now => last.unbroken_since,
            _ => now,
        };
        *slot = Some(Record {
            value,
            at: now,
            good_until: now,
            unbroken_since,
        });
    }

    /// Says which phase runs from this moment on; to be called once the phases of
    /// a moment have settled, whether or not they changed.
    pub fn settle(&mut self, phase: Option<PhaseId>, now: Exact) {
        self.phase = phase;
        for (index, slot) in self.records.iter_mut().enumerate() {
            let Some(record) = slot else { continue };
            if let Some(good_for) = self.good_for.get(index).copied().flatten() {
                record.good_until = record.at + good_for;
                continue;
            }
            let lasts = self
                .intervals
                .entry(index, phase)
                .map(|interval| record.at + interval.good_for);
            if record.at == now {
                record.good_until = lasts.unwrap_or(now);
            } else if let Some(lasts) = lasts {
                record.good_until = record.good_until.min(lasts);
            }
        }
    }

    pub fn last(&self, reading: ReadingId) -> Option<&Record> {
        self.records.get(reading.index())?.as_ref()
    }

    /// The record that stands now and was made in the stretch that began at
    /// `since` (the record that begins it is in it).
    pub fn known(&self, reading: ReadingId, since: Exact, now: Exact) -> Option<&Record> {
        self.last(reading)
            .filter(|record| record.at >= since && record.good_until >= now)
    }

    /// The record that stands now, whenever it was made.
    pub fn standing(&self, reading: ReadingId, now: Exact) -> Option<&Record> {
        self.last(reading).filter(|record| record.good_until >= now)
    }

    pub fn just_recorded(&self, reading: ReadingId, now: Exact) -> bool {
        self.last(reading).is_some_and(|record| record.at == now)
    }

    /// The interval in force of a reading (M5).
    pub fn interval(&self, reading: ReadingId) -> Option<Exact> {
        let interval = self.intervals.entry(reading.index(), self.phase)?;
        Some(interval.length)
    }

    /// A quarter of the interval in force, of several readings of the shortest
    /// one; 0 where nobody asks (M8).
    pub fn slack(&self, readings: &[ReadingId]) -> Exact {
        readings
            .iter()
            .filter_map(|reading| self.intervals.entry(reading.index(), self.phase))
            .map(|interval| interval.slack)
            .min()
            .unwrap_or(Exact::ZERO)
    }

    /// The longest slack that any phase gives a reading: how far back a trend can
    /// ever look beyond its own D.
    pub fn longest_slack(&self, reading: ReadingId) -> Exact {
        self.intervals
            .all(reading.index())
            .map(|interval| interval.slack)
            .max()
            .unwrap_or(Exact::ZERO)
    }
}

/// An `every`, and what is counted from it at each record.
#[derive(Debug, Clone, Copy)]
struct Interval {
    length: Exact,
    /// Half as long again (M6).
    good_for: Exact,
    /// A quarter (M8).
    slack: Exact,
}

impl Interval {
    fn of(length: Exact) -> Self {
        Interval {
            length,
            good_for: length * Exact::ratio(3, 2),
            slack: length * Exact::ratio(1, 4),
        }
    }
}

/// The shortest `every` of each reading in each phase.
#[derive(Debug, Clone)]
struct Intervals {
    /// By reading, then by phase.
    table: Rc<Vec<Vec<Option<Interval>>>>,
}

impl Intervals {
    fn of(protocol: &Protocol) -> Self {
        let phases = protocol.phases().count();
        let mut table = vec![vec![None; phases]; protocol.readings().count()];
        for look in &protocol.looks {
            let LookWhen::Every { interval, during } = &look.when else {
                continue;
            };
            let LookWhat::Ask { readings, .. } = &look.what else {
                continue;
            };
            for reading in readings {
                let Some(row) = table.get_mut(reading.value.index()) else {
                    continue;
                };
                for (phase, slot) in row.iter_mut().enumerate() {
                    let asks = during.is_empty() || during.iter().any(|p| p.value.index() == phase);
                    if asks {
                        let shortest = slot.map_or(interval.value, |known: Interval| {
                            known.length.min(interval.value)
                        });
                        *slot = Some(Interval::of(shortest));
                    }
                }
            }
        }
        Intervals {
            table: Rc::new(table),
        }
    }

    fn entry(&self, reading: usize, phase: Option<PhaseId>) -> Option<Interval> {
        *self.table.get(reading)?.get(phase?.index())?
    }

    fn all(&self, reading: usize) -> impl Iterator<Item = Interval> + '_ {
        self.table
            .get(reading)
            .into_iter()
            .flatten()
            .filter_map(|interval| *interval)
    }
}
