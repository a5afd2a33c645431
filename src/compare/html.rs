//! A comparison as one page that needs nothing else: no script, no network.
//!
//! Both planned courses stand on one chart, the changed parts of the two sheets side
//! by side. Every text is escaped. Meaning is never in a colour: verdicts are words
//! with a sign, the older course is a broken line.

use super::change::{Change, Verdict};
use super::courses::{Courses, Drawn};
use super::text::{case_lines, summary, title};
use super::{Comparison, Report};
use crate::document::html::escape;
use std::fmt::Write as _;

const STYLE: &str = include_str!("page.css");

pub fn report(report: &Report) -> String {
    let mut out =
        String::from("<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n");
    out.push_str("<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n");
    let heading = format!("{} → {}", bare(&report.old), bare(&report.new));
    let _ = writeln!(
        out,
        "<title>Protocols compared: {}</title>",
        escape(&heading)
    );
    let _ = writeln!(out, "<style>\n{STYLE}</style>\n</head>\n<body>\n<header>");
    let _ = writeln!(
        out,
        "<h1>What the change does</h1>\n<p><code>{}</code> → <code>{}</code></p>\n</header>\n<main>",
        escape(&bare(&report.old)),
        escape(&bare(&report.new))
    );
    for (word, list) in [("New", &report.added), ("Gone", &report.removed)] {
        for name in list {
            let _ = writeln!(out, "<p><strong>{word}: {}</strong></p>", escape(name));
        }
    }
    if report.same_meaning() {
        out.push_str("<p><strong>No change in meaning.</strong></p>\n");
    }
    for one in &report.compared {
        comparison(&mut out, one);
    }
    out.push_str(
        "</main>\n<footer><p>A comparison supports and does not replace reading the protocol, local policy and clinical \
         judgement.</p></footer>\n</body>\n</html>\n",
    );
    out
}

fn comparison(out: &mut String, one: &Comparison) {
    let _ = writeln!(out, "<section>\n<h2>{}</h2>", escape(&title(one)));
    for complaint in one.versions.complaint.iter().chain(&one.versions.libraries) {
        let _ = writeln!(
            out,
            "<p class=\"complaint\">The version does not fit: {}.</p>",
            escape(complaint)
        );
    }
    out.push_str("<ul>\n");
    for line in summary(one)
        .iter()
        .filter(|line| !line.starts_with("VERSION: "))
    {
        let _ = writeln!(out, "<li>{}</li>", marked(line));
    }
    out.push_str("</ul>\n");
    if let Some(courses) = &one.courses {
        chart(out, courses);
    }
    changes(
        out,
        "Changes of meaning",
        &one.of_meaning().collect::<Vec<_>>(),
    );
    let effects = &one.effects;
    if !effects.rows.is_empty() {
        out.push_str(
            "<h3>At the bedside</h3>\n<div class=\"wide\"><table>\n<thead><tr><th>What</th><th>Before</th><th>Now</th>\
             <th>That makes</th></tr></thead>\n<tbody>\n",
        );
        for row in &effects.rows {
            let _ = writeln!(
                out,
                "<tr><th scope=\"row\">{}, {}</th><td>{}</td><td>{}</td><td>{}</td></tr>",
                row.topic.title(),
                marked(&row.what),
                marked(&row.from),
                marked(&row.to),
                marked(&row.makes)
            );
        }
        out.push_str("</tbody></table></div>\n");
    }
    for (word, list) in [
        ("Findings that appear", &effects.findings_appear),
        ("Findings that vanish", &effects.findings_vanish),
    ] {
        if list.is_empty() {
            continue;
        }
        let _ = writeln!(out, "<h3>{word}</h3>\n<ul>");
        for found in list {
            let _ = writeln!(
                out,
                "<li><strong>{}</strong> <code>{}</code> {}</li>",
                found.level,
                escape(found.name),
                marked(&found.title)
            );
        }
        out.push_str("</ul>\n");
    }
    if effects.accepted_old != effects.accepted_new {
        let _ = writeln!(
            out,
            "<p>Findings that an exception lets stand: {} → {}.</p>",
            effects.accepted_old, effects.accepted_new
        );
    }
    super::beside::sheets(out, &effects.sheet);
    changes(
        out,
        "Wording, order and comments",
        &one.of_wording().collect::<Vec<_>>(),
    );
    if !one.layout.is_empty() {
        out.push_str("<ul>\n");
        for line in &one.layout {
            let _ = writeln!(out, "<li>{}</li>", marked(line));
        }
        out.push_str("</ul>\n");
    }
    out.push_str("</section>\n");
}

