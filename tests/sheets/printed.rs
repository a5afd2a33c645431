//! Every sheet that the tests look at.

use crate::support::{library, protocol};
use tempwright::document::{Block, Document, Paper, Rich, Row, Table};
use tempwright::model::Protocol;
use tempwright::plan::{Case, Plan};
use tempwright::sheet::{self, Options};

pub struct Printed {
    pub name: &'static str,
    pub protocol: Protocol,
    pub case: Case,
    pub document: Document,
}

impl Printed {
    /// Of which sheet a failure speaks.
    pub fn what(&self) -> String {
        let kind = if self.case.clock.is_some() {
            "case"
        } else {
            "blank"
        };
        format!("{} {kind} {:?}", self.name, self.document.paper)
    }
}

pub const DEMOS: [(&str, &str); 6] = [
    ("adult-arrest-33", "82 kg"),
    ("adult-arrest-normothermia", "82 kg"),
    ("accidental-hypothermia", "82 kg"),
    ("heat-stroke", "82 kg"),
    ("newborn-cooling", "3.4 kg"),
    ("theatre-warmth", "82 kg"),
];

pub fn demo(name: &str) -> Protocol {
    protocol(&library(), &format!("protocols/{name}.protocol"))
}

/// A case that began then, by the clock of the protocol's zone, with its marks 65 min before.
pub fn case_at(protocol: &Protocol, start: &str, mark: &str, weight: &str) -> Case {
    let mut case = Case::starting(protocol, start)
        .and_then(|case| case.enter_weight(protocol, weight))
        .expect("a case");
    let marks: Vec<String> = protocol
        .marks()
        .map(|(_, mark)| mark.name.name.clone())
        .filter(|name| name == "rosc" || name == "birth")
        .collect();
    for name in marks {
        case = case.enter_mark(protocol, &name, mark).expect("a mark");
    }
    case
}

pub fn print(protocol: &Protocol, case: &Case, paper: Paper) -> Document {
    let plan = Plan::of(protocol, case).expect("a plan");
    let options = Options {
        fingerprint: tempwright::rules::fingerprint(protocol),
        paper,
        ..Options::default()
    };
    sheet::build(protocol, &plan, case, &options).expect("a sheet")
}

/// All demo protocols, blank and as a case, on these papers.
pub fn all(papers: &[Paper]) -> Vec<Printed> {
    let mut out = Vec::new();
    for (name, weight) in DEMOS {
        let protocol = demo(name);
        let case = case_at(&protocol, "2026-11-24T14:30", "2026-11-24T13:25", weight);
        for case in [Case::default(), case] {
            for &paper in papers {
                out.push(Printed {
                    name,
                    protocol: protocol.clone(),
                    document: print(&protocol, &case, paper),
                    case: case.clone(),
                });
            }
        }
    }
    out
}

pub const BOTH: [Paper; 2] = [Paper::A4, Paper::Letter];

/// Every table of the sheet, in order, checklists among them.
pub fn tables(blocks: &[Block]) -> Vec<Table> {
    let mut out = Vec::new();
    for block in blocks {
        match block {
            Block::Table(table) => out.push(table.clone()),
            Block::Checklist(list) => out.push(list.table()),
            Block::Halves(inner) | Block::Keep(inner) => out.extend(tables(inner)),
            Block::Columns(columns) => {
                for column in columns {
                    out.extend(tables(column));
                }
            }
            Block::Notice(notice) => out.extend(tables(&notice.body)),
            Block::Heading { .. }
            | Block::Paragraph(_)
            | Block::List(_)
            | Block::KeyValues(_)
            | Block::Fields(_)
            | Block::Chart(_)
            | Block::Runs(_)
            | Block::PageBreak => {}
        }
    }
    out
}

/// The grids of the record: tables with a column of times.
pub fn grids(document: &Document) -> Vec<Table> {
    tables(&document.blocks)
        .into_iter()
        .filter(|table| {
            let first = table.columns.first().map(|column| column.head.plain());
            matches!(first.as_deref(), Some("Hours" | "Time"))
        })
        .collect()
}

/// The words of a row that opens a part.
pub fn section(row: &Row) -> Option<&Rich> {
    match row {
        Row::Section { text, .. } => Some(text),
        Row::Cells { .. } | Row::Band { .. } => None,
    }
}
