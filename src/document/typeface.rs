//! The typeface: Source Sans 3, regular and bold (OFL 1.1, licence beside the files). It has
//! ≤ ≥ ± µ ½ ⅓ ☐ → and digits of equal width, so that figures stand in columns.
//!
//! Takes: a text. Returns: how wide it is set, or the first character that has no glyph.
//!
//! INVARIANT: a character without a glyph is an error, never a gap.

use super::shape::Face;
use std::sync::OnceLock;

/// The font files, whole.
pub const REGULAR: &[u8] = include_bytes!("fonts/SourceSans3-Regular.ttf");
pub const BOLD: &[u8] = include_bytes!("fonts/SourceSans3-Bold.ttf");

/// The file of a weight.
pub(super) fn file(face: Face) -> &'static [u8] {
    match face {
        Face::Regular => REGULAR,
        Face::Bold => BOLD,
    }
}

/// A weight with the widths of its characters at hand: a sheet asks for some hundred thousand.
pub(super) struct Measured {
    font: ttf_parser::Face<'static>,
    widths: Vec<Option<u16>>,
}

static REGULAR_MEASURED: OnceLock<Option<Measured>> = OnceLock::new();
static BOLD_MEASURED: OnceLock<Option<Measured>> = OnceLock::new();

/// A weight, read once. `None` only if the built-in file is broken.
pub(super) fn measured(face: Face) -> Option<&'static Measured> {
    let place = match face {
        Face::Regular => &REGULAR_MEASURED,
        Face::Bold => &BOLD_MEASURED,
    };
    place.get_or_init(|| Measured::read(file(face))).as_ref()
}

impl Measured {
    /// Characters past this are looked up one by one: looking up all that a sheet could hold
    /// takes longer than the few that it does.
    const AT_HAND: u32 = 0x180;

    fn read(bytes: &'static [u8]) -> Option<Measured> {
        let font = ttf_parser::Face::parse(bytes, 0).ok()?;
        let widths = (0..Self::AT_HAND)
            .map(|code| char::from_u32(code).and_then(|character| looked_up(&font, character)))
            .collect();
        Some(Measured { font, widths })
    }

    /// Width in points; every character is looked up, and one without a glyph is the error.
    pub fn width(&self, text: &str, size: f64) -> Result<f64, char> {
        let mut units = 0.0;
        for character in text.chars() {
            let width = match self.widths.get(character as usize) {
                Some(width) => *width,
                None => looked_up(&self.font, character),
            };
            units += f64::from(width.ok_or(character)?);
        }
        Ok(units * size / f64::from(self.font.units_per_em()))
    }
}

fn looked_up(font: &ttf_parser::Face, character: char) -> Option<u16> {
    let glyph = font.glyph_index(character).filter(|glyph| glyph.0 != 0)?;
    Some(font.glyph_hor_advance(glyph).unwrap_or(0))
}

/// Width of a text at 9 pt in a drawing for the screen. A missing glyph counts as no width there:
/// the browser has fonts of its own.
pub(super) fn width_on_screen(text: &str, face: Face) -> f64 {
    measured(face)
        .and_then(|measured| measured.width(text, 9.0).ok())
        .unwrap_or(0.0)
}
