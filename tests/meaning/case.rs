//! Small protocols and records, run through the real parser and evaluator.

use tempwright::eval::{self, Case, Entry, EntryWhat, Event, Run, wording};
use tempwright::model::{self, Loaded, MarkId, Protocol, ReadingId, ReadingKind};
use tempwright::quantity::Exact;
use tempwright::source::MemoryLibrary;

const HEAD: &str = r#"protocol trial {
  title    "A trial of one definition (invented example, not for patient care)"
  unit     "None"
  version  1.0.0
  review   2027-01-01
  purpose  therapeutic-hypothermia
  patients adult, weight 40 kg to 140 kg
  method   surface feedback from core
  timezone "UTC"
  people {
    nurse  "Bedside nurse"
    doctor "Doctor on duty"  if no reply in 10 min then senior
    senior "Senior doctor"   if no reply in 5 min then doctor
  }
  mark rosc "Return of circulation"
  mark awake-and-clear "Awake and clear"
  reading core   "Core temperature" temperature at bladder, shown to 0.1 °C, accurate to 0.2 °C
  reading second "Second site"      temperature at nasopharynx, shown to 0.1 °C, accurate to 0.2 °C
  reading water  "Exchanger water"  temperature of water, shown to 0.1 °C
  reading shiver "Shivering"        score of shivering 0 to 3
  reading awake  "Responds to"      choice of consciousness, alert or verbal or pain
"#;

/// `body` stands after a common head: readings core, second, water, shiver and
/// awake, marks rosc and awake-and-clear, roles nurse, doctor and senior.
pub fn protocol(body: &str) -> Protocol {
    let mut protocols = load(body, "").protocols;
    protocols.pop().expect("one protocol").1
}

/// The same, with scenarios after it.
pub fn load(body: &str, scenarios: &str) -> Loaded {
    // A short rule may stand on one line here, with two blanks before each `then`.
    let body = body.replace("  then ", "\n    then ");
    let text = format!("{HEAD}{body}\n}}\n{scenarios}\n");
    let library = MemoryLibrary::default().with("trial.protocol", &text);
    let loaded = model::load(&library, &["trial.protocol"]).expect("the file is there");
    let errors: Vec<String> = loaded
        .diagnostics
        .iter()
        .filter(|found| found.level == tempwright::diag::Level::Error)
        .map(|found| format!("{}: {}", loaded.sources.text(found.place.span), found.title))
        .collect();
    assert!(errors.is_empty(), "{errors:#?}\n{text}");
    loaded
}

/// Minutes of `H:MM` or `H:MM:SS`.
pub fn minutes(text: &str) -> Exact {
    let (sign, text) = match text.strip_prefix('-') {
        Some(rest) => (Exact::int(-1), rest),
        None => (Exact::ONE, text),
    };
    let parts: Vec<i64> = text
        .split(':')
        .map(|part| part.parse().expect("a time"))
        .collect();
    let seconds = parts.get(2).copied().unwrap_or(0);
    sign * (Exact::int(parts[0] * 60 + parts[1]) + Exact::ratio(seconds, 60))
}

/// `4:00 core 36.4, water 9.0; 5:00 rosc`: what is written down when.
pub fn entries(protocol: &Protocol, records: &str) -> Vec<Entry> {
    let mut found = Vec::new();
    for moment in records.split(';').map(str::trim).filter(|m| !m.is_empty()) {
        let (at, rest) = moment.split_once(' ').expect("a time, then entries");
        for item in rest.split(',').map(str::trim) {
            let mut words = item.split_whitespace();
            let name = words.next().expect("a name");
            let what = match words.next() {
                Some(value) => {
                    let reading = reading(protocol, name);
                    EntryWhat::Record {
                        reading,
                        value: read(protocol, reading, value),
                    }
                }
                None => EntryWhat::Mark(mark(protocol, name)),
            };
            found.push(Entry {
                at: minutes(at),
                what,
            });
        }
    }
    found
}

pub fn reading(protocol: &Protocol, name: &str) -> ReadingId {
    protocol
        .readings()
        .find(|(_, reading)| reading.name.name == name)
        .unwrap_or_else(|| panic!("no reading `{name}`"))
        .0
}

pub fn mark(protocol: &Protocol, name: &str) -> MarkId {
    protocol
        .marks()
        .find(|(_, mark)| mark.name.name == name)
        .unwrap_or_else(|| panic!("no mark `{name}`"))
        .0
}

fn read(protocol: &Protocol, id: ReadingId, value: &str) -> Exact {
    if let ReadingKind::Choice { words, .. } = &protocol[id].kind {
        let index = words.iter().position(|word| word.name == value);
        return Exact::int(index.expect("a word of the choice") as i64);
    }
    Exact::parse(value).expect("a number")
}

/// What a run has said, one line for each event.
pub struct Told {
    pub lines: Vec<String>,
}

impl Told {
    pub fn of(protocol: &Protocol, events: &[Event<'_>]) -> Told {
        Told {
            lines: events
                .iter()
                .map(|event| {
                    format!(
                        "{} {}",
                        wording::time(event.at),
                        wording::event(protocol, event)
                    )
                })
                .collect(),
        }
    }

    /// When something was said that begins so.
    pub fn times(&self, beginning: &str) -> Vec<&str> {
        self.lines
            .iter()
            .filter_map(|line| line.split_once(' '))
            .filter(|(_, said)| said.starts_with(beginning))
            .map(|(at, _)| at)
            .collect()
    }

    pub fn fires(&self, rule: &str) -> Vec<&str> {
        self.times(&format!("rule `{rule}` fires"))
    }

    pub fn says(&self, line: &str) -> bool {
        self.lines.iter().any(|said| said == line)
    }

    #[track_caller]
    pub fn must_say(&self, line: &str) {
        assert!(
            self.says(line),
            "not said: {line}\n{}",
            self.lines.join("\n")
        );
    }
}

/// Runs `records` up to their last moment, or up to `until 5:00` at their end.
pub fn told(body: &str, records: &str) -> Told {
    told_of(body, &Case::default(), records)
}

/// The rule `it` fires at these times and no others.
#[track_caller]
pub fn it_fires(body: &str, records: &str, at: &[&str]) {
    let told = told(body, records);
    assert_eq!(told.fires("it"), at, "{records}: {:#?}", told.lines);
}

pub fn told_of(body: &str, case: &Case, records: &str) -> Told {
    let protocol = protocol(body);
    let (records, until) = match records.split_once("until ") {
        Some((records, until)) => (records, Some(minutes(until.trim()))),
        None => (records, None),
    };
    let entries = entries(&protocol, records);
    let until = until
        .or_else(|| entries.last().map(|entry| entry.at))
        .unwrap_or(Exact::ZERO);
    let events = eval::run(&protocol, case, entries, until);
    Told::of(&protocol, &events)
}

/// The target that stands at each of these times.
pub fn targets(body: &str, records: &str, times: &[&str]) -> Vec<String> {
    let protocol = protocol(body);
    let entries = entries(&protocol, records);
    let mut run = Run::new(&protocol, &Case::default());
    let mut left = entries.into_iter().peekable();
    times
        .iter()
        .map(|at| {
            let now = minutes(at);
            while let Some(entry) = left.next_if(|entry| entry.at <= now) {
                run.enter(entry);
            }
            run.advance(now);
            wording::aimed(&protocol, run.aimed(now))
        })
        .collect()
}

/// One phase that runs for a day and aims at nothing in particular.
pub const HOLD: &str = r#"
  phase hold "Hold" {
    hold core at 33.0 °C within 0.5 °C
    lasts 24 h
  }
"#;
