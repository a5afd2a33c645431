//! What people type about a case: `82 kg`, `rosc=13:05`, `core=30.4`.
//!
//! Takes a text and the protocol; gives the case with it entered, or a
//! [`CaseError`] that says what to write instead. A text that could mean two
//! things is refused: the wrong day or the wrong unit would move every time or
//! every dose on the sheet.

use super::case::{Case, CaseError};
use super::clock::parse_time;
use super::timeline::{Plan, PlanError};
use crate::model::{End, MarkId, PhaseId, Protocol, ReadingId, ReadingKind};
use crate::quantity::{Dimension, Exact, Level, Rate, Unit, Weight, Written, unit_named};
use crate::source::Span;
use jiff::civil::Time;

/// `NAME=VALUE` in its two parts.
pub fn named(text: &str) -> Result<(&str, &str), CaseError> {
    text.split_once('=')
        .map(|(name, value)| (name.trim(), value.trim()))
        .filter(|(name, value)| !name.is_empty() && !value.is_empty())
        .ok_or_else(|| {
            CaseError::new(format!("`{text}` does not say what it is about"))
                .help("write a name, `=` and a value, such as rosc=13:05")
        })
}

/// Several of them, each for another name: of two values for one, nobody knows which is right.
pub fn all_named(texts: &[String]) -> Result<Vec<(&str, &str)>, CaseError> {
    let mut found: Vec<(&str, &str)> = Vec::new();
    for text in texts {
        let (name, value) = named(text)?;
        if let Some((_, before)) = found.iter().find(|(known, _)| *known == name) {
            return Err(CaseError::new(format!(
                "`{name}` is given twice: as {before} and as {value}"
            ))
            .help("leave out the one that is wrong"));
        }
        found.push((name, value));
    }
    Ok(found)
}

impl Case {
    /// `82 kg`, `2400 g`
    pub fn enter_weight(self, protocol: &Protocol, text: &str) -> Result<Case, CaseError> {
        self.with_weight(protocol, parse_weight(text)?)
    }

    /// `13:05` on the day of the start or, for the mark that the start is counted
    /// from, the day before; `2027-03-28T13:05`; `25 min before start`.
    pub fn enter_mark(
        self,
        protocol: &Protocol,
        name: &str,
        text: &str,
    ) -> Result<Case, CaseError> {
        let mark = find(
            protocol
                .marks()
                .map(|(id, mark)| (id, mark.name.name.as_str())),
            "mark",
            name,
        )?;
        let at = match self.moment(text)? {
            Moment::At(at) => at,
            Moment::TimeOfDay(time) => self.mark_at_time(protocol, mark, name, time)?,
        };
        self.with_mark(protocol, mark, at)
    }

    /// `30.4 °C`; a bare number is in the unit in which the reading is shown.
    pub fn enter_arrival(
        self,
        protocol: &Protocol,
        name: &str,
        text: &str,
    ) -> Result<Case, CaseError> {
        let reading = find(
            protocol
                .readings()
                .map(|(id, reading)| (id, reading.name.name.as_str())),
            "reading",
            name,
        )?;
        let value = parse_level(protocol, reading, text)?;
        self.with_arrival(protocol, reading, value)
    }

    /// `0.25 °C/h`
    pub fn enter_rate(
        self,
        protocol: &Protocol,
        name: &str,
        text: &str,
    ) -> Result<Case, CaseError> {
        let phase = find_phase(protocol, name)?;
        self.with_rate(protocol, phase, parse_rate(text)?)
    }

    /// When a phase was over: `17:40` for the first that waits to be reached,
    /// `rewarm=2027-03-30T17:40`, `cool=3 h after start`.
    pub fn enter_reached(mut self, protocol: &Protocol, text: &str) -> Result<Case, CaseError> {
        let (phase, text) = match text.split_once('=') {
            Some((name, time)) => (find_phase(protocol, name.trim())?, time.trim()),
            None => (self.first_to_be_reached(protocol)?, text.trim()),
        };
        let at = match self.moment(text)? {
            Moment::At(at) => at,
            Moment::TimeOfDay(time) => self.reached_at_time(protocol, phase, time)?,
        };
        self.reached.insert(phase, at);
        plan_of(protocol, &self)?;
        Ok(self)
    }

    fn first_to_be_reached(&self, protocol: &Protocol) -> Result<PhaseId, CaseError> {
        protocol
            .phases()
            .find(|(id, phase)| phase.end == End::Reached && !self.reached.contains_key(id))
            .map(|(id, _)| id)
            .ok_or_else(|| {
                CaseError::new("no phase of this protocol is waiting to be reached")
                    .help("name the phase that was over, such as hold=17:40")
            })
    }

