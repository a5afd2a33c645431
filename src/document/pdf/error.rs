//! Why a document could not be printed.

use std::fmt;

#[derive(Clone, Debug, PartialEq, Eq)]
pub enum PdfError {
    /// The typeface has no sign for this character. Printing on would drop it silently.
    MissingGlyph { character: char, text: String },
    /// Something is wider or taller than a page can hold.
    DoesNotFit { what: String },
    /// A library refused to do its part.
    Library { what: String },
}

impl fmt::Display for PdfError {
    fn fmt(&self, out: &mut fmt::Formatter) -> fmt::Result {
        match self {
            PdfError::MissingGlyph { character, text } => write!(
                out,
                "cannot print `{character}` (U+{:04X}) in `{text}`: the typeface has no sign for it, \
                 and a sheet with a dropped sign could be misread",
                u32::from(*character)
            ),
            PdfError::DoesNotFit { what } => {
                write!(out, "`{what}` does not fit on a page of this paper")
            }
            PdfError::Library { what } => write!(out, "the PDF could not be written: {what}"),
        }
    }
}

impl std::error::Error for PdfError {}
