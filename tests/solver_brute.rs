//! The solver against every record there is.
//!
//! Conditions are made by a seeded generator and put into small protocols. For each,
//! all records that the protocol asks for are run through the evaluator, value by
//! value, up to some hours; the solver must find a record exactly where there is one,
//! and at the same earliest moment. What it finds is run through the evaluator too.
//!
//! `TEMPWRIGHT_CASES=1000000 cargo test --release --test solver_brute` tries more.

#![allow(clippy::expect_used, clippy::panic)]

mod generated;

use generated::{
    Agreed, Config, Count, Random, Time, configs, goals, in_pairs, in_parts, shown, stand, text,
};
use tempwright::eval::{Case, Entry, Run, What};
use tempwright::model::*;
use tempwright::quantity::Exact;
use tempwright::solve::{Answer, Question, Solver};

/// No more records than this for one case.
const MOST_RECORDS: usize = 700;

#[test]
fn the_solver_agrees_with_every_record() {
    let (_, count) = in_parts(10_000, try_some);
    assert_eq!(count.open, 0);
}

fn try_some(cases: u64, seed: u64) -> Count {
    let conds = |random: &mut Random, config: &Config| {
        [
            generated::cond(random, config),
            generated::cond(random, config),
        ]
    };
    in_pairs(&configs(), (cases, seed), conds, one)
}

/// What a condition says of a weaker one the solver takes from the two as they stand.
#[test]
fn what_follows_from_a_condition_follows_on_every_record() {
    let (_, count) = in_parts(6_000, try_related);
    assert_eq!(count.open, 0);
}

fn try_related(cases: u64, seed: u64) -> Count {
    let configs = configs();
    let mut random = Random::new(seed);
    let mut count = Count::default();
    for case in 0..cases {
        let config = random.pick(&configs);
        let mut protocol = config.protocol.clone();
        let first = generated::cond(&mut random, config);
        let second = generated::like(&mut random, config, &first);
        for (rule, when) in protocol.rules.iter_mut().zip([first, second]) {
            rule.when = when;
            if random.below(3) == 0 {
                rule.during.clear();
            }
        }
        count.add(one(config, &protocol, [true, false]), || {
            format!(
                "case {case} of seed {seed}, {}\n{} during {:?}\nand not {} during {:?}",
                config.name,
                text(&protocol.rules[0].when),
                protocol.rules[0].during,
                text(&protocol.rules[1].when),
                protocol.rules[1].during
            )
        });
    }
    count
}

fn one(config: &Config, protocol: &Protocol, holds: [bool; 2]) -> Agreed {
    let solver = Solver::new(protocol);
    let answer = solver.ask(&Question::new(config.phase, goals(protocol, holds)));
    let shows = |run: &Run, at: Exact| stand(run, config.phase, holds, at);
    let (first, until) = brute(config, protocol, &solver, &shows);
    match (answer, first) {
        (Answer::Found(found), first) => {
            if !solver.reproduces(&found, |replay| shows(&replay.run, found.at)) {
                return Agreed::No(format!("not reproduced: {found:?}"));
            }
            match first {
                Some(at) if at == found.at => Agreed::Possible,
                None if found.at > until => Agreed::Beyond,
                first => Agreed::No(format!(
                    "the solver says {:?}, trying all says {first:?} up to {until}",
                    found.at
                )),
            }
        }
        (Answer::Never, None) => Agreed::Impossible,
        (answer, first) => Agreed::No(format!("{answer:?}, but trying all says {first:?}")),
    }
}

/// The earliest moment at which some record shows it, and up to when all were tried.
fn brute(
    config: &Config,
    protocol: &Protocol,
    solver: &Solver,
    shows: &dyn Fn(&Run, Exact) -> bool,
) -> (Option<Exact>, Exact) {
    let used: Vec<ReadingId> = protocol
        .rules
        .iter()
        .flat_map(|rule| rule.when.readings())
        .collect();
    let frame = solver.frame(config.phase).expect("a way into the phase");
    let mut times: Vec<Exact> = protocol
        .readings()
        .flat_map(|(id, _)| frame.samples_of(id).iter().map(|sample| sample.at))
        .collect();
    times.sort();
    times.dedup();
    // At each time, what is recorded and what it can be.
    let mut plan: Vec<Time> = Vec::new();
    let mut records = 1usize;
    for at in times {
        let mut asked = Vec::new();
        let mut more = 1;
        for (id, reading) in protocol.readings() {
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
    let until = plan.last().map_or(Exact::int(-1), |(at, _)| *at);
    let mut best = None;
    let run = Run::new(protocol, &Case::default());
    deeper(&run, &plan, &mut best, shows);
    (best, until)
}

fn deeper(run: &Run, plan: &[Time], best: &mut Option<Exact>, shows: &dyn Fn(&Run, Exact) -> bool) {
    let Some(((at, asked), rest)) = plan.split_first() else {
        return;
    };
    if best.is_some_and(|best| *at >= best) {
        return;
    }
    let mut choice = vec![0usize; asked.len()];
    loop {
        let mut next = run.clone();
        for ((reading, values), at_value) in asked.iter().zip(&choice) {
            next.enter(Entry::record(*at, *reading, values[*at_value]));
        }
        next.finish();
        let events = next.take_events();
        let due = events
            .iter()
            .filter(|event| {
                event.at == *at && matches!(event.what, What::EntryDue(asked) if asked.due == *at)
            })
            .count();
        assert!(due >= asked.len(), "an entry that nobody asked for at {at}");
        if shows(&next, *at) {
            *best = Some(best.map_or(*at, |best| best.min(*at)));
            return;
        }
        deeper(&next, rest, best, shows);
        // The next choice of values, as a number counts up.
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
