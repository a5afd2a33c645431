//! A run chart: one number, case after case, with the median over all of them.
//!
//! Nothing is told by a colour: the cases are dots on a thin line, the median is a broken line
//! with its word, a goal a thick one with its word, and a case without the number has a dash at
//! the foot. Numbers are whole thousandths of the unit, for drawing only.

use super::shape::{Anchor, Face, Ink, Shape};

#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct RunChart {
    pub title: String,
    /// The same in words, for who cannot see the drawing.
    pub summary: String,
    pub unit: String,
    /// One for each case; `None` where it is not known.
    pub values: Vec<Option<i64>>,
    pub median: i64,
    /// The median as the tables have it, without its unit.
    pub median_words: String,
    pub goal: Option<i64>,
}

pub const HEIGHT: f64 = 150.0;
const LEFT: f64 = 44.0;
const RIGHT: f64 = 74.0;
const TOP: f64 = 20.0;
const BOTTOM: f64 = 24.0;
const SIZE: f64 = 9.0;

pub(super) fn shapes(runs: &RunChart, width: f64) -> Vec<Shape> {
    let known = || runs.values.iter().flatten().copied();
    let all = || known().chain(Some(runs.median)).chain(runs.goal);
    let step = step(all().max().unwrap_or(0) - all().min().unwrap_or(0));
    let low = all().min().unwrap_or(0).div_euclid(step) * step;
    let high = (all().max().unwrap_or(0).div_euclid(step) + 1) * step;
    // No share is more than all.
    let most = if runs.unit == "%" { 100_000 } else { i64::MAX };
    let high = high.min(most.max(low + step));
    let right = width - RIGHT;
    let bottom = HEIGHT - BOTTOM;
    let y =
        |value: i64| bottom - (value - low) as f64 / (high - low).max(1) as f64 * (bottom - TOP);
    let count = runs.values.len().max(1) as f64;
    let x = |index: usize| LEFT + (index as f64 + 0.5) / count * (right - LEFT);
    let mut out = Vec::new();
    let text =
        |x: f64, y: f64, anchor, text: &str| Shape::text(x, y, SIZE, anchor, Face::Regular, text);
    out.push(text(LEFT - 4.0, TOP - 9.0, Anchor::End, &runs.unit));
    let mut value = low;
    while value <= high {
        out.push(Shape::line(LEFT, y(value), right, y(value), 0.3, Ink::PALE));
        out.push(text(
            LEFT - 4.0,
            y(value) + 3.0,
            Anchor::End,
            &label(value, step),
        ));
        value += step;
    }
    if let Some(goal) = runs.goal {
        out.push(Shape::line(LEFT, y(goal), right, y(goal), 1.6, Ink::GREY));
        out.push(text(
            right + 4.0,
            apart(y(goal), y(runs.median)) + 3.0,
            Anchor::Start,
            "goal",
        ));
    }
    out.push(Shape::Line {
        from: (LEFT, y(runs.median)),
        to: (right, y(runs.median)),
        thickness: 1.0,
        ink: Ink::BLACK,
        dashed: true,
    });
    let words = format!("median {}", runs.median_words);
    out.push(text(
        right + 4.0,
        y(runs.median) + 3.0,
        Anchor::Start,
        &words,
    ));
    let mut before: Option<(f64, f64)> = None;
    let every = runs.values.len().div_ceil(24).max(1);
    for (index, value) in runs.values.iter().enumerate() {
        let at = x(index);
        if index % every == 0 {
            out.push(text(
                at,
                bottom + 12.0,
                Anchor::Middle,
                &(index + 1).to_string(),
            ));
        }
        let Some(value) = value else {
            out.push(Shape::line(
                at - 3.0,
                bottom - 3.0,
                at + 3.0,
                bottom - 3.0,
                1.0,
                Ink::BLACK,
            ));
            before = None;
            continue;
        };
        let here = (at, y(*value));
        if let Some(before) = before.replace(here) {
            out.push(Shape::line(
                before.0,
                before.1,
                here.0,
                here.1,
                0.7,
                Ink::BLACK,
            ));
        }
        out.push(dot(here.0, here.1));
    }
    out.push(Shape::line(LEFT, bottom, right, bottom, 0.8, Ink::BLACK));
    out.push(text(
        right,
        HEIGHT - 1.0,
        Anchor::End,
        "case, in the order of the table",
    ));
    out
}

fn dot(x: f64, y: f64) -> Shape {
    let points = (0..8)
        .map(|corner| {
            let angle = f64::from(corner) * std::f64::consts::FRAC_PI_4;
            (x + 2.4 * angle.cos(), y + 2.4 * angle.sin())
        })
        .collect();
    Shape::Polygon {
        points,
        fill: Ink::BLACK,
    }
}

/// Two words on one height would be one over the other.
fn apart(y: f64, other: f64) -> f64 {
    if (y - other).abs() >= 10.0 {
        y
    } else if y <= other {
        other - 10.0
    } else {
        other + 10.0
    }
}

/// 1, 2 or 5 of some size, so that there are few lines.
fn step(span: i64) -> i64 {
    let mut size = 1;
    loop {
        for factor in [1, 2, 5] {
            let step = size * factor;
            if span / step <= 5 {
                return step;
            }
        }
        size *= 10;
    }
}

fn label(value: i64, step: i64) -> String {
    let (sign, value) = (if value < 0 { "-" } else { "" }, value.unsigned_abs());
    let (whole, part) = (value / 1000, value % 1000);
    let text = format!("{sign}{whole}.{part:03}");
    if step % 1000 == 0 && part == 0 {
        return format!("{sign}{whole}");
    }
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}
