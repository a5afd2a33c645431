//! Breaks rich text into lines of a width.
//!
//! A number and its unit stay on one line; a word that is wider than the line is cut, never
//! drawn past its box.

use super::PdfError;
use super::fonts::{Fonts, normalised};
use crate::document::Rich;
use crate::document::shape::Face;

/// Text in one style on one line, at its place from the line's start.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Span {
    pub x: f64,
    pub width: f64,
    pub face: Face,
    pub italic: bool,
    pub text: String,
    pub link: Option<String>,
}

#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct LineOfText {
    pub spans: Vec<Span>,
    pub width: f64,
}

#[derive(Clone, Debug)]
struct Bit {
    text: String,
    face: Face,
    italic: bool,
    link: Option<String>,
    width: f64,
}

#[derive(Clone, Debug)]
enum Atom {
    Word(Vec<Bit>),
    Space(Bit),
    Break,
}

const UNITS: [&str; 22] = [
    "°C",
    "°F",
    "°C/h",
    "°F/h",
    "h",
    "min",
    "s",
    "mL",
    "mL/h",
    "L",
    "mg",
    "g",
    "kg",
    "mcg",
    "micrograms",
    "mmol",
    "mmol/L",
    "mmHg",
    "%",
    "day",
    "days",
    "weeks",
];

/// Lines no wider than `width`.
pub(super) fn wrap(
    fonts: &Fonts,
    rich: &Rich,
    size: f64,
    width: f64,
) -> Result<Vec<LineOfText>, PdfError> {
    let atoms = glue(atoms(fonts, rich, size)?);
    let mut lines = Lines {
        done: Vec::new(),
        bits: Vec::new(),
        width: 0.0,
        limit: width,
    };
    let mut pending: Option<Bit> = None;
    for atom in atoms {
        match atom {
            Atom::Break => {
                pending = None;
                lines.end();
            }
            Atom::Space(bit) => pending = Some(bit),
            Atom::Word(bits) => lines.word(fonts, size, pending.take(), bits)?,
        }
    }
    if !lines.bits.is_empty() || lines.done.is_empty() {
        lines.end();
    }
    Ok(lines.done)
}

/// Width of the longest line when nothing forces a break.
pub(super) fn natural_width(fonts: &Fonts, rich: &Rich, size: f64) -> Result<f64, PdfError> {
    let lines = wrap(fonts, rich, size, f64::MAX)?;
    Ok(lines.iter().map(|line| line.width).fold(0.0, f64::max))
}

/// Width of the longest word, which is as narrow as the text can be set without cutting one.
pub(super) fn longest_word(fonts: &Fonts, rich: &Rich, size: f64) -> Result<f64, PdfError> {
    let widths = glue(atoms(fonts, rich, size)?)
        .into_iter()
        .map(|atom| match atom {
            Atom::Word(bits) => bits.iter().map(|bit| bit.width).sum(),
            Atom::Space(_) | Atom::Break => 0.0,
        });
    Ok(widths.fold(0.0, f64::max))
}

struct Lines {
    done: Vec<LineOfText>,
    bits: Vec<Bit>,
    width: f64,
    limit: f64,
}

impl Lines {
    fn word(
        &mut self,
        fonts: &Fonts,
        size: f64,
        space: Option<Bit>,
        bits: Vec<Bit>,
    ) -> Result<(), PdfError> {
        let word: f64 = bits.iter().map(|bit| bit.width).sum();
        let gap = space.as_ref().map_or(0.0, |bit| bit.width);
        let fits = self.width + gap + word <= self.limit + 0.01;
        if !self.bits.is_empty() && !fits {
            self.end();
        } else if !self.bits.is_empty()
            && let Some(space) = space
        {
            self.width += space.width;
            self.bits.push(space);
        }
        if word <= self.limit + 0.01 {
            self.width += word;
            self.bits.extend(bits);
            return Ok(());
        }
        for bit in bits {
            self.cut(fonts, size, bit)?;
        }
        Ok(())
    }

    /// A bit that is wider than the line, character by character.
    fn cut(&mut self, fonts: &Fonts, size: f64, bit: Bit) -> Result<(), PdfError> {
        let mut part = Bit {
            text: String::new(),
            width: 0.0,
            ..bit.clone()
        };
        for character in bit.text.chars() {
            let wide = fonts.width(&character.to_string(), bit.face, size)?;
            if self.width + part.width + wide > self.limit + 0.01
                && !(part.text.is_empty() && self.bits.is_empty())
            {
                let full = std::mem::replace(
                    &mut part,
                    Bit {
                        text: String::new(),
                        width: 0.0,
                        ..bit.clone()
                    },
                );
                self.bits.push(full);
                self.end();
            }
            part.text.push(character);
            part.width += wide;
        }
        self.width += part.width;
        self.bits.push(part);
        Ok(())
    }

