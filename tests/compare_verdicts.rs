//! The verdict on a rule's condition against every record of small protocols: two
//! conditions made by a seeded generator are the two versions of one rule, all
//! records are run through the evaluator under both, value by value, and what the
//! comparison says must be what they show.
//!
//! `TEMPWRIGHT_CASES=20000 cargo test --release --test compare_verdicts` tries more.

#![allow(clippy::expect_used, clippy::panic)]

mod generated;

use generated::{Config, Random, configs, is_true, shown};
use std::collections::BTreeSet;
use tempwright::compare::{Verdict, changes};
use tempwright::eval::{Case, Entry, Run};
use tempwright::model::*;
use tempwright::quantity::Exact;
use tempwright::solve::Solver;

/// No more records than this for one case.
const MOST_RECORDS: usize = 700;

/// Whether the newer version acts where the older does not, and the other way round.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
struct Parts {
    more: bool,
    fewer: bool,
}

/// What the comparison says; `None` where it says that it could not decide.
fn said(old: &Protocol, new: &Protocol) -> Option<Parts> {
    let all = changes(old, new);
    let Some(change) = all.iter().find(|change| change.what == "condition") else {
        return Some(Parts::default());
    };
    let words = change.consequence.as_str();
    let parts = if words.starts_with("acts on every record on which it acted before") {
        Parts {
            more: true,
            fewer: false,
        }
    } else if words.starts_with("acts on fewer records") {
        Parts {
            more: false,
            fewer: true,
        }
    } else if words.starts_with("acts on records on which it did not") {
        Parts {
            more: true,
            fewer: true,
        }
    } else if words.starts_with("acts on the same records") {
        Parts::default()
    } else {
        assert!(words.starts_with("whether it acts"), "{words}");
        assert_eq!(change.verdict, Verdict::Different);
        return None;
    };
    let wanted = match (parts.more, parts.fewer) {
        (true, false) => Some(Verdict::Stricter),
        (false, true) => Some(Verdict::Looser),
        (true, true) => Some(Verdict::Different),
        (false, false) => None,
    };
    assert!(
        wanted.is_none_or(|wanted| wanted == change.verdict),
        "{change:#?}"
    );
    Some(parts)
}

#[test]
fn the_verdict_agrees_with_every_record() {
    let cases: u64 = std::env::var("TEMPWRIGHT_CASES")
        .ok()
        .and_then(|cases| cases.parse().ok())
        .unwrap_or(if cfg!(debug_assertions) { 150 } else { 4_000 });
    let configs = configs();
    let mut random = Random::new(6);
    let (mut confirmed, mut beyond, mut undecided, mut equal) = (0u64, 0u64, 0u64, 0u64);
    for case in 0..cases {
        let config = &configs[random.below(configs.len())];
        let mut old = config.protocol.clone();
        let mut new = config.protocol.clone();
        old.rules[0].when = generated::cond(&mut random, config);
        new.rules[0].when = generated::cond(&mut random, config);
        let Some(said) = said(&old, &new) else {
            undecided += 1;
            continue;
        };
        let shown = brute(config, &old, &new);
        let about = format!(
            "case {case}, {}: old {:#?}, new {:#?}: the comparison says {said:?}, the records show {shown:?}",
            config.name,
            generated::text(&old.rules[0].when),
            generated::text(&new.rules[0].when)
        );
        // Whatever a record shows is said.
        assert!(said.more || !shown.more, "{about}");
        assert!(said.fewer || !shown.fewer, "{about}");
        if said == shown {
            confirmed += 1;
            equal += u64::from(said == Parts::default());
        } else {
            // Said, and possible only later than the records that were tried; the case
            // that is shown has been replayed.
            beyond += 1;
        }
    }
    eprintln!(
        "{cases} cases: {confirmed} confirmed ({equal} of them alike), {beyond} part only later than the records \
         tried, {undecided} undecided"
    );
    assert!(confirmed * 3 > cases && undecided * 10 < cases);
}

type Time = (Exact, Vec<(ReadingId, Vec<Exact>)>);

fn brute(config: &Config, old: &Protocol, new: &Protocol) -> Parts {
    let solver = Solver::new(old);
    let frame = solver.frame(config.phase).expect("a way into the phase");
    let used: BTreeSet<ReadingId> = [old, new]
        .iter()
        .flat_map(|protocol| protocol.rules[0].when.readings())
        .collect();
    let times: BTreeSet<Exact> = old
        .readings()
        .flat_map(|(id, _)| frame.samples_of(id).iter().map(|sample| sample.at))
        .collect();
    let mut plan: Vec<Time> = Vec::new();
    let mut records = 1usize;
    for at in times {
        let mut asked = Vec::new();
        let mut more = 1;
        for (id, reading) in old.readings() {
            if !frame.samples_of(id).iter().any(|sample| sample.at == at) {
                continue;
            }
            let values = shown(reading, used.contains(&id) || reading.kind.is_body());
            more *= values.len();
            asked.push((id, values));
        }
        if records * more > MOST_RECORDS {
            break;
        }
        records *= more;
        plan.push((at, asked));
    }
    let mut parts = Parts::default();
    let case = Case::default();
    deeper(
        &Run::new(old, &case),
        &Run::new(new, &case),
        &plan,
        &mut parts,
    );
    parts
}

fn deeper(old: &Run, new: &Run, plan: &[Time], parts: &mut Parts) {
    let Some(((at, asked), rest)) = plan.split_first() else {
        return;
    };
    let mut choice = vec![0usize; asked.len()];
    loop {
        let (mut a, mut b) = (old.clone(), new.clone());
        for ((reading, values), place) in asked.iter().zip(&choice) {
            a.enter(Entry::record(*at, *reading, values[*place]));
            b.enter(Entry::record(*at, *reading, values[*place]));
        }
        a.finish();
        b.finish();
        a.take_events();
        b.take_events();
        match (is_true(&a, RuleId(0), *at), is_true(&b, RuleId(0), *at)) {
            (false, true) => parts.more = true,
            (true, false) => parts.fewer = true,
            _ => {}
        }
        if parts.more && parts.fewer {
            return;
        }
        deeper(&a, &b, rest, parts);
        let mut place = 0;
        while place < choice.len() {
            choice[place] += 1;
            if choice[place] < asked[place].1.len() {
                break;
            }
            choice[place] = 0;
            place += 1;
        }
        if place == choice.len() {
            return;
        }
    }
}
