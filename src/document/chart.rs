//! The course chart: the planned course with its band on a grid fine enough to plot on by hand.
//!
//! Positions are whole minutes and whole thousandths of a degree, so that a document can be
//! compared and has the same bytes everywhere. They are for drawing only; who builds the chart
//! has already computed them exactly.

use super::shape::{Anchor, Face, Ink, Shape};

/// A point of the course: minutes from start, thousandths of a degree.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct CoursePoint {
    pub minute: i64,
    pub milli: i64,
}

/// One stretch of the course.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Course {
    pub points: Vec<CoursePoint>,
    /// Minute, lower and upper bound, at each corner of the band.
    pub band: Vec<(i64, i64, i64)>,
    /// Drawn broken: the plan cannot say when (an open end, a way that may be quicker).
    pub uncertain: bool,
}

/// Where a phase begins.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ChartPhase {
    pub minute: i64,
    /// Shown always, so it is short: the number in the phase strip.
    pub number: String,
    /// Shown where it fits.
    pub name: String,
}

/// A labelled place on the time axis.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Tick {
    pub minute: i64,
    pub label: String,
    /// Second line, where the day changes.
    pub day: String,
}

#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Chart {
    pub title: String,
    /// The same in words, for who cannot see the drawing.
    pub summary: String,
    pub unit: String,
    /// Another scale along the right side: its unit, and what stands beside which height.
    pub beside: Option<(String, Vec<(i64, String)>)>,
    pub from: i64,
    pub to: i64,
    pub low: i64,
    pub high: i64,
    /// Grid step of the scale in thousandths of a degree.
    pub step: i64,
    /// Grid step of time in minutes.
    pub minutes: i64,
    pub courses: Vec<Course>,
    /// What was recorded, piece by piece where there are gaps: thin, with dots where few.
    pub records: Vec<Vec<CoursePoint>>,
    pub phases: Vec<ChartPhase>,
    pub ticks: Vec<Tick>,
}

/// Space around the grid, in points.
const LEFT: f64 = 34.0;
const RIGHT: f64 = 12.0;
const RIGHT_SCALE: f64 = 36.0;
const TOP: f64 = 16.0;
const BOTTOM: f64 = 27.0;
const SIZE: f64 = 9.0;

/// Draws the chart into a box of that size; `width_of` measures a text at 9 pt.
pub(super) fn shapes(
    chart: &Chart,
    width: f64,
    height: f64,
    width_of: &dyn Fn(&str, Face) -> f64,
) -> Vec<Shape> {
    let plane = Plane {
        chart,
        width: width - LEFT - right(chart),
        height: height - TOP - BOTTOM,
    };
    let mut out = Vec::new();
    bands(&plane, &mut out);
    grid(&plane, &mut out);
    scale(&plane, &mut out);
    time_axis(&plane, &mut out, width_of);
    phase_borders(&plane, &mut out, width_of);
    courses(&plane, &mut out);
    records(&plane, &mut out);
    out
}

fn right(chart: &Chart) -> f64 {
    match chart.beside {
        Some(_) => RIGHT_SCALE,
        None => RIGHT,
    }
}

struct Plane<'a> {
    chart: &'a Chart,
    width: f64,
    height: f64,
}

impl Plane<'_> {
    fn x(&self, minute: i64) -> f64 {
        let span = (self.chart.to - self.chart.from).max(1) as f64;
        LEFT + (minute - self.chart.from) as f64 / span * self.width
    }

    fn y(&self, milli: i64) -> f64 {
        let span = (self.chart.high - self.chart.low).max(1) as f64;
        TOP + (self.chart.high - milli) as f64 / span * self.height
    }

    fn bottom(&self) -> f64 {
        TOP + self.height
    }
}

