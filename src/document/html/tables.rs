//! Tables as HTML: caption, column heads with their scope, cells that say what is wanted.

use super::{blocks, escape, push};
use crate::document::{Align, Cell, Column, Row, Table, Width};

pub(super) fn table(out: &mut String, table: &Table) {
    // Many narrow columns: their heads stand, as on paper.
    let narrow = |column: &&Column| matches!(column.width, Width::Word(_));
    let dense = table.columns.iter().filter(narrow).count() > 3;
    out.push_str(if dense {
        "<table class=\"dense\">\n"
    } else {
        "<table>\n"
    });
    if !table.caption.is_empty() {
        push(
            out,
            &format!("<caption>{}</caption>\n", blocks::rich(&table.caption)),
        );
    }
    out.push_str("<colgroup>\n");
    for column in &table.columns {
        match column.width {
            Width::Mm(width) | Width::Word(width) => {
                push(out, &format!("<col style=\"width:{width}mm\">\n"));
            }
            Width::Fit(_) | Width::Share(_) => out.push_str("<col>\n"),
        }
    }
    out.push_str("</colgroup>\n");
    if table.is_headed() {
        out.push_str("<thead>\n<tr>\n");
        for column in &table.columns {
            head(out, column);
        }
        out.push_str("</tr>\n</thead>\n");
    }
    out.push_str("<tbody>\n");
    let height = f64::from(table.row_height) / 10.0;
    for (index, each) in table.rows.iter().enumerate() {
        if index > 0 && matches!(each, Row::Section { .. }) {
            out.push_str("</tbody>\n<tbody>\n");
        }
        row(out, each, table, height);
    }
    out.push_str("</tbody>\n</table>\n");
}

fn head(out: &mut String, column: &Column) {
    if column.head.is_empty() && column.under.is_empty() {
        // A head without words would be announced as one.
        push(out, "<td></td>\n");
        return;
    }
    let stands = if matches!(column.width, Width::Word(_)) {
        "stands"
    } else {
        ""
    };
    let class = class_of(column.align, stands);
    push(
        out,
        &format!(
            "<th scope=\"col\"{class}><span>{}",
            blocks::rich(&column.head)
        ),
    );
    if !column.under.is_empty() {
        push(
            out,
            &format!(
                "<br><span class=\"under\">{}</span>",
                blocks::rich(&column.under)
            ),
        );
    }
    out.push_str("</span></th>\n");
}

fn class_of(align: Align, other: &str) -> String {
    let middle = if align == Align::Middle { "middle" } else { "" };
    let both = format!("{middle} {other}");
    match both.trim() {
        "" => String::new(),
        classes => format!(" class=\"{classes}\""),
    }
}

fn row(out: &mut String, row: &Row, table: &Table, height: f64) {
    match row {
        Row::Cells { cells, heavy } => {
            let class = if *heavy { " class=\"heavy\"" } else { "" };
            push(out, &format!("<tr{class} style=\"height:{height}mm\">\n"));
            for (each, column) in cells.iter().zip(&table.columns) {
                cell(out, each, column.align, table.is_headed());
            }
            out.push_str("</tr>\n");
        }
        Row::Section { text, fields, .. } => {
            let space = if fields.is_empty() { "" } else { " " };
            push(
                out,
                &format!(
                    "<tr class=\"section\"><th scope=\"rowgroup\" colspan=\"{}\">{}{space}{}</th></tr>\n",
                    table.columns.len(),
                    blocks::rich(text),
                    blocks::fields(fields)
                ),
            );
        }
        Row::Band {
            text,
            tick,
            initials,
            divider,
        } => {
            let class = if *divider { "band divider" } else { "band" };
            let tick = if *tick { TICK } else { "" };
            push(
                out,
                &format!(
                    "<tr class=\"{class}\"><td colspan=\"{}\">{tick}{}</td>",
                    table.columns.len() - usize::from(*initials),
                    blocks::rich(text)
                ),
            );
            if *initials {
                push(out, &format!("<td>{INITIALS}</td>"));
            }
            out.push_str("</tr>\n");
        }
    }
}

const TICK: &str = "<span class=\"tick\">☐</span> ";
const INITIALS: &str = "<span class=\"unseen\">initials</span>";

fn cell(out: &mut String, cell: &Cell, align: Align, headed: bool) {
    let (other, content) = match cell {
        Cell::Text(text) => ("", blocks::rich(text)),
        Cell::Value(text) => ("value", escape(text)),
        Cell::List(list) => {
            let mut inner = String::from("\n");
            blocks::list(&mut inner, list);
            ("", inner)
        }
        Cell::Due => (
            "due",
            "<span class=\"unseen\">to fill in</span>".to_string(),
        ),
        Cell::NotDue => (
            "notdue",
            "<span aria-hidden=\"true\">–</span><span class=\"unseen\">not asked for</span>"
                .to_string(),
        ),
        Cell::WriteIn(field) => ("", blocks::field(field)),
        Cell::Fields(fields) => {
            let each: Vec<String> = fields.iter().map(blocks::field).collect();
            ("", each.join("<br>"))
        }
        Cell::Step(text, fields) if fields.is_empty() => ("", blocks::rich(text)),
        Cell::Step(text, fields) => (
            "",
            format!("{}<br>{}", blocks::rich(text), blocks::fields(fields)),
        ),
        Cell::Tick => ("", TICK.trim_end().to_string()),
        Cell::Initials => ("", INITIALS.to_string()),
        Cell::Empty => ("", String::new()),
    };
    let class = class_of(align, other);
    let (tag, scope) = match cell {
        Cell::Step(..) if !headed => ("th", " scope=\"row\""),
        _ => ("td", ""),
    };
    push(out, &format!("<{tag}{scope}{class}>{content}</{tag}>\n"));
}
