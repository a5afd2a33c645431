//! Reasons of statements that are only a part of something.
//!
//! A phase's aim, a rule's `when` and the like keep their reason with them. Every
//! other statement may end with one too; those are gathered here, so that no
//! source that a committee gave is lost.

use super::*;

impl<'t> Lowerer<'t> {
    /// The reason at the end of a statement's line.
    pub fn reason(&mut self, line: &Node<'t>) -> Reason {
        let Some(reason) = line.find(R::reason) else {
            return Reason::default();
        };
        let mut sources = Vec::new();
        for names in reason
            .find(R::sources)
            .iter()
            .flat_map(|list| list.all(R::names))
        {
            for name in names.all(R::name) {
                if let Some(found) = self.refer(Kind::Cite, &name) {
                    sources.push(CiteId(found.value));
                }
            }
        }
        let because = reason.find(R::because).and_then(|text| self.text(&text));
        Reason { sources, because }
    }

    /// All of them, as written, libraries after the protocol.
    pub(super) fn stated_reasons(&mut self, input: &Input<'_, 't>) -> Vec<StatedReason> {
        let mut found = Vec::new();
        for fragment in &input.fragments {
            for line in &fragment.block.statements {
                self.stated_reason(line, ("protocol", None, None), &mut found);
            }
            for block in &fragment.block.blocks {
                self.reasons_in(block, None, &mut found);
            }
        }
        found
    }

    fn reasons_in(
        &mut self,
        block: &TreeBlock<'t>,
        outer: Option<(&'static str, &str)>,
        found: &mut Vec<StatedReason>,
    ) {
        let Some(head) = block.head.first() else {
            return;
        };
        let name = head.find(R::name);
        let own = match head.rule() {
            R::people_head => "people",
            R::phase_head => "phase",
            R::rule_head => "rule",
            R::ladder_head => "ladder",
            R::checklist_head => "checklist",
            R::medication_head => "medication",
            // A rung or step: its ladder is the block.
            _ => "",
        };
        let (kind, name, part) = match outer {
            Some((kind, name)) => (kind, Some(name), self.text(&head)),
            None => (own, name.as_ref().map(Node::text), None),
        };
        for line in &block.statements {
            self.stated_reason(line, (kind, name, part.clone()), found);
        }
        for inner in &block.blocks {
            self.reasons_in(inner, name.map(|name| (kind, name)), found);
        }
    }

    fn stated_reason(
        &mut self,
        line: &Node<'t>,
        (block, name, part): (&str, Option<&str>, Option<Text>),
        found: &mut Vec<StatedReason>,
    ) {
        let Some(statement) = line.first() else {
            return;
        };
        let Some(word) = begins_with(statement.rule()) else {
            return;
        };
        let reason = self.reason(line);
        if reason == Reason::default() {
            return;
        }
        // What stands alone in the protocol, or in `people`, is told by its own name.
        let own = statement.find(R::name).map(|name| name.text());
        let name = match (name, statement.rule()) {
            (Some(name), _) => Some(name),
            (None, R::cite | R::mark_line | R::measure | R::role | R::accept) => own,
            (None, _) => None,
        };
        found.push(StatedReason {
            block: block.to_owned(),
            name: name.map(str::to_owned),
            part,
            statement: word.to_owned(),
            reason,
            span: statement.span(),
        });
    }
}

/// The first words of a statement whose reason nothing else keeps.
fn begins_with(rule: R) -> Option<&'static str> {
    Some(match rule {
        R::title => "title",
        R::unit_line => "unit",
        R::version => "version",
        R::review => "review",
        R::purpose => "purpose",
        R::method => "method",
        R::timezone => "timezone",
        R::guideline => "guideline",
        R::shifts => "shifts",
        R::workload => "workload",
        R::both_scales => "show",
        R::use_line => "use",
        R::cite => "cite",
        R::mark_line => "mark",
        R::accept => "accept",
        R::measure => "measure",
        R::role => "role",
        R::by_means => "by",
        R::at_least_rate => "at least",
        R::moves => "target moves",
        R::ready_again => "ready again",
        R::again_after => "again after",
        R::overrides => "overrides",
        R::recheck => "recheck",
        R::class => "class",
        R::concentration => "concentration",
        R::rounded_to => "rounded to",
        R::only_with => "only with",
        _ => return None,
    })
}
