//! What the unit has still to settle.

use super::super::{Check, Context, Family, Run, files};
use crate::diag::{Diagnostic, Level};
use crate::source::{FileId, Span};
use crate::syntax::outline;

pub const CHECK: Check = Check {
    name: "undecided",
    family: Family::Governance,
    level: Level::Note,
    since: "0.1.0",
    summary: "something is still to be decided",
    catches: "A comment that begins with `# decide:`, as `tempwright new` writes them, in the protocol or in a library \
              that it uses.",
    why: "The value that stands there is a first proposal, and nobody of this unit has chosen it.",
    fires: "\
caution \"Bleeding that cannot be pressed on\"  # decide: which bleeding, and for how long
",
    passes: "\
caution \"Bleeding that cannot be pressed on\"  # decided on 2026-11-02
",
    source: "structural",
    run: Run::Over(run),
};

fn run(context: &Context) -> Vec<Diagnostic> {
    files(context)
        .flat_map(|(file, text)| in_text(file, text))
        .collect()
}

fn in_text(file: FileId, text: &str) -> Vec<Diagnostic> {
    // Most files have none, and need not be read once more.
    if !text.contains("decide:") {
        return Vec::new();
    }
    outline(text, file)
        .comments
        .iter()
        .filter_map(|comment| {
            let said = text.get(comment.span.range())?.trim_end();
            let what = said.trim_start_matches('#').trim_start().strip_prefix("decide:")?;
            let start = comment.span.start as usize;
            let span = Span::new(file, start, start + said.len());
            let what = what.trim();
            let title = if what.is_empty() {
                "something is still to be decided here".to_owned()
            } else {
                format!("still to be decided: {what}")
            };
            Some(
                CHECK
                    .found(span, title)
                    .why("the value that stands here is a first proposal; nobody of this unit has chosen it")
                    .help("decide it, write what was decided, and delete this comment"),
            )
        })
        .collect()
}
