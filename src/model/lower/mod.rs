//! From parsed statements to the typed [`Protocol`].
//!
//! Takes the protocol's block and those of the libraries that it uses. First
//! every declared name is entered, then readings are made (their units give the
//! type of every level), then all the rest. What is wrong becomes a finding of
//! the notation family; the protocol is given only when nothing was wrong.

mod condition;
mod goal;
mod head;
mod levels;
mod medication;
mod names;
mod order;
mod parts;
mod phase;
mod reasons;
mod scenario;
mod texts;
mod values;

use self::names::{Kind, Names};
use super::words::FixedWord;
use super::*;
use crate::diag::Diagnostic;
use crate::syntax::{Node, Rule as R, TreeBlock};
use std::collections::BTreeSet;

/// One block to lower, and whether it is the protocol itself or a library.
#[derive(Debug, Clone, Copy)]
pub struct Fragment<'a, 't> {
    pub block: &'a TreeBlock<'t>,
    pub is_library: bool,
}

/// What is handed to lowering besides the blocks.
pub struct Input<'a, 't> {
    /// The protocol first, then its libraries in the order of use.
    pub fragments: Vec<Fragment<'a, 't>>,
    pub scenarios: Vec<&'a TreeBlock<'t>>,
    pub uses: Vec<Used>,
    /// Names whose own statement is broken: nothing is said where they are used.
    pub lost: BTreeSet<String>,
    /// The whole protocol file.
    pub span: Span,
}

/// The protocol, if nothing was wrong, and the findings.
pub fn lower(input: &Input<'_, '_>) -> (Option<Protocol>, Vec<Diagnostic>) {
    let mut lowerer = Lowerer {
        names: Names::default(),
        lets: Vec::new(),
        readings: Vec::new(),
        diagnostics: Vec::new(),
        lost: input.lost.clone(),
    };
    lowerer.declare(input);
    let protocol = lowerer.protocol(input);
    if protocol.is_some() {
        lowerer.report_unused(input);
    }
    let failed = lowerer
        .diagnostics
        .iter()
        .any(|found| found.level == crate::diag::Level::Error);
    (protocol.filter(|_| !failed), lowerer.diagnostics)
}

pub(super) struct LetDecl<'t> {
    pub node: Node<'t>,
    /// Kinds of place that it was used in: what is called there, and where.
    pub used_as: Vec<(&'static str, Span)>,
}

pub(super) struct Lowerer<'t> {
    pub names: Names,
    pub lets: Vec<LetDecl<'t>>,
    pub readings: Vec<Option<Reading>>,
    pub diagnostics: Vec<Diagnostic>,
    pub lost: BTreeSet<String>,
}

/// Statements and blocks of all fragments with a mark of where they come from.
fn statements<'a, 't>(input: &Input<'a, 't>) -> Vec<(Node<'t>, Node<'t>, bool)> {
    input
        .fragments
        .iter()
        .flat_map(|fragment| {
            fragment.block.statements.iter().filter_map(|line| {
                line.first()
                    .map(|statement| (statement, line.clone(), fragment.is_library))
            })
        })
        .collect()
}

fn blocks<'a, 't>(input: &Input<'a, 't>) -> Vec<(&'a TreeBlock<'t>, Node<'t>, bool)> {
    input
        .fragments
        .iter()
        .flat_map(|fragment| {
            fragment.block.blocks.iter().filter_map(|block| {
                block
                    .head
                    .first()
                    .map(|head| (block, head, fragment.is_library))
            })
        })
        .collect()
}

impl<'t> Lowerer<'t> {
    pub fn error(&mut self, diagnostic: Diagnostic) {
        self.diagnostics.push(diagnostic);
    }

