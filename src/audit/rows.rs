//! Rows of a log, one after the other (RFC 4180): quotes, either line end; comma,
//! semicolon or tab, whichever the first row has most of.
//!
//! Takes anything that can be read line by line and gives one [`Row`] at a time, so
//! that memory does not grow with the log. What may go wrong is a [`Fault`] of one
//! line: bytes that are no text, a line without end, a quote that is never closed;
//! the rows after it are read all the same. Only a failing disk ends the reading.

use std::collections::VecDeque;
use std::io::{self, BufRead, Read as _};

/// No log has a longer line; without this a file of other kind would be read whole.
const LONGEST_LINE: usize = 1 << 20;
/// A quoted field may go over lines, but a forgotten quote must not eat the log.
const LONGEST_QUOTE: usize = 50;

/// One row and the line on which it begins, counted from 1.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Row {
    pub line: u64,
    pub fields: Vec<String>,
}

/// A line that is no row.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fault {
    /// It holds bytes that no text has.
    Binary,
    /// The whole file is in an encoding of two bytes.
    Utf16,
    TooLong,
    /// A quote is opened here and never closed.
    OpenQuote,
}

impl Fault {
    pub fn words(self) -> &'static str {
        match self {
            Fault::Binary => {
                "the line holds bytes that are no text; is the file a table saved as CSV?"
            }
            Fault::Utf16 => "the file is in UTF-16, so no row was read; save it as CSV in UTF-8",
            Fault::TooLong => "the line is longer than 1 MB and was not read",
            Fault::OpenQuote => {
                "a quote is opened here and never closed; this line was not read, those after it were"
            }
        }
    }
}

#[derive(Debug)]
pub struct Rows<R> {
    from: R,
    /// Lines that a quote without end had taken in.
    again: VecDeque<(u64, Vec<u8>)>,
    line: u64,
    separator: Option<u8>,
    /// Some line was not UTF-8 and was read by its single bytes.
    latin: Option<u64>,
    bytes: u64,
}

impl<R: BufRead> Rows<R> {
    pub fn new(from: R) -> Self {
        Rows {
            from,
            again: VecDeque::new(),
            line: 0,
            separator: None,
            latin: None,
            bytes: 0,
        }
    }

    /// What parts the fields, once the first row has been read.
    pub fn separator(&self) -> u8 {
        self.separator.unwrap_or(b',')
    }

    /// The first line that was not UTF-8 and was read as Latin-1.
    pub fn latin(&self) -> Option<u64> {
        self.latin
    }

    /// How much of the file has been read.
    pub fn bytes(&self) -> u64 {
        self.bytes
    }

    /// The next row that holds anything, into `row`; false at the end. A line that is
    /// no row is a fault, and the next call goes on after it.
    pub fn next(&mut self, row: &mut Row) -> io::Result<Result<bool, (u64, Fault)>> {
        loop {
            let Some((line, mut text)) = self.take()? else {
                return Ok(Ok(false));
            };
            row.line = line;
            if text.len() >= LONGEST_LINE {
                return Ok(Err((line, Fault::TooLong)));
            }
            if line == 1 {
                if text.starts_with(&[0xff, 0xfe]) || text.starts_with(&[0xfe, 0xff]) {
                    while self.take()?.is_some() {}
                    return Ok(Err((line, Fault::Utf16)));
                }
                if text.starts_with(&[0xef, 0xbb, 0xbf]) {
                    text.drain(..3);
                }
            }
            if text.contains(&0) {
                return Ok(Err((line, Fault::Binary)));
            }
            let separator = *self.separator.get_or_insert_with(|| separator_of(&text));
            let mut more: Vec<(u64, Vec<u8>)> = Vec::new();
            let closed = loop {
                if !is_open(&text, separator) {
                    break true;
                }
                match self.take()? {
                    Some((line, next)) if more.len() < LONGEST_QUOTE && !begins_a_row(&next) => {
                        text.push(b'\n');
                        text.extend_from_slice(&next);
                        more.push((line, next));
                    }
                    Some(next) => {
                        more.push(next);
                        break false;
                    }
                    None => break false,
                }
            };
            if !closed {
                for kept in more.into_iter().rev() {
                    self.again.push_front(kept);
                }
                return Ok(Err((line, Fault::OpenQuote)));
            }
            match std::str::from_utf8(&text) {
                Ok(text) => split(text, separator, &mut row.fields),
                Err(_) => {
                    self.latin.get_or_insert(line);
                    let text: String = text.iter().map(|byte| char::from(*byte)).collect();
                    split(&text, separator, &mut row.fields);
                }
            }
            if row.fields.iter().any(|field| !field.is_empty()) {
                return Ok(Ok(true));
            }
        }
    }

    /// The next line without its end.
    fn take(&mut self) -> io::Result<Option<(u64, Vec<u8>)>> {
        if let Some(kept) = self.again.pop_front() {
            return Ok(Some(kept));
        }
        let mut text = Vec::new();
        let most = LONGEST_LINE as u64;
        let read = (&mut self.from).take(most).read_until(b'\n', &mut text)?;
        if read == 0 {
            return Ok(None);
        }
        self.bytes += read as u64;
        self.line += 1;
        if text.last() == Some(&b'\n') {
            text.pop();
            if text.last() == Some(&b'\r') {
                text.pop();
            }
        } else if text.len() >= LONGEST_LINE {
            self.skip_line()?;
        }
        Ok(Some((self.line, text)))
    }

