//! Blocks as HTML.

use super::{escape, push, svg, tables};
use crate::document::{Block, Field, List, Notice, NoticeKind, Rich};

pub(super) fn blocks(out: &mut String, blocks: &[Block]) {
    for each in blocks {
        block(out, each);
    }
}

fn block(out: &mut String, block: &Block) {
    match block {
        Block::Heading { level, text } => {
            let level = (level + 1).clamp(2, 4);
            push(out, &format!("<h{level}>{}</h{level}>\n", rich(text)));
        }
        Block::Paragraph(text) => push(out, &format!("<p>{}</p>\n", rich(text))),
        Block::List(found) => list(out, found),
        Block::Notice(found) => notice(out, found),
        Block::KeyValues(rows) => key_values(out, rows),
        Block::Fields(found) => push(out, &format!("<p class=\"fields\">{}</p>\n", fields(found))),
        Block::Chart(chart) => svg::chart(out, chart),
        Block::Runs(runs) => svg::runs(out, runs),
        Block::Checklist(found) => tables::table(out, &found.table()),
        Block::Table(found) => tables::table(out, found),
        Block::Columns(columns) => {
            out.push_str("<div class=\"columns\">\n");
            for column in columns {
                out.push_str("<div>\n");
                blocks(out, column);
                out.push_str("</div>\n");
            }
            out.push_str("</div>\n");
        }
        Block::Halves(inner) => {
            out.push_str("<div class=\"halves\">\n");
            blocks(out, inner);
            out.push_str("</div>\n");
        }
        Block::Keep(inner) => {
            out.push_str("<div class=\"keep\">\n");
            blocks(out, inner);
            out.push_str("</div>\n");
        }
        Block::PageBreak => out.push_str("<div class=\"break\"></div>\n"),
    }
}

/// Runs with their emphasis.
pub(super) fn rich(text: &Rich) -> String {
    let mut out = String::new();
    for run in &text.0 {
        let mut words = escape(&run.text).replace('\n', "<br>");
        for (on, tag) in [
            (run.style.code, "code"),
            (run.style.italic, "em"),
            (run.style.bold, "strong"),
        ] {
            if on {
                words = format!("<{tag}>{words}</{tag}>");
            }
        }
        match &run.link {
            Some(address) => push(
                &mut out,
                &format!(
                    "<a href=\"{}\" rel=\"noreferrer\">{words}</a>",
                    escape(address)
                ),
            ),
            None => out.push_str(&words),
        }
    }
    out
}

pub(super) fn list(out: &mut String, list: &List) {
    let tag = if list.ordered { "ol" } else { "ul" };
    let start = list
        .first
        .map_or_else(String::new, |first| format!(" start=\"{first}\""));
    push(out, &format!("<{tag}{start}>\n"));
    for item in &list.items {
        push(out, &format!("<li>{}", rich(&item.text)));
        if let Some(inner) = &item.inner {
            out.push('\n');
            self::list(out, inner);
        }
        out.push_str("</li>\n");
    }
    push(out, &format!("</{tag}>\n"));
}

fn notice(out: &mut String, notice: &Notice) {
    let class = match notice.kind {
        NoticeKind::Note => "note",
        NoticeKind::Caution => "caution",
        NoticeKind::Plain => "plain",
    };
    push(out, &format!("<section class=\"notice {class}\">\n"));
    let word = notice.kind.word();
    let title = match (word.is_empty(), notice.title.is_empty()) {
        (true, _) => rich(&notice.title),
        (false, true) => word.to_string(),
        (false, false) => format!("{word}: {}", rich(&notice.title)),
    };
    if !title.is_empty() {
        push(out, &format!("<p class=\"title\">{title}</p>\n"));
    }
    blocks(out, &notice.body);
    out.push_str("</section>\n");
}

pub(super) fn key_values(out: &mut String, rows: &[(Rich, Rich)]) {
    out.push_str("<dl>\n");
    for (key, value) in rows {
        push(
            out,
            &format!("<dt>{}</dt><dd>{}</dd>\n", rich(key), rich(value)),
        );
    }
    out.push_str("</dl>\n");
}

/// One field: what, the line to write on, the unit.
pub(super) fn field(field: &Field) -> String {
    let label = rich(&field.label);
    match &field.value {
        Some(value) => format!(
            "<span class=\"field\">{label} <strong>{}</strong></span>",
            escape(value)
        ),
        None => format!(
            "<span class=\"field\">{label} <span class=\"line\" style=\"width:{}mm\"></span> {}</span>",
            field.room,
            escape(&field.unit)
        ),
    }
}

pub(super) fn fields(fields: &[Field]) -> String {
    let all: Vec<String> = fields.iter().map(field).collect();
    all.join(" ")
}
