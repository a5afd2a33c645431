//! Protocol text to statements.
//!
//! Takes a file; gives its [`Outline`] and, for every head of a block and every
//! statement, the parsed tree of `grammar/protocol.pest` or a finding. Nothing
//! is known here of what a name or a number means.

mod connecting;
mod fault;
pub mod index;
mod misplaced_brace;
mod nearest;
mod node;
mod odd_signs;
pub mod outline;
mod statements;

pub use connecting::CONNECTING_WORDS;
pub(crate) use fault::following;
pub use index::Index;
pub(crate) use nearest::nearest;
pub use node::Node;
pub use outline::{Block, Comment, Item, Outline, Piece, outline};
pub(crate) use statements::{first_words, pattern};

use crate::diag::Diagnostic;
use crate::source::{FileId, SourceFile, Span};

/// The grammar's parser; [`Rule`] names its rules.
#[derive(pest_derive::Parser)]
#[grammar = "../grammar/protocol.pest"]
pub struct Grammar;

/// A file's outline with every statement parsed.
#[derive(Debug, Default)]
pub struct Tree<'t> {
    pub blocks: Vec<TreeBlock<'t>>,
    pub comments: Vec<Comment>,
    pub diagnostics: Vec<Diagnostic>,
}

/// A block whose head could be parsed. A block whose head could not is left out:
/// its error stands in the findings, and its statements are still parsed for theirs.
#[derive(Debug)]
pub struct TreeBlock<'t> {
    pub head: Node<'t>,
    pub statements: Vec<Node<'t>>,
    pub blocks: Vec<TreeBlock<'t>>,
    pub span: Span,
    /// Some statement of it had an error, so that what seems absent may not be.
    pub broken: bool,
}

/// Parses a whole file.
pub fn parse(file: FileId, source: &SourceFile) -> Tree<'_> {
    let outline = outline::outline(&source.text, file);
    let mut tree = Tree {
        comments: outline.comments,
        diagnostics: outline.diagnostics,
        ..Tree::default()
    };
    let mut parser = Parser {
        file,
        text: &source.text,
        diagnostics: Vec::new(),
    };
    for item in &outline.items {
        match item {
            Item::Block(block) => tree.blocks.extend(parser.block(block, Place::File)),
            Item::Statement(piece) => parser.stray(piece),
        }
    }
    tree.diagnostics.append(&mut parser.diagnostics);
    tree
}

/// Whether a file holds a protocol or a library: a block with a sound head of one. Statements are
/// not looked at, so that it takes little.
pub fn holds_main(file: FileId, source: &SourceFile) -> bool {
    let outline = outline::outline(&source.text, file);
    outline.items.iter().any(|item| {
        let Item::Block(block) = item else {
            return false;
        };
        let head = source.slice(block.head.span);
        matches!(fault::leading_word(head), "protocol" | "library")
            && node::parse(Rule::head_in_file, head, block.head.span).is_ok()
    })
}

/// Where a statement stands, which decides the words that can begin it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    File,
    Protocol,
    Library,
    People,
    Phase,
    Rule,
    Ladder,
    Rung,
    Checklist,
    Medication,
    Scenario,
}

impl Place {
    /// The entry rule of the statements here.
    fn statement(self) -> Option<Rule> {
        match self {
            Place::File | Place::Ladder => None,
            Place::Protocol => Some(Rule::in_protocol),
            Place::Library => Some(Rule::in_library),
            Place::People => Some(Rule::in_people),
            Place::Phase => Some(Rule::in_phase),
            Place::Rule => Some(Rule::in_rule),
            Place::Rung => Some(Rule::in_rung),
            Place::Checklist => Some(Rule::in_checklist),
            Place::Medication => Some(Rule::in_medication),
            Place::Scenario => Some(Rule::in_scenario),
        }
    }

    /// The entry rule of the heads of blocks here.
    fn head(self) -> Option<Rule> {
        match self {
            Place::File => Some(Rule::head_in_file),
            Place::Protocol | Place::Library => Some(Rule::head_in_protocol),
            Place::Ladder => Some(Rule::head_in_ladder),
            Place::People
            | Place::Phase
            | Place::Rule
            | Place::Rung
            | Place::Checklist
            | Place::Medication
            | Place::Scenario => None,
        }
    }

