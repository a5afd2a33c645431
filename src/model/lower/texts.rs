//! Texts, days, times of day and topics.

use super::*;
use crate::quantity::Exact;

impl<'t> Lowerer<'t> {
    pub fn text(&mut self, node: &Node<'t>) -> Option<Text> {
        let node = if node.rule() == R::text {
            node.clone()
        } else {
            node.find(R::text)?
        };
        let inner = node.first()?;
        let markdown = if inner.rule() == R::long_text {
            dedent(inner.text())
        } else {
            inner.text().replace("\\\"", "\"").replace("\\\\", "\\")
        };
        if markdown.trim().is_empty() {
            self.error(
                Diagnostic::error("empty-text", node.span(), "a text has nothing in it")
                    .why("an empty line would be printed where something is expected")
                    .help("write the text, or take the statement away")
                    .source("structural"),
            );
            return None;
        }
        Some(Text {
            markdown,
            span: node.span(),
        })
    }

    pub fn date(&mut self, node: &Node<'t>) -> Option<At<jiff::civil::Date>> {
        match node.text().parse() {
            Ok(date) => Some(At::new(date, node.span())),
            Err(_) => {
                self.error(
                    Diagnostic::error(
                        "bad-date",
                        node.span(),
                        format!("there is no day `{}`", node.text()),
                    )
                    .why("whether the protocol is still in force is decided by it")
                    .help("write year-month-day, such as `2027-06-30`")
                    .source("structural"),
                );
                None
            }
        }
    }

    pub fn clock(&mut self, node: &Node<'t>) -> Option<At<jiff::civil::Time>> {
        let parsed = node.text().split_once(':').and_then(|(hour, minute)| {
            jiff::civil::Time::new(hour.parse().ok()?, minute.parse().ok()?, 0, 0).ok()
        });
        match parsed {
            Some(time) => Some(At::new(time, node.span())),
            None => {
                self.error(
                    Diagnostic::error(
                        "bad-date",
                        node.span(),
                        format!("there is no time `{}`", node.text()),
                    )
                    .why("entries would be asked for at the wrong time")
                    .help("write a time of the 24-hour clock, such as `07:30`")
                    .source("structural"),
                );
                None
            }
        }
    }

    /// Minutes of an elapsed time `H:MM`.
    pub fn elapsed(&mut self, node: &Node<'t>) -> Option<Exact> {
        let (hours, minutes) = node.text().split_once(':')?;
        let (hours, minutes): (i64, i64) = (hours.parse().ok()?, minutes.parse().ok()?);
        if minutes > 59 {
            self.error(
                Diagnostic::error(
                    "bad-date",
                    node.span(),
                    format!("`{}` has more than 59 minutes", node.text()),
                )
                .why("the record would stand at another time than was meant")
                .help("write elapsed hours and minutes, such as `26:30`")
                .source("structural"),
            );
            return None;
        }
        Some(Exact::int(hours * 60 + minutes))
    }

    /// `covers WORD,…` anywhere among the children.
    pub fn covers(&mut self, node: &Node<'t>) -> Vec<At<words::Topic>> {
        let mut topics = Vec::new();
        for covers in node.all(R::covers) {
            for name in covers
                .all(R::names)
                .iter()
                .flat_map(|names| names.all(R::name))
            {
                topics.extend(self.fixed(&name));
            }
        }
        topics
    }
}

/// Takes away the indentation that all lines share, and blank ends.
fn dedent(text: &str) -> String {
    let common = text
        .lines()
        .skip(1)
        .filter(|line| !line.trim().is_empty())
        .map(|line| line.len() - line.trim_start().len())
        .min()
        .unwrap_or(0);
    let lines: Vec<&str> = text
        .lines()
        .enumerate()
        .map(|(index, line)| match index {
            0 => line.trim_start(),
            _ => line.get(common..).unwrap_or("").trim_end(),
        })
        .collect();
    lines.join("\n").trim().to_owned()
}
