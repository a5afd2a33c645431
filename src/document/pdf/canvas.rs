//! A small trait of our own between the layout and the PDF library, so that the library can be
//! replaced without touching the layout.

use crate::document::shape::{Ink, TextShape};

/// What a page can be told to draw. Origin at the top left, y downwards, in points.
pub(super) trait Canvas {
    fn text(&mut self, text: &TextShape, width: f64);
    fn line(&mut self, from: (f64, f64), to: (f64, f64), thickness: f64, ink: Ink, dashed: bool);
    fn rect(&mut self, at: (f64, f64), size: (f64, f64), fill: Option<Ink>, frame: Option<f64>);
    fn polygon(&mut self, points: &[(f64, f64)], fill: Ink);
    /// A text across the page, rising by 45°, centred there.
    fn mark(&mut self, text: &str, size: f64, width: f64, centre: (f64, f64));
    /// Opens marked content: numbered, or decoration without a number.
    fn open(&mut self, role: &str, number: Option<usize>);
    fn close(&mut self);
}
