//! A parsed statement: the grammar's tree with places in the whole file.

use super::{Grammar, Rule};
use crate::source::{FileId, Span};
use pest::Parser as _;
use pest::iterators::Pair;

/// One rule's match. Its children are asked for by the name of their rule, so
/// that a reader of lowering sees the grammar's own words.
#[derive(Debug, Clone)]
pub struct Node<'t> {
    pair: Pair<'t, Rule>,
    file: FileId,
    offset: usize,
}

/// Parses `text`, which stands at `span`, by an entry rule.
pub(super) fn parse<'t>(
    rule: Rule,
    text: &'t str,
    span: Span,
) -> Result<Node<'t>, Box<pest::error::Error<Rule>>> {
    let mut pairs = Grammar::parse(rule, text).map_err(Box::new)?;
    match pairs.next() {
        Some(pair) => Ok(Node {
            pair,
            file: span.file,
            offset: span.start as usize,
        }),
        // An entry rule always gives itself.
        None => Err(Box::new(pest::error::Error::new_from_pos(
            pest::error::ErrorVariant::CustomError {
                message: String::new(),
            },
            pest::Position::from_start(text),
        ))),
    }
}

impl<'t> Node<'t> {
    pub fn rule(&self) -> Rule {
        self.pair.as_rule()
    }

    pub fn text(&self) -> &'t str {
        self.pair.as_str()
    }

    pub fn span(&self) -> Span {
        let span = self.pair.as_span();
        Span::new(
            self.file,
            self.offset + span.start(),
            self.offset + span.end(),
        )
    }

    fn wrap(&self, pair: Pair<'t, Rule>) -> Node<'t> {
        Node {
            pair,
            file: self.file,
            offset: self.offset,
        }
    }

    pub fn children(&self) -> impl Iterator<Item = Node<'t>> + '_ {
        self.pair.clone().into_inner().map(|pair| self.wrap(pair))
    }

    /// The children of that rule, in order.
    pub fn all(&self, rule: Rule) -> Vec<Node<'t>> {
        self.children().filter(|node| node.rule() == rule).collect()
    }

    /// The first child of that rule.
    pub fn find(&self, rule: Rule) -> Option<Node<'t>> {
        self.children().find(|node| node.rule() == rule)
    }

    pub fn has(&self, rule: Rule) -> bool {
        self.find(rule).is_some()
    }

    /// The first child that says what the statement is.
    pub fn first(&self) -> Option<Node<'t>> {
        self.children().next()
    }
}
