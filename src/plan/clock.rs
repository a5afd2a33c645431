//! From elapsed minutes to the clock on the ward and back (M2).
//!
//! Takes the start as a date and a time of day in the protocol's time zone.
//! Elapsed time is added to that instant, never to the digits on the clock, so
//! 72 h stay 72 h across a change of summer time. What may go wrong: the zone is
//! not in the database, or the clock shows that time twice or not at all; each
//! is a [`CaseError`] that says what to write instead.

use super::case::CaseError;
use crate::quantity::Exact;
use jiff::civil::{Date, DateTime, Time};
use jiff::tz::{AmbiguousOffset, Offset, TimeZone};
use jiff::{SignedDuration, ZonedDateTime};

/// The clock of one case: it knows when the case began.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Clock {
    start: ZonedDateTime,
}

/// Where a moment that is no whole minute goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Round {
    /// For whatever must be done by then.
    Down,
    /// For whatever must not be done sooner.
    Up,
}

impl Clock {
    /// Reads `2027-03-28T14:30` in that zone. An hour that occurs twice needs
    /// its offset: `2026-10-25T01:30+01:00`.
    pub fn parse(zone: &str, text: &str) -> Result<Clock, CaseError> {
        let (text, offset) = split_offset(text.trim());
        let at = parse_date_time(text).ok_or_else(|| {
            CaseError::new(format!("`{text}` is not a date with a time of day"))
                .help("write the date and the time by the 24-hour clock, such as 2027-03-28T14:30")
        })?;
        zoned(&zone_named(zone)?, at, offset).map(|start| Clock { start })
    }

    /// A case that began when the clock of that zone showed that.
    pub fn starting(zone: &str, at: DateTime) -> Result<Clock, CaseError> {
        zoned(&zone_named(zone)?, at, None).map(|start| Clock { start })
    }

    /// A case that began at that instant; `None` where there is no such zone.
    pub fn at_instant(zone: &str, start: jiff::Timestamp) -> Option<Clock> {
        let zone = TimeZone::get(zone).ok()?;
        Some(Clock {
            start: ZonedDateTime::new(start, zone),
        })
    }

    pub fn start(&self) -> &ZonedDateTime {
        &self.start
    }

    /// What the clock shows so many minutes after the start; `None` where that
    /// lies beyond the calendar.
    pub fn at(&self, minutes: Exact, round: Round) -> Option<ClockTime> {
        let whole = match round {
            Round::Down => minutes.floor(),
            Round::Up => minutes.ceil(),
        };
        let seconds = whole.to_i64_floor()?.checked_mul(60)?;
        self.start
            .checked_add(SignedDuration::from_secs(seconds))
            .ok()
            .map(ClockTime)
    }

    /// Minutes from the start to that instant, negative before it.
    pub fn minutes_to(&self, instant: &ZonedDateTime) -> Exact {
        let seconds = self.start.duration_until(instant).as_secs();
        Exact::ratio(seconds, 60)
    }

    /// Minutes from the start to that time of day, so many days after the day of
    /// the start.
    pub fn minutes_to_time(&self, time: Time, days: i64) -> Result<Exact, CaseError> {
        let date = day_after(self.start.date(), days)?;
        zoned(self.start.time_zone(), date.to_datetime(time), None)
            .map(|instant| self.minutes_to(&instant))
    }

    /// The same, for a time that nobody chose: where the clock jumps over it, as
    /// much later as it jumps; where it shows it twice, the first.
    pub fn minutes_to_shift(&self, time: Time, days: i64) -> Option<Exact> {
        let date = day_after(self.start.date(), days).ok()?;
        self.start
            .time_zone()
            .to_ambiguous_zoned_datetime(date.to_datetime(time))
            .compatible()
            .ok()
            .map(|instant| self.minutes_to(&instant))
    }

    /// Minutes from the start to a date with a time of day, as a person writes it.
    pub(super) fn minutes_to_text(&self, text: &str) -> Option<Result<Exact, CaseError>> {
        let (text, offset) = split_offset(text);
        let at = parse_date_time(text)?;
        Some(zoned(self.start.time_zone(), at, offset).map(|instant| self.minutes_to(&instant)))
    }
}

/// One time that the clock on the ward shows.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ClockTime(ZonedDateTime);