    /// A clock time for a mark names a moment only where no other day can be meant.
    fn mark_at_time(
        &self,
        protocol: &Protocol,
        mark: MarkId,
        name: &str,
        time: Time,
    ) -> Result<Exact, CaseError> {
        let clock = self.clock.as_ref().ok_or_else(start_first)?;
        let same_day = clock.minutes_to_time(time, 0)?;
        if same_day <= Exact::ZERO {
            return Ok(same_day);
        }
        let comes_first = protocol
            .head
            .start_within
            .as_ref()
            .is_some_and(|start| start.of == mark);
        if comes_first {
            return clock.minutes_to_time(time, -1);
        }
        Err(CaseError::new(format!(
            "`{name}` at that time can be on the day of the start or on the day before"
        ))
        .help("write the date too, such as 2027-03-28T13:05"))
    }

    /// The first such time after the phase can have begun, where that is the only one.
    fn reached_at_time(
        &self,
        protocol: &Protocol,
        phase: PhaseId,
        time: Time,
    ) -> Result<Exact, CaseError> {
        let clock = self.clock.as_ref().ok_or_else(start_first)?;
        let plan = plan_of(protocol, self)?;
        let name = &protocol[phase].name.name;
        let unclear = || {
            CaseError::new(format!(
                "`{name}` can have been over at that time on more than one day"
            ))
            .help("write the date too, such as 2027-03-28T17:40")
        };
        let placed = plan.phase(phase).ok_or_else(unclear)?;
        let begins = placed.start.earliest;
        let day = (begins / Exact::int(24 * 60))
            .to_i64_floor()
            .ok_or_else(unclear)?;
        // A day may have 23 or 25 hours, and begins before the start: look a
        // little farther on either side than a count of 24 h would.
        let (days, first) = (day - 1..=day + 3)
            .find_map(|days| {
                let at = clock.minutes_to_shift(time, days)?;
                (at >= begins).then_some((days, at))
            })
            .ok_or_else(unclear)?;
        let again = clock.minutes_to_shift(time, days + 1).ok_or_else(unclear)?;
        let before = clock.minutes_to_shift(time, days - 1).ok_or_else(unclear)?;
        match placed.end.latest {
            // Nearer before the phase than after it: a slip of the pen would be
            // taken for the day after.
            Some(latest) if begins - before < first - latest => Err(CaseError::new(format!(
                "`{name}` should be over before the next {}",
                time.strftime("%H:%M")
            ))
            .why("the time may belong to the day before, or be a slip of the pen")
            .help("check it; if it is right, write the date too, such as 2027-03-28T17:40")),
            Some(latest) if again > latest.max(first) => clock.minutes_to_time(time, days),
            Some(_) | None => Err(unclear()),
        }
    }

    fn moment(&self, text: &str) -> Result<Moment, CaseError> {
        let text = text.trim();
        if let Some(at) = elapsed(text) {
            return Ok(Moment::At(at));
        }
        if let Some(time) = parse_time(text) {
            return Ok(Moment::TimeOfDay(time));
        }
        let clock = self.clock.as_ref().ok_or_else(start_first)?;
        match clock.minutes_to_text(text) {
            Some(at) => at.map(Moment::At),
            None => Err(CaseError::new(format!("`{text}` is not a time")).help(
                "write 13:05 by the 24-hour clock, 2027-03-28T13:05, or 25 min before start",
            )),
        }
    }
}

enum Moment {
    /// Minutes from `start`.
    At(Exact),
    TimeOfDay(Time),
}

fn start_first() -> CaseError {
    CaseError::new("a clock time needs the time of the start")
        .help("give the start with its date too, or write how long before or after the start it was, such as 25 min before start")
}

fn plan_of(protocol: &Protocol, case: &Case) -> Result<Plan, CaseError> {
    Plan::of(protocol, case).map_err(|error| match error {
        PlanError::Case(error) => error,
        PlanError::TooLarge(finding) => CaseError::new(finding.title.clone()).why(finding.why),
    })
}

/// `25 min before start`, `2 h after start`
fn elapsed(text: &str) -> Option<Exact> {
    let text = text.strip_suffix("start")?.trim_end();
    let (text, sign) = match text.strip_suffix("before") {
        Some(text) => (text, -Exact::ONE),
        None => (text.strip_suffix("after")?, Exact::ONE),
    };
    let (number, unit) = number_and_unit(text)?;
    let unit = unit_named(unit).filter(|unit| unit.dimension == Dimension::Time)?;
    Some(Exact::parse(number).filter(|number| !number.is_negative())? * unit.factor() * sign)
}

/// `82kg`, `82 kg`, `30.4`; the unit is empty where there is none.
fn number_and_unit(text: &str) -> Option<(&str, &str)> {
    let text = text.trim();
    let end = text
        .find(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | '/' | '-')))
        .unwrap_or(text.len());
    let (number, unit) = (text.get(..end)?, text.get(end..)?);
    (!number.is_empty()).then(|| (number, unit.trim()))
}