    /// What the block is called in a message.
    pub(crate) fn words(self) -> &'static str {
        match self {
            Place::File => "at the top of a file",
            Place::Protocol => "in a protocol",
            Place::Library => "in a library",
            Place::People => "in `people`",
            Place::Phase => "in a phase",
            Place::Rule => "in a rule",
            Place::Ladder => "in a ladder",
            Place::Rung => "in a rung or step",
            Place::Checklist => "in a checklist",
            Place::Medication => "in a medication",
            Place::Scenario => "in a scenario",
        }
    }

    /// The place inside a block with this word in front.
    pub(crate) fn inside(word: &str) -> Option<Place> {
        Some(match word {
            "protocol" => Place::Protocol,
            "library" => Place::Library,
            "scenario" => Place::Scenario,
            "people" => Place::People,
            "phase" => Place::Phase,
            "rule" => Place::Rule,
            "ladder" => Place::Ladder,
            "rung" | "step" => Place::Rung,
            "checklist" => Place::Checklist,
            "medication" => Place::Medication,
            _ => return None,
        })
    }
}

/// An order stands in for an order that stands in for an order, and so on. Each
/// lies within the one before it, in the grammar and in the rule file.
const MAX_OTHERWISE: usize = 12;

fn too_many_otherwise(statement: &str) -> bool {
    // Texts are left out: between two quotes, every other part.
    let words = |part: &str| {
        part.split_whitespace()
            .filter(|w| *w == "otherwise")
            .count()
    };
    let unquoted: usize = statement.split('"').step_by(2).map(words).sum();
    // A quote in a comment must not hide a line that nothing could be read from.
    unquoted > MAX_OTHERWISE || words(statement) > 200
}

struct Parser<'t> {
    file: FileId,
    text: &'t str,
    diagnostics: Vec<Diagnostic>,
}

impl<'t> Parser<'t> {
    fn slice(&self, span: Span) -> &'t str {
        self.text.get(span.range()).unwrap_or("")
    }

    fn piece(
        &mut self,
        piece: &Piece,
        rule: Rule,
        place: Place,
        is_head: bool,
    ) -> Option<Node<'t>> {
        if self.is_full(piece.span) {
            return None;
        }
        let slice = self.slice(piece.span);
        if too_many_otherwise(slice) {
            self.diagnostics.push(
                Diagnostic::error(
                    "nested-too-deep",
                    piece.span,
                    format!("more than {MAX_OTHERWISE} `otherwise` stand in one line"),
                )
                .why("nobody can keep in mind what was tried before the last of them")
                .help("make a ladder of steps, or split it into several rules")
                .source("structural"),
            );
            return None;
        }
        match node::parse(rule, slice, piece.span) {
            Ok(node) => Some(node),
            Err(error) => {
                self.diagnostics
                    .push(fault::explain(&error, slice, piece.span, place, is_head));
                None
            }
        }
    }

    /// After so many faults nothing more is parsed, which is said once.
    fn is_full(&mut self, at: Span) -> bool {
        if self.diagnostics.len() == outline::MAX_FAULTS {
            self.diagnostics.push(outline::too_many(at));
        }
        self.diagnostics.len() > outline::MAX_FAULTS
    }

    /// `None` where the head is broken.
    fn block(&mut self, block: &Block, place: Place) -> Option<TreeBlock<'t>> {
        let slice = self.slice(block.head.span);
        let word = fault::leading_word(slice);
        let head = match place.head() {
            Some(rule) => self.piece(&block.head, rule, place, true),
            None => {
                self.diagnostics
                    .push(fault::no_block_here(block.head.span, slice, place));
                None
            }
        };
        let inside = Place::inside(word)?;
        let mut statements = Vec::new();
        let mut blocks = Vec::new();
        let before = self.diagnostics.len();
        for item in &block.items {
            match item {
                Item::Block(inner) => blocks.extend(self.block(inner, inside)),
                Item::Statement(piece) => match inside.statement() {
                    Some(rule) => statements.extend(self.piece(piece, rule, inside, false)),
                    None => self.stray(piece),
                },
            }
        }
        Some(TreeBlock {
            head: head?,
            statements,
            blocks,
            span: Span::new(
                self.file,
                block.span.start as usize,
                block.span.end as usize,
            ),
            broken: self.diagnostics.len() > before || before > outline::MAX_FAULTS,
        })
    }

    /// A statement where only blocks can stand.
    fn stray(&mut self, piece: &Piece) {
        if self.is_full(piece.span) {
            return;
        }
        self.diagnostics
            .push(fault::stray(piece.span, self.slice(piece.span)));
    }
}

/// Parses one statement as if it stood alone in a block of that kind: for the
/// language reference, whose examples are statements.
pub fn parse_statement(text: &str, place: Place) -> Result<(), Box<Diagnostic>> {
    let span = Span::new(FileId::default(), 0, text.len());
    let rule = place.statement().or(place.head());
    match rule {
        Some(rule) => node::parse(rule, text, span)
            .map(|_| ())
            .map_err(|error| Box::new(fault::explain(&error, text, span, place, false))),
        None => Ok(()),
    }
}
