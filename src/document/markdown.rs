//! Markdown with pipe tables: for reading in a review, and for who has neither printer nor
//! browser.
//!
//! Takes: a [`Document`]. Returns: the text. Nothing can go wrong: signs that Markdown would
//! read are escaped. A place to write is `____`, a cell that is not asked for `–`.

use super::{Block, Cell, Chart, Document, Field, List, Notice, Rich, Row, Run, Table, line_start};

/// The whole document.
pub fn render(document: &Document) -> String {
    let mut out = String::new();
    if let Some(mark) = &document.draft {
        line(&mut out, &format!("**{}**\n", escape(mark)));
    }
    line(&mut out, &format!("# {}\n", escape(&document.title)));
    if !document.subtitle.is_empty() {
        line(&mut out, &format!("{}\n", opening(&document.subtitle)));
    }
    key_values(&mut out, &document.facts);
    if let Some(caption) = &document.label {
        line(&mut out, &format!("{}: ____\n", opening(caption)));
    }
    blocks(&mut out, &document.blocks);
    line(&mut out, "---\n");
    for text in &document.footer.lines {
        line(&mut out, &format!("{}\n", opening(text)));
    }
    if !document.footer.code.is_empty() {
        line(
            &mut out,
            &format!("QR code: {}", escape(&document.footer.code)),
        );
    }
    out
}

fn line(out: &mut String, text: &str) {
    out.push_str(text);
    out.push('\n');
}

fn blocks(out: &mut String, blocks: &[Block]) {
    for each in blocks {
        block(out, each);
    }
}

fn block(out: &mut String, block: &Block) {
    match block {
        Block::Heading { level, text } => {
            let marks = "#".repeat(usize::from(*level).clamp(1, 5) + 1);
            line(out, &format!("{marks} {}\n", rich(text)));
        }
        Block::Paragraph(text) => line(out, &format!("{}\n", rich_opening(text))),
        Block::List(found) => {
            list(out, found, 0);
            out.push('\n');
        }
        Block::Notice(found) => notice(out, found),
        Block::KeyValues(rows) => key_values(out, rows),
        Block::Fields(found) => {
            for each in found {
                line(out, &format!("- {}", line_start::escape(&field(each))));
            }
            out.push('\n');
        }
        Block::Chart(found) => chart(out, found),
        Block::Runs(found) => {
            line(out, &format!("**{}**\n", escape(&found.title)));
            line(out, &format!("{}\n", opening(&found.summary)));
        }
        Block::Checklist(found) => table(out, &found.table()),
        Block::Table(found) => table(out, found),
        Block::Columns(columns) => {
            for column in columns {
                blocks(out, column);
            }
        }
        Block::Halves(inner) | Block::Keep(inner) => blocks(out, inner),
        Block::PageBreak => line(out, "---\n"),
    }
}

/// Signs that Markdown would read are escaped.
fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut characters = text.chars().peekable();
    while let Some(character) = characters.next() {
        // `&lt;` would be another sign; in `skin & eyes` there is nothing to read.
        let names = |next: &char| next.is_alphanumeric() || *next == '#';
        let is_named = character == '&' && characters.peek().is_some_and(names);
        if "\\`*_[]<>|#~".contains(character) || is_named {
            out.push('\\');
        }
        out.push(character);
    }
    out
}

/// A text with which a line begins.
fn opening(text: &str) -> String {
    line_start::escape(&escape(text))
}

fn rich_opening(text: &Rich) -> String {
    line_start::escape(&rich(text))
}

fn rich(text: &Rich) -> String {
    let mut out = String::new();
    // Two runs of one style would stand as `**a****b**`, which is read otherwise.
    let mut runs: Vec<Run> = Vec::with_capacity(text.0.len());
    for run in &text.0 {
        match runs.last_mut() {
            Some(last)
                if last.style == run.style
                    && last.link == run.link
                    && !last.text.ends_with(char::is_whitespace)
                    && !run.text.starts_with(char::is_whitespace) =>
            {
                last.text.push_str(&run.text);
            }
            _ => runs.push(run.clone()),
        }
    }
    for run in &runs {
        // Emphasis marks must touch the words: spaces stay outside.
        let words = escape(&run.text).replace('\n', " ");
        let bare = words.trim();
        if bare.is_empty() {
            out.push_str(&words);
            continue;
        }
        let (lead, tail) = (
            words.len() - words.trim_start().len(),
            words.len() - words.trim_end().len(),
        );
        let mut marked = if run.style.code {
            format!("`{}`", run.text.trim().replace('`', "'"))
        } else {
            bare.to_string()
        };
        if run.style.italic {
            marked = format!("*{marked}*");
        }
        if run.style.bold {
            marked = format!("**{marked}**");
        }
        if let Some(address) = &run.link {
            marked = format!("[{marked}](<{}>)", address.replace(['<', '>'], ""));
        }
        out.push_str(&" ".repeat(lead));
        out.push_str(&marked);
        out.push_str(&" ".repeat(tail));
    }
    out
}

