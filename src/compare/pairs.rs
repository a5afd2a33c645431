//! Which thing of the older version is which of the newer one.
//!
//! Things with a name go by it; a name that is only in one version is paired with
//! one that is only in the other where what they say is the same, or nearly so: a
//! rename. Things without a name go by what they are about. Pairing is the same
//! both ways round.

use super::say::text;
use super::weigh::bare;
use serde_json::Value;
use std::collections::BTreeSet;

/// Pairs of places in the two lists; a lone one is on one side only.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Pair {
    Both(usize, usize),
    Old(usize),
    New(usize),
}

/// Alike at least so much is the same thing with another name, in hundredths.
const ALIKE: usize = 60;

/// Pairs by key, then those left by likeness. In the order of the newer list, what
/// is gone at the end.
pub(super) fn pairs(
    old: &[Value],
    new: &[Value],
    key: impl Fn(&Value) -> String,
    likeness: impl Fn(&Value, &Value) -> usize,
) -> Vec<Pair> {
    let mut of_new: Vec<Option<usize>> = vec![None; new.len()];
    let mut used: BTreeSet<usize> = BTreeSet::new();
    let old_keys: Vec<String> = old.iter().map(&key).collect();
    for (place, item) in new.iter().enumerate() {
        let wanted = key(item);
        let found = (0..old.len())
            .find(|index| !used.contains(index) && old_keys.get(*index) == Some(&wanted));
        if let (Some(found), Some(slot)) = (found, of_new.get_mut(place)) {
            used.insert(found);
            *slot = Some(found);
        }
    }
    let mut near: Vec<(usize, String, String, usize, usize)> = Vec::new();
    for (o, left) in old.iter().enumerate().filter(|(o, _)| !used.contains(o)) {
        for (n, right) in new.iter().enumerate() {
            if of_new.get(n) == Some(&None) {
                let much = likeness(left, right).max(likeness(right, left));
                if much >= ALIKE {
                    // The same order whichever version comes first.
                    let (a, b) = (key(left), key(right));
                    let (low, high) = if a <= b { (a, b) } else { (b, a) };
                    near.push((much, low, high, o, n));
                }
            }
        }
    }
    near.sort_by(|a, b| b.0.cmp(&a.0).then_with(|| (&a.1, &a.2).cmp(&(&b.1, &b.2))));
    for (_, _, _, o, n) in near {
        if let Some(slot @ None) = of_new.get_mut(n)
            && used.insert(o)
        {
            *slot = Some(o);
        }
    }
    let mut found: Vec<Pair> = of_new
        .iter()
        .enumerate()
        .map(|(n, o)| o.map_or(Pair::New(n), |o| Pair::Both(o, n)))
        .collect();
    found.extend((0..old.len()).filter(|o| !used.contains(o)).map(Pair::Old));
    found
}

/// By the words of two texts, in hundredths.
pub(super) fn texts_alike(old: &str, new: &str) -> usize {
    let words = |text: &str| -> BTreeSet<String> {
        text.split(|c: char| !c.is_alphanumeric())
            .filter(|word| !word.is_empty())
            .map(str::to_lowercase)
            .collect()
    };
    let (a, b) = (words(old), words(new));
    let all = a.union(&b).count();
    if all == 0 {
        return 0;
    }
    a.intersection(&b).count() * 100 / all
}

/// By what two named things say, their names apart: the share of equal leaves.
pub(super) fn things_alike(old: &Value, new: &Value) -> usize {
    let leaves = |value: &Value| {
        let mut found = BTreeSet::new();
        collect(&bare(value), "", &mut found);
        found
    };
    let nameless = |value: &Value| {
        let mut value = value.clone();
        if let Value::Object(members) = &mut value {
            members.remove("name");
        }
        value
    };
    let (a, b) = (leaves(&nameless(old)), leaves(&nameless(new)));
    let all = a.union(&b).count();
    if all == 0 {
        // Two names and nothing else: nothing tells that they are one.
        return 0;
    }
    let same = a.intersection(&b).count() * 100 / all;
    let title = text(old, "title");
    if !title.is_empty() && title == text(new, "title") {
        same.max(ALIKE)
    } else {
        same
    }
}

fn collect(value: &Value, path: &str, into: &mut BTreeSet<String>) {
    match value {
        Value::Object(members) => {
            for (name, member) in members {
                collect(member, &format!("{path}.{name}"), into);
            }
        }
        Value::Array(items) => {
            for (index, item) in items.iter().enumerate() {
                collect(item, &format!("{path}[{index}]"), into);
            }
        }
        leaf => {
            into.insert(format!("{path}={leaf}"));
        }
    }
}
