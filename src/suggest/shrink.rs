//! Takes from a record what it does not need: a scenario is read by people.

use super::{Record, Wanted, reaches};
use crate::model::Protocol;

/// The record with ever smaller parts of it left out, as long as it still reaches what it
/// is for.
pub(super) fn shrink(protocol: &Protocol, record: Record, wanted: Wanted) -> Record {
    let mut best = record;
    let mut size = (best.entries.len() / 2).max(1);
    loop {
        let mut begin = 0;
        let mut changed = false;
        while begin < best.entries.len() {
            let end = (begin + size).min(best.entries.len());
            let mut fewer = best.clone();
            fewer.entries.drain(begin..end);
            if reaches(protocol, &fewer, wanted) {
                best = fewer;
                changed = true;
            } else {
                begin = end;
            }
        }
        if size == 1 && !changed {
            return best;
        }
        size = (size / 2).max(1);
    }
}
