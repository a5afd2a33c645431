//! Small protocols and conditions made by a seeded generator.

#![allow(dead_code, clippy::expect_used, clippy::panic)]

pub mod clock;

use tempwright::eval::{RuleStanding, Run, Truth};
use tempwright::model::*;
use tempwright::quantity::{Change, Duration, Exact, Level, Written};
use tempwright::solve::Goal;
use tempwright::source::{FileId, MemoryLibrary, Span};

/// A number generator that gives the same numbers on every machine.
pub struct Random(u64);

impl Random {
    pub fn new(seed: u64) -> Self {
        Random(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1)
    }

    pub fn below(&mut self, most: usize) -> usize {
        // xorshift64*
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        let number = self.0.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 33;
        usize::try_from(number).expect("31 bits") % most
    }

    pub fn pick<'a, T>(&mut self, from: &'a [T]) -> &'a T {
        &from[self.below(from.len())]
    }
}

/// A small protocol whose first two rules are to be given conditions.
pub struct Config {
    pub name: &'static str,
    pub protocol: Protocol,
    pub phase: PhaseId,
}

const HEAD: &str = r#"
  title "Small" unit "Invented" version 1.0.0 review 2027-06-30
  purpose fever-control after cardiac-arrest
  patients adult, weight 50 kg to 100 kg
  method surface feedback from core
  timezone "Europe/London"
  people { doctor "Doctor" }
  reading core   "Core"   temperature at bladder, shown to 0.1 °C, accurate to 0.1 °C, reads 36.0 °C to 36.3 °C
  reading second "Second" temperature at rectum, shown to 0.2 °C, accurate to 0.1 °C, reads 36.0 °C to 36.4 °C
  reading score  "Score"  score of pain 0 to 2
"#;

/// The protocols: several intervals, one phase or two, a target that moves.
impl Config {
    pub fn read(name: &'static str, text: &str, phase: u32) -> Config {
        let library = MemoryLibrary::default().with("small.protocol", text);
        let loaded = load(&library, &["small.protocol"]).expect("in memory");
        let Some((_, protocol)) = loaded.protocols.into_iter().next() else {
            panic!("{name}: {:#?}\n{text}", loaded.diagnostics);
        };
        Config {
            name,
            protocol,
            phase: PhaseId(phase),
        }
    }
}

/// A time, what is recorded then and what it can be.
pub type Time = (Exact, Vec<(ReadingId, Vec<Exact>)>);

pub fn from_environment(name: &str, usual: u64) -> u64 {
    std::env::var(name)
        .ok()
        .and_then(|text| text.parse().ok())
        .unwrap_or(usual)
}

/// How often each answer came.
#[derive(Default, Debug, Clone, Copy)]
pub struct Count {
    pub possible: u64,
    pub impossible: u64,
    /// Possible only later than the records tried.
    pub beyond: u64,
    /// Neither shown nor refused, which the solver says.
    pub open: u64,
}

impl std::ops::Add for Count {
    type Output = Count;
    fn add(self, more: Count) -> Count {
        Count {
            possible: self.possible + more.possible,
            impossible: self.impossible + more.impossible,
            beyond: self.beyond + more.beyond,
            open: self.open + more.open,
        }
    }
}

pub enum Agreed {
    Possible,
    Impossible,
    Beyond,
    Open,
    No(String),
}

impl Count {
    /// Counts it; panics with `case` where solver and records do not agree.
    pub fn add(&mut self, agreed: Agreed, case: impl FnOnce() -> String) {
        match agreed {
            Agreed::Possible => self.possible += 1,
            Agreed::Impossible => self.impossible += 1,
            Agreed::Beyond => self.beyond += 1,
            Agreed::Open => self.open += 1,
            Agreed::No(why) => panic!("{why}\n{}", case()),
        }
    }
}

