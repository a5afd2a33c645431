//! From values to the record that shows them.

use super::frame::Frame;
use super::question::Found;
use super::scene::Scene;
use crate::eval::Entry;
use crate::model::ReadingId;
use crate::quantity::Exact;
use std::collections::BTreeMap;

pub(super) fn found(scene: &Scene<'_>, frame: &Frame, at: Exact, values: &[i64]) -> Found {
    let mut chosen: BTreeMap<(ReadingId, usize), i64> = BTreeMap::new();
    for (reading, index, var) in scene.vars() {
        if let Some(value) = values.get(var.index()) {
            chosen.insert((reading, index), *value);
        }
    }
    let mut entries = Vec::new();
    let mut shown = Vec::new();
    for (reading, _) in scene.protocol.readings() {
        for (index, sample) in scene.samples(reading).iter().enumerate() {
            if sample.at > at {
                break;
            }
            let value = match chosen.get(&(reading, scene.key(reading, index))) {
                Some(value) => {
                    shown.push((sample.at, reading, scene.grids.value(*value)));
                    *value
                }
                None => sample.plan,
            };
            entries.push(Entry::record(sample.at, reading, scene.grids.value(value)));
        }
    }
    let mut marks = Vec::new();
    for (mark, made) in &frame.marks {
        if *made > Exact::ZERO {
            entries.push(Entry::mark(*made, *mark));
        } else {
            marks.push((*mark, *made));
        }
    }
    entries.sort_by_key(|entry| entry.at);
    shown.sort();
    Found {
        phase: frame.phase,
        at,
        marks,
        entries,
        shown,
        silent: scene
            .silent_after
            .iter()
            .map(|(reading, after)| (*reading, *after))
            .collect(),
        first: None,
    }
}