fn parse_weight(text: &str) -> Result<Weight, CaseError> {
    const NOT_METRIC: &[&str] = &[
        "lb", "lbs", "pound", "pounds", "st", "stone", "oz", "ounces",
    ];
    let unclear = || {
        CaseError::new(format!("`{text}` is not a weight")).help(
            "write the weight with its unit, such as 82 kg or 2400 g, with a point before decimals",
        )
    };
    let (number, unit) = number_and_unit(text).ok_or_else(unclear)?;
    if NOT_METRIC.contains(&unit.to_lowercase().as_str()) {
        return Err(CaseError::new("pounds are not read")
            .why("a weight in pounds taken for kilograms more than doubles every dose")
            .help("weigh in kilograms, or have a second person convert the weight"));
    }
    if unit.is_empty() {
        return Err(CaseError::new(format!("`{text}` has no unit"))
            .why("a weight in pounds taken for kilograms more than doubles every dose")
            .help("write the weight with its unit, such as 82 kg or 2400 g"));
    }
    let unit = unit_named(unit)
        .filter(|unit| matches!(unit.name, "kg" | "g"))
        .ok_or_else(unclear)?;
    let value = Exact::parse(number)
        .filter(|value| *value > Exact::ZERO)
        .ok_or_else(unclear)?;
    let kilograms = match unit.name {
        "g" => value / Exact::int(1000),
        _ => value,
    };
    Ok(Weight::new(
        kilograms,
        written(number, unit.name),
        Span::default(),
    ))
}

fn parse_rate(text: &str) -> Result<Rate, CaseError> {
    let unclear = || {
        CaseError::new(format!("`{text}` is not a rate"))
            .help("write the rate with its unit, such as 0.25 °C/h")
    };
    let (number, unit) = number_and_unit(text).ok_or_else(unclear)?;
    let unit = unit_named(unit)
        .filter(|unit| unit.dimension == Dimension::TemperatureRate)
        .ok_or_else(unclear)?;
    let value = Exact::parse(number)
        .filter(|value| *value > Exact::ZERO)
        .ok_or_else(unclear)?;
    Ok(Rate::new(
        value * unit.factor(),
        written(number, unit.name),
        Span::default(),
    ))
}

fn parse_level(protocol: &Protocol, reading: ReadingId, text: &str) -> Result<Level, CaseError> {
    let about = &protocol[reading];
    let name = &about.name.name;
    if matches!(about.kind, ReadingKind::Choice { .. }) {
        return Err(CaseError::new(format!("`{name}` is chosen from words"))
            .help("give only measured readings and scores on arrival"));
    }
    let own: Option<&'static Unit> = match &about.kind {
        ReadingKind::Amount { unit, .. } => *unit,
        ReadingKind::Score { .. } | ReadingKind::Choice { .. } => None,
        ReadingKind::Body(_) | ReadingKind::Medium(_) => about
            .shown_to
            .as_ref()
            .and_then(|step| unit_named(step.written.unit))
            .or_else(|| unit_named("°C")),
    };
    let unclear = || {
        CaseError::new(format!("`{text}` is not a value of `{name}`")).help(match own {
            Some(unit) => format!("write the value as it was read off, in {}", unit.name),
            None => "write the value as it was read off".to_owned(),
        })
    };
    let (number, unit) = number_and_unit(text).ok_or_else(unclear)?;
    let unit = match (unit_named(unit), own) {
        (None, _) if unit.is_empty() => own,
        (Some(unit), Some(own))
            if unit.dimension == own.dimension
                && (unit == own || unit.dimension == Dimension::Temperature) =>
        {
            Some(unit)
        }
        _ => return Err(unclear()),
    };
    let value = Exact::parse(number).ok_or_else(unclear)?;
    let (value, unit) = match unit {
        Some(unit) if unit.dimension == Dimension::Temperature => {
            (unit.temperature_to_celsius(value), unit.name)
        }
        Some(unit) => (value, unit.name),
        None => (value, ""),
    };
    Ok(Level::new(value, written(number, unit), Span::default()))
}

fn written(number: &str, unit: &'static str) -> Written {
    Written {
        number: number.to_owned(),
        unit,
    }
}

fn find_phase(protocol: &Protocol, name: &str) -> Result<PhaseId, CaseError> {
    find(
        protocol
            .phases()
            .map(|(id, phase)| (id, phase.name.name.as_str())),
        "phase",
        name,
    )
}

fn find<'a, Id: Copy>(
    all: impl Iterator<Item = (Id, &'a str)>,
    kind: &str,
    name: &str,
) -> Result<Id, CaseError> {
    let all: Vec<(Id, &str)> = all.collect();
    if let Some((id, _)) = all.iter().find(|(_, known)| *known == name) {
        return Ok(*id);
    }
    let known: Vec<String> = all.iter().map(|(_, known)| format!("`{known}`")).collect();
    Err(
        CaseError::new(format!("this protocol has no {kind} `{name}`")).help(if known.is_empty() {
            format!("it has no {kind} at all")
        } else {
            format!("it has {}", known.join(", "))
        }),
    )
}