fn changes(out: &mut String, heading: &str, list: &[&Change]) {
    if list.is_empty() {
        return;
    }
    let _ = writeln!(
        out,
        "<h3>{heading}</h3>\n<div class=\"wide\"><table>\n<thead><tr><th>What</th><th>Before</th><th>Now</th>\
         <th>Verdict</th></tr></thead>\n<tbody>"
    );
    for change in list {
        let what = if change.what.is_empty() {
            String::new()
        } else {
            format!(", {}", change.what)
        };
        let cell =
            |said: &Option<String>| said.as_ref().map_or("–".to_owned(), |said| marked(said));
        let _ = writeln!(
            out,
            "<tr><th scope=\"row\">{}{}</th><td>{}</td><td>{}</td><td class=\"verdict\">{} {}</td></tr>",
            marked(&change.about),
            escape(&what),
            cell(&change.from),
            cell(&change.to),
            sign(change.verdict),
            change.verdict.words()
        );
        if change.consequence.is_empty() && change.case.is_none() {
            continue;
        }
        out.push_str("<tr><td colspan=\"4\">");
        out.push_str(&marked(&change.consequence));
        if let Some(case) = &change.case {
            let _ = write!(
                out,
                "<pre class=\"case\">{}</pre>",
                escape(&case_lines(case).join("\n"))
            );
        }
        out.push_str("</td></tr>\n");
    }
    out.push_str("</tbody></table></div>\n");
}

fn sign(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::SameMeaning => "=",
        Verdict::Stricter => "▲",
        Verdict::Looser => "▼",
        Verdict::Different => "◆",
    }
}

const LEFT: i64 = 60;
const TOP: i64 = 50;
const WIDTH: i64 = 860;
const HEIGHT: i64 = 300;

/// Where things are drawn; whole numbers, so that the bytes are the same everywhere.
struct Plane {
    to: i64,
    low: i64,
    high: i64,
}

impl Plane {
    fn x(&self, minute: i64) -> i64 {
        LEFT + minute * WIDTH / self.to.max(1)
    }

    fn y(&self, milli: i64) -> i64 {
        TOP + (self.high - milli.clamp(self.low, self.high)) * HEIGHT
            / (self.high - self.low).max(1)
    }
}

fn chart(out: &mut String, courses: &Courses) {
    let plane = Plane {
        to: courses.old.to.max(courses.new.to),
        low: courses.old.low.min(courses.new.low),
        high: courses.old.high.max(courses.new.high),
    };
    out.push_str("<h3>Both planned courses</h3>\n<figure>\n");
    let _ = writeln!(
        out,
        "<svg viewBox=\"0 0 {} {}\" role=\"img\" aria-label=\"Planned courses before and now; the tables say the same in \
         words\" font-family=\"system-ui, sans-serif\" font-size=\"13\">",
        LEFT + WIDTH + 20,
        TOP + HEIGHT + 70
    );
    // Degrees.
    let mut milli = plane.low.div_euclid(1000) * 1000;
    while milli <= plane.high {
        if milli >= plane.low {
            let y = plane.y(milli);
            let _ = writeln!(
                out,
                "<line x1=\"{LEFT}\" y1=\"{y}\" x2=\"{}\" y2=\"{y}\" stroke=\"#ccc\"/><text x=\"{}\" y=\"{}\" \
                 text-anchor=\"end\">{}</text>",
                LEFT + WIDTH,
                LEFT - 8,
                y + 4,
                milli / 1000
            );
        }
        milli += 1000;
    }
    let _ = writeln!(
        out,
        "<text x=\"{}\" y=\"{}\" text-anchor=\"end\">{}</text>",
        LEFT - 8,
        TOP - 14,
        escape(&courses.unit)
    );
    // Hours.
    let hours = plane.to / 60;
    let step = match hours {
        0..=12 => 1,
        13..=30 => 3,
        31..=80 => 6,
        81..=160 => 12,
        _ => (hours / 12).max(24),
    };
    let mut hour = 0;
    while hour <= hours {
        let x = plane.x(hour * 60);
        let _ = writeln!(
            out,
            "<line x1=\"{x}\" y1=\"{TOP}\" x2=\"{x}\" y2=\"{}\" stroke=\"#ddd\"/><text x=\"{x}\" y=\"{}\" \
             text-anchor=\"middle\">{hour} h</text>",
            TOP + HEIGHT,
            TOP + HEIGHT + 18
        );
        hour += step;
    }
    draw(out, &plane, &courses.new, false);
    draw(out, &plane, &courses.old, true);
    let y = TOP + HEIGHT + 52;
    let _ = writeln!(
        out,
        "<line x1=\"{LEFT}\" y1=\"{}\" x2=\"{}\" y2=\"{}\" stroke=\"#111\" stroke-width=\"3\" stroke-dasharray=\"9 6\"/>\
         <text x=\"{}\" y=\"{y}\">before (broken)</text>",
        y - 4,
        LEFT + 60,
        y - 4,
        LEFT + 68
    );
    let _ = writeln!(
        out,
        "<line x1=\"{}\" y1=\"{}\" x2=\"{}\" y2=\"{}\" stroke=\"#111\" stroke-width=\"3\"/><text x=\"{}\" y=\"{y}\">now \
         (full); its band is shaded</text>",
        LEFT + 220,
        y - 4,
        LEFT + 280,
        y - 4,
        LEFT + 288
    );
    out.push_str("</svg>\n<figcaption>Hours since the start, on the slow side of the plan, as the sheets print it. ");
    for (word, drawn) in [("Before", &courses.old), ("Now", &courses.new)] {
        let phases: Vec<String> = drawn
            .phases
            .iter()
            .map(|(minute, name)| {
                format!("{} from {}:{:02}", escape(name), minute / 60, minute % 60)
            })
            .collect();
        let _ = write!(out, "<br>{word}: {}.", phases.join(", "));
    }
    out.push_str("</figcaption>\n</figure>\n");
}

