//! A protocol for the committee to read on a screen: its course, rules and exceptions.

use super::days::Now;
use super::review::{self, Refusal};
use crate::document::{Block, Document, html};
use crate::model::Protocol;
use serde::Serialize;

#[derive(Debug, Serialize)]
pub struct Reading {
    /// The blank form without its tables to write in.
    html: String,
    /// How many exceptions the committee has let stand.
    exceptions: usize,
    refused: Option<Refusal>,
    /// The files that it is read from.
    files: Vec<String>,
}

pub fn of(protocol: &Protocol, mut document: Document, now: &Now, files: Vec<String>) -> Reading {
    document.blocks = without_part(document.blocks, "The record");
    document.label = None;
    Reading {
        html: html::render(&document),
        exceptions: protocol.accepts.len(),
        refused: review::refused(protocol, now.today()),
        files,
    }
}

/// The blocks without the part under that heading.
fn without_part(blocks: Vec<Block>, title: &str) -> Vec<Block> {
    let mut inside = false;
    blocks
        .into_iter()
        .filter(|block| {
            if let Block::Heading { level: 1, text } = block {
                inside = text.plain() == title;
            }
            !inside
        })
        .collect()
}
