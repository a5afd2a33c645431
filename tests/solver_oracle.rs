//! The solver against another one: the same conditions as SMT-LIB 2, decided by z3.
//!
//! Nothing of the translation is shared: what a test means is written here once more,
//! from M5 to M12 of the language reference, over whole-number multiples of the
//! display step and exact fractions. z3 is asked moment by moment; the solver must
//! name the first moment that z3 finds possible, or none where z3 finds none.
//!
//! Needs the `z3` program of `pip install -r tests/outside/requirements.txt`; without
//! it the comparison is skipped, except where `CI` is set.

#![allow(clippy::expect_used, clippy::panic)]

mod generated;

use generated::{Random, configs};
use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::io::Write as _;
use std::process::{Command, Stdio};
use tempwright::model::*;
use tempwright::quantity::Exact;
use tempwright::solve::{Answer, Goal, Question, Solver};

const SETS: usize = 2_000;

/// Protocols of one phase that begins at 0:00, with minutes between the records of
/// core, second and score.
const INTERVALS: &[(&str, [i64; 3])] = &[
    ("hourly", [60, 60, 60]),
    ("mixed", [30, 60, 90]),
    ("apart", [45, 60, 120]),
    ("course", [60, 60, 60]),
    ("range", [60, 60, 60]),
];

/// Display steps, and the lowest and highest value counted in them.
const STEPS: [(i64, i64, i64, i64); 3] = [(1, 10, 360, 363), (1, 5, 180, 182), (1, 1, 0, 2)];

struct Set {
    text: String,
    moments: Vec<i64>,
    answer: Answer,
    about: String,
}

#[test]
fn the_solver_agrees_with_z3() {
    let Some(z3) = program() else { return };
    let configs = configs();
    let mut random = Random::new(7);
    let mut sets = Vec::new();
    while sets.len() < SETS {
        let config = random.pick(&configs);
        let Some((_, intervals)) = INTERVALS.iter().find(|(name, _)| *name == config.name) else {
            continue;
        };
        let mut protocol = config.protocol.clone();
        protocol.rules[0].when = generated::cond(&mut random, config);
        protocol.rules[1].when = generated::cond(&mut random, config);
        let holds = [random.below(4) > 0, random.below(4) > 0];
        let goals = vec![
            Goal::rule(&protocol.rules[0], holds[0]),
            Goal::rule(&protocol.rules[1], holds[1]),
        ];
        let answer = Solver::new(&protocol).ask(&Question::new(config.phase, goals));
        let world = World {
            name: config.name,
            intervals: *intervals,
        };
        let conds = [&protocol.rules[0].when, &protocol.rules[1].when];
        let moments: BTreeSet<i64> = intervals
            .iter()
            .flat_map(|interval| (0..=720 / interval).map(move |nth| nth * interval))
            .collect();
        let mut text = String::new();
        for at in &moments {
            world.ask(&mut text, conds, holds, *at);
        }
        sets.push(Set {
            text,
            moments: moments.into_iter().collect(),
            answer,
            about: format!(
                "{}: {} {} and {} {}",
                config.name,
                holds[0],
                generated::text(conds[0]),
                holds[1],
                generated::text(conds[1])
            ),
        });
    }
    let input: String = sets.iter().map(|set| set.text.as_str()).collect();
    let output = run(&z3, &input);
    let mut answers = output.lines();
    let (mut possible, mut impossible) = (0, 0);
    for set in &sets {
        let mut first = None;
        for at in &set.moments {
            match answers.next() {
                Some("sat") => first = first.or(Some(*at)),
                Some("unsat") => {}
                other => panic!("z3 says {other:?} about {}\n{}", set.about, set.text),
            }
        }
        match (&set.answer, first) {
            (Answer::Found(found), Some(at)) if found.at == Exact::int(at) => possible += 1,
            (Answer::Never, None) => impossible += 1,
            (answer, first) => panic!(
                "z3 finds it possible at {first:?}, the solver says {answer:?}\n{}",
                set.about
            ),
        }
    }
    eprintln!("{SETS} sets: {possible} possible, {impossible} impossible, no disagreement");
    assert!(possible > SETS / 10 && impossible > SETS / 50);
}

