//! The solver against every record there is, where the target moves: by a course that begins at
//! a record (M21), by orders that put it elsewhere, keep it or pause control (M19, M20, M36).
//!
//! As in `solver_brute`, with a third rule whose order stands between the records and the answer.
//! What the solver shows must be so, and what some record shows it must not call impossible.
//!
//! `TEMPWRIGHT_CASES=100000 cargo test --release --test solver_orders` tries more.

#![allow(clippy::expect_used, clippy::panic)]

#[path = "generated/courses.rs"]
mod courses;
mod generated;

use courses::configs;
use generated::{
    Agreed, CORE, Config, Count, Random, Time, change, goals, in_pairs, in_parts, level, minutes,
    shown, stand,
};
use tempwright::eval::{Case, Entry, Run};
use tempwright::model::*;
use tempwright::plan::interval_in_force;
use tempwright::quantity::{Change, Exact};
use tempwright::solve::{Answer, Question, Solver};
use tempwright::source::{FileId, Span};

/// No more records than this for one case.
const MOST_RECORDS: usize = 500;

#[test]
fn the_solver_agrees_with_every_record_where_the_target_moves() {
    let (cases, count) = in_parts(4_000, try_some);
    assert!(count.open * 100 < cases, "{count:?}");
    assert!(count.beyond * 10 < cases, "{count:?}");
}

fn test(kind: TestKind, sustained: Option<i64>) -> Cond {
    Cond::Test(Test {
        kind,
        sustained: sustained.map(minutes),
        span: Span::new(FileId(0), 0, 0),
    })
}

fn hundredths(many: i64) -> Change {
    change(Exact::ratio(many, 100))
}

fn near(many: i64) -> TestKind {
    TestKind::NearTarget {
        reading: CORE,
        within: hundredths(many),
    }
}

/// Whether these can hold and not hold in that config, by the solver and by every record.
fn agreed(name: &str, conditions: [Cond; 2], holds: [bool; 2]) -> Agreed {
    let configs = configs();
    let config = configs.iter().find(|config| config.name == name);
    let config = config.expect("a config");
    let mut protocol = config.protocol.clone();
    for (rule, when) in protocol.rules.iter_mut().zip(conditions) {
        rule.when = when;
    }
    one(config, &protocol, holds)
}

/// What a rise or fall over two hours comes to is open in the first two: an order can have moved
/// the target by then.
#[test]
fn a_moment_at_which_a_window_is_not_full_is_asked_about_too() {
    let compared = |cmp, hundredths| {
        let level = level(Exact::ratio(hundredths, 100));
        let reading = CORE;
        let kind = TestKind::Compare {
            reading,
            cmp,
            level,
        };
        test(kind, None)
    };
    let falls_less = TestKind::Trend {
        reading: CORE,
        way: TrendWay::Falls,
        cmp: MoreLess::Less,
        by: hundredths(10),
        over: minutes(120),
    };
    let flat = |upto| {
        Cond::Any(vec![
            test(falls_less.clone(), None),
            compared(Cmp::AtOrBelow, upto),
        ])
    };
    let followed = Cond::Any(vec![test(near(10), Some(60)), compared(Cmp::Below, 3605)]);
    for (name, near, flat) in [
        ("faster", followed, flat(3610)),
        ("raised on its way", test(near(5), None), flat(3615)),
    ] {
        let agreed = agreed(name, [near, flat], [true, false]);
        assert!(matches!(agreed, Agreed::Possible), "{name}");
    }
}

/// On its steps alone a target is never less than a tenth above a record, and not at it.
#[test]
fn a_target_raised_by_less_than_a_step_stands_between_two() {
    let below = TestKind::OffTarget {
        reading: CORE,
        side: Side::Below,
        by: hundredths(0),
    };
    let conditions = [test(near(5), None), test(below, None)];
    for (name, can) in [("raised between the steps", true), ("warm", false)] {
        let agreed = agreed(name, conditions.clone(), [true, true]);
        assert_eq!(matches!(agreed, Agreed::Possible), can, "{name}");
        assert_eq!(matches!(agreed, Agreed::Impossible), !can, "{name}");
    }
}