    fn declare(&mut self, input: &Input<'_, 't>) {
        for (statement, _, is_library) in statements(input) {
            let kind = match statement.rule() {
                R::let_line => Kind::Let,
                R::cite => Kind::Cite,
                R::mark_line => Kind::Mark,
                R::reading => Kind::Reading,
                R::measure => Kind::Measure,
                _ => continue,
            };
            self.declare_name(kind, &statement, is_library);
            if kind == Kind::Let {
                self.lets.push(LetDecl {
                    node: statement,
                    used_as: Vec::new(),
                });
            }
        }
        for (block, head, is_library) in blocks(input) {
            let kind = match head.rule() {
                R::phase_head => Kind::Phase,
                R::rule_head => Kind::Rule,
                R::ladder_head => Kind::Ladder,
                R::checklist_head => Kind::Checklist,
                R::medication_head => Kind::Medication,
                R::people_head => {
                    for role in block.statements.iter().filter_map(Node::first) {
                        self.declare_name(Kind::Role, &role, is_library);
                    }
                    continue;
                }
                _ => continue,
            };
            self.declare_name(kind, &head, is_library);
        }
    }

    fn declare_name(&mut self, kind: Kind, node: &Node<'t>, is_library: bool) {
        if let Some(name) = node.find(R::name) {
            if name.text() == "start" && kind == Kind::Mark {
                self.error(
                    Diagnostic::error(
                        "duplicate-name",
                        name.span(),
                        "`start` is built in and cannot be declared",
                    )
                    .why("every elapsed time on the sheet counts from it")
                    .help("give this mark another name")
                    .source("structural"),
                );
            }
            if let Some(problem) = self
                .names
                .declare(kind, name.text(), name.span(), is_library)
            {
                self.error(problem);
            }
        }
    }

    fn protocol(&mut self, input: &Input<'_, 't>) -> Option<Protocol> {
        let main = input.fragments.first()?;
        let name = self.named(&main.block.head.first()?)?;
        let all = statements(input);

        // Readings first: their kind gives the type of every level.
        for (statement, line, _) in &all {
            if statement.rule() == R::reading {
                let reading = self.reading(statement, line);
                self.readings.push(reading);
            }
        }
        let complete = self.readings.iter().all(Option::is_some);

        let head = self.head(input);
        let mut protocol = ProtocolParts::default();
        for (statement, line, _) in &all {
            self.statement(statement, line, &mut protocol);
        }
        for (block, head, _) in blocks(input) {
            self.block(block, &head, &mut protocol);
        }
        let reasons = self.stated_reasons(input);
        let scenarios: Vec<Option<Scenario>> = input
            .scenarios
            .iter()
            .map(|block| self.scenario(block, &name))
            .collect();
        if !complete {
            return None;
        }
        Some(Protocol {
            name,
            head: head?,
            uses: input.uses.clone(),
            lets: whole(protocol.lets)?,
            cites: whole(protocol.cites)?,
            roles: whole(protocol.roles)?,
            marks: whole(protocol.marks)?,
            criteria: whole(protocol.criteria)?,
            readings: whole(std::mem::take(&mut self.readings))?,
            limits: whole(protocol.limits)?,
            phases: whole(protocol.phases)?,
            looks: whole(protocol.looks)?,
            rules: whole(protocol.rules)?,
            ladders: whole(protocol.ladders)?,
            checklists: whole(protocol.checklists)?,
            medications: whole(protocol.medications)?,
            accepts: whole(protocol.accepts)?,
            measures: whole(protocol.measures)?,
            reasons,
            scenarios: whole(scenarios)?,
            span: input.span,
        })
    }

    fn statement(&mut self, statement: &Node<'t>, line: &Node<'t>, into: &mut ProtocolParts) {
        match statement.rule() {
            R::let_line => into.lets.push(self.let_line(statement, line)),
            R::cite => into.cites.push(self.cite(statement)),
            R::mark_line => into.marks.push(self.mark_line(statement)),
            R::criterion => into.criteria.push(self.criterion(statement, line)),
            R::limit => into.limits.push(self.limit(statement, line)),
            R::every_line => into.looks.push(self.every_line(statement, line)),
            R::at_line => into.looks.push(self.at_line(statement, line)),
            R::accept => into.accepts.push(self.accept(statement)),
            R::measure => into.measures.push(self.measure(statement)),
            // Readings are made before, heads beside, uses by loading.
            _ => {}
        }
    }

