//! The due times of a case as a calendar (RFC 5545), for a device that can only
//! read those.
//!
//! Takes a protocol and a case whose start is known by the clock; gives one event
//! for each time at which something is due. Times are in UTC, so that no device
//! has to know the zone. The same case gives the same bytes: the stamp of an event
//! is the start of its case, and nothing that names a patient is in it.
//!
//! What may go wrong: no clock, so no time; or a plan that cannot be laid out.

use super::csv::elapsed;
use super::due;
use super::fingerprint::{fingerprint, sha256};
use crate::model::Protocol;
use crate::plan::{Case, PlanError, Round, schedule};
use crate::quantity::Exact;
use std::fmt;

/// Why there is no calendar.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum NoCalendar {
    /// The case does not say when it began.
    NoStart,
    Plan(PlanError),
    /// A time lies beyond the calendar.
    TooLate(Exact),
}

impl fmt::Display for NoCalendar {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            NoCalendar::NoStart => {
                out.write_str("a calendar needs the date and the time at which the case began")
            }
            NoCalendar::Plan(error) => write!(out, "{error}"),
            NoCalendar::TooLate(at) => {
                write!(
                    out,
                    "{} after the start lies beyond the calendar",
                    elapsed(*at)
                )
            }
        }
    }
}

impl std::error::Error for NoCalendar {}

/// The due times of a case as `.ics`.
pub fn calendar(protocol: &Protocol, case: &Case) -> Result<String, NoCalendar> {
    if case.clock.is_none() {
        return Err(NoCalendar::NoStart);
    }
    let schedule = schedule(protocol, case).map_err(NoCalendar::Plan)?;
    let start = utc(case, Exact::ZERO)?;
    let meaning = fingerprint(protocol);
    let mut out = String::new();
    for line in [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        "PRODID:-//tempwright//schedule 1//EN",
        "CALSCALE:GREGORIAN",
    ] {
        content(&mut out, line);
    }
    let mut lines = due::lines(protocol, &schedule).into_iter().peekable();
    while let Some(first) = lines.next() {
        let mut together = vec![first];
        while let Some(next) =
            lines.next_if(|next| together.first().map(|one| one.at) == Some(next.at))
        {
            together.push(next);
        }
        event(&mut out, case, &start, &meaning, &together)?;
    }
    content(&mut out, "END:VCALENDAR");
    Ok(out)
}

fn event(
    out: &mut String,
    case: &Case,
    start: &str,
    meaning: &str,
    lines: &[due::Line],
) -> Result<(), NoCalendar> {
    let Some(first) = lines.first() else {
        return Ok(());
    };
    let at = utc(case, first.at)?;
    let mut name = sha256(format!("{meaning} {start} {}", first.at).as_bytes());
    name.truncate(32);
    let whats: Vec<String> = lines
        .iter()
        .map(|line| line.what.replace('\n', " "))
        .collect();
    let summary = format!("{} {}", elapsed(first.at), whats.join("; "));
    let mut details: Vec<String> = lines
        .iter()
        .map(|line| format!("{} ({})", line.what, line.by))
        .collect();
    details.push(format!("Phase: {}", first.phase));
    if first.assumed {
        details.push("This time is assumed: the end of an earlier phase is open.".to_owned());
    }
    content(out, "BEGIN:VEVENT");
    content(out, &format!("UID:{name}@tempwright.invalid"));
    content(out, &format!("DTSTAMP:{start}"));
    content(out, &format!("DTSTART:{at}"));
    content(out, &format!("SUMMARY:{}", escaped(&summary)));
    content(
        out,
        &format!("DESCRIPTION:{}", escaped(&details.join("\n"))),
    );
    content(out, "TRANSP:TRANSPARENT");
    content(out, "END:VEVENT");
    Ok(())
}

/// `20270328T133000Z`
fn utc(case: &Case, at: Exact) -> Result<String, NoCalendar> {
    let time = case
        .clock
        .as_ref()
        .ok_or(NoCalendar::NoStart)?
        .at(at, Round::Down)
        .ok_or(NoCalendar::TooLate(at))?;
    time.machine()
        .parse::<jiff::Timestamp>()
        .map(|instant| instant.strftime("%Y%m%dT%H%M%SZ").to_string())
        .map_err(|_| NoCalendar::TooLate(at))
}

/// A text value: what has a meaning in the format is marked as text.
fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for character in text.chars() {
        match character {
            '\\' | ';' | ',' => {
                out.push('\\');
                out.push(character);
            }
            '\n' => out.push_str("\\n"),
            other if other.is_control() => {}
            other => out.push(other),
        }
    }
    out
}

/// One content line, folded so that no line has more than 75 bytes.
fn content(out: &mut String, line: &str) {
    let mut width = 0;
    for character in line.chars() {
        if width + character.len_utf8() > 75 {
            out.push_str("\r\n ");
            width = 1;
        }
        out.push(character);
        width += character.len_utf8();
    }
    out.push_str("\r\n");
}
