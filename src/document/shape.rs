//! The few things that can be drawn: text, line, rectangle, polygon, link. Origin at the top
//! left, y downwards, in points. The chart and the PDF layout are made of them; the PDF writer
//! and the SVG writer draw them.

/// A weight of the one typeface.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub enum Face {
    #[default]
    Regular,
    Bold,
}

/// A grey, 0 black to 100 white.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Ink(pub u8);

impl Ink {
    pub const BLACK: Ink = Ink(0);
    pub const GREY: Ink = Ink(50);
    pub const PALE: Ink = Ink(70);
    pub const BAND: Ink = Ink(86);
    /// Behind heads and dividers; black text on it keeps a contrast of 15:1.
    pub const HEAD: Ink = Ink(90);
    /// A cell where no entry is wanted.
    pub const NOT_DUE: Ink = Ink(82);
    /// The draft mark, under the text.
    pub const MARK: Ink = Ink(90);
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    Start,
    Middle,
    End,
}

#[derive(Clone, Debug, PartialEq)]
pub struct TextShape {
    pub x: f64,
    /// Baseline.
    pub y: f64,
    pub size: f64,
    pub anchor: Anchor,
    pub face: Face,
    pub italic: bool,
    /// Runs upwards from its place: the head of a narrow column.
    pub turned: bool,
    pub text: String,
}

#[derive(Clone, Debug, PartialEq)]
pub enum Shape {
    Text(TextShape),
    Line {
        from: (f64, f64),
        to: (f64, f64),
        thickness: f64,
        ink: Ink,
        dashed: bool,
    },
    Rect {
        x: f64,
        y: f64,
        width: f64,
        height: f64,
        fill: Option<Ink>,
        /// Thickness of a black frame.
        frame: Option<f64>,
    },
    Polygon {
        points: Vec<(f64, f64)>,
        fill: Ink,
    },
    Link {
        x: f64,
        y: f64,
        width: f64,
        height: f64,
        address: String,
    },
}

impl Shape {
    pub fn line(x1: f64, y1: f64, x2: f64, y2: f64, thickness: f64, ink: Ink) -> Shape {
        Shape::Line {
            from: (x1, y1),
            to: (x2, y2),
            thickness,
            ink,
            dashed: false,
        }
    }

    pub fn text(x: f64, y: f64, size: f64, anchor: Anchor, face: Face, text: &str) -> Shape {
        Shape::Text(TextShape {
            x,
            y,
            size,
            anchor,
            face,
            italic: false,
            turned: false,
            text: text.to_string(),
        })
    }

    /// The same shape elsewhere.
    #[must_use]
    pub fn moved(mut self, dx: f64, dy: f64) -> Shape {
        match &mut self {
            Shape::Text(text) => {
                text.x += dx;
                text.y += dy;
            }
            Shape::Line { from, to, .. } => {
                from.0 += dx;
                from.1 += dy;
                to.0 += dx;
                to.1 += dy;
            }
            Shape::Rect { x, y, .. } | Shape::Link { x, y, .. } => {
                *x += dx;
                *y += dy;
            }
            Shape::Polygon { points, .. } => {
                for point in points {
                    point.0 += dx;
                    point.1 += dy;
                }
            }
        }
        self
    }
}