impl ClockTime {
    /// `14:30`, and `01:30 (+01:00)` where that hour occurs twice.
    pub fn time(&self) -> String {
        let time = format!("{:02}:{:02}", self.0.hour(), self.0.minute());
        let shown = self
            .0
            .time_zone()
            .to_ambiguous_zoned_datetime(self.0.datetime());
        match shown.offset() {
            AmbiguousOffset::Fold { .. } => {
                format!("{time} ({})", offset_words(self.0.offset()))
            }
            AmbiguousOffset::Unambiguous { .. } | AmbiguousOffset::Gap { .. } => time,
        }
    }

    /// `Sun 28 Mar`
    pub fn day(&self) -> String {
        const DAYS: [&str; 7] = ["Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun"];
        const MONTHS: [&str; 12] = [
            "Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec",
        ];
        let pick = |names: &[&'static str], nth: i8| {
            usize::try_from(nth)
                .ok()
                .and_then(|nth| names.get(nth).copied())
                .unwrap_or("")
        };
        format!(
            "{} {} {}",
            pick(&DAYS, self.0.weekday().to_monday_zero_offset()),
            self.0.day(),
            pick(&MONTHS, self.0.month() - 1),
        )
    }

    /// `Sun 28 Mar 2027`
    pub fn day_and_year(&self) -> String {
        format!("{} {}", self.day(), self.0.year())
    }

    /// `Sun 28 Mar 14:30`
    pub fn day_and_time(&self) -> String {
        format!("{} {}", self.day(), self.time())
    }

    pub fn date(&self) -> Date {
        self.0.date()
    }

    pub fn is_same_day(&self, other: &ClockTime) -> bool {
        self.0.date() == other.0.date()
    }

    /// For machines: `2027-03-28T14:30:00+01:00`.
    pub fn machine(&self) -> String {
        format!(
            "{}{}",
            self.0.datetime().strftime("%Y-%m-%dT%H:%M:%S"),
            offset_words(self.0.offset())
        )
    }
}

/// `13:05`
pub(super) fn parse_time(text: &str) -> Option<Time> {
    let (hour, minute) = text.split_once(':')?;
    let two = |digits: &str, most: usize| -> Option<i8> {
        let plain = digits.bytes().all(|byte| byte.is_ascii_digit());
        (plain && (1..=most).contains(&digits.len())).then(|| digits.parse().ok())?
    };
    if minute.len() != 2 {
        return None;
    }
    Time::new(two(hour, 2)?, two(minute, 2)?, 0, 0).ok()
}

fn parse_date_time(text: &str) -> Option<DateTime> {
    let (date, time) = text.split_once(['T', ' '])?;
    let date: Date = date.parse().ok()?;
    Some(date.to_datetime(parse_time(time.trim())?))
}

/// An offset at the end, `+01:00`, apart from what stands before it.
fn split_offset(text: &str) -> (&str, Option<Offset>) {
    let whole = (text, None);
    let Some(at) = text.len().checked_sub(6) else {
        return whole;
    };
    let (Some(head), Some(tail)) = (text.get(..at), text.get(at..)) else {
        return whole;
    };
    // `T14:30-…` has its colon before; a bare date ends in `-03-28`, without one.
    let sign = match tail.chars().next() {
        Some('+') => 1,
        Some('-') => -1,
        _ => return whole,
    };
    let Some(time) = tail.get(1..).and_then(parse_time) else {
        return whole;
    };
    let seconds = sign * (i32::from(time.hour()) * 3600 + i32::from(time.minute()) * 60);
    match Offset::from_seconds(seconds) {
        Ok(offset) => (head.trim_end(), Some(offset)),
        Err(_) => whole,
    }
}

fn zone_named(name: &str) -> Result<TimeZone, CaseError> {
    TimeZone::get(name).map_err(|_| {
        CaseError::new(format!("there is no time zone `{name}`"))
            .why("without the zone no clock time can be worked out")
            .help(
                "name a zone of the time-zone database in the protocol, such as \"Europe/London\"",
            )
    })
}

fn day_after(date: Date, days: i64) -> Result<Date, CaseError> {
    date.checked_add(jiff::Span::new().try_days(days).unwrap_or_default())
        .map_err(|_| CaseError::new("that day lies beyond the calendar"))
}

fn offset_words(offset: Offset) -> String {
    let seconds = offset.seconds();
    let sign = if seconds < 0 { '-' } else { '+' };
    let minutes = seconds.unsigned_abs() / 60;
    format!("{sign}{:02}:{:02}", minutes / 60, minutes % 60)
}

