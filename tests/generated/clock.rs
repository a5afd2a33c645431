//! The same with tests of the clock, choices, and an order that pauses control.

use super::{CORE, Config, Random, SCORE, SECOND, level, minutes, nowhere, test};
use tempwright::model::*;

pub const RHYTHM: ReadingId = ReadingId(3);

const HEAD: &str = r#"
  title "Small"
  unit "Invented"
  version 1.0.0
  review 2027-06-30
  purpose fever-control after cardiac-arrest
  patients adult, weight 50 kg to 100 kg
  method surface feedback from core
  timezone "Europe/London"
  people {
    doctor "Doctor"
  }
  reading core   "Core"   temperature at bladder, shown to 0.1 °C, accurate to 0.1 °C, reads 36.0 °C to 36.2 °C
  reading second "Second" temperature at rectum, shown to 0.2 °C, accurate to 0.1 °C, reads 36.0 °C to 36.2 °C
  reading score  "Score"  score of pain 0 to 1
  reading rhythm "Rhythm" choice slow or usual or fast
"#;

const HOLD: &str = "phase hold \"Hold\" {\n hold core at 36.1 °C within 0.1 °C\n lasts 24 h\n}";
const TWO: &str = "phase settle \"Settle\" {\n keep core 36.0 °C to 36.2 °C\n lasts 1 h\n}\n\
                   phase hold \"Hold\" {\n hold core at 36.1 °C within 0.1 °C\n lasts 24 h\n}";
const REACH: &str = "phase warm \"Warm\" {\n warm core to 36.2 °C\n due within 90 min\n}";

const HOURLY: [&str; 4] = ["1 h", "1 h", "1 h", "1 h"];
const MIXED: [&str; 4] = ["30 min", "1 h", "90 min", "1 h"];
const APART: [&str; 4] = ["45 min", "1 h", "2 h", "90 min"];

const LATER: [&str; 2] = [
    "phase settle \"Settle\" {\n keep core 36.0 °C to 36.2 °C\n lasts 1 h\n}\n\
     phase warm \"Warm\" {\n warm core to 36.2 °C\n due within 2 h of settle.start\n}",
    "phase settle \"Settle\" {\n keep core 36.0 °C to 36.2 °C\n lasts 1 h\n}\n\
     phase warm \"Warm\" {\n warm core to 36.2 °C\n due within 90 min of settle.end\n}",
];

/// What pauses control in some of the protocols.
const PAUSES: [&str; 2] = [
    "when score at or above 1\n then pause temperature control for 1 h",
    "when core above 36.1 °C for 1 h\n then pause temperature control until rhythm is usual",
];

pub fn configs() -> Vec<Config> {
    [
        ("hourly", HOLD, HOURLY, "during hold", 0, None),
        ("mixed", HOLD, MIXED, "during hold", 0, None),
        ("apart", HOLD, APART, "", 0, None),
        ("second phase", TWO, HOURLY, "during hold", 1, None),
        ("second phase, mixed", TWO, MIXED, "during hold", 1, None),
        ("second phase, apart", TWO, APART, "during hold", 1, None),
        ("both phases, apart", TWO, APART, "", 1, None),
        ("reach", REACH, HOURLY, "", 0, None),
        ("reach, mixed", REACH, MIXED, "during warm", 0, None),
        ("reach, of a beginning", LATER[0], HOURLY, "", 1, None),
        ("reach, of an end", LATER[1], HOURLY, "during warm", 1, None),
        ("paused for 1 h", HOLD, HOURLY, "during hold", 0, Some(0)),
        ("paused until", HOLD, MIXED, "during hold", 0, Some(1)),
    ]
    .into_iter()
    .map(|(name, phases, looks, during, phase, pause)| {
        let looks: String = [
            "record core",
            "record second",
            "score score",
            "score rhythm",
        ]
        .iter()
        .zip(looks)
        .map(|(what, every)| format!("every {every} {what}\n"))
        .collect();
        let rules: String = ["a", "b"]
            .map(|name| {
                format!(
                    "rule {name} {{\n when core above 36.0 °C {during}\n then call doctor now\n}}\n"
                )
            })
            .concat();
        let pause: String = pause
            .map(|at: usize| format!("rule pauses {{\n {}\n}}\n", PAUSES[at]))
            .unwrap_or_default();
        let text = format!("protocol small {{{HEAD}\n{phases}\n{looks}{rules}{pause}}}\n");
        Config::read(name, &text, phase)
    })
    .collect()
}

/// A condition with one test of the new kinds at least.
pub fn cond(random: &mut Random, config: &Config) -> Cond {
    let first = Cond::Test(new_test(random, config));
    match random.below(6) {
        0 | 1 => Cond::All(vec![first, any_part(random, config)]),
        2 => Cond::Any(vec![first, any_part(random, config)]),
        3 => Cond::All(vec![
            any_part(random, config),
            Cond::Any(vec![first, any_part(random, config)]),
        ]),
        _ => first,
    }
}

/// A condition of any kinds.
pub fn any_cond(random: &mut Random, config: &Config) -> Cond {
    match random.below(3) {
        0 => cond(random, config),
        1 => Cond::All(vec![any_part(random, config), any_part(random, config)]),
        _ => any_part(random, config),
    }
}

fn any_part(random: &mut Random, config: &Config) -> Cond {
    Cond::Test(match random.below(2) {
        0 => new_test(random, config),
        _ => test(random, config),
    })
}

fn new_test(random: &mut Random, config: &Config) -> Test {
    let over = minutes(*random.pick(&[30, 45, 60, 90, 120, 150]));
    let is_reach = config.name.starts_with("reach");
    let is_paused = config.name.starts_with("paused");
    let kind = match random.below(6) {
        0 | 1 if is_paused => TestKind::PausedLonger { than: over },
        0 if is_reach => TestKind::Overdue {
            phase: config.phase,
        },
        0 | 1 => TestKind::NotRecorded {
            reading: *random.pick(&[CORE, SECOND, SCORE, RHYTHM]),
            over,
        },
        2 => TestKind::LastsLonger {
            phase: config.phase,
            than: over,
        },
        _ => TestKind::Is {
            reading: RHYTHM,
            word: random.below(3),
        },
    };
    let can_last = !kind.is_by_clock();
    let sustained =
        (can_last && random.below(2) == 0).then(|| minutes(*random.pick(&[20, 30, 60, 90, 120])));
    Test {
        kind,
        sustained,
        span: nowhere(),
    }
}

/// A value that a goal compares with.
pub fn value(random: &mut Random) -> (ReadingId, Cmp, tempwright::quantity::Exact) {
    let cmp = *random.pick(&[Cmp::Below, Cmp::Above, Cmp::AtOrBelow, Cmp::AtOrAbove]);
    let reading = *random.pick(&[CORE, SECOND]);
    let at = 3600 + 5 * i64::try_from(random.below(5)).expect("small");
    let at = level(tempwright::quantity::Exact::ratio(at, 100)).value;
    (reading, cmp, at)
}