fn draw(out: &mut String, plane: &Plane, drawn: &Drawn, before: bool) {
    let path = |points: &[(i64, i64)]| -> String {
        points
            .iter()
            .map(|(minute, milli)| format!("{},{}", plane.x(*minute), plane.y(*milli)))
            .collect::<Vec<_>>()
            .join(" ")
    };
    let dashes = if before {
        " stroke-dasharray=\"9 6\""
    } else {
        ""
    };
    for band in drawn.bands.iter().filter(|band| !band.is_empty()) {
        let mut around: Vec<(i64, i64)> = band
            .iter()
            .map(|(minute, _, upper)| (*minute, *upper))
            .collect();
        around.extend(
            band.iter()
                .rev()
                .map(|(minute, lower, _)| (*minute, *lower)),
        );
        let (fill, opacity) = if before {
            ("none", "0")
        } else {
            ("#000", "0.08")
        };
        let _ = writeln!(
            out,
            "<polygon points=\"{}\" fill=\"{fill}\" fill-opacity=\"{opacity}\" stroke=\"#555\" stroke-width=\"1\"{dashes}/>",
            path(&around)
        );
    }
    for line in drawn.lines.iter().filter(|line| !line.is_empty()) {
        let _ = writeln!(
            out,
            "<polyline points=\"{}\" fill=\"none\" stroke=\"#111\" stroke-width=\"3\"{dashes}/>",
            path(line)
        );
    }
    // Where phases begin: the older below the grid, the newer above it.
    let mut free = 0;
    for (index, (minute, _)) in drawn.phases.iter().enumerate() {
        let x = plane.x(*minute);
        let (y1, y2, label) = if before {
            (TOP + HEIGHT, TOP + HEIGHT + 6, TOP + HEIGHT + 34)
        } else {
            (TOP - 6, TOP, TOP - 10)
        };
        let _ = writeln!(
            out,
            "<line x1=\"{x}\" y1=\"{y1}\" x2=\"{x}\" y2=\"{y2}\" stroke=\"#111\" stroke-width=\"2\"/>"
        );
        // Two phases that begin together leave room for one number only.
        if x >= free {
            let _ = writeln!(
                out,
                "<text x=\"{x}\" y=\"{label}\" font-weight=\"700\">{}</text>",
                index + 1
            );
            free = x + 16;
        }
    }
    let (y, word) = if before {
        (TOP + HEIGHT + 34, "before")
    } else {
        (TOP - 26, "now: phase")
    };
    let (x, anchor) = if before {
        (LEFT - 8, "end")
    } else {
        (LEFT, "start")
    };
    let _ = writeln!(
        out,
        "<text x=\"{x}\" y=\"{y}\" text-anchor=\"{anchor}\">{word}</text>"
    );
}

/// What was compared, without its backticks.
fn bare(said: &str) -> String {
    said.trim_matches('`').to_owned()
}

/// Escaped, and what stands in backticks as code.
fn marked(text: &str) -> String {
    let mut out = String::new();
    for (index, part) in text.split('`').enumerate() {
        if index % 2 == 1 {
            let _ = write!(out, "<code>{}</code>", escape(part));
        } else {
            out.push_str(&escape(part));
        }
    }
    out
}