fn bands(plane: &Plane, out: &mut Vec<Shape>) {
    for course in &plane.chart.courses {
        if course.band.len() < 2 {
            continue;
        }
        let clip = |v: i64| v.clamp(plane.chart.low, plane.chart.high);
        let upper = course
            .band
            .iter()
            .map(|&(m, _, high)| (plane.x(m), plane.y(clip(high))));
        let lower = course
            .band
            .iter()
            .rev()
            .map(|&(m, low, _)| (plane.x(m), plane.y(clip(low))));
        out.push(Shape::Polygon {
            points: upper.chain(lower).collect(),
            fill: Ink::BAND,
        });
    }
}

fn grid(plane: &Plane, out: &mut Vec<Shape>) {
    let chart = plane.chart;
    let mut minute = chart.from;
    while minute <= chart.to {
        let heavy = (minute - chart.from) % (chart.minutes * 6) == 0;
        let x = plane.x(minute);
        let (thickness, ink) = if heavy {
            (0.5, Ink::GREY)
        } else {
            (0.25, Ink::PALE)
        };
        out.push(Shape::line(x, TOP, x, plane.bottom(), thickness, ink));
        minute += chart.minutes.max(1);
    }
    let mut milli = chart.low;
    while milli <= chart.high {
        let whole = milli % 1000 == 0;
        let y = plane.y(milli);
        let (thickness, ink) = if whole {
            (0.5, Ink::GREY)
        } else {
            (0.25, Ink::PALE)
        };
        out.push(Shape::line(LEFT, y, LEFT + plane.width, y, thickness, ink));
        milli += chart.step.max(1);
    }
}

fn scale(plane: &Plane, out: &mut Vec<Shape>) {
    let chart = plane.chart;
    out.push(Shape::text(
        LEFT - 4.0,
        TOP - 7.0,
        SIZE,
        Anchor::End,
        Face::Regular,
        &chart.unit,
    ));
    let mut label = |x: f64, milli: i64, anchor: Anchor, text: &str| {
        let y = plane.y(milli) + 3.2;
        out.push(Shape::text(x, y, SIZE, anchor, Face::Regular, text));
    };
    let mut milli = chart.low;
    while milli <= chart.high {
        if milli % 1000 == 0 {
            let text = format!("{}.0", milli / 1000);
            label(LEFT - 4.0, milli, Anchor::End, &text);
        }
        milli += 500;
    }
    if let Some((unit, labels)) = &chart.beside {
        let x = LEFT + plane.width + 4.0;
        for (milli, text) in labels {
            label(x, *milli, Anchor::Start, text);
        }
        let (y, face) = (TOP - 7.0, Face::Regular);
        out.push(Shape::text(x, y, SIZE, Anchor::Start, face, unit));
    }
}

fn time_axis(plane: &Plane, out: &mut Vec<Shape>, width_of: &dyn Fn(&str, Face) -> f64) {
    let y = plane.bottom();
    let mut free = f64::MIN;
    let mut free_day = f64::MIN;
    for tick in &plane.chart.ticks {
        let x = plane.x(tick.minute);
        let half = width_of(&tick.label, Face::Regular) / 2.0;
        if x - half >= free {
            out.push(Shape::line(x, y, x, y + 3.0, 0.6, Ink::BLACK));
            out.push(Shape::text(
                x,
                y + 12.0,
                SIZE,
                Anchor::Middle,
                Face::Regular,
                &tick.label,
            ));
            free = x + half + 4.0;
        }
        if !tick.day.is_empty() {
            // Kept inside the drawing: a day at the right edge ends there.
            let wide = width_of(&tick.day, Face::Bold);
            let start = (x - half).min(LEFT + plane.width + right(plane.chart) - wide);
            if start >= free_day {
                out.push(Shape::text(
                    start,
                    y + 23.5,
                    SIZE,
                    Anchor::Start,
                    Face::Bold,
                    &tick.day,
                ));
                free_day = start + wide + 6.0;
            }
        }
    }
}

