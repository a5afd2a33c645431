//! What a reading shows when nothing is the matter: the value at which the fewest
//! comparisons, limits and rungs speak, as near to the middle of such values as may
//! be. Witnesses leave it only where they must.

use super::grid::Grids;
use crate::model::*;
use crate::quantity::Exact;

/// By reading, in units of the grids.
pub fn neutral(protocol: &Protocol, grids: &Grids) -> Vec<i64> {
    protocol
        .readings()
        .map(|(id, _)| of_reading(protocol, grids, id).unwrap_or(0))
        .collect()
}

fn of_reading(protocol: &Protocol, grids: &Grids, id: ReadingId) -> Option<i64> {
    let domain = grids.domain(id)?;
    let speakers = speakers(protocol, id);
    let mut edges = vec![domain.low, domain.high + domain.step];
    for speaker in &speakers {
        for at in speaker.edges() {
            for edge in [grids.floor(at), grids.floor(at) + domain.step] {
                let edge = edge.div_euclid(domain.step) * domain.step;
                edges.extend([edge, edge + domain.step]);
            }
        }
    }
    edges.retain(|edge| *edge >= domain.low && *edge <= domain.high + domain.step);
    edges.sort_unstable();
    edges.dedup();
    // Between two edges every comparison answers alike.
    let loud = |units: i64| {
        let value = grids.value(units);
        speakers.iter().filter(|speaker| speaker.at(value)).count()
    };
    let mut best: Option<(usize, i64, i64)> = None;
    for pair in edges.windows(2) {
        let &[from, to] = pair else { continue };
        let key = (loud(from), -(to - from), from);
        let middle = from + (to - domain.step - from) / 2;
        let middle = (middle.div_euclid(domain.step) * domain.step).max(from);
        if best.is_none_or(|(count, width, _)| (key.0, key.1) < (count, width)) {
            best = Some((key.0, key.1, middle));
        }
    }
    best.map(|(_, _, middle)| middle)
}

enum Speaker {
    Compare(Cmp, Exact),
    Outside(Exact, Exact),
    Is(usize),
}

impl Speaker {
    fn edges(&self) -> Vec<Exact> {
        match self {
            Speaker::Compare(_, at) => vec![*at],
            Speaker::Outside(low, high) => vec![*low, *high],
            Speaker::Is(word) => vec![Exact::int(i64::try_from(*word).unwrap_or(0))],
        }
    }

    fn at(&self, value: Exact) -> bool {
        match self {
            Speaker::Compare(cmp, at) => cmp.holds(value, *at),
            Speaker::Outside(low, high) => value < *low || value > *high,
            Speaker::Is(word) => i64::try_from(*word).is_ok_and(|word| value == Exact::int(word)),
        }
    }
}

fn speakers(protocol: &Protocol, id: ReadingId) -> Vec<Speaker> {
    let mut found = Vec::new();
    for (_, rule) in protocol.rules() {
        for test in rule.when.tests() {
            match &test.kind {
                TestKind::Compare {
                    reading,
                    cmp,
                    level,
                } if *reading == id => found.push(Speaker::Compare(*cmp, level.value)),
                TestKind::Outside { reading, low, high } if *reading == id => {
                    found.push(Speaker::Outside(low.value, high.value));
                }
                TestKind::Is { reading, word } if *reading == id => {
                    found.push(Speaker::Is(*word));
                }
                _ => {}
            }
        }
    }
    for limit in &protocol.limits {
        if limit.reading == id {
            let cmp = match limit.side {
                Side::Above => Cmp::Above,
                Side::Below => Cmp::Below,
            };
            found.push(Speaker::Compare(cmp, limit.level.value));
        }
    }
    for (_, ladder) in protocol.ladders() {
        if ladder.reading.value != id {
            continue;
        }
        match &ladder.form {
            LadderForm::Rungs(rungs) => {
                for rung in rungs {
                    let idle = rung
                        .actions
                        .iter()
                        .all(|action| matches!(action.order, Order::Continue));
                    match &rung.band {
                        _ if idle => {}
                        RungBand::Values { low, high } => {
                            found.push(Speaker::Compare(Cmp::AtOrAbove, low.value));
                            found.push(Speaker::Compare(Cmp::AtOrBelow, high.value));
                        }
                        RungBand::Compare { cmp, level } => {
                            found.push(Speaker::Compare(*cmp, level.value));
                        }
                    }
                }
            }
            LadderForm::Steps { goal, .. } => {
                if let Goal::Compare { cmp, level } = goal {
                    // Short of the goal it speaks.
                    let short = match cmp {
                        Cmp::Below => Cmp::AtOrAbove,
                        Cmp::Above => Cmp::AtOrBelow,
                        Cmp::AtOrBelow => Cmp::Above,
                        Cmp::AtOrAbove => Cmp::Below,
                    };
                    found.push(Speaker::Compare(short, level.value));
                }
            }
        }
    }
    found
}
