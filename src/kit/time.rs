//! The time of day as people write it.
//!
//! `1430`, `14:30`, `14.30` and `14h30` are read. What could mean two times (`2.30 pm`, `2:30`,
//! `930`) is never guessed: both are offered, and the person at the bedside says which.

/// What a text says about the time of day.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Said {
    /// Hour, minute, and an offset from universal time as it was written, `+01:00`.
    Time(u8, u8, String),
    /// It could be any of these.
    Which(Vec<(u8, u8)>),
    No(&'static str),
}

pub fn read(text: &str) -> Said {
    let text: String = text
        .trim()
        .to_lowercase()
        .replace(['\u{a0}', '\u{202f}'], " ");
    let (text, offset) = offset(&text);
    let (text, half) = half_of_day(text);
    let text = ["hours", "hrs", "hr", "h", "o'clock", "uhr"]
        .iter()
        .find_map(|word| text.strip_suffix(word))
        .unwrap_or(text)
        .trim();
    let Some((hour, minute, digits)) = digits(text) else {
        return Said::No(match text {
            "noon" | "midday" | "midnight" => "a word is not read: write 12:00 or 00:00",
            _ => "a time has hours and minutes",
        });
    };
    if minute > 59 {
        return Said::No("there are no more than 59 minutes in an hour");
    }
    if hour == 24 && minute == 0 {
        return Said::No("the day ends at 23:59; write 00:00 and choose the day after");
    }
    if hour > 23 {
        return Said::No("the 24-hour clock ends at 23:59");
    }
    match half {
        Some(_) if hour > 12 => Said::Which(vec![(hour, minute)]),
        Some(after_noon) => {
            let hour = hour % 12 + if after_noon { 12 } else { 0 };
            Said::Which(vec![(hour, minute)])
        }
        // One digit, or three without a sign between, is how a clock of twelve hours is written.
        None if digits == 1 && hour > 0 => Said::Which(vec![(hour, minute), (hour + 12, minute)]),
        None => Said::Time(hour, minute, offset.to_owned()),
    }
}

/// Hour, minute, and how many digits the hour has.
fn digits(text: &str) -> Option<(u8, u8, usize)> {
    let plain = |part: &str| !part.is_empty() && part.bytes().all(|byte| byte.is_ascii_digit());
    let (hour, minute) = match text.split_once([':', '.', 'h', ',', ' ']) {
        Some((hour, minute)) => (hour.trim(), minute.trim()),
        None if plain(text) && (3..=4).contains(&text.len()) => {
            text.split_at_checked(text.len() - 2)?
        }
        // A bare hour: the minutes are asked for, not taken to be none.
        None => return None,
    };
    if !plain(hour) || !plain(minute) || hour.len() > 2 || minute.len() != 2 {
        return None;
    }
    Some((hour.parse().ok()?, minute.parse().ok()?, hour.len()))
}

/// `am` or `pm` at the end: whether it is after noon.
fn half_of_day(text: &str) -> (&str, Option<bool>) {
    for (words, after_noon) in [(["am", "a.m."], false), (["pm", "p.m."], true)] {
        for word in words {
            if let Some(rest) = text.strip_suffix(word) {
                return (rest.trim_end(), Some(after_noon));
            }
        }
    }
    (text, None)
}

/// `01:30 +01:00` in its two parts.
fn offset(text: &str) -> (&str, &str) {
    let Some(at) = text.rfind(['+', '-']).filter(|at| *at > 0) else {
        return (text, "");
    };
    match text.split_at_checked(at) {
        Some((time, offset)) if offset.len() == 6 && offset.get(3..4) == Some(":") => {
            (time.trim_end(), offset)
        }
        _ => (text, ""),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn is(hour: u8, minute: u8) -> Said {
        Said::Time(hour, minute, String::new())
    }

    #[test]
    fn what_has_one_meaning_is_read() {
        for text in [
            "1430", "14:30", "14.30", "14h30", "14:30 h", "1430 hrs", " 14 30 ",
        ] {
            assert_eq!(read(text), is(14, 30), "{text}");
        }
        for text in ["0230", "02:30", "02.30"] {
            assert_eq!(read(text), is(2, 30), "{text}");
        }
        assert_eq!(read("00:00"), is(0, 0));
        assert_eq!(read("0:05"), is(0, 5), "no clock of twelve hours shows 0");
        assert_eq!(read("12:30"), is(12, 30));
        assert_eq!(read("01:30 +01:00"), Said::Time(1, 30, "+01:00".to_owned()));
    }

    #[test]
    fn what_may_mean_two_times_is_asked_about() {
        assert_eq!(read("2.30 pm"), Said::Which(vec![(14, 30)]));
        assert_eq!(read("2:30PM"), Said::Which(vec![(14, 30)]));
        assert_eq!(read("12.30 a.m."), Said::Which(vec![(0, 30)]));
        assert_eq!(read("12:15 pm"), Said::Which(vec![(12, 15)]));
        assert_eq!(read("2:30"), Said::Which(vec![(2, 30), (14, 30)]));
        assert_eq!(read("930"), Said::Which(vec![(9, 30), (21, 30)]));
    }

    #[test]
    fn what_is_no_time_is_refused_with_the_reason() {
        for text in [
            "",
            "14",
            "25:00",
            "24:00",
            "24:30",
            "1475",
            "14:3",
            "143000",
            "noon",
            "1a:30",
            "-1:30",
            "14:30:00",
            "١٤:٣٠",
            "+",
            "+01:00",
            "pm",
            "h",
            "99999999999999999999:00",
        ] {
            assert!(
                matches!(read(text), Said::No(_)),
                "{text}: {:?}",
                read(text)
            );
        }
    }
}
