//! What is counted from a moment that nobody knows when the sheet is printed, and the clock times
//! of what is due: worked out here by hand for the demo protocol of adult cooling.

use crate::printed::{case_at, demo, print, tables};
use crate::support::{library, protocol};
use tempwright::document::{Block, Cell, Paper, Row, Table};
use tempwright::plan::Case;

/// The lines that begin with an end to write in.
fn counted(blocks: &[Block]) -> Vec<Vec<String>> {
    blocks
        .iter()
        .filter_map(|block| match block {
            Block::Fields(fields) => Some(fields),
            _ => None,
        })
        .map(|fields| {
            let labels = fields.iter().map(|field| field.label.plain());
            let labels = labels.map(|label| label.replace('\u{a0}', " "));
            labels.collect::<Vec<_>>()
        })
        .filter(|labels| labels.first().is_some_and(|label| label.ends_with(" over")))
        .collect()
}

/// The texts of a table's rows.
fn rows(tables: &[Table], start: &str) -> String {
    let cells = tables.iter().flat_map(|table| &table.rows);
    let texts = cells.filter_map(|row| match row {
        Row::Cells { cells, .. } => Some(cells),
        Row::Section { .. } | Row::Band { .. } => None,
    });
    let texts = texts.flatten().filter_map(|cell| match cell {
        Cell::Text(text) => Some(text.plain().replace('\u{a0}', " ")),
        _ => None,
    });
    texts
        .filter(|text| text.starts_with(start))
        .collect::<Vec<_>>()
        .join("\n")
}

#[test]
fn what_follows_from_an_end_is_counted_from_it() {
    let protocol = demo("adult-arrest-33");
    let blank = print(&protocol, &Case::default(), Paper::A4);
    assert_eq!(
        counted(&blank.blocks),
        [[
            "1 over",
            // lasts 24 h
            "2 ends + 24:00 h",
            // due within 18 h of its beginning
            "3 due + 42:00 h",
            // 3.5 °C at 0.25 °C/h: 14 h
            "3 planned + 38:00 h",
        ]]
    );
    // Once it was reached, the times are printed.
    let case = case_at(&protocol, "2026-11-24T14:30", "2026-11-24T13:25", "82 kg")
        .enter_reached(&protocol, "17:40")
        .expect("a time");
    let sheet = print(&protocol, &case, Paper::A4);
    assert_eq!(counted(&sheet.blocks), Vec::<Vec<String>>::new());
}

#[test]
fn what_is_due_has_its_time_by_the_clock() {
    let protocol = demo("adult-arrest-33");
    let case = case_at(&protocol, "2026-11-24T14:30", "2026-11-24T13:25", "82 kg");
    let sheet = print(&protocol, &case, Paper::A4);
    let tables = tables(&sheet.blocks);
    let cool = rows(&tables, "1 Cool to target");
    assert!(
        cool.contains("due within 4 h of its beginning: by Tue 24 Nov 18:30"),
        "{cool}"
    );
    // Nobody knows yet when rewarming begins.
    let rewarm = rows(&tables, "3 Rewarm");
    assert!(
        rewarm.contains("due within 18 h of its beginning; "),
        "{rewarm}"
    );
    let late = rows(&tables, "Late at target");
    assert!(
        late.contains("(Tue 24 Nov 18:30, call by Tue 24 Nov 18:45)"),
        "{late}"
    );
}

#[test]
fn what_is_due_after_that_very_end_is_counted_from_it_too() {
    let path = "protocols/adult-arrest-33.protocol";
    let mut library = library();
    let text = &library.files[path];
    assert_eq!(text.matches("due within 18 h").count(), 1);
    let changed = text.replace("due within 18 h", "due within 40 h of cool.end");
    library.files.insert(path.to_owned(), changed);
    let blank = print(&protocol(&library, path), &Case::default(), Paper::A4);
    let lines = counted(&blank.blocks).concat();
    assert!(lines.contains(&"3 due + 40:00 h".to_owned()), "{lines:?}");
}