    fn end(&mut self) {
        let mut line = LineOfText::default();
        for bit in self.bits.drain(..) {
            if bit.text.is_empty() {
                continue;
            }
            let start = line.width;
            line.width += bit.width;
            match line.spans.last_mut() {
                Some(last)
                    if last.face == bit.face
                        && last.italic == bit.italic
                        && last.link == bit.link =>
                {
                    last.text.push_str(&bit.text);
                    last.width += bit.width;
                }
                _ => line.spans.push(Span {
                    x: start,
                    width: bit.width,
                    face: bit.face,
                    italic: bit.italic,
                    text: bit.text,
                    link: bit.link,
                }),
            }
        }
        self.width = 0.0;
        self.done.push(line);
    }
}

fn atoms(fonts: &Fonts, rich: &Rich, size: f64) -> Result<Vec<Atom>, PdfError> {
    let mut out: Vec<Atom> = Vec::new();
    for run in &rich.0 {
        let face = if run.style.bold {
            Face::Bold
        } else {
            Face::Regular
        };
        let bit = |text: &str| -> Result<Bit, PdfError> {
            let text = normalised(text);
            Ok(Bit {
                width: fonts.width(&text, face, size)?,
                text,
                face,
                italic: run.style.italic,
                link: run.link.clone(),
            })
        };
        let mut rest = run.text.as_str();
        while let Some(first) = rest.chars().next() {
            if first == '\n' {
                out.push(Atom::Break);
                rest = rest.get(1..).unwrap_or_default();
                continue;
            }
            let spaces = breakable(first);
            let end = rest
                .find(|c: char| c == '\n' || breakable(c) != spaces)
                .unwrap_or(rest.len());
            let (part, after) = rest.split_at(end);
            rest = after;
            match (spaces, out.last_mut()) {
                (true, Some(Atom::Space(_))) => {}
                (true, _) => out.push(Atom::Space(bit(" ")?)),
                (false, Some(Atom::Word(bits))) => bits.push(bit(part)?),
                (false, _) => out.push(Atom::Word(vec![bit(part)?])),
            }
        }
    }
    Ok(out)
}

/// A space at which a line may end.
fn breakable(character: char) -> bool {
    character == ' ' || character == '\t' || character == '\r'
}

/// Joins a number, the space after it and its unit into one word.
fn glue(atoms: Vec<Atom>) -> Vec<Atom> {
    let mut out: Vec<Atom> = Vec::new();
    for atom in atoms {
        let unit = matches!(&atom, Atom::Word(bits) if is_unit(bits));
        if unit
            && let [.., Atom::Word(number), Atom::Space(_)] = out.as_slice()
            && ends_in_digit(number)
            && let Some(Atom::Space(space)) = out.pop()
            && let (Some(Atom::Word(word)), Atom::Word(bits)) = (out.last_mut(), &atom)
        {
            word.push(space);
            word.extend(bits.iter().cloned());
            continue;
        }
        out.push(atom);
    }
    out
}

fn is_unit(bits: &[Bit]) -> bool {
    let word: String = bits.iter().map(|bit| bit.text.as_str()).collect();
    let bare = word.trim_end_matches(|c: char| ".,;:)?!".contains(c));
    UNITS.contains(&bare)
}

fn ends_in_digit(bits: &[Bit]) -> bool {
    bits.last()
        .and_then(|bit| bit.text.chars().last())
        .is_some_and(|last| last.is_ascii_digit() || "½⅓¼¾⅔".contains(last))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lines(text: impl Into<Rich>, width: f64) -> Vec<String> {
        let fonts = Fonts::load().expect("fonts");
        wrap(&fonts, &text.into(), 10.0, width)
            .expect("lines")
            .iter()
            .map(|line| line.spans.iter().map(|span| span.text.as_str()).collect())
            .collect()
    }

    #[test]
    fn a_number_and_its_unit_stay_together() {
        for width in 30..200 {
            for line in lines(
                "below 32.5 °C for 1 h, then 2 g over 30 min.",
                f64::from(width),
            ) {
                assert!(
                    !line.ends_with(|c: char| c.is_ascii_digit()),
                    "{width}: {line}"
                );
            }
        }
    }

    #[test]
    fn a_word_wider_than_the_line_is_cut_and_nothing_is_lost() {
        let found = lines("a very-long-name-without-any-space b", 40.0);
        assert!(found.len() > 3, "{found:?}");
        assert_eq!(
            found.concat().replace(' ', ""),
            "avery-long-name-without-any-spaceb"
        );
    }

    #[test]
    fn styles_do_not_break_words() {
        let rich = Rich::from("call ").then(Rich::bold("now")).then(", please");
        let found = lines(rich, 500.0);
        assert_eq!(found, ["call now, please"]);
    }

    #[test]
    fn a_forced_break_is_kept() {
        assert_eq!(lines("one\ntwo", 500.0), ["one", "two"]);
    }
}