/// The one instant at which the clock of the zone shows that.
fn zoned(
    zone: &TimeZone,
    at: DateTime,
    offset: Option<Offset>,
) -> Result<ZonedDateTime, CaseError> {
    let shown = zone.to_ambiguous_zoned_datetime(at);
    let text = format!("{} {:02}:{:02}", at.date(), at.hour(), at.minute());
    let name = zone.iana_name().unwrap_or("this zone").to_owned();
    let candidates = match shown.offset() {
        AmbiguousOffset::Unambiguous { offset } => vec![offset],
        AmbiguousOffset::Fold { before, after } => vec![before, after],
        AmbiguousOffset::Gap { .. } => Vec::new(),
    };
    match (shown.offset(), offset) {
        (AmbiguousOffset::Gap { .. }, _) => Err(CaseError::new(format!(
            "the clocks of {name} never show {text}"
        ))
        .why("they go forward over that time on that night, so it names no moment")
        .help("write what the clock on the ward really showed, an hour earlier or later")),
        (_, Some(offset)) if candidates.contains(&offset) => offset
            .to_timestamp(at)
            .map(|instant| ZonedDateTime::new(instant, zone.clone()))
            .map_err(|_| CaseError::new(format!("{text} lies beyond the calendar"))),
        (_, Some(offset)) => Err(CaseError::new(format!(
            "the clocks of {name} at {text} are not {} from universal time",
            offset_words(offset)
        ))
        .help(format!(
            "leave the offset out, or write {}",
            candidates
                .iter()
                .map(|offset| offset_words(*offset))
                .collect::<Vec<_>>()
                .join(" or ")
        ))),
        (AmbiguousOffset::Fold { before, after }, None) => Err(CaseError::new(format!(
            "the clocks of {name} show {text} twice"
        ))
        .why("they go back on that night, so it names two moments an hour or so apart")
        .help(format!(
            "write the offset with it: {0}T{1:02}:{2:02}{3} for the first, {0}T{1:02}:{2:02}{4} for the second",
            at.date(),
            at.hour(),
            at.minute(),
            offset_words(before),
            offset_words(after),
        ))),
        (AmbiguousOffset::Unambiguous { .. }, None) => shown
            .unambiguous()
            .map_err(|_| CaseError::new(format!("{text} lies beyond the calendar"))),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn london(start: &str) -> Clock {
        Clock::parse("Europe/London", start).expect("a start")
    }

    fn shows(clock: &Clock, minutes: i64) -> String {
        clock
            .at(Exact::int(minutes), Round::Down)
            .expect("in the calendar")
            .day_and_time()
    }

    #[test]
    fn m2_an_hour_that_occurs_twice_is_shown_with_its_offset() {
        let clock = london("2026-10-25T00:30");
        assert_eq!(shows(&clock, 60), "Sun 25 Oct 01:30 (+01:00)");
        assert_eq!(shows(&clock, 120), "Sun 25 Oct 01:30 (+00:00)");
        assert_eq!(shows(&clock, 180), "Sun 25 Oct 02:30");
        assert_eq!(shows(&clock, 24 * 60), "Sun 25 Oct 23:30");
    }

    #[test]
    fn m2_an_hour_that_is_left_out_is_never_shown() {
        let clock = london("2027-03-28T00:30");
        assert_eq!(shows(&clock, 29), "Sun 28 Mar 00:59");
        assert_eq!(shows(&clock, 30), "Sun 28 Mar 02:00");
        assert_eq!(shows(&clock, 72 * 60), "Wed 31 Mar 01:30");
    }

    #[test]
    fn m2_midnight_month_and_leap_year_ends() {
        assert_eq!(shows(&london("2027-12-31T23:00"), 60), "Sat 1 Jan 00:00");
        assert_eq!(shows(&london("2028-02-28T23:30"), 30), "Tue 29 Feb 00:00");
        assert_eq!(shows(&london("2027-02-28T23:30"), 30), "Mon 1 Mar 00:00");
        assert_eq!(shows(&london("2027-06-01T00:00"), -1), "Mon 31 May 23:59");
    }

    #[test]
    fn moments_between_minutes_go_to_the_safe_side() {
        let clock = london("2027-06-01T12:00");
        let between = Exact::ratio(3, 2);
        let time = |round| clock.at(between, round).map(|time| time.time());
        assert_eq!(time(Round::Down).as_deref(), Some("12:01"));
        assert_eq!(time(Round::Up).as_deref(), Some("12:02"));
        assert_eq!(clock.at(Exact::OVERFLOW, Round::Down), None);
        assert_eq!(clock.at(Exact::int(i64::MAX), Round::Down), None);
    }

    #[test]
    fn a_start_that_names_two_moments_or_none_is_refused_in_words() {
        let twice = Clock::parse("Europe/London", "2026-10-25T01:30").expect_err("twice");
        insta::assert_snapshot!(twice, @r"
        the clocks of Europe/London show 2026-10-25 01:30 twice
          why: they go back on that night, so it names two moments an hour or so apart
          help: write the offset with it: 2026-10-25T01:30+01:00 for the first, 2026-10-25T01:30+00:00 for the second
        ");
        let never = Clock::parse("Europe/London", "2027-03-28T01:30").expect_err("never");
        insta::assert_snapshot!(never, @r"
        the clocks of Europe/London never show 2027-03-28 01:30
          why: they go forward over that time on that night, so it names no moment
          help: write what the clock on the ward really showed, an hour earlier or later
        ");
        let wrong = Clock::parse("Europe/London", "2027-06-01T01:30+00:00").expect_err("wrong");
        insta::assert_snapshot!(wrong, @r"
        the clocks of Europe/London at 2027-06-01 01:30 are not +00:00 from universal time
          help: leave the offset out, or write +01:00
        ");
    }

    #[test]
    fn the_offset_picks_one_of_two() {
        let first = london("2026-10-25T01:30+01:00");
        let second = london("2026-10-25 01:30+00:00");
        assert_eq!(first.minutes_to(second.start()), Exact::int(60));
        assert_eq!(
            first
                .at(Exact::ZERO, Round::Down)
                .map(|time| time.machine())
                .as_deref(),
            Some("2026-10-25T01:30:00+01:00")
        );
    }

    #[test]
    fn what_is_no_date_with_a_time_is_refused() {
        for bad in [
            "2027-03-28",
            "14:30",
            "28.03.2027 14:30",
            "2027-02-29T10:00",
            "2027-03-28T24:00",
            "2027-03-28T1:5",
            "",
        ] {
            assert!(Clock::parse("Europe/London", bad).is_err(), "{bad}");
        }
        assert!(Clock::parse("Europe/Saltmarsh", "2027-03-28T14:30").is_err());
    }

    #[test]
    fn a_time_of_day_goes_back_to_minutes() {
        let clock = london("2026-10-25T00:30");
        let time = parse_time("23:30").expect("a time");
        assert_eq!(
            clock.minutes_to_time(time, 0).ok(),
            Some(Exact::int(24 * 60))
        );
        assert_eq!(clock.minutes_to_time(time, -1).ok(), Some(Exact::int(-60)));
        assert!(
            clock
                .minutes_to_time(parse_time("01:30").expect("a time"), 0)
                .is_err()
        );
        assert_eq!(
            clock.minutes_to_shift(parse_time("01:30").expect("a time"), 0),
            Some(Exact::int(60))
        );
    }

    proptest::proptest! {
        #![proptest_config(proptest::prelude::ProptestConfig {
            failure_persistence: None,
            ..proptest::prelude::ProptestConfig::default()
        })]

        /// What the clock shows after so many minutes names that minute again,
        /// with its offset where the hour occurs twice.
        #[test]
        fn elapsed_and_clock_time_are_inverse(day in 0i64..=800, minute in 0i64..=1439, later in 0i64..=20_000) {
            let date: Date = "2026-01-01".parse().expect("a date");
            let date = day_after(date, day).expect("in the calendar");
            let start = format!("{date}T{:02}:{:02}", minute / 60, minute % 60);
            let Ok(clock) = Clock::parse("Europe/London", &start) else {
                // The clock shows that twice or never.
                return Ok(());
            };
            let shown = clock.at(Exact::int(later), Round::Down).expect("in the calendar");
            let text = shown.machine();
            let (text, offset) = (&text[..16], &text[19..]);
            let again = clock.minutes_to_text(&format!("{text}{offset}"));
            proptest::prop_assert_eq!(again, Some(Ok(Exact::int(later))));
        }
    }
}