fn list(out: &mut String, list: &List, depth: usize) {
    for (index, item) in list.items.iter().enumerate() {
        let mark = if list.ordered {
            list.mark(index)
        } else {
            "-".to_string()
        };
        line(
            out,
            &format!("{}{mark} {}", "   ".repeat(depth), rich_opening(&item.text)),
        );
        if let Some(inner) = &item.inner {
            self::list(out, inner, depth + 1);
        }
    }
}

fn notice(out: &mut String, notice: &Notice) {
    let mut inner = String::new();
    let word = notice.kind.word();
    let title = match (word.is_empty(), notice.title.is_empty()) {
        (true, true) => String::new(),
        (true, false) => format!("**{}**\n", notice.title.plain().trim()),
        (false, true) => format!("**{word}**\n"),
        (false, false) => format!("**{word}:** {}\n", rich(&notice.title)),
    };
    if !title.is_empty() {
        line(&mut inner, &title);
    }
    blocks(&mut inner, &notice.body);
    for text in inner.trim_end().lines() {
        line(out, format!("> {text}").trim_end());
    }
    out.push('\n');
}

fn key_values(out: &mut String, rows: &[(Rich, Rich)]) {
    for (key, value) in rows {
        line(
            out,
            &format!("- **{}**: {}", escape(key.plain().trim()), rich(value)),
        );
    }
    if !rows.is_empty() {
        out.push('\n');
    }
}

fn field(field: &Field) -> String {
    let label = rich(&field.label);
    let text = match &field.value {
        Some(value) => format!("{label} **{}**", escape(value)),
        None => format!("{label} \\_\\_\\_\\_ {}", escape(&field.unit)),
    };
    text.trim().to_string()
}

fn chart(out: &mut String, chart: &Chart) {
    line(
        out,
        &format!("**{}** ({})\n", escape(&chart.title), escape(&chart.unit)),
    );
    line(out, &format!("{}\n", opening(&chart.summary)));
}

fn table(out: &mut String, table: &Table) {
    if !table.caption.is_empty() {
        line(
            out,
            &format!("**{}**\n", escape(table.caption.plain().trim())),
        );
    }
    let heads: Vec<String> = table
        .columns
        .iter()
        .map(|column| match column.under.is_empty() {
            true => rich(&column.head),
            false => format!("{}<br>{}", rich(&column.head), rich(&column.under)),
        })
        .collect();
    line(out, &format!("| {} |", heads.join(" | ")));
    line(out, &format!("|{}", " --- |".repeat(heads.len())));
    for row in &table.rows {
        let cells: Vec<String> = match row {
            Row::Cells { cells, .. } => cells.iter().map(cell).collect(),
            Row::Section { text, fields, .. } => {
                let all: Vec<String> = std::iter::once(rich(text))
                    .chain(fields.iter().map(field))
                    .collect();
                vec![all.join("<br>")]
            }
            Row::Band {
                text,
                tick,
                initials,
                ..
            } => {
                let tick = if *tick { "☐ " } else { "" };
                let mut cells = vec![format!("{tick}**{}**", escape(text.plain().trim()))];
                if *initials {
                    cells.resize(heads.len().saturating_sub(1), String::new());
                    cells.push(cell(&Cell::Initials));
                }
                cells
            }
        };
        let missing = heads.len().saturating_sub(cells.len());
        line(
            out,
            &format!("| {} |{}", cells.join(" | "), " |".repeat(missing)),
        );
    }
    out.push('\n');
}

fn cell(cell: &Cell) -> String {
    match cell {
        Cell::Text(text) => rich(text),
        Cell::Value(text) => format!("**{}**", escape(text)),
        Cell::List(found) => {
            let mut parts = Vec::new();
            items(found, &mut parts);
            parts.join("<br>")
        }
        Cell::Due | Cell::Initials => "\\_\\_\\_\\_".to_string(),
        Cell::NotDue => "–".to_string(),
        Cell::WriteIn(found) => field(found),
        Cell::Fields(fields) => {
            let all: Vec<String> = fields.iter().map(field).collect();
            all.join("<br>")
        }
        Cell::Step(text, fields) => {
            let all: Vec<String> = std::iter::once(rich(text))
                .chain(fields.iter().map(field))
                .collect();
            all.join("<br>")
        }
        Cell::Tick => "☐".to_string(),
        Cell::Empty => String::new(),
    }
}

fn items(list: &List, out: &mut Vec<String>) {
    for (index, item) in list.items.iter().enumerate() {
        out.push(format!("{} {}", list.mark(index), rich(&item.text)));
        if let Some(inner) = &item.inner {
            items(inner, out);
        }
    }
}
