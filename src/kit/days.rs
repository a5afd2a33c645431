//! The days that can be chosen beside a time, in words, and the moment that the PC shows.

use crate::plan::CaseError;
use jiff::civil::{Date, DateTime, Weekday};
use jiff::tz::TimeZone;
use jiff::{Timestamp, ToSpan as _};
use serde::Serialize;

/// A day to choose.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Day {
    /// `2026-11-25`; empty where the field's own usual day is meant.
    pub value: String,
    pub label: String,
}

/// What the PC's clock shows, in the protocol's own zone.
#[derive(Debug, Clone)]
pub struct Now {
    pub at: DateTime,
    pub zone: TimeZone,
}

impl Now {
    /// From seconds since 1970-01-01 00:00 of universal time.
    pub fn of(seconds: i64, zone: &str) -> Result<Now, CaseError> {
        let at = Timestamp::from_second(seconds)
            .map_err(|_| CaseError::new("the clock of this PC shows no date that can be used"))?;
        let zone = TimeZone::get(zone)
            .map_err(|_| CaseError::new(format!("there is no time zone `{zone}`")))?;
        Ok(Now {
            at: zone.to_datetime(at),
            zone,
        })
    }

    pub fn today(&self) -> Date {
        self.at.date()
    }
}

/// `Wed 25 Nov`
pub fn short(date: Date) -> String {
    const MONTHS: [&str; 12] = [
        "Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec",
    ];
    let day = match date.weekday() {
        Weekday::Monday => "Mon",
        Weekday::Tuesday => "Tue",
        Weekday::Wednesday => "Wed",
        Weekday::Thursday => "Thu",
        Weekday::Friday => "Fri",
        Weekday::Saturday => "Sat",
        Weekday::Sunday => "Sun",
    };
    let month = usize::try_from(date.month() - 1)
        .ok()
        .and_then(|month| MONTHS.get(month))
        .unwrap_or(&"");
    format!("{day} {} {month}", date.day())
}

/// That many days after `date`; `None` beyond the calendar.
pub fn after(date: Date, days: i64) -> Option<Date> {
    date.checked_add(days.days()).ok()
}

/// The days from `first` to `last`, counted from `base`, each with the words for it.
pub fn between(base: Date, first: i64, last: i64, words: impl Fn(i64, Date) -> String) -> Vec<Day> {
    (first..=last)
        .filter_map(|days| {
            let date = after(base, days)?;
            Some(Day {
                value: date.to_string(),
                label: words(days, date),
            })
        })
        .collect()
}

/// A day as seen from today.
pub fn from_today(days: i64, date: Date) -> String {
    match days {
        0 => format!("today, {}", short(date)),
        -1 => format!("yesterday, {}", short(date)),
        1 => format!("tomorrow, {}", short(date)),
        _ => short(date),
    }
}

/// A day as seen from that of the start.
pub fn from_start(days: i64, date: Date) -> String {
    match days {
        0 => format!("same day, {}", short(date)),
        -1 => format!("day before, {}", short(date)),
        1 => format!("day after, {}", short(date)),
        _ => short(date),
    }
}