/// One test at least that hangs on the target or on a pause.
fn cond(random: &mut Random, config: &Config) -> Cond {
    let distance = |random: &mut Random| {
        change(*random.pick(&[
            Exact::ZERO,
            Exact::ratio(1, 20),
            Exact::ratio(1, 10),
            Exact::ratio(3, 20),
        ]))
    };
    let kind = match random.below(7) {
        0 | 1 if config.name.starts_with("paused") => TestKind::PausedLonger {
            than: minutes(*random.pick(&[30, 60, 90, 120])),
        },
        0 => TestKind::LastsLonger {
            phase: config.phase,
            than: minutes(*random.pick(&[30, 60, 90])),
        },
        6 => TestKind::Trend {
            reading: CORE,
            way: *random.pick(&[TrendWay::Rises, TrendWay::Falls]),
            cmp: *random.pick(&[MoreLess::More, MoreLess::Less]),
            by: distance(random),
            over: minutes(*random.pick(&[60, 90, 120])),
        },
        1 | 2 => TestKind::NearTarget {
            reading: CORE,
            within: distance(random),
        },
        _ => TestKind::OffTarget {
            reading: CORE,
            side: *random.pick(&[Side::Above, Side::Below]),
            by: distance(random),
        },
    };
    let sustained =
        (!kind.is_by_clock() && !matches!(kind, TestKind::Trend { .. }) && random.below(3) == 0)
            .then(|| minutes(*random.pick(&[30, 60, 90])));
    let first = Cond::Test(Test {
        kind,
        sustained,
        span: Span::new(FileId(0), 0, 0),
    });
    match random.below(4) {
        0 => Cond::All(vec![first, compare(random)]),
        1 => Cond::Any(vec![first, compare(random)]),
        _ => first,
    }
}

fn compare(random: &mut Random) -> Cond {
    let cmp = *random.pick(&[Cmp::Below, Cmp::Above, Cmp::AtOrBelow, Cmp::AtOrAbove]);
    let at = 3600 + 5 * i64::try_from(random.below(5)).expect("small");
    Cond::Test(Test {
        kind: TestKind::Compare {
            reading: CORE,
            cmp,
            level: level(Exact::ratio(at, 100)),
        },
        sustained: None,
        span: Span::new(FileId(0), 0, 0),
    })
}

fn try_some(cases: u64, seed: u64) -> Count {
    let conds = |random: &mut Random, config: &Config| {
        let first = cond(random, config);
        let second = match random.below(2) {
            0 => cond(random, config),
            _ => compare(random),
        };
        [first, second]
    };
    in_pairs(&configs(), (cases, seed), conds, one)
}

fn one(config: &Config, protocol: &Protocol, holds: [bool; 2]) -> Agreed {
    let solver = Solver::new(protocol);
    let answer = solver.ask(&Question::new(config.phase, goals(protocol, holds)));
    let shows = |run: &Run, at: Exact| stand(run, config.phase, holds, at);
    let soonest = awaited(protocol);
    let (first, until) = brute(protocol, soonest, &shows);
    // The solver is shown the record on which the mark comes soonest; it may come later.
    let later = || {
        let (mark, made) = soonest?;
        let hours = (1..4).map(|hour| Some((mark, made + Exact::int(hour * 60))));
        hours
            .filter_map(|mark| brute(protocol, mark, &shows).0)
            .min()
    };
    let exact = !has_orders(protocol) && !config.name.starts_with("after");
    match (answer, first) {
        (Answer::Found(found), first) => {
            if !solver.reproduces(&found, |replay| shows(&replay.run, found.at)) {
                return Agreed::No(format!("not reproduced: {found:?}"));
            }
            match first {
                // Of the orders that can have come before, not the soonest is tried first.
                Some(at) if at == found.at || (at < found.at && !exact) => Agreed::Possible,
                None if found.at > until => Agreed::Beyond,
                first => Agreed::No(format!(
                    "the solver says {:?}, trying all says {first:?} up to {until}: {found:?}",
                    found.at
                )),
            }
        }
        (Answer::Never, None) => match later() {
            None => Agreed::Impossible,
            Some(at) => Agreed::No(format!("Never, but with a later mark it is so at {at:?}")),
        },
        (Answer::NotShown(_), None) if soonest.is_some() => match later() {
            None => Agreed::Beyond,
            Some(_) => Agreed::Open,
        },
        // Nor do the records that were tried show it.
        (Answer::NotShown(_), None) if !exact => Agreed::Beyond,
        // Other orders stand in the way of a few, and another way into a phase.
        (Answer::NotShown(_), Some(_)) if !exact => Agreed::Open,
        (answer, first) => Agreed::No(format!("{answer:?}, but trying all says {first:?}")),
    }
}

