//! From what was filled in to a case, with everything that is wrong beside its field.
//!
//! Each entry is put to the very functions that the command line uses
//! ([`crate::plan::case_text`]); what stands here only reads the looser forms in which people
//! write times and numbers, and asks where one of them has two meanings.

use super::days::{self, Now};
use super::fields::{Beside, Besides, Choice, Field, State};
use super::{number, time};
use crate::model::Protocol;
use crate::plan::report::hours_and_minutes;
use crate::plan::{Case, CaseError, Clock, Round};
use crate::quantity::Exact;
use jiff::civil::{Date, Time};
use jiff::tz::{AmbiguousOffset, Offset};
use serde::Deserialize;
use std::collections::BTreeMap;

/// What was filled in at one field.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Entry {
    #[serde(default)]
    pub text: String,
    /// `2026-11-25`; empty: the field's usual day.
    #[serde(default)]
    pub day: String,
}

type Refused = (CaseError, Vec<Choice>);

/// The case, and what stands beside each field.
pub fn read(
    protocol: &Protocol,
    fields: &[Field],
    entries: &BTreeMap<String, Entry>,
    now: &Now,
) -> (Case, Besides) {
    let mut reader = Reader {
        protocol,
        now,
        case: Case::default(),
        start: None,
        start_given: entries
            .get("start")
            .is_some_and(|entry| !entry.text.trim().is_empty()),
    };
    let none = Entry::default();
    let besides = fields
        .iter()
        .map(|field| {
            let entry = entries.get(&field.id).unwrap_or(&none);
            (field.id.clone(), reader.field(field, entry))
        })
        .collect();
    (reader.case, besides)
}

struct Reader<'a> {
    protocol: &'a Protocol,
    now: &'a Now,
    case: Case,
    /// The day of the start, once it is known.
    start: Option<Date>,
    start_given: bool,
}

