//! What an editor can do about a finding: write what was meant, add what is
//! missing, or let it stand with a reason.

use super::Server;
use crate::checks::evidence;
use crate::checks::run::Checked;
use crate::diag::{Diagnostic, Level};
use crate::source::Sources;
use crate::syntax::{Block, Item, outline};
use lsp_types::{
    CodeAction, CodeActionKind, CodeActionOrCommand, CodeActionParams, Range, TextEdit, Uri,
    WorkspaceEdit,
};
use std::collections::HashMap;

/// A line to add, and the word of the block that it belongs into; `protocol` is the
/// outermost, whatever it is.
struct Missing {
    line: String,
    block: &'static str,
}

impl Server {
    /// Replacements that findings offer, lines that are missing, and an `accept` for
    /// what may be accepted.
    pub(super) fn actions(&mut self, params: &CodeActionParams) -> Vec<CodeActionOrCommand> {
        let Some(path) = self.documents.path(&params.text_document.uri) else {
            return Vec::new();
        };
        let Some(loaded) = self.documents.load(&path) else {
            return Vec::new();
        };
        // Asked for at each movement of the pointer: checked once for each state of the texts.
        let checked = match self.checked.take() {
            Some(checked) if same_texts(&checked.sources, &loaded.sources) => checked,
            _ => crate::checks::run::check_all(loaded, self.today),
        };
        let offered = self.actions_on(&checked, params, &path);
        self.checked = Some(checked);
        offered
    }

    fn actions_on(
        &self,
        checked: &Checked,
        params: &CodeActionParams,
        path: &str,
    ) -> Vec<CodeActionOrCommand> {
        let uri = &params.text_document.uri;
        let sources = &checked.sources;
        let mut offered = Vec::new();
        for found in &checked.findings {
            let here = sources
                .get(found.place.span.file)
                .is_some_and(|file| file.path == path);
            let range = self.shown.range(sources, found.place.span);
            if !here || range.end < params.range.start || params.range.end < range.start {
                continue;
            }
            let shown = self.shown.finding(found, sources);
            if let Some(fix) = &found.fix {
                let edit =
                    TextEdit::new(self.shown.range(sources, fix.span), fix.replacement.clone());
                offered.push(action(
                    format!("write `{}`", fix.replacement),
                    uri,
                    edit,
                    &shown,
                ));
            }
            for missing in missing(found, checked) {
                if let Some(edit) = self.added(found, &missing, sources) {
                    let title = format!("add `{}`", missing.line);
                    offered.push(action(title, uri, edit, &shown));
                }
            }
            let may_stand = found.level == Level::Warning
                || (found.level == Level::Error && evidence::row(found.name).is_some());
            if may_stand && let Some(edit) = self.accept(found, sources) {
                offered.push(action(
                    format!("accept `{}` with a reason", found.name),
                    uri,
                    edit,
                    &shown,
                ));
            }
        }
        offered
    }

    /// The line before the closing brace of the block that it belongs into.
    fn added(&self, found: &Diagnostic, missing: &Missing, sources: &Sources) -> Option<TextEdit> {
        let file = found.place.span.file;
        let text = &sources.get(file)?.text;
        let outline = outline(text, file);
        let at = found.place.span.start as usize;
        let mut block = outermost(&outline.items, at)?;
        if missing.block != "protocol" {
            while leading(text, block) != missing.block {
                block = outermost(&block.items, at)?;
            }
        }
        let close = (block.span.end as usize).checked_sub(1)?;
        let line_start = text
            .get(..close)?
            .rfind('\n')
            .map_or(0, |newline| newline + 1);
        let before = text.get(line_start..close)?;
        if before.trim().is_empty() {
            // The brace stands on a line of its own; its indentation and two more.
            let start = self.columns.position(text, line_start);
            let line = format!("{before}  {}\n", missing.line);
            return Some(TextEdit::new(Range::new(start, start), line));
        }
        let place = self.columns.position(text, close);
        let line = format!("\n  {}\n", missing.line);
        Some(TextEdit::new(Range::new(place, place), line))
    }

    /// An `accept` line before the protocol's closing brace, to be filled in.
    fn accept(&self, found: &Diagnostic, sources: &Sources) -> Option<TextEdit> {
        let on = found
            .about
            .as_ref()
            .map_or(String::new(), |about| format!(" on {about}"));
        let line = format!(
            "accept {}{on} because \"\" by \"\" until 2000-01-01",
            found.name
        );
        let missing = Missing {
            line,
            block: "protocol",
        };
        self.added(found, &missing, sources)
    }
}

/// Whether both were read from the same texts.
fn same_texts(one: &Sources, other: &Sources) -> bool {
    one.iter()
        .map(|(_, file)| (&file.path, &file.text))
        .eq(other.iter().map(|(_, file)| (&file.path, &file.text)))
}

fn outermost(items: &[Item], at: usize) -> Option<&Block> {
    items.iter().find_map(|item| match item {
        Item::Block(block) if block.span.range().contains(&at) => Some(block),
        Item::Block(_) | Item::Statement(_) => None,
    })
}

fn leading<'t>(text: &'t str, block: &Block) -> &'t str {
    let head = text.get(block.head.span.range()).unwrap_or("");
    head.split_whitespace().next().unwrap_or("")
}

/// Lines that the help of a finding says to add. What the unit must choose itself
/// is a first proposal with `# decide:` behind it, so that `check` asks for it.
fn missing(found: &Diagnostic, checked: &Checked) -> Vec<Missing> {
    let mut lines = Vec::new();
    for help in found
        .help
        .iter()
        .filter_map(|help| help.strip_prefix("add `"))
    {
        for part in std::iter::once(help).chain(help.split(" `").skip(1)) {
            let Some((line, _)) = part.split_once('`') else {
                continue;
            };
            lines.extend(whole_line(line, checked));
        }
    }
    lines
}

fn whole_line(line: &str, checked: &Checked) -> Option<Missing> {
    let decide = |line: String, what: &str| format!("{line}  # decide: {what}");
    if let Some(rest) = line.strip_prefix("every D ") {
        return Some(Missing {
            line: decide(format!("every 1 h {rest}"), "how often"),
            block: "protocol",
        });
    }
    if let Some(head) = line.strip_suffix(" \"…\" { … }")
        && head.starts_with("rung ")
    {
        let order =
            called(checked).map_or("continue".to_owned(), |role| format!("call {role} now"));
        return Some(Missing {
            line: decide(
                format!("{head} \"To be decided\" {{ {order} }}"),
                "what is done at this value",
            ),
            block: "ladder",
        });
    }
    None
}

/// Whom the one who holds the sheet would call.
fn called(checked: &Checked) -> Option<String> {
    let (_, protocol) = checked.protocols.first()?;
    let mut roles = protocol.roles.iter().map(|role| role.name.name.as_str());
    roles.find(|role| *role != "nurse").map(str::to_owned)
}

#[allow(clippy::mutable_key_type)]
fn action(
    title: String,
    uri: &Uri,
    edit: TextEdit,
    shown: &lsp_types::Diagnostic,
) -> CodeActionOrCommand {
    let mut changes = HashMap::new();
    changes.insert(uri.clone(), vec![edit]);
    CodeActionOrCommand::CodeAction(CodeAction {
        title,
        kind: Some(CodeActionKind::QUICKFIX),
        diagnostics: Some(vec![shown.clone()]),
        edit: Some(WorkspaceEdit::new(changes)),
        ..CodeAction::default()
    })
}
