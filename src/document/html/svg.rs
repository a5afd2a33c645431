//! The chart and the QR code as inline SVG.

use super::{escape, push};
use crate::document::chart::{self, Chart};
use crate::document::qr;
use crate::document::runs::{self, RunChart};
use crate::document::shape::{Anchor, Face, Ink, Shape};
use crate::document::typeface::width_on_screen;

pub(super) fn chart(out: &mut String, chart: &Chart) {
    let rows = (chart.high - chart.low) / chart.step.max(1);
    let (width, height) = (540.0, rows as f64 * 14.2 + 43.0);
    push(
        out,
        &format!(
            "<figure>\n<svg viewBox=\"0 0 {width} {height:.1}\" role=\"img\" aria-label=\"{}\">\n",
            escape(&chart.title)
        ),
    );
    for shape in chart::shapes(chart, width, height, &width_on_screen) {
        self::shape(out, &shape);
    }
    push(
        out,
        &format!(
            "</svg>\n<figcaption>{}</figcaption>\n</figure>\n",
            escape(&chart.summary)
        ),
    );
}

pub(super) fn runs(out: &mut String, runs: &RunChart) {
    let (width, height) = (540.0, runs::HEIGHT);
    push(
        out,
        &format!(
            "<figure>\n<p class=\"title\"><strong>{0}</strong></p>\n<svg viewBox=\"0 0 {width} {height:.1}\" role=\"img\" aria-label=\"{0}\">\n",
            escape(&runs.title)
        ),
    );
    for shape in runs::shapes(runs, width) {
        self::shape(out, &shape);
    }
    push(
        out,
        &format!(
            "</svg>\n<figcaption>{}</figcaption>\n</figure>\n",
            escape(&runs.summary)
        ),
    );
}

fn shape(out: &mut String, shape: &Shape) {
    match shape {
        Shape::Text(text) => {
            let anchor = match text.anchor {
                Anchor::Start => "start",
                Anchor::Middle => "middle",
                Anchor::End => "end",
            };
            let weight = match text.face {
                Face::Regular => "400",
                Face::Bold => "700",
            };
            push(
                out,
                &format!(
                    "<text x=\"{:.1}\" y=\"{:.1}\" font-size=\"{}\" font-weight=\"{weight}\" text-anchor=\"{anchor}\">{}</text>\n",
                    text.x,
                    text.y,
                    text.size,
                    escape(&text.text)
                ),
            );
        }
        Shape::Line {
            from,
            to,
            thickness,
            ink,
            dashed,
        } => {
            let dash = if *dashed {
                " stroke-dasharray=\"2 2\""
            } else {
                ""
            };
            push(
                out,
                &format!(
                    "<line x1=\"{:.2}\" y1=\"{:.2}\" x2=\"{:.2}\" y2=\"{:.2}\" stroke=\"{}\" stroke-width=\"{thickness}\"{dash}/>\n",
                    from.0,
                    from.1,
                    to.0,
                    to.1,
                    colour(*ink)
                ),
            );
        }
        Shape::Rect {
            x,
            y,
            width,
            height,
            fill,
            frame,
        } => {
            let fill = fill.map_or("none".to_string(), colour);
            let frame = frame.map_or(String::new(), |t| {
                format!(" stroke=\"#000\" stroke-width=\"{t}\"")
            });
            push(
                out,
                &format!(
                    "<rect x=\"{x:.2}\" y=\"{y:.2}\" width=\"{width:.2}\" height=\"{height:.2}\" fill=\"{fill}\"{frame}/>\n"
                ),
            );
        }
        Shape::Polygon { points, fill } => {
            let points: Vec<String> = points
                .iter()
                .map(|(x, y)| format!("{x:.2},{y:.2}"))
                .collect();
            push(
                out,
                &format!(
                    "<polygon points=\"{}\" fill=\"{}\"/>\n",
                    points.join(" "),
                    colour(*fill)
                ),
            );
        }
        Shape::Link { .. } => {}
    }
}

fn colour(ink: Ink) -> String {
    let level = u16::from(ink.0.min(100)) * 255 / 100;
    format!("#{level:02x}{level:02x}{level:02x}")
}

/// The QR code, with a quiet zone of four modules.
pub(super) fn code(out: &mut String, text: &str) {
    let Some((side, path)) = code_path(text) else {
        return;
    };
    push(
        out,
        &format!(
            "<svg class=\"code\" viewBox=\"0 0 {side} {side}\" role=\"img\" aria-label=\"QR code: {}\" shape-rendering=\"crispEdges\">\n<path d=\"{path}\"/>\n</svg>\n",
            escape(text)
        ),
    );
}

/// The same code as an address that holds its own picture: the foot of a printed page, which a
/// style makes, can show nothing else. Written without any sign that an address must escape.
pub(super) fn code_address(text: &str) -> Option<String> {
    let (side, path) = code_path(text)?;
    let path = path.replace(' ', "%20");
    Some(format!(
        "data:image/svg+xml,%3Csvg%20xmlns='http://www.w3.org/2000/svg'%20width='18mm'%20height='18mm'%20viewBox='0%200%20{side}%20{side}'%20shape-rendering='crispEdges'%3E%3Cpath%20d='{path}'/%3E%3C/svg%3E"
    ))
}

/// The side of the code in modules, with its quiet zone, and the dark ones as a path: row by row,
/// those side by side in one piece. `None` where there is no code.
fn code_path(text: &str) -> Option<(usize, String)> {
    let rows = qr::modules(text);
    if rows.is_empty() {
        return None;
    }
    let mut path = String::new();
    for (y, row) in rows.iter().enumerate() {
        let mut x = 0;
        for run in row.chunk_by(|one, next| one == next) {
            if run.first() == Some(&true) {
                let wide = run.len();
                path.push_str(&format!("M{} {}h{wide}v1h-{wide}z", x + 4, y + 4));
            }
            x += run.len();
        }
    }
    Some((rows.len() + 8, path))
}
