//! The times of a log: hours and minutes since the start, or ISO 8601 with or without
//! an offset.
//!
//! A date without an offset is read by the clock of the protocol's zone; one with an
//! offset is the instant that it says, and it is told where that is not the offset of
//! the protocol's zone on that day. What may go wrong: no time, an hour that the clock
//! shows twice or never, a calendar's end; each is a sentence.

use crate::quantity::Exact;
use jiff::Timestamp;
use jiff::civil::DateTime;
use jiff::tz::{AmbiguousOffset, Offset, TimeZone};

/// A time as the log writes it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum When {
    /// Minutes since the start.
    Elapsed(Exact),
    Instant {
        at: Timestamp,
        /// The offset that is written.
        written: Option<Offset>,
        /// It is not the one of the zone at that instant.
        foreign: bool,
    },
}

#[derive(Debug, Clone)]
pub struct Zone {
    zone: TimeZone,
    name: String,
}

impl Zone {
    /// `None` where there is no such zone.
    pub fn named(name: &str) -> Option<Zone> {
        TimeZone::get(name).ok().map(|zone| Zone {
            zone,
            name: name.to_owned(),
        })
    }

    pub fn name(&self) -> &str {
        &self.name
    }

    pub fn read(&self, text: &str) -> Result<When, String> {
        if let Some(minutes) = elapsed(text) {
            return Ok(When::Elapsed(minutes));
        }
        let (civil, written) = date_time(text).ok_or_else(|| not_a_time(text))?;
        let beyond = || format!("`{text}` lies beyond the calendar");
        if let Some(written) = written {
            let at = written.to_timestamp(civil).map_err(|_| beyond())?;
            return Ok(When::Instant {
                at,
                written: Some(written),
                foreign: self.zone.to_offset(at) != written,
            });
        }
        let shown = self.zone.to_ambiguous_timestamp(civil);
        match shown.offset() {
            AmbiguousOffset::Unambiguous { offset } => Ok(When::Instant {
                at: offset.to_timestamp(civil).map_err(|_| beyond())?,
                written: None,
                foreign: false,
            }),
            AmbiguousOffset::Gap { .. } => Err(format!(
                "the clocks of {} never show `{text}`: they go forward over it on that night",
                self.name
            )),
            AmbiguousOffset::Fold { before, after } => Err(format!(
                "the clocks of {} show `{text}` twice on that night; write the offset with it, {} or {}",
                self.name,
                offset_words(before),
                offset_words(after)
            )),
        }
    }

    /// What the clock shows at that instant: `2026-11-24T08:00:00+00:00`.
    pub fn shows(&self, at: Timestamp) -> String {
        let offset = self.zone.to_offset(at);
        format!(
            "{}{}",
            offset.to_datetime(at).strftime("%Y-%m-%dT%H:%M:%S"),
            offset_words(offset)
        )
    }

    /// The offset of the zone at that instant, in words.
    pub fn offset_at(&self, at: Timestamp) -> String {
        offset_words(self.zone.to_offset(at))
    }
}

/// Minutes from one instant to another.
pub fn minutes(from: Timestamp, to: Timestamp) -> Exact {
    let nanos = to.as_nanosecond() - from.as_nanosecond();
    match (i64::try_from(nanos), i64::try_from(nanos / 1_000_000_000)) {
        (_, Ok(seconds)) if nanos % 1_000_000_000 == 0 => Exact::ratio(seconds, 60),
        (Ok(nanos), _) => Exact::ratio(nanos, 60_000_000_000),
        _ => Exact::OVERFLOW,
    }
}

pub fn offset_words(offset: Offset) -> String {
    let seconds = offset.seconds();
    let sign = if seconds < 0 { '-' } else { '+' };
    let minutes = seconds.unsigned_abs() / 60;
    format!("{sign}{:02}:{:02}", minutes / 60, minutes % 60)
}

fn not_a_time(text: &str) -> String {
    let shown: String = text.chars().take(40).collect();
    format!(
        "`{shown}` is no time; write hours and minutes since the start, `27:30`, or a date with a time of day, `2026-11-24 08:00`"
    )
}

/// `27:30`, `0:07:30`, and `-1:00` for before the start.
fn elapsed(text: &str) -> Option<Exact> {
    let (sign, digits) = match text.strip_prefix('-') {
        Some(rest) => (-1, rest),
        None => (1, text),
    };
    let mut parts = digits.split(':');
    let hours = parts.next()?;
    let plain = !hours.is_empty() && hours.len() <= 5 && hours.bytes().all(|b| b.is_ascii_digit());
    let hours: i64 = plain.then(|| hours.parse().ok())??;
    let minutes = two_digits(parts.next()?).filter(|minutes| *minutes < 60)?;
    let seconds = match parts.next() {
        Some(seconds) => two_digits(seconds).filter(|seconds| *seconds < 60)?,
        None => 0,
    };
    parts
        .next()
        .is_none()
        .then(|| Exact::ratio(sign * (hours * 3600 + minutes * 60 + seconds), 60))
}