/// Tries so many cases in eight parts, the same ones whatever the number of processors is.
pub fn in_parts(usual: u64, try_some: fn(u64, u64) -> Count) -> (u64, Count) {
    let cases = from_environment("TEMPWRIGHT_CASES", usual);
    let seed = from_environment("TEMPWRIGHT_SEED", 1);
    let parts = 8;
    let workers = std::thread::available_parallelism().map_or(1, std::num::NonZero::get) as u64;
    let count = std::thread::scope(|scope| {
        let started: Vec<_> = (0..workers.min(parts))
            .map(|worker| {
                scope.spawn(move || {
                    (worker..parts)
                        .step_by(workers as usize)
                        .map(|part| try_some(cases / parts, seed * parts + part))
                        .fold(Count::default(), std::ops::Add::add)
                })
            })
            .collect();
        started
            .into_iter()
            .map(|worker| worker.join().expect("no case of that worker fails"))
            .fold(Count::default(), std::ops::Add::add)
    });
    eprintln!("{cases} cases: {count:?}");
    // Both answers must be common, or this proves little.
    assert!(count.possible * 10 > cases && count.impossible * 50 > cases);
    (cases, count)
}

/// Gives two rules of a config, by turns, conditions that are made by `conds`, and compares what
/// `one` says of them; each of the two is to hold, or mostly.
pub fn in_pairs(
    configs: &[Config],
    (cases, seed): (u64, u64),
    conds: impl Fn(&mut Random, &Config) -> [Cond; 2],
    one: impl Fn(&Config, &Protocol, [bool; 2]) -> Agreed,
) -> Count {
    let mut random = Random::new(seed);
    let mut count = Count::default();
    for case in 0..cases {
        let config = &configs[random.below(configs.len())];
        let mut protocol = config.protocol.clone();
        let [first, second] = conds(&mut random, config);
        protocol.rules[0].when = first;
        protocol.rules[1].when = second;
        let holds = [random.below(4) > 0, random.below(4) > 0];
        count.add(one(config, &protocol, holds), || {
            format!(
                "case {case} of seed {seed}, {}\nfirst {}: {:#?}\nsecond {}: {:#?}",
                config.name,
                holds[0],
                text(&protocol.rules[0].when),
                holds[1],
                text(&protocol.rules[1].when)
            )
        });
    }
    count
}

/// The first two rules, each to hold or not.
pub fn goals(protocol: &Protocol, holds: [bool; 2]) -> Vec<Goal<'_>> {
    (0..2)
        .zip(holds)
        .map(|(id, holds)| Goal::rule(&protocol[RuleId(id)], holds))
        .collect()
}

/// Whether the first two rules stand so, in that phase.
pub fn stand(run: &Run, phase: PhaseId, holds: [bool; 2], at: Exact) -> bool {
    run.phase() == Some(phase)
        && (0..2)
            .zip(holds)
            .all(|(id, holds)| is_true(run, RuleId(id), at) == holds)
}

pub fn is_true(run: &Run, rule: RuleId, at: Exact) -> bool {
    match run.rule(rule, at) {
        RuleStanding::InPhase { truth, .. } => truth == Truth::Holds,
        RuleStanding::NotInPhase => false,
    }
}

/// Every value that a reading can show; the lowest alone where the others do not matter.
pub fn shown(reading: &Reading, matters: bool) -> Vec<Exact> {
    let grid = reading.grid().expect("a grid");
    let mut values = vec![grid.low];
    let mut next = grid.low + grid.step;
    while matters && next <= grid.high {
        values.push(next);
        next = next + grid.step;
    }
    values
}

pub fn configs() -> Vec<Config> {
    let one = r#"phase hold "Hold" { hold core at 36.1 °C within 0.1 °C lasts 24 h }"#;
    let two = r#"phase settle "Settle" { keep core 36.0 °C to 36.3 °C lasts 1 h }
  phase hold "Hold" { hold core at 36.1 °C within 0.1 °C lasts 24 h }"#;
    let course = r#"phase warm "Warm" { warm core from 36.0 °C to 36.3 °C at 0.1 °C/h
    target moves every 1 h in steps of 0.1 °C }"#;
    let keep = r#"phase guard "Guard" { keep core 36.1 °C to 36.2 °C lasts 24 h }"#;
    let hourly = "every 1 h record core every 1 h record second every 1 h score score";
    let mixed = "every 30 min record core every 1 h record second every 90 min score score";
    let apart = "every 45 min record core every 1 h record second every 2 h score score";
    [
        ("hourly", one, hourly, "during hold", 0),
        ("mixed", one, mixed, "during hold", 0),
        ("apart", one, apart, "", 0),
        ("second phase", two, hourly, "during hold", 1),
        ("second phase, mixed", two, mixed, "during hold", 1),
        ("both phases", two, hourly, "", 1),
        ("both phases, apart", two, apart, "", 1),
        ("course", course, hourly, "", 0),
        ("range", keep, hourly, "", 0),
    ]
    .into_iter()
    .map(|(name, phases, looks, during, phase)| {
        let looks = looks.replace(" every", "\n  every");
        let phases = phases
            .replace(" lasts", "\n lasts")
            .replace("{ ", "{\n ")
            .replace(" }", "\n }");
        let head = HEAD
            .replace(" unit ", "\n  unit ")
            .replace(" version ", "\n  version ")
            .replace(" review ", "\n  review ")
            .replace("people { doctor \"Doctor\" }", "people {\n doctor \"Doctor\"\n }");
        let rules = ["a", "b"]
            .map(|name| {
                format!(
                    "rule {name} {{\n when core above 36.0 °C {during}\n then call doctor now\n }}\n"
                )
            })
            .join("\n");
        let text = format!("protocol small {{{head}\n{phases}\n  {looks}\n{rules}}}\n");
        Config::read(name, &text, phase)
    })
    .collect()
}