/// A rule in two versions: what a comparison says of them, against z3.
#[test]
fn a_comparison_agrees_with_z3() {
    const PAIRS: usize = 250;
    let Some(z3) = program() else { return };
    let configs = configs();
    let mut random = Random::new(66);
    let mut input = String::new();
    let mut pairs = Vec::new();
    while pairs.len() < PAIRS {
        let config = random.pick(&configs);
        let Some((_, intervals)) = INTERVALS.iter().find(|(name, _)| *name == config.name) else {
            continue;
        };
        let (mut old, mut new) = (config.protocol.clone(), config.protocol.clone());
        old.rules[0].when = generated::cond(&mut random, config);
        new.rules[0].when = generated::cond(&mut random, config);
        let conds = [&old.rules[0].when, &new.rules[0].when];
        let world = World {
            name: config.name,
            intervals: *intervals,
        };
        let moments: BTreeSet<i64> = intervals
            .iter()
            .flat_map(|interval| (0..=720 / interval).map(move |nth| nth * interval))
            .collect();
        for at in &moments {
            world.ask(&mut input, conds, [false, true], *at);
            world.ask(&mut input, conds, [true, false], *at);
        }
        let changes = tempwright::compare::changes(&old, &new);
        let words = changes
            .iter()
            .find(|change| change.what == "condition")
            .map_or(String::new(), |change| change.consequence.clone());
        let about = format!(
            "{}: old {}, new {}: {words}",
            config.name,
            generated::text(conds[0]),
            generated::text(conds[1])
        );
        pairs.push((words, moments.len(), about));
    }
    let output = run(&z3, &input);
    let mut answers = output.lines();
    let mut decided = [0; 4];
    for (words, moments, about) in &pairs {
        let (mut more, mut fewer) = (false, false);
        for _ in 0..*moments {
            more |= answers.next() == Some("sat");
            fewer |= answers.next() == Some("sat");
        }
        let (kind, begins) = match (more, fewer) {
            (false, false) => (0, "acts on the same records"),
            (true, false) => (1, "acts on every record on which it acted before"),
            (false, true) => (2, "acts on fewer records"),
            (true, true) => (3, "acts on records on which it did not"),
        };
        assert!(
            words.starts_with(begins) || (words.is_empty() && kind == 0),
            "z3: more {more}, fewer {fewer}\n{about}"
        );
        decided[kind] += 1;
    }
    let [alike, more, fewer, both] = decided;
    eprintln!(
        "{PAIRS} pairs: {alike} alike, {more} more, {fewer} fewer, {both} both, no disagreement"
    );
    assert!(more > 5 && fewer > 5 && both > 5);
}

/// The z3 program, or `None` where the comparison is skipped.
fn program() -> Option<String> {
    let scripts = Command::new("python3")
        .args([
            "-c",
            "import sysconfig; print(sysconfig.get_path('scripts'))",
        ])
        .output()
        .ok()
        .and_then(|output| String::from_utf8(output.stdout).ok())
        .map(|path| format!("{}/z3", path.trim()));
    let found = scripts
        .into_iter()
        .chain(["z3".to_owned()])
        .find(|program| Command::new(program).arg("-version").output().is_ok());
    if found.is_none() {
        assert!(
            std::env::var_os("CI").is_none(),
            "z3 must run here: python3 -m pip install -r tests/outside/requirements.txt"
        );
        eprintln!("SKIPPED: z3 needs `python3 -m pip install -r tests/outside/requirements.txt`");
    }
    found
}

fn run(z3: &str, input: &str) -> String {
    let mut child = Command::new(z3)
        .arg("-in")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("z3 was there a moment ago");
    let mut stdin = child.stdin.take().expect("piped");
    let input = input.to_owned();
    let writer = std::thread::spawn(move || {
        stdin.write_all(input.as_bytes()).expect("z3 reads");
    });
    let output = child.wait_with_output().expect("z3 ends");
    writer.join().expect("all was written");
    String::from_utf8(output.stdout).expect("UTF-8")
}

/// One small protocol, as this test understands it.
struct World {
    name: &'static str,
    intervals: [i64; 3],
}

impl World {
    fn ask(&self, text: &mut String, conds: [&Cond; 2], holds: [bool; 2], at: i64) {
        let _ = writeln!(text, "(push)");
        for (reading, (over, under, low, high)) in STEPS.iter().enumerate() {
            for nth in 0..=at / self.intervals[reading] {
                let _ = writeln!(
                    text,
                    "(declare-const k{reading}_{nth} Int)\n\
                     (assert (<= {low} k{reading}_{nth} {high}))\n\
                     (define-fun v{reading}_{nth} () Real (* (/ {over} {under}) (to_real k{reading}_{nth})))"
                );
            }
        }
        for (cond, holds) in conds.iter().zip(holds) {
            let cond = self.cond(cond, at);
            let _ = writeln!(
                text,
                "(assert {})",
                if holds { cond } else { format!("(not {cond})") }
            );
        }
        // A course that has arrived ends with the reading at its end (M18).
        if self.name == "course" {
            for nth in 0..=at / 60 {
                if nth * 60 >= 180 {
                    let _ = writeln!(text, "(assert (< v0_{nth} (/ 363 10)))");
                }
            }
        }
        let _ = writeln!(text, "(check-sat)\n(pop)");
    }

    fn cond(&self, cond: &Cond, at: i64) -> String {
        match cond {
            Cond::Test(test) => self.test(test, at),
            Cond::All(parts) => self.joined("and", parts, at),
            Cond::Any(parts) => self.joined("or", parts, at),
        }
    }

    fn joined(&self, word: &str, parts: &[Cond], at: i64) -> String {
        let parts: Vec<String> = parts.iter().map(|part| self.cond(part, at)).collect();
        format!("({word} {})", parts.join(" "))
    }

