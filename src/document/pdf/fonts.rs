//! The typeface in the PDF: widths of texts, and each weight cut down to what is used of it.
//!
//! INVARIANT: a character without a glyph is an error, never a gap.

use super::PdfError;
use crate::document::shape::Face;
use crate::document::typeface::{self, Measured};
use printpdf::ParsedFont;
use std::collections::{BTreeMap, BTreeSet};
use subsetter::GlyphRemapper;

/// Both weights, read once.
#[derive(Clone, Copy)]
pub(super) struct Fonts {
    regular: &'static Measured,
    bold: &'static Measured,
}

impl Fonts {
    pub fn load() -> Result<Fonts, PdfError> {
        match (
            typeface::measured(Face::Regular),
            typeface::measured(Face::Bold),
        ) {
            (Some(regular), Some(bold)) => Ok(Fonts { regular, bold }),
            _ => Err(broken()),
        }
    }

    /// Width in points; every character is looked up.
    pub fn width(&self, text: &str, face: Face, size: f64) -> Result<f64, PdfError> {
        let measured = match face {
            Face::Regular => self.regular,
            Face::Bold => self.bold,
        };
        measured
            .width(text, size)
            .map_err(|character| PdfError::MissingGlyph {
                character,
                text: text.to_string(),
            })
    }

    /// The font with only these characters, under a name that follows from them.
    pub fn subset(&self, face: Face, used: &BTreeSet<char>) -> Result<ParsedFont, PdfError> {
        let full =
            ParsedFont::from_bytes(typeface::file(face), 0, &mut Vec::new()).ok_or_else(broken)?;
        let mut remapper = GlyphRemapper::new();
        let mut codepoints = BTreeMap::new();
        let mut widths = BTreeMap::new();
        for &character in used {
            let old = glyph(&full, character).ok_or_else(|| PdfError::MissingGlyph {
                character,
                text: character.to_string(),
            })?;
            let new = remapper.remap(old);
            codepoints.insert(u32::from(character), new);
            widths.insert(new, full.get_glyph_width(old).unwrap_or(0));
        }
        let bytes = subsetter::subset(&full.original_bytes, 0, &remapper).map_err(|error| {
            PdfError::Library {
                what: format!("the typeface cannot be cut down: {error}"),
            }
        })?;
        let mut font = full;
        font.original_bytes = bytes;
        font.codepoint_to_glyph = codepoints;
        font.glyph_widths = widths;
        font.font_name = Some(
            match face {
                Face::Regular => "TWRSHA+SourceSans3-Regular",
                Face::Bold => "TWRSHB+SourceSans3-Bold",
            }
            .to_string(),
        );
        Ok(font)
    }
}

fn broken() -> PdfError {
    PdfError::Library {
        what: "the built-in typeface cannot be read".to_string(),
    }
}

fn glyph(font: &ParsedFont, character: char) -> Option<u16> {
    font.lookup_glyph_index(u32::from(character))
        .filter(|&glyph| glyph != 0)
}

/// Characters that share a glyph with another are set as the other: text is searched by what a
/// reader types, and the extraction of a glyph gives one character only.
pub(super) fn normalised(text: &str) -> String {
    text.chars()
        .map(|character| match character {
            '\u{a0}' | '\u{202f}' | '\u{2009}' | '\t' => ' ',
            '\u{2011}' => '-',
            '\u{3bc}' => '\u{b5}',
            other => other,
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_signs_of_the_trade_have_glyphs_in_both_weights() {
        let fonts = Fonts::load().expect("fonts");
        for face in [Face::Regular, Face::Bold] {
            let signs = "0123456789.,:;+-–−±×÷=<>≤≥°CF½⅓¼¾µ%/()[]☐•→“”‘’…·é";
            assert!(fonts.width(signs, face, 10.0).expect("all signs") > 0.0);
        }
    }

    #[test]
    fn a_sign_that_the_typeface_lacks_is_an_error_that_names_it() {
        let fonts = Fonts::load().expect("fonts");
        let error = fonts.width("33 \u{6e29}", Face::Regular, 10.0);
        let Err(PdfError::MissingGlyph { character, .. }) = error else {
            panic!("{error:?}");
        };
        assert_eq!(character, '\u{6e29}');
    }

    #[test]
    fn digits_have_one_width() {
        let fonts = Fonts::load().expect("fonts");
        for face in [Face::Regular, Face::Bold] {
            let widths: BTreeSet<String> = ('0'..='9')
                .map(|digit| format!("{:?}", fonts.width(&digit.to_string(), face, 10.0)))
                .collect();
            assert_eq!(widths.len(), 1, "{widths:?}");
        }
    }
}