pub const CORE: ReadingId = ReadingId(0);
pub const SECOND: ReadingId = ReadingId(1);
pub const SCORE: ReadingId = ReadingId(2);

fn nowhere() -> Span {
    Span::new(FileId(0), 0, 0)
}

pub fn level(value: Exact) -> Level {
    Level::new(value, Written::default(), nowhere())
}

pub fn change(value: Exact) -> Change {
    level(value).cast()
}

pub fn minutes(value: i64) -> Duration {
    level(Exact::int(value)).cast()
}

pub fn cond(random: &mut Random, config: &Config) -> Cond {
    match random.below(6) {
        0 => Cond::All(vec![part(random, config), part(random, config)]),
        1 => Cond::Any(vec![part(random, config), part(random, config)]),
        2 => Cond::All(vec![
            part(random, config),
            Cond::Any(vec![part(random, config), part(random, config)]),
        ]),
        _ => part(random, config),
    }
}

fn part(random: &mut Random, config: &Config) -> Cond {
    Cond::Test(test(random, config))
}

/// A condition that may follow from another one, or nearly: other values, other times, fewer parts.
pub fn like(random: &mut Random, config: &Config, cond: &Cond) -> Cond {
    match cond {
        Cond::Test(test) if random.below(5) == 0 => {
            Cond::Any(vec![Cond::Test(nudged(random, test)), part(random, config)])
        }
        Cond::Test(test) => Cond::Test(nudged(random, test)),
        Cond::All(parts) | Cond::Any(parts) if random.below(3) == 0 => {
            let part = &parts[random.below(parts.len())];
            like(random, config, part)
        }
        Cond::All(parts) => Cond::All(
            parts
                .iter()
                .map(|part| like(random, config, part))
                .collect(),
        ),
        Cond::Any(parts) => Cond::Any(
            parts
                .iter()
                .map(|part| like(random, config, part))
                .collect(),
        ),
    }
}

fn nudged(random: &mut Random, test: &Test) -> Test {
    let by = *random.pick(&[-1, 0, 0, 1]);
    let by = Exact::ratio(by, 10);
    let mut test = test.clone();
    match &mut test.kind {
        TestKind::Compare { cmp, level: at, .. } => {
            *at = level(at.value + by);
            if random.below(3) == 0 {
                *cmp = match cmp {
                    Cmp::Above => Cmp::AtOrAbove,
                    Cmp::AtOrAbove => Cmp::Above,
                    Cmp::Below => Cmp::AtOrBelow,
                    Cmp::AtOrBelow => Cmp::Below,
                };
            }
        }
        TestKind::Outside { low, high, .. } => {
            *low = level(low.value + by);
            *high = level(high.value + Exact::ratio(*random.pick(&[-1, 0, 1]), 10));
        }
        TestKind::OffTarget { by: far, .. } | TestKind::NearTarget { within: far, .. } => {
            *far = change((far.value + by).max(Exact::ZERO));
        }
        _ => {}
    }
    if test.sustained.is_some() || random.below(4) == 0 {
        let lasts = *random.pick(&[0, 20, 30, 60, 90, 120]);
        let can_last = !test.kind.is_by_clock() && !matches!(test.kind, TestKind::Trend { .. });
        test.sustained = (can_last && lasts > 0).then(|| minutes(lasts));
    }
    test
}