    fn looks(&self, readings: &[usize], at: i64) -> Vec<i64> {
        let looks: BTreeSet<i64> = readings
            .iter()
            .flat_map(|reading| {
                let interval = self.intervals[*reading];
                (0..=at / interval).map(move |nth| nth * interval)
            })
            .collect();
        looks.into_iter().collect()
    }

    fn value(&self, reading: usize, at: i64) -> String {
        format!("v{reading}_{}", at / self.intervals[reading])
    }

    fn test(&self, test: &Test, at: i64) -> String {
        if let TestKind::LastsLonger { than, .. } = &test.kind {
            return (Exact::int(at) >= than.value).to_string();
        }
        let readings: Vec<usize> = test
            .kind
            .readings()
            .iter()
            .map(|reading| reading.index())
            .collect();
        let looks = self.looks(&readings, at);
        let last = *looks.last().expect("all are recorded at 0:00");
        let shortest = readings
            .iter()
            .map(|reading| self.intervals[*reading])
            .min()
            .expect("a reading");
        let slack = Exact::ratio(shortest, 4);
        let Some(lasting) = &test.sustained else {
            return self.at_look(&test.kind, &looks, last, slack);
        };
        let old_enough = looks
            .iter()
            .rev()
            .copied()
            .find(|look| *look < last && Exact::int(last - look) >= lasting.value - slack);
        match old_enough {
            None => "false".to_owned(),
            Some(first) => {
                let all: Vec<String> = looks
                    .iter()
                    .filter(|look| **look >= first)
                    .map(|look| self.at_look(&test.kind, &looks, *look, slack))
                    .collect();
                format!("(and {})", all.join(" "))
            }
        }
    }

    /// The limits from which `above` and `below target` count.
    fn target(&self, at: i64) -> (Exact, Exact) {
        match self.name {
            "range" => (Exact::ratio(361, 10), Exact::ratio(362, 10)),
            "course" => {
                let target = Exact::ratio(360 + (at / 60).min(3), 10);
                (target, target)
            }
            _ => (Exact::ratio(361, 10), Exact::ratio(361, 10)),
        }
    }

    fn at_look(&self, kind: &TestKind, looks: &[i64], look: i64, slack: Exact) -> String {
        let (low, high) = self.target(look);
        let readings: Vec<usize> = kind
            .readings()
            .iter()
            .map(|reading| reading.index())
            .collect();
        let value = self.value(readings[0], look);
        match kind {
            TestKind::Compare { cmp, level, .. } => {
                let sign = match cmp {
                    Cmp::Below => "<",
                    Cmp::Above => ">",
                    Cmp::AtOrBelow => "<=",
                    Cmp::AtOrAbove => ">=",
                };
                format!("({sign} {value} {})", fraction(level.value))
            }
            TestKind::Outside { low, high, .. } => format!(
                "(or (< {value} {}) (> {value} {}))",
                fraction(low.value),
                fraction(high.value)
            ),
            TestKind::OffTarget { side, by, .. } => match side {
                Side::Above => format!("(> (- {value} {}) {})", fraction(high), fraction(by.value)),
                Side::Below => format!("(> (- {} {value}) {})", fraction(low), fraction(by.value)),
            },
            TestKind::NearTarget { within, .. } => format!(
                "(and (<= (- {value} {}) {x}) (<= (- {} {value}) {x}))",
                fraction(high),
                fraction(low),
                x = fraction(within.value)
            ),
            TestKind::Differ { cmp, by, .. } => {
                let sign = match cmp {
                    MoreLess::More => ">",
                    MoreLess::Less => "<",
                };
                let other = self.value(readings[1], look);
                format!(
                    "({sign} (ite (>= {value} {other}) (- {value} {other}) (- {other} {value})) {})",
                    fraction(by.value)
                )
            }
            TestKind::Trend {
                way, cmp, by, over, ..
            } => {
                let age = |earlier: i64| Exact::int(look - earlier);
                let gained = |earlier: i64| {
                    let then = self.value(readings[0], earlier);
                    match way {
                        TrendWay::Rises => format!("(- {value} {then})"),
                        TrendWay::Falls => format!("(- {then} {value})"),
                    }
                };
                let by = fraction(by.value);
                let mut earlier = looks.iter().copied().filter(|earlier| *earlier < look);
                match cmp {
                    MoreLess::More => {
                        let any: Vec<String> = earlier
                            .filter(|earlier| age(*earlier) <= over.value + slack)
                            .map(|earlier| format!("(> {} {by})", gained(earlier)))
                            .collect();
                        format!("(or false {})", any.join(" "))
                    }
                    MoreLess::Less => earlier
                        .rfind(|earlier| (age(*earlier) - over.value).abs() <= slack)
                        .map_or("false".to_owned(), |earlier| {
                            format!("(< {} {by})", gained(earlier))
                        }),
                }
            }
            TestKind::Is { .. }
            | TestKind::NotRecorded { .. }
            | TestKind::LastsLonger { .. }
            | TestKind::Overdue { .. }
            | TestKind::PausedLonger { .. } => panic!("not generated"),
        }
    }
}

fn fraction(value: Exact) -> String {
    let (over, under) = value.parts().expect("small");
    format!("(/ {over} {under})")
}