/// `2026-11-24T08:00`, with seconds and parts of them, with `Z` or an offset.
fn date_time(text: &str) -> Option<(DateTime, Option<Offset>)> {
    let (date, time) = text.split_once(['T', ' ', 't'])?;
    let mut parts = date.split('-');
    let year = parts.next().filter(|year| year.len() == 4)?;
    let year: i16 = digits(year)?.try_into().ok()?;
    let month: i8 = two_digits(parts.next()?)?.try_into().ok()?;
    let day: i8 = two_digits(parts.next()?)?.try_into().ok()?;
    if parts.next().is_some() {
        return None;
    }
    let time = time.trim();
    let (clock, offset) = match time.find(['Z', 'z', '+', '-']) {
        Some(at) => (time.get(..at)?.trim(), Some(offset(time.get(at..)?)?)),
        None => (time, None),
    };
    let mut parts = clock.split(':');
    let hour: i8 = digits(parts.next().filter(|hour| hour.len() <= 2)?)?
        .try_into()
        .ok()?;
    let minute: i8 = two_digits(parts.next()?)?.try_into().ok()?;
    let (second, nanos) = match parts.next() {
        None => (0, 0),
        Some(rest) => {
            let (whole, part) = rest.split_once(['.', ',']).unwrap_or((rest, ""));
            let known = !part.is_empty() && part.len() <= 9;
            let nanos = match known {
                true => digits(part)? * 10i64.pow(u32::try_from(9 - part.len()).ok()?),
                false if part.is_empty() => 0,
                false => return None,
            };
            (two_digits(whole)?, nanos)
        }
    };
    if parts.next().is_some() || second > 59 {
        return None;
    }
    let second: i8 = second.try_into().ok()?;
    let nanos: i32 = nanos.try_into().ok()?;
    DateTime::new(year, month, day, hour, minute, second, nanos)
        .ok()
        .map(|civil| (civil, offset))
}

fn offset(text: &str) -> Option<Offset> {
    if text.eq_ignore_ascii_case("z") {
        return Some(Offset::UTC);
    }
    let sign = match text.as_bytes().first()? {
        b'+' => 1,
        b'-' => -1,
        _ => return None,
    };
    let digits_of = text.get(1..)?;
    let (hours, minutes) = match digits_of.len() {
        5 => digits_of.split_once(':')?,
        4 => (digits_of.get(..2)?, digits_of.get(2..)?),
        2 => (digits_of, "00"),
        _ => return None,
    };
    let minutes = two_digits(minutes).filter(|minutes| *minutes < 60)?;
    let seconds = sign * (two_digits(hours)? * 3600 + minutes * 60);
    // No clock on earth is further from UTC: beyond is a slip of the pen.
    let known = (-12 * 3600..=14 * 3600).contains(&seconds);
    Offset::from_seconds(known.then(|| i32::try_from(seconds).ok())??).ok()
}

fn digits(text: &str) -> Option<i64> {
    let plain = !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
    plain.then(|| text.parse().ok())?
}

fn two_digits(text: &str) -> Option<i64> {
    (text.len() == 2).then(|| digits(text))?
}

#[cfg(test)]
mod tests {
    use super::*;

    fn london(text: &str) -> Result<When, String> {
        Zone::named("Europe/London").expect("a zone").read(text)
    }

    fn shown(text: &str) -> String {
        let zone = Zone::named("Europe/London").expect("a zone");
        match zone.read(text) {
            Ok(When::Instant { at, foreign, .. }) => {
                format!(
                    "{}{}",
                    zone.shows(at),
                    if foreign { " foreign" } else { "" }
                )
            }
            Ok(When::Elapsed(minutes)) => format!("{minutes} min"),
            Err(why) => why,
        }
    }

    #[test]
    fn both_forms_of_time() {
        assert_eq!(shown("27:30"), "1650 min");
        assert_eq!(shown("-1:00"), "-60 min");
        assert_eq!(shown("0:07:30"), "7.5 min");
        for same in [
            "2026-06-24T08:00",
            "2026-06-24 08:00:00",
            "2026-06-24T08:00:00.000+01:00",
            "2026-06-24T08:00+0100",
        ] {
            assert_eq!(shown(same), "2026-06-24T08:00:00+01:00", "{same}");
        }
        for same in ["2026-06-24T07:00Z", "2026-06-24T12:30+05:30"] {
            assert_eq!(shown(same), "2026-06-24T08:00:00+01:00 foreign", "{same}");
        }
    }

    #[test]
    fn what_names_no_moment_or_two_is_refused() {
        for bad in [
            "1:60",
            "2026-02-29T10:00",
            "24/11/2026 08:00",
            "2026-11-24",
            "2026-11-24T24:00",
            "2026-11-24T08:00+25",
            "2026-11-24T08:00+14:30",
            "2026-11-24T08:00-13:00",
            "2026-11-24T08:00:61",
            "noon",
        ] {
            assert!(london(bad).is_err(), "{bad}");
        }
        assert!(shown("2026-10-25T01:30").contains("twice"));
        assert!(shown("2027-03-28T01:30").contains("never"));
        assert_eq!(shown("2026-10-25T01:30+00:00"), "2026-10-25T01:30:00+00:00");
    }

    #[test]
    fn parts_of_a_second_are_kept() {
        let at = |text: &str| match london(text) {
            Ok(When::Instant { at, .. }) => at,
            other => panic!("{other:?}"),
        };
        let from = at("2026-11-24T08:00:00");
        assert_eq!(
            minutes(from, at("2026-11-24T08:00:30.5")),
            Exact::ratio(61, 120)
        );
    }
}