fn phase_borders(plane: &Plane, out: &mut Vec<Shape>, width_of: &dyn Fn(&str, Face) -> f64) {
    let phases = &plane.chart.phases;
    for (index, phase) in phases.iter().enumerate() {
        let x = plane.x(phase.minute);
        let next = phases
            .get(index + 1)
            .map_or(LEFT + plane.width, |next| plane.x(next.minute));
        out.push(Shape::Line {
            from: (x, TOP - 14.0),
            to: (x, plane.bottom()),
            thickness: 0.9,
            ink: Ink::BLACK,
            dashed: true,
        });
        let full = format!("{} {}", phase.number, phase.name);
        // A short phase has its number alone, in the middle where even that is narrow.
        let label = [(full.as_str(), 2.5), (phase.number.as_str(), 1.2)]
            .into_iter()
            .find(|(text, white)| width_of(text, Face::Bold) + 2.0 * white <= next - x)
            .map(|(text, _)| text);
        let middle = |text: &str| (next - x - width_of(text, Face::Bold)) / 2.0;
        let start = x + label.map_or(0.0, |text| middle(text).min(3.0));
        if let Some(label) = label {
            out.push(Shape::text(
                start,
                TOP - 5.0,
                SIZE,
                Anchor::Start,
                Face::Bold,
                label,
            ));
        }
    }
}

fn courses(plane: &Plane, out: &mut Vec<Shape>) {
    for course in &plane.chart.courses {
        for pair in course.points.windows(2) {
            if let [a, b] = pair {
                out.push(Shape::Line {
                    from: (plane.x(a.minute), plane.y(a.milli)),
                    to: (plane.x(b.minute), plane.y(b.milli)),
                    thickness: 1.6,
                    ink: Ink::BLACK,
                    dashed: course.uncertain,
                });
            }
        }
    }
}

/// Below so many points each one has its dot.
const DOTS: usize = 400;

fn records(plane: &Plane, out: &mut Vec<Shape>) {
    let count: usize = plane.chart.records.iter().map(Vec::len).sum();
    for piece in &plane.chart.records {
        let place = |point: &CoursePoint| {
            let milli = point.milli.clamp(plane.chart.low, plane.chart.high);
            (plane.x(point.minute), plane.y(milli))
        };
        for pair in piece.windows(2) {
            if let [a, b] = pair {
                let (from, to) = (place(a), place(b));
                out.push(Shape::line(from.0, from.1, to.0, to.1, 0.7, Ink::BLACK));
            }
        }
        for point in piece.iter().filter(|_| count <= DOTS || piece.len() == 1) {
            let (x, y) = place(point);
            out.push(Shape::Polygon {
                points: vec![(x - 1.4, y), (x, y - 1.4), (x + 1.4, y), (x, y + 1.4)],
                fill: Ink::BLACK,
            });
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_short_phase_still_has_its_number_and_it_stays_between_its_borders() {
        let phase = |minute, number: &str| ChartPhase {
            minute,
            number: number.into(),
            name: "A phase".into(),
        };
        let chart = Chart {
            to: 24 * 60,
            low: 35_000,
            high: 44_000,
            step: 500,
            minutes: 60,
            phases: vec![phase(0, "1"), phase(29, "2"), phase(149, "3")],
            ..Chart::default()
        };
        // Of the typeface's digits.
        let width_of = |text: &str, _: Face| 5.1 * text.chars().count() as f64;
        let width = 522.0;
        let labels: Vec<(String, f64)> = shapes(&chart, width, 300.0, &width_of)
            .into_iter()
            .filter_map(|shape| match shape {
                Shape::Text(text) if text.face == Face::Bold => Some((text.text, text.x)),
                _ => None,
            })
            .collect();
        let names: Vec<&str> = labels.iter().map(|(text, _)| text.as_str()).collect();
        assert_eq!(names, ["1", "2", "3 A phase"]);
        let minute = (width - LEFT - RIGHT) / (24.0 * 60.0);
        let (_, one) = &labels[0];
        assert!(
            *one >= LEFT + 1.0 && one + 5.1 <= LEFT + 29.0 * minute - 1.0,
            "{one}"
        );
    }
}