impl Reader<'_> {
    fn field(&mut self, field: &Field, entry: &Entry) -> Beside {
        let (kind, name) = field.id.split_once(':').unwrap_or((&field.id, ""));
        let (days, usual) = self.days(kind);
        let text = entry.text.trim();
        let day = entry.day.parse::<Date>().ok().or(usual);
        if kind == "start" {
            self.start = day;
        }
        let mut beside = if text.is_empty() {
            Beside::default()
        } else if field.time && kind != "start" && self.case.clock.is_none() {
            Beside {
                state: State::Waiting,
                help: if self.start_given {
                    "the start has to be put right first"
                } else {
                    "give the start first"
                }
                .to_owned(),
                ..Beside::default()
            }
        } else {
            let entered = match kind {
                "start" => self.start(text, day),
                "weight" => self.weight(text),
                "mark" => self.mark(name, text, day),
                "reading" => self.reading(name, text),
                "rate" => self.rate(name, text, &field.unit),
                _ => self.reached(name, text, day),
            };
            entered.unwrap_or_else(|(error, choices)| Beside::wrong(error, choices))
        };
        beside.day = day.map(|day| day.to_string()).unwrap_or_default();
        if field.time {
            beside.days = days;
        }
        beside
    }

    /// The days to choose from, and the one that is meant where none is chosen.
    fn days(&self, kind: &str) -> (Vec<days::Day>, Option<Date>) {
        let today = self.now.today();
        match kind {
            "start" => (days::between(today, -10, 2, days::from_today), Some(today)),
            "mark" => {
                let base = self.start.unwrap_or(today);
                (days::between(base, -3, 14, days::from_start), Some(base))
            }
            "reached" => {
                let base = self.start.unwrap_or(today);
                let last = days::after(base, 21).unwrap_or(base);
                // It is printed when it has been reached: mostly today.
                let usual = today.clamp(base, last);
                (days::between(base, 0, 21, days::from_start), Some(usual))
            }
            _ => (Vec::new(), None),
        }
    }

    fn start(&mut self, text: &str, day: Option<Date>) -> Result<Beside, Refused> {
        let written = self.moment(text, day)?;
        let zone = &self.protocol.head.timezone.value;
        let clock = Clock::parse(zone, &written).map_err(plain)?;
        let start = clock.at(Exact::ZERO, Round::Down);
        let said = start
            .map(|start| format!("{} {} ({zone})", start.day_and_year(), start.time()))
            .unwrap_or_default();
        let until = self.until_now(&clock);
        self.case.clock = Some(clock);
        let note = if until < -Exact::int(6 * 60) {
            format!("That is {} from now: check the day.", span(-until))
        } else if until > Exact::int(24 * 60) {
            format!("That is {} ago: check the day.", span(until))
        } else {
            String::new()
        };
        Ok(good(format!("{said}, {}", from_now(until)), note))
    }

    fn weight(&mut self, text: &str) -> Result<Beside, Refused> {
        let read = number::read(text)?;
        let unit = read.unit.to_lowercase();
        let grams = Exact::parse(read.number).map(|grams| grams / Exact::int(1000));
        let as_kilograms = grams
            .and_then(|kilograms| kilograms.to_decimal(6))
            .map(|kilograms| {
                let kilograms = if kilograms.contains('.') {
                    kilograms
                        .trim_end_matches('0')
                        .trim_end_matches('.')
                        .to_owned()
                } else {
                    kilograms
                };
                Choice {
                    label: format!("{kilograms} kg"),
                    text: kilograms,
                    day: None,
                }
            });
        match unit.as_str() {
            "" | "kg" | "kgs" | "kilo" | "kilos" | "kilogram" | "kilograms" => {}
            "g" | "gram" | "grams" => {
                return Err((
                    CaseError::new(format!("`{text}` is in grams"))
                        .why("this field takes kilograms, so that no one has to look at the unit"),
                    as_kilograms.into_iter().collect(),
                ));
            }
            _ => {
                return Err(plain(
                    CaseError::new(format!("`{text}` is not a weight in kilograms"))
                        .why("a weight in pounds taken for kilograms more than doubles every dose")
                        .help("weigh in kilograms, or have a second person convert the weight, and write only the number"),
                ));
            }
        }
        let written = format!("{} kg", read.number);
        match self.case.clone().enter_weight(self.protocol, &written) {
            Ok(case) => {
                self.case = case;
                Ok(good(written, String::new()))
            }
            Err(error) => {
                let grams_fit = self
                    .protocol
                    .head
                    .patients
                    .dosing_weight()
                    .zip(grams)
                    .is_some_and(|(range, grams)| {
                        (range.low.value..=range.high.value).contains(&grams)
                    });
                let choices = if grams_fit {
                    as_kilograms.into_iter().collect()
                } else {
                    Vec::new()
                };
                Err((error, choices))
            }
        }
    }

    fn mark(&mut self, name: &str, text: &str, day: Option<Date>) -> Result<Beside, Refused> {
        let written = self.moment(text, day)?;
        let entered = self.case.clone().enter_mark(self.protocol, name, &written);
        let case = entered.map_err(|error| {
            // A mark shortly before midnight, where the start is after it.
            let before = self.start.and_then(|start| days::after(start, -1));
            let fits = before.filter(|before| {
                day == self.start
                    && self.moment(text, Some(*before)).is_ok_and(|written| {
                        let case = self.case.clone();
                        case.enter_mark(self.protocol, name, &written).is_ok()
                    })
            });
            let choices = fits.map(|before| Choice {
                label: format!("{text} on the day before, {}", days::short(before)),
                text: text.to_owned(),
                day: Some(before.to_string()),
            });
            (error, choices.into_iter().collect::<Vec<_>>())
        })?;
        let at = self
            .protocol
            .marks()
            .find(|(_, mark)| mark.name.name == name)
            .and_then(|(id, _)| case.marks.get(&id).copied());
        self.case = case;
        Ok(self.placed(at))
    }

    fn reading(&mut self, name: &str, text: &str) -> Result<Beside, Refused> {
        let read = number::read(text)?;
        let written = format!("{} {}", read.number, read.unit);
        let case = self
            .case
            .clone()
            .enter_arrival(self.protocol, name, written.trim())
            .map_err(plain)?;
        let said = self
            .protocol
            .readings()
            .find(|(_, reading)| reading.name.name == name)
            .and_then(|(id, _)| case.arrival.get(&id).map(ToString::to_string));
        self.case = case;
        Ok(good(said.unwrap_or_default(), String::new()))
    }

    fn rate(&mut self, name: &str, text: &str, unit: &str) -> Result<Beside, Refused> {
        let read = number::read(text)?;
        let unit = if read.unit.is_empty() {
            unit
        } else {
            read.unit
        };
        let written = format!("{} {unit}", read.number);
        self.case = self
            .case
            .clone()
            .enter_rate(self.protocol, name, &written)
            .map_err(plain)?;
        Ok(good(written, String::new()))
    }

    fn reached(&mut self, name: &str, text: &str, day: Option<Date>) -> Result<Beside, Refused> {
        let written = self.moment(text, day)?;
        let zone = &self.protocol.head.timezone.value;
        if let Some(start) = &self.case.clock {
            let reached = Clock::parse(zone, &written).map_err(plain)?;
            let after = start.minutes_to(reached.start());
            if after.is_negative() {
                return Err(plain(
                    CaseError::new(format!("that is {} before the start", span(-after)))
                        .why("a phase cannot be over before the case begins")
                        .help("check both times, and the day chosen beside each"),
                ));
            }
        }
        let case = self
            .case
            .clone()
            .enter_reached(self.protocol, &format!("{name}={written}"))
            .map_err(plain)?;
        let at = self
            .protocol
            .phases()
            .find(|(_, phase)| phase.name.name == name)
            .and_then(|(id, _)| case.reached.get(&id).copied());
        self.case = case;
        let mut beside = self.placed(at);
        if let (Some(at), Some(clock)) = (at, &self.case.clock)
            && at > self.until_now(clock)
        {
            beside.note =
                "That is later than now: give a time only when it has been reached.".to_owned();
        }
        Ok(beside)
    }

    /// The day and time in words, and how far from the start.
    fn placed(&self, at: Option<Exact>) -> Beside {
        let Some((at, clock)) = at.zip(self.case.clock.as_ref()) else {
            return Beside::default();
        };
        let shown = clock
            .at(at, Round::Down)
            .map(|time| time.day_and_time())
            .unwrap_or_default();
        let how_far = if at.is_zero() {
            "at the start".to_owned()
        } else if at.is_negative() {
            format!("{} before the start", span(-at))
        } else {
            format!("{} after the start", span(at))
        };
        good(format!("{shown}, {how_far}"), String::new())
    }

    /// Minutes from the start to what the PC's clock shows.
    fn until_now(&self, clock: &Clock) -> Exact {
        self.now
            .zone
            .to_ambiguous_zoned_datetime(self.now.at)
            .compatible()
            .map_or(Exact::ZERO, |now| clock.minutes_to(&now))
    }

    /// `2026-11-25T14:30`, with its offset where that was given; or the question to ask.
    fn moment(&self, text: &str, day: Option<Date>) -> Result<String, Refused> {
        let (hour, minute, offset) = match time::read(text) {
            time::Said::Time(hour, minute, offset) => (hour, minute, offset),
            time::Said::Which(times) => {
                let choices: Vec<Choice> = times
                    .iter()
                    .map(|(hour, minute)| Choice::of(format!("{hour:02}:{minute:02}")))
                    .collect();
                let error = CaseError::new(format!("`{text}` is not a time by the 24-hour clock"));
                let error = if choices.len() > 1 {
                    error.why("it can be in the morning or twelve hours later")
                } else {
                    error.why("a lost `am` or `pm` would move every time on the sheet by 12 hours")
                };
                return Err((error, choices));
            }
            time::Said::No(why) => {
                return Err((
                    CaseError::new(format!("`{text}` is not a time"))
                        .why(why)
                        .help("write hours and minutes by the 24-hour clock: 14:30 or 1430"),
                    Vec::new(),
                ));
            }
        };
        let day = day.ok_or_else(|| {
            plain(CaseError::new("the day is not known").help("choose the day beside the time"))
        })?;
        if offset.is_empty() {
            self.summer_time(day, hour, minute)?;
        }
        Ok(format!("{day}T{hour:02}:{minute:02}{offset}"))
    }

    /// Asks where the clock jumps over that time or shows it twice.
    fn summer_time(&self, day: Date, hour: u8, minute: u8) -> Result<(), Refused> {
        let time = i8::try_from(hour)
            .ok()
            .zip(i8::try_from(minute).ok())
            .and_then(|(hour, minute)| Time::new(hour, minute, 0, 0).ok());
        let Some(time) = time else {
            return Ok(());
        };
        let at = day.to_datetime(time);
        let zone = &self.protocol.head.timezone.value;
        match self.now.zone.to_ambiguous_zoned_datetime(at).offset() {
            AmbiguousOffset::Unambiguous { .. } => Ok(()),
            AmbiguousOffset::Fold { before, after } => Err((
                CaseError::new(format!(
                    "the clocks of {zone} show {hour:02}:{minute:02} twice on {}",
                    days::short(day)
                ))
                .why("they go back in that night, so it may be before or after that"),
                [
                    (before, "the first time, before"),
                    (after, "the second time, after"),
                ]
                .iter()
                .map(|(offset, words)| Choice {
                    label: format!("{words} the clocks went back"),
                    text: format!("{hour:02}:{minute:02} {}", sign(*offset)),
                    day: None,
                })
                .collect(),
            )),
            AmbiguousOffset::Gap { before, after } => {
                let jump = i64::from(after.seconds() - before.seconds()) / 60;
                let other = |minutes: i64| {
                    at.checked_add(jiff::Span::new().try_minutes(minutes).unwrap_or_default())
                        .ok()
                        .map(|at| Choice {
                            label: format!("{:02}:{:02}", at.hour(), at.minute()),
                            text: format!("{:02}:{:02}", at.hour(), at.minute()),
                            day: Some(at.date().to_string()),
                        })
                };
                Err((
                    CaseError::new(format!(
                        "the clocks of {zone} never show {hour:02}:{minute:02} on {}",
                        days::short(day)
                    ))
                    .why("they go forward over that time in that night"),
                    [other(-jump), other(jump)].into_iter().flatten().collect(),
                ))
            }
        }
    }
}

fn good(said: String, note: String) -> Beside {
    Beside {
        state: State::Good,
        said,
        note,
        ..Beside::default()
    }
}

fn plain(error: CaseError) -> Refused {
    (error, Vec::new())
}

/// `1 h 25 min`
fn span(minutes: Exact) -> String {
    let text = hours_and_minutes(minutes, Round::Down);
    match text.split_once(':') {
        Some(("0", minutes)) => format!("{} min", minutes.trim_start_matches('0')),
        Some((hours, "00")) => format!("{hours} h"),
        Some((hours, minutes)) => format!("{hours} h {} min", minutes.trim_start_matches('0')),
        None => text,
    }
}

fn from_now(until: Exact) -> String {
    let whole = until.floor();
    if whole.is_zero() {
        "now".to_owned()
    } else if whole.is_negative() {
        format!("in {}", span(-whole))
    } else {
        format!("{} ago", span(whole))
    }
}

fn sign(offset: Offset) -> String {
    let seconds = offset.seconds();
    let minutes = seconds.unsigned_abs() / 60;
    format!(
        "{}{:02}:{:02}",
        if seconds < 0 { '-' } else { '+' },
        minutes / 60,
        minutes % 60
    )
}
