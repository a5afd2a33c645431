//! Where each name of a file is declared and where it is used.
//!
//! Takes a parsed [`Tree`]; gives every name in it with what it is there: for
//! going to a declaration, for renaming, for outlines. It works on files with
//! broken statements: those only lack their names.

use super::{Node, Rule as R, Tree, TreeBlock};
use crate::source::Span;

/// What a declared name stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Symbol {
    Protocol,
    Library,
    Value,
    Citation,
    Mark,
    Reading,
    Measure,
    Person,
    Phase,
    Rule,
    Ladder,
    Checklist,
    Medication,
}

impl Symbol {
    pub const ALL: &'static [Symbol] = &[
        Symbol::Protocol,
        Symbol::Library,
        Symbol::Value,
        Symbol::Citation,
        Symbol::Mark,
        Symbol::Reading,
        Symbol::Measure,
        Symbol::Person,
        Symbol::Phase,
        Symbol::Rule,
        Symbol::Ladder,
        Symbol::Checklist,
        Symbol::Medication,
    ];

    pub fn word(self) -> &'static str {
        match self {
            Symbol::Protocol => "protocol",
            Symbol::Library => "library",
            Symbol::Value => "let",
            Symbol::Citation => "cite",
            Symbol::Mark => "mark",
            Symbol::Reading => "reading",
            Symbol::Measure => "measure",
            Symbol::Person => "people",
            Symbol::Phase => "phase",
            Symbol::Rule => "rule",
            Symbol::Ladder => "ladder",
            Symbol::Checklist => "checklist",
            Symbol::Medication => "medication",
        }
    }
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Declaration {
    pub name: String,
    pub symbol: Symbol,
    /// The name itself.
    pub span: Span,
    /// The whole statement or block.
    pub whole: Span,
    /// The declaring line, as written.
    pub line: String,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Use {
    pub name: String,
    pub span: Span,
    /// It stands for a number, as only a `let` can; in a record, for a choice.
    pub is_value: bool,
}

#[derive(Debug, Clone, Default)]
pub struct Index {
    pub declarations: Vec<Declaration>,
    pub uses: Vec<Use>,
}

impl Index {
    pub fn of(tree: &Tree<'_>) -> Index {
        let mut index = Index::default();
        for block in &tree.blocks {
            index.block(block);
        }
        index
    }

    /// The name at a byte of the file, declared or used.
    pub fn name_at(&self, offset: u32) -> Option<(&str, Span)> {
        let within = |span: Span| span.start <= offset && offset <= span.end;
        self.declarations
            .iter()
            .map(|declaration| (declaration.name.as_str(), declaration.span))
            .chain(self.uses.iter().map(|used| (used.name.as_str(), used.span)))
            .find(|(_, span)| within(*span))
    }

    /// Every place where the name stands, the declaration first. Where it is known what
    /// it is, a value is a `let` and nothing else is.
    pub fn places(&self, name: &str, symbol: Option<Symbol>) -> Vec<Span> {
        self.declarations
            .iter()
            .filter(|declaration| declaration.name == name)
            .map(|declaration| declaration.span)
            .chain(
                self.uses
                    .iter()
                    .filter(|used| used.name == name)
                    .filter(|used| {
                        symbol.is_none_or(|symbol| used.is_value == (symbol == Symbol::Value))
                    })
                    .map(|used| used.span),
            )
            .collect()
    }

    fn block(&mut self, block: &TreeBlock<'_>) {
        if let Some(head) = block.head.first() {
            let symbol = match head.rule() {
                R::protocol_head => Some(Symbol::Protocol),
                R::library_head => Some(Symbol::Library),
                R::phase_head => Some(Symbol::Phase),
                R::rule_head => Some(Symbol::Rule),
                R::ladder_head => Some(Symbol::Ladder),
                R::checklist_head => Some(Symbol::Checklist),
                R::medication_head => Some(Symbol::Medication),
                _ => None,
            };
            let names = head.all(R::name);
            let declared = symbol.and(names.first());
            if let (Some(symbol), Some(name)) = (symbol, declared) {
                self.declare(symbol, name, block.span, head.text());
            }
            // A checklist's second name is a fixed word.
            if head.rule() != R::checklist_head {
                self.walk(&head, declared.map(Node::span));
            }
            // The reason of a rung or step stands beside its head.
            for beside in block.head.children().skip(1) {
                self.walk(&beside, None);
            }
        }
        for line in &block.statements {
            self.statement(line);
        }
        for inner in &block.blocks {
            self.block(inner);
        }
    }

    fn declare(&mut self, symbol: Symbol, name: &Node<'_>, whole: Span, line: &str) {
        self.declarations.push(Declaration {
            name: name.text().to_owned(),
            symbol,
            span: name.span(),
            whole,
            line: line.to_owned(),
        });
    }

    fn used(&mut self, name: &Node<'_>, is_value: bool) {
        self.uses.push(Use {
            name: name.text().to_owned(),
            span: name.span(),
            is_value,
        });
    }

    fn statement(&mut self, line: &Node<'_>) {
        for node in line.children() {
            let symbol = match node.rule() {
                R::let_line => Some(Symbol::Value),
                R::cite => Some(Symbol::Citation),
                R::mark_line => Some(Symbol::Mark),
                R::reading => Some(Symbol::Reading),
                R::measure => Some(Symbol::Measure),
                R::role => Some(Symbol::Person),
                _ => None,
            };
            let declared = symbol.and(node.find(R::name));
            if let (Some(symbol), Some(name)) = (symbol, &declared) {
                self.declare(symbol, name, line.span(), node.text());
            }
            self.walk(&node, declared.as_ref().map(Node::span));
        }
    }

    /// Names in a statement that point at something; `skip` is its own name.
    fn walk(&mut self, node: &Node<'_>, skip: Option<Span>) {
        match node.rule() {
            // Fixed words, findings and fields, not names of the protocol's.
            R::purpose
            | R::method_words
            | R::guideline
            | R::covers
            | R::class
            | R::route
            | R::body_site
            | R::medium
            | R::of_what
            | R::choice_kind
            | R::record_field
            | R::by_means => return,
            R::name => {
                if Some(node.span()) != skip {
                    self.used(node, false);
                }
                return;
            }
            R::value => {
                if let Some(name) = node.find(R::name) {
                    self.used(&name, true);
                }
                return;
            }
            _ => {}
        }
        let mut seen = 0;
        for child in node.children() {
            if child.rule() == R::name {
                seen += 1;
                let fixed = match node.rule() {
                    // `patients adult`; `until is dry` of a ladder.
                    R::patients | R::goal => true,
                    R::is_word => seen > 1,
                    // The name of the finding, before what it is accepted on.
                    R::accept => seen == 1,
                    _ => false,
                };
                if fixed {
                    continue;
                }
            }
            self.walk(&child, skip);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::source::{FileId, SourceFile};

    #[test]
    fn names_in_heads_reasons_and_exceptions_are_found() {
        let text = "library l {\n  cite dry \"D\"\n  let high = 2\n  reading seal \"S\" choice dry or damp\n  reading score \"C\" score 0 to 3\n  ladder steps \"L\" on score until below high {\n    rung at or above high \"H\" source dry { continue }\n  }\n  ladder other \"O\" on seal until is dry {\n    step \"S\" source dry { continue }\n  }\n}\nprotocol p {\n  accept steps on steps because \"x\" by \"y\" until 2030-01-01\n}\nscenario \"S\" for p {\n  at 0:00 seal dry, score high\n}\n";
        let source = SourceFile::new("p", text);
        let tree = crate::syntax::parse(FileId(0), &source);
        assert!(tree.diagnostics.is_empty(), "{:?}", tree.diagnostics);
        let index = Index::of(&tree);
        let places = |name: &str, values: bool| -> Vec<(usize, usize)> {
            let found = index.uses.iter();
            found
                .filter(|used| used.name == name && used.is_value == values)
                .map(|used| {
                    let at = source.line_column(used.span.start as usize);
                    (at.line, at.column)
                })
                .collect()
        };
        assert_eq!(places("high", true), [(6, 41), (7, 22), (17, 27)]);
        assert_eq!(places("high", false), []);
        // The choice `dry` is no citation, in the goal or in the scenario.
        assert_eq!(places("dry", false), [(7, 38), (10, 21)]);
        assert_eq!(places("dry", true), [(17, 16)]);
        assert_eq!(places("steps", false), [(14, 19)]);
        assert_eq!(places("p", false), [(16, 18)]);
    }

    #[test]
    fn declarations_and_uses_are_told_from_fixed_words() {
        let text = "protocol p {\n  purpose fever-control after stroke\n  method surface feedback from core\n  mark stroke \"S\"\n  let goal = 37.0 °C\n  reading core \"C\" temperature at bladder, shown to 0.1 °C\n  phase hold \"H\" {\n    hold core at goal within 0.5 °C\n    ends 2 h after stroke\n    by surface\n  }\n}\n";
        let source = SourceFile::new("p", text);
        let tree = crate::syntax::parse(FileId(0), &source);
        assert!(tree.diagnostics.is_empty(), "{:?}", tree.diagnostics);
        let index = Index::of(&tree);
        let lines = |name: &str| -> Vec<usize> {
            index
                .places(name, None)
                .iter()
                .map(|span| source.line_column(span.start as usize).line)
                .collect()
        };
        assert_eq!(lines("core"), [6, 3, 8]);
        assert_eq!(lines("goal"), [5, 8]);
        // The event of the same name on line 2 is a fixed word.
        assert_eq!(lines("stroke"), [4, 9]);
        assert_eq!(lines("surface"), [0; 0]);
        assert_eq!(lines("bladder"), [0; 0]);
    }
}