    fn block(&mut self, block: &TreeBlock<'t>, head: &Node<'t>, into: &mut ProtocolParts) {
        match head.rule() {
            R::people_head => {
                for line in &block.statements {
                    let role = line.first().and_then(|role| self.role(&role));
                    into.roles.push(role);
                }
            }
            R::phase_head => into.phases.push(self.phase(block, head)),
            R::rule_head => into.rules.push(self.rule(block, head)),
            R::ladder_head => into.ladders.push(self.ladder(block, head)),
            R::checklist_head => into.checklists.push(self.checklist(block, head)),
            R::medication_head => into.medications.push(self.medication(block, head)),
            _ => {}
        }
    }

    fn report_unused(&mut self, input: &Input<'_, '_>) {
        let mut found = self.names.unused();
        let libraries = input
            .fragments
            .iter()
            .filter(|fragment| fragment.is_library)
            .zip(&input.uses);
        for (library, used) in libraries {
            if self.names.is_idle(library.block.span.file) {
                found.push(
                    Diagnostic::warning(
                        "unused-name",
                        used.span,
                        format!("nothing of the library `{}` is used", used.name),
                    )
                    .here("no line names anything that it declares")
                    .why("it may be that a line which should name something of it is missing")
                    .help("write that line, or take this `use` away")
                    .source("structural")
                    .about(used.name.clone()),
                );
            }
        }
        self.diagnostics.append(&mut found);
    }

    pub fn named(&mut self, node: &Node<'t>) -> Option<Named> {
        let name = node.find(R::name)?;
        Some(Named {
            name: name.text().to_owned(),
            span: name.span(),
        })
    }

    /// The index of the thing of that kind that the node names.
    pub fn refer(&mut self, kind: Kind, node: &Node<'t>) -> Option<At<u32>> {
        match self.names.find(&[kind], node.text(), node.span()) {
            Ok((_, index)) => Some(At::new(index, node.span())),
            Err(problem) => {
                self.unknown(problem, node.text());
                None
            }
        }
    }

    /// Says so, unless the name's own statement is broken and has its error.
    fn unknown(&mut self, problem: Box<Diagnostic>, name: &str) {
        if self.lost.contains(name) {
            // It stays an error, or the protocol would be taken as whole.
            return;
        }
        self.error(*problem);
    }

    /// A word out of a closed set.
    pub fn fixed<W: FixedWord>(&mut self, node: &Node<'t>) -> Option<At<W>> {
        let text = node.text();
        if let Some(word) = W::from_word(text) {
            return Some(At::new(word, node.span()));
        }
        let all: Vec<&str> = W::ALL.iter().map(|word| word.word()).collect();
        let mut problem = Diagnostic::error(
            "unknown-word",
            node.span(),
            format!("`{text}` is no {} that the language knows", W::SET),
        )
        .why("the checks go by these words, so a word that is not known checks nothing")
        .source("structural");
        problem = match crate::syntax::nearest(text, all.iter().copied()) {
            Some(near) => problem
                .here(format!("did you mean `{near}`?"))
                .help(format!("write `{near}`"))
                .fix(node.span(), near),
            None => problem.help(format!("write one of: {}", all.join(", "))),
        };
        self.error(problem);
        None
    }
}

/// The tables of a protocol while they are filled; `None` stands for a thing
/// that could not be made, so that the ids of the others stay right.
#[derive(Default)]
pub(super) struct ProtocolParts {
    lets: Vec<Option<Let>>,
    cites: Vec<Option<Cite>>,
    roles: Vec<Option<Role>>,
    marks: Vec<Option<Mark>>,
    criteria: Vec<Option<Criterion>>,
    limits: Vec<Option<Limit>>,
    phases: Vec<Option<Phase>>,
    looks: Vec<Option<Look>>,
    rules: Vec<Option<Rule>>,
    ladders: Vec<Option<Ladder>>,
    checklists: Vec<Option<Checklist>>,
    medications: Vec<Option<Medication>>,
    accepts: Vec<Option<Accept>>,
    measures: Vec<Option<Measure>>,
}

fn whole<T>(parts: Vec<Option<T>>) -> Option<Vec<T>> {
    parts.into_iter().collect()
}