fn has_orders(protocol: &Protocol) -> bool {
    !matches!(protocol.rules[2].then[0].order, Order::Call { .. })
}

/// The mark that a phase waits for, and when the solver takes it to come: as soon as it may, or
/// an hour after the beginning.
fn awaited(protocol: &Protocol) -> Option<(MarkId, Exact)> {
    protocol.phases().find_map(|(_, phase)| match &phase.end {
        End::Awaited {
            trigger: EndTrigger::Mark(mark),
            at_least,
            ..
        } => match mark.value {
            MarkRef::Named(mark) => {
                let least = at_least.as_ref().map(|least| least.value);
                Some((mark, least.unwrap_or(Exact::int(60))))
            }
            _ => None,
        },
        _ => None,
    })
}

/// The earliest moment at which some record shows it, and up to when all were tried.
fn brute(
    protocol: &Protocol,
    mark: Option<(MarkId, Exact)>,
    shows: &dyn Fn(&Run, Exact) -> bool,
) -> (Option<Exact>, Exact) {
    let has_orders = has_orders(protocol);
    let last = protocol.phases().last().map(|(id, _)| id);
    let last = last.and_then(|last| interval_in_force(protocol, CORE, last));
    let interval = last.expect("asked for");
    let whole_intervals =
        |since: Exact| since <= Exact::ZERO || (since / interval).floor() * interval == since;
    let mut plan: Vec<Time> = Vec::new();
    let mut records = 1usize;
    for hour in 0..12 {
        let mut asked = Vec::new();
        let mut more = 1;
        for (id, reading) in protocol.readings() {
            if reading.name.name == "second" && hour % 2 == 1 {
                continue;
            }
            // Asked for seldom in the last phase, which the mark begins.
            let seldom = id == CORE && interval > Exact::int(60);
            if let Some((_, made)) = mark.filter(|_| seldom)
                && !whole_intervals(Exact::int(hour * 60) - made)
            {
                continue;
            }
            // The score decides what is ordered, and what ends it.
            let matters = (id == CORE || has_orders) && reading.name.name != "second";
            let values = shown(reading, matters);
            more *= values.len();
            asked.push((id, values));
        }
        if records * more > MOST_RECORDS {
            break;
        }
        records *= more;
        plan.push((Exact::int(hour * 60), asked));
    }
    let until = plan.last().map_or(Exact::int(-1), |(at, _)| *at);
    let mut best = None;
    let run = Run::new(protocol, &Case::default());
    deeper(&run, &plan, mark, &mut best, shows);
    (best, until)
}

fn deeper(
    run: &Run,
    plan: &[Time],
    mark: Option<(MarkId, Exact)>,
    best: &mut Option<Exact>,
    shows: &dyn Fn(&Run, Exact) -> bool,
) {
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
        if let Some((mark, _)) = mark.filter(|(_, made)| at == made) {
            next.enter(Entry::mark(*at, mark));
        }
        next.finish();
        next.take_events();
        if shows(&next, *at) {
            *best = Some(best.map_or(*at, |best| best.min(*at)));
            return;
        }
        // Until the next box time alone changes something.
        let until = rest.first().map(|(at, _)| *at);
        while let Some(wakes) = next.next_moment()
            && until.is_some_and(|until| wakes < until)
        {
            next.advance(wakes);
            next.take_events();
            if shows(&next, wakes) && best.is_none_or(|best| wakes < best) {
                *best = Some(wakes);
            }
        }
        deeper(&next, rest, mark, best, shows);
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
