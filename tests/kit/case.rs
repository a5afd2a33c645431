//! Random cases, each as the page is given it and as the command line is.

use crate::support;
use serde_json::{Value, json};
use tempwright::document::{Paper, html};
use tempwright::model::{Aim, End, EndTrigger, Protocol};
use tempwright::plan::{Case, CaseError, Plan};
use tempwright::rules;
use tempwright::sheet::{self, Options};

/// The protocols of the page: their paths and themselves.
pub fn protocols() -> Vec<(String, Protocol)> {
    let library = support::library();
    support::paths(&library)
        .into_iter()
        .filter(|path| path.starts_with("protocols/"))
        .map(|path| {
            let protocol = support::protocol(&library, &path);
            (path, protocol)
        })
        .collect()
}

pub struct Random(u64);

impl Random {
    pub fn new(seed: u64) -> Random {
        Random(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1)
    }

    pub fn below(&mut self, bound: u64) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 >> 11) % bound
    }

    fn one_in(&mut self, bound: u64) -> bool {
        self.below(bound) == 0
    }
}

/// Seconds of universal time since 1970, of 2026-01-01 00:00.
const YEAR: i64 = 1_767_225_600;

/// What the page is given, and the same for the command line.
#[derive(Debug, Default)]
pub struct Made {
    pub page: Value,
    /// `--start`, a value, …
    pub arguments: Vec<(&'static str, String)>,
    pub letter: bool,
    /// The day of the start, which must not be after the review.
    pub day: String,
}

fn day(number: i64) -> String {
    jiff::Timestamp::from_second(YEAR + number * 86_400)
        .expect("in the calendar")
        .to_string()
        .chars()
        .take(10)
        .collect()
}

fn tenths(random: &mut Random, low: i64, high: i64) -> String {
    let value = low
        + i64::try_from(random.below(u64::try_from(high - low + 1).expect("a range")))
            .expect("small");
    format!("{}.{}", value / 10, value % 10)
}

/// In tenths, a little beyond on either side.
fn about(low: &str, high: &str) -> (i64, i64) {
    let tenths = |text: &str| {
        let (whole, part) = text.split_once('.').unwrap_or((text, "0"));
        let part: i64 = part
            .chars()
            .take(1)
            .collect::<String>()
            .parse()
            .expect("a digit");
        whole.parse::<i64>().expect("digits") * 10 + part
    };
    let (low, high) = (tenths(low), tenths(high));
    let more = ((high - low) / 20).max(1);
    (low - more, high + more)
}

pub fn random(random: &mut Random, protocol: &Protocol) -> Made {
    let mut fields = serde_json::Map::new();
    let mut arguments = Vec::new();
    let mut at = |random: &mut Random, id: &str, minutes: i64| {
        let (date, time) = (day(minutes.div_euclid(1440)), minutes.rem_euclid(1440));
        let (hour, minute) = (time / 60, time % 60);
        let text = match random.below(3) {
            // `2:30` and `930` are asked about: only what has one meaning is used here.
            0 => format!("{hour:02}:{minute:02}"),
            1 => format!("{hour:02}{minute:02}"),
            _ => format!("{hour:02}.{minute:02} h"),
        };
        fields.insert(id.to_owned(), json!({"text": text, "day": date}));
        format!("{date}T{hour:02}:{minute:02}")
    };
    // Some nights are those on which the clocks of London change.
    let number = match random.below(6) {
        0 => [86, 87, 297, 298, 450, 451][usize::try_from(random.below(6)).expect("small")],
        _ => i64::try_from(random.below(500)).expect("small"),
    };
    let minute = if random.one_in(5) {
        50 + random.below(80)
    } else {
        random.below(1440)
    };
    let start = number * 1440 + i64::try_from(minute).expect("small");
    let written = at(random, "start", start);
    let started = day(number);
    arguments.push(("--start", written));
    for (id, mark) in protocol.marks() {
        if random.one_in(4) {
            continue;
        }
        let name = &mark.name.name;
        // A little more than the protocol allows, so that both sides of its bound are met.
        let allowed = protocol
            .head
            .start_within
            .as_ref()
            .filter(|start| start.of == id);
        let allowed = allowed.and_then(|start| start.within.value.to_i64_floor());
        let most = allowed.map_or(500, |allowed| allowed + allowed / 20);
        let before = i64::try_from(random.below(most.unsigned_abs())).expect("small");
        let away = if random.one_in(12) { before } else { -before };
        let written = at(random, &format!("mark:{name}"), start + away);
        arguments.push(("--mark", format!("{name}={written}")));
    }
    let mut reached = start;
    for (_, phase) in protocol.phases() {
        let can = matches!(&phase.end, End::Reached)
            || matches!(
                &phase.end,
                End::Awaited {
                    trigger: EndTrigger::When(_),
                    ..
                }
            );
        if !can || random.one_in(2) {
            continue;
        }
        let name = &phase.name.name;
        reached += i64::try_from(random.below(60 * 40)).expect("small");
        let written = at(random, &format!("reached:{name}"), reached);
        arguments.push(("--reached", format!("{name}={written}")));
    }
    if let Some(range) = protocol.head.patients.dosing_weight()
        && !random.one_in(5)
    {
        let (low, high) = about(&range.low.written.number, &range.high.written.number);
        let weight = tenths(random, low, high);
        let weight = weight
            .strip_suffix(".0")
            .map_or(weight.clone(), str::to_owned);
        fields.insert("weight".to_owned(), json!({"text": weight}));
        arguments.push(("--weight", format!("{weight} kg")));
    }
    for (id, range) in &protocol.head.patients.on_arrival {
        if random.one_in(3) {
            continue;
        }
        let name = &protocol[*id].name.name;
        let (low, high) = about(&range.low.written.number, &range.high.written.number);
        let value = tenths(random, low, high);
        fields.insert(format!("reading:{name}"), json!({"text": value}));
        arguments.push(("--reading", format!("{name}={value}")));
    }
    for (_, phase) in protocol.phases() {
        let Aim::Reach {
            rate: Some(rate), ..
        } = &phase.aim
        else {
            continue;
        };
        if rate.second.is_none() || random.one_in(2) {
            continue;
        }
        let name = &phase.name.name;
        let (low, high) = about(&rate.slower().written.number, &rate.faster().written.number);
        let value = tenths(random, low.max(1), high);
        fields.insert(format!("rate:{name}"), json!({"text": value}));
        arguments.push((
            "--rate",
            format!("{name}={value} {}", rate.slower().written.unit),
        ));
    }
    let letter = random.one_in(4);
    // The PC's clock: some hours after the start.
    let now = YEAR + start * 60 + i64::try_from(random.below(86_400)).expect("small");
    Made {
        page: json!({
            "title": tempwright::document::text::inline(&protocol.head.title.markdown).plain(),
            "now": now,
            "paper": if letter { "Letter" } else { "A4" },
            "fields": fields,
        }),
        arguments,
        letter,
        day: started,
    }
}

/// What the command line makes of it, by the same functions; `None` where it refuses.
pub fn expected(protocol: &Protocol, made: &Made) -> Option<String> {
    let case = entered(protocol, made).ok()?;
    let plan = Plan::of(protocol, &case).ok()?;
    let options = Options {
        fingerprint: rules::fingerprint(protocol),
        paper: if made.letter {
            Paper::Letter
        } else {
            Paper::A4
        },
        ..Options::default()
    };
    let document = sheet::build(protocol, &plan, &case, &options).ok()?;
    Some(html::render(&document))
}

fn entered(protocol: &Protocol, made: &Made) -> Result<Case, CaseError> {
    let of = |option: &str| {
        made.arguments
            .iter()
            .filter(move |(name, _)| *name == option)
            .map(|(_, value)| value.as_str())
            .collect::<Vec<_>>()
    };
    let parts = |text: &'_ str| {
        let (name, value) = text.split_once('=').expect("NAME=VALUE");
        (name.to_owned(), value.to_owned())
    };
    let mut case = Case::starting(protocol, of("--start")[0])?;
    for weight in of("--weight") {
        case = case.enter_weight(protocol, weight)?;
    }
    for (name, value) in of("--mark").into_iter().map(parts) {
        case = case.enter_mark(protocol, &name, &value)?;
    }
    for (name, value) in of("--reading").into_iter().map(parts) {
        case = case.enter_arrival(protocol, &name, &value)?;
    }
    for (name, value) in of("--rate").into_iter().map(parts) {
        case = case.enter_rate(protocol, &name, &value)?;
    }
    for reached in of("--reached") {
        case = case.enter_reached(protocol, reached)?;
    }
    Ok(case)
}