    fn skip_line(&mut self) -> io::Result<()> {
        loop {
            let (found, used) = {
                let held = self.from.fill_buf()?;
                if held.is_empty() {
                    return Ok(());
                }
                match held.iter().position(|byte| *byte == b'\n') {
                    Some(at) => (true, at + 1),
                    None => (false, held.len()),
                }
            };
            self.from.consume(used);
            self.bytes += used as u64;
            if found {
                return Ok(());
            }
        }
    }
}

/// A line that begins with a time is a row of its own, whatever quote was forgotten
/// before it.
fn begins_a_row(text: &[u8]) -> bool {
    let digits = text.iter().take_while(|byte| byte.is_ascii_digit()).count();
    let next = text.get(digits);
    (digits > 0 && next == Some(&b':')) || (digits == 4 && next == Some(&b'-'))
}

fn separator_of(text: &[u8]) -> u8 {
    let count = |wanted: u8| text.iter().filter(|byte| **byte == wanted).count();
    let mut best = b',';
    for other in [b';', b'\t'] {
        if count(other) > count(best) {
            best = other;
        }
    }
    best
}

/// Whether a quote that begins a field is still open at the end.
fn is_open(text: &[u8], separator: u8) -> bool {
    if !text.contains(&b'"') {
        return false;
    }
    let (mut open, mut blank) = (false, true);
    let mut bytes = text.iter().copied().peekable();
    while let Some(byte) = bytes.next() {
        if open {
            // A doubled quote stands for one, and closes nothing.
            if byte == b'"' && bytes.next_if_eq(&b'"').is_none() {
                (open, blank) = (false, false);
            }
        } else if byte == b'"' && blank {
            open = true;
        } else if byte == separator {
            blank = true;
        } else if byte != b' ' {
            blank = false;
        }
    }
    open
}

fn split(text: &str, separator: u8, fields: &mut Vec<String>) {
    let separator = char::from(separator);
    let mut used = 0;
    let mut put = |field: &str| {
        match fields.get_mut(used) {
            Some(slot) => {
                slot.clear();
                slot.push_str(field.trim());
            }
            None => fields.push(field.trim().to_owned()),
        }
        used += 1;
    };
    if !text.contains('"') {
        text.split(separator).for_each(&mut put);
        fields.truncate(used);
        return;
    }
    let mut field = String::new();
    let mut open = false;
    let mut characters = text.chars().peekable();
    while let Some(character) = characters.next() {
        if open {
            if character != '"' {
                field.push(character);
            } else if characters.next_if_eq(&'"').is_some() {
                field.push('"');
            } else {
                open = false;
            }
        } else if character == '"' && field.trim().is_empty() {
            field.clear();
            open = true;
        } else if character == separator {
            put(&field);
            field.clear();
        } else {
            field.push(character);
        }
    }
    put(&field);
    fields.truncate(used);
}

#[cfg(test)]
mod tests {
    use super::*;

    type Read = (Vec<(u64, Vec<String>)>, Vec<(u64, Fault)>);

    fn all(bytes: &[u8]) -> Read {
        let mut rows = Rows::new(bytes);
        let mut row = Row::default();
        let (mut found, mut faults) = (Vec::new(), Vec::new());
        loop {
            match rows.next(&mut row).expect("memory can be read") {
                Ok(true) => found.push((row.line, row.fields.clone())),
                Ok(false) => return (found, faults),
                Err(fault) => faults.push(fault),
            }
        }
    }

    fn fields(text: &str) -> Vec<Vec<String>> {
        all(text.as_bytes()).0.into_iter().map(|(_, f)| f).collect()
    }

    #[test]
    fn quotes_separators_and_line_ends() {
        assert_eq!(
            fields("a,b\r\n1,\"x, \"\"y\"\"\"\r\n"),
            [["a", "b"], ["1", "x, \"y\""]]
        );
        assert_eq!(fields("\u{feff}a;b\n1;2\n\n;\n"), [["a", "b"], ["1", "2"]]);
        assert_eq!(fields("a\tb"), [["a", "b"]]);
        assert_eq!(fields("a b\"c,d"), [["a b\"c", "d"]]);
    }

    #[test]
    fn lines_are_counted_through_quotes() {
        let (rows, faults) = all(b"a,b\n\"x\"\"\ny\",2\n3,4\n");
        let lines: Vec<u64> = rows.iter().map(|(line, _)| *line).collect();
        assert_eq!((lines, faults), (vec![1, 2, 4], vec![]));
    }

    #[test]
    fn a_line_that_is_no_row_takes_no_other_with_it() {
        let (rows, faults) = all(b"a,b\n1,\"x\n2,y\n\x00\x01\n3,z\n");
        let lines: Vec<u64> = rows.iter().map(|(line, _)| *line).collect();
        assert_eq!(lines, [1, 3, 5]);
        assert_eq!(faults, [(2, Fault::OpenQuote), (4, Fault::Binary)]);
        let mut long = b"a,b\n".to_vec();
        long.extend(std::iter::repeat_n(b'x', 3 * LONGEST_LINE));
        long.extend_from_slice(b"\n1,2\n");
        let (rows, faults) = all(&long);
        assert_eq!(rows.len(), 2);
        assert_eq!(faults, [(2, Fault::TooLong)]);
        assert_eq!(all(b"\xff\xfea\0,\0b\0\n\0").1, [(1, Fault::Utf16)]);
    }

    #[test]
    fn single_bytes_are_read_as_such() {
        assert_eq!(all(b"time,core (\xb0C)\n").0[0].1[1], "core (°C)");
    }
}