/// A value near the grid of the small protocols, on it or between two steps.
fn temperature(random: &mut Random) -> Exact {
    Exact::ratio(
        3590 + 5 * i64::try_from(random.below(12)).expect("small"),
        100,
    )
}

fn difference(random: &mut Random) -> Exact {
    *random.pick(&[
        Exact::ZERO,
        Exact::ratio(1, 10),
        Exact::ratio(3, 20),
        Exact::ratio(1, 5),
        Exact::ratio(1, 3),
    ])
}

fn test(random: &mut Random, config: &Config) -> Test {
    let cmp = *random.pick(&[Cmp::Below, Cmp::Above, Cmp::AtOrBelow, Cmp::AtOrAbove]);
    let reading = *random.pick(&[CORE, CORE, SECOND]);
    let more_less = *random.pick(&[MoreLess::More, MoreLess::Less]);
    let kind = match random.below(10) {
        0 | 1 => TestKind::Compare {
            reading,
            cmp,
            level: level(temperature(random)),
        },
        2 => TestKind::Compare {
            reading: SCORE,
            cmp,
            level: level(Exact::int(i64::try_from(random.below(3)).expect("small"))),
        },
        3 => TestKind::Outside {
            reading,
            low: level(Exact::ratio(361, 10)),
            high: level(Exact::ratio(362, 10)),
        },
        4 => TestKind::OffTarget {
            reading: CORE,
            side: *random.pick(&[Side::Above, Side::Below]),
            by: change(difference(random)),
        },
        5 => TestKind::NearTarget {
            reading: CORE,
            within: change(difference(random)),
        },
        6 | 7 => TestKind::Differ {
            first: CORE,
            second: SECOND,
            cmp: more_less,
            by: change(difference(random)),
        },
        8 if config.name == "course" => TestKind::LastsLonger {
            phase: config.phase,
            than: minutes(60),
        },
        _ => TestKind::Trend {
            reading,
            way: *random.pick(&[TrendWay::Rises, TrendWay::Falls]),
            cmp: more_less,
            by: change(difference(random)),
            over: minutes(*random.pick(&[30, 45, 60, 90, 120])),
        },
    };
    let can_last = !kind.is_by_clock() && !matches!(kind, TestKind::Trend { .. });
    let sustained =
        (can_last && random.below(2) == 0).then(|| minutes(*random.pick(&[20, 30, 60, 90, 120])));
    Test {
        kind,
        sustained,
        span: nowhere(),
    }
}

/// A condition as a person can read it, for the report of a failure.
pub fn text(cond: &Cond) -> String {
    match cond {
        Cond::Test(test) => {
            let last = test.sustained.as_ref().map_or(String::new(), |sustained| {
                format!(" for {:?}", sustained.value)
            });
            format!("{:?}{last}", Kind(&test.kind))
        }
        Cond::All(parts) => joined(parts, " and "),
        Cond::Any(parts) => joined(parts, " or "),
    }
}

fn joined(parts: &[Cond], word: &str) -> String {
    let parts: Vec<String> = parts.iter().map(text).collect();
    format!("({})", parts.join(word))
}

struct Kind<'a>(&'a TestKind);

impl std::fmt::Debug for Kind<'_> {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self.0 {
            TestKind::Compare {
                reading,
                cmp,
                level,
            } => write!(out, "{reading:?} {} {:?}", cmp.words(), level.value),
            TestKind::Outside { reading, low, high } => {
                write!(
                    out,
                    "{reading:?} outside {:?} to {:?}",
                    low.value, high.value
                )
            }
            TestKind::OffTarget { reading, side, by } => {
                write!(
                    out,
                    "{reading:?} {side:?} target by more than {:?}",
                    by.value
                )
            }
            TestKind::NearTarget { reading, within } => {
                write!(out, "{reading:?} within {:?} of target", within.value)
            }
            TestKind::Differ { cmp, by, .. } => {
                write!(out, "differ by {cmp:?} than {:?}", by.value)
            }
            TestKind::Trend {
                reading,
                way,
                cmp,
                by,
                over,
            } => write!(
                out,
                "{reading:?} {way:?} {cmp:?} than {:?} in {:?}",
                by.value, over.value
            ),
            other => write!(out, "{other:?}"),
        }
    }
}
