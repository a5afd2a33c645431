//! Which files belong to a protocol: follows its `use` lines, from library to library.

use super::load::LoadError;
use crate::diag::Diagnostic;
use crate::source::{FileId, Library, ReadError, SourceFile, Sources, Span};
use crate::syntax::{self, Item};
use std::collections::BTreeMap;

/// Uses lie in uses no deeper than this.
const MAX_USES: usize = 64;

/// The texts of a run, and which of them uses which; no protocol is put together yet.
#[derive(Debug)]
pub struct Opened {
    pub sources: Sources,
    /// Paths of libraries that are used and could not be read.
    pub missing: Vec<String>,
    pub(super) asked: Vec<Asked>,
}

/// A file that was asked for.
#[derive(Debug)]
pub(super) struct Asked {
    pub root: FileId,
    /// The libraries that it uses, directly or through another, each once, with the `use` line
    /// that brings it in.
    pub uses: Vec<(FileId, Span)>,
    /// What is wrong with these uses.
    pub found: Vec<Diagnostic>,
}

/// Reads the files at `paths`, which are relative to the project's root, and all that they use.
pub fn open(library: &dyn Library, paths: &[&str]) -> Result<Opened, LoadError> {
    let mut reader = Reader {
        library,
        files: BTreeMap::new(),
        sources: Sources::default(),
        missing: Vec::new(),
        found: Vec::new(),
    };
    let mut asked = Vec::new();
    for path in paths {
        let path = normal(path);
        match reader.file(&path) {
            Ok(root) => asked.push(reader.asked(root, path)),
            Err(error) => return Err(LoadError { path, error }),
        }
    }
    Ok(Opened {
        sources: reader.sources,
        missing: reader.missing,
        asked,
    })
}

struct Reader<'l> {
    library: &'l dyn Library,
    files: BTreeMap<String, FileId>,
    sources: Sources,
    missing: Vec<String>,
    /// What is wrong with the uses of the file that is being read.
    found: Vec<Diagnostic>,
}

impl Reader<'_> {
    fn file(&mut self, path: &str) -> Result<FileId, ReadError> {
        if let Some(id) = self.files.get(path) {
            return Ok(*id);
        }
        let text = self.library.read(path)?;
        let id = self.sources.add(SourceFile::new(path, text));
        self.files.insert(path.to_owned(), id);
        Ok(id)
    }

    fn asked(&mut self, root: FileId, path: String) -> Asked {
        let mut uses: Vec<(FileId, Span)> = Vec::new();
        self.follow(&mut vec![(root, path)], None, &mut uses);
        Asked {
            root,
            uses,
            found: std::mem::take(&mut self.found),
        }
    }

    fn follow(
        &mut self,
        chain: &mut Vec<(FileId, String)>,
        entry: Option<Span>,
        found: &mut Vec<(FileId, Span)>,
    ) {
        let Some((file, path)) = chain.last().cloned() else {
            return;
        };
        let wanted = self
            .sources
            .get(file)
            .map(|source| use_lines(file, source))
            .unwrap_or_default();
        for (text, span) in wanted {
            let target = match resolve(&path, &text) {
                Some(target) => target,
                None => {
                    self.found.push(outside_root(span, &text));
                    continue;
                }
            };
            if chain.len() >= MAX_USES {
                self.found.push(too_deep(span, &target));
                continue;
            }
            if chain.iter().any(|(_, before)| *before == target) {
                let round: Vec<&str> = chain.iter().map(|(_, path)| path.as_str()).collect();
                self.found.push(
                    Diagnostic::error(
                        "use-cycle",
                        span,
                        format!("`{target}` is used by a file that it uses itself"),
                    )
                    .here(format!("{} → {target}", round.join(" → ")))
                    .why("neither could be read before the other")
                    .help("move what both need into a third library")
                    .source("structural"),
                );
                continue;
            }
            if found
                .iter()
                .any(|(id, _)| self.files.get(&target) == Some(id))
            {
                continue;
            }
            match self.file(&target) {
                Ok(id) => {
                    if !is_library(self.sources.get(id)) {
                        self.found.push(
                            Diagnostic::error(
                                "use-not-library",
                                span,
                                format!("`{target}` is no library"),
                            )
                            .why("only a library can be shared by several protocols")
                            .help(
                                "move what is shared into a file that begins with `library NAME {`",
                            )
                            .source("structural"),
                        );
                        continue;
                    }
                    let by = entry.unwrap_or(span);
                    found.push((id, by));
                    chain.push((id, target));
                    self.follow(chain, Some(by), found);
                    chain.pop();
                }
                Err(ReadError::OutsideRoot) => self.found.push(outside_root(span, &text)),
                Err(error) => {
                    self.missing.push(target.clone());
                    let told = LoadError {
                        path: target.clone(),
                        error,
                    };
                    self.found.push(
                        Diagnostic::error("use-unreadable", span, told.to_string())
                            .why("what it declares is missing from everything that follows")
                            .help("correct the path: it is counted from the folder of this file")
                            .source("structural"),
                    );
                }
            }
        }
    }
}

fn too_deep(span: Span, target: &str) -> Diagnostic {
    Diagnostic::error(
        "nested-too-deep",
        span,
        format!("more than {MAX_USES} libraries use one another in a row"),
    )
    .here(format!("`{target}` is not read"))
    .why("nobody can follow such a row, and what it declares is missing from everything that follows")
    .help("use what is needed from the protocol itself")
    .source("structural")
}

fn outside_root(span: Span, text: &str) -> Diagnostic {
    Diagnostic::error(
        "use-outside-root",
        span,
        format!("`{text}` leads out of the project's folder"),
    )
    .why("what lies outside is not in the history that the committee approves")
    .help("copy the library into the project and use it from there")
    .source("structural")
}

/// The texts of the `use` lines directly inside the first block.
fn use_lines(file: FileId, source: &SourceFile) -> Vec<(String, Span)> {
    let outline = syntax::outline(&source.text, file);
    let mut found = Vec::new();
    for item in &outline.items {
        let Item::Block(block) = item else { continue };
        for inner in &block.items {
            let Item::Statement(piece) = inner else {
                continue;
            };
            let text = source.slice(piece.span);
            let Some(rest) = text.strip_prefix("use") else {
                continue;
            };
            let quoted = rest
                .trim_start()
                .strip_prefix('"')
                .and_then(|rest| rest.split_once('"'));
            if let Some((path, _)) = quoted {
                found.push((path.to_owned(), piece.span));
            }
        }
    }
    found
}

fn is_library(source: Option<&SourceFile>) -> bool {
    let Some(source) = source else { return false };
    let outline = syntax::outline(&source.text, FileId::default());
    // A file that is broken at its head has its own error.
    outline.items.iter().all(|item| match item {
        Item::Block(block) => {
            let head = source.text.get(block.head.span.range()).unwrap_or("");
            !head.starts_with("protocol")
        }
        Item::Statement(_) => true,
    })
}

/// `path` without `.` and empty parts.
fn normal(path: &str) -> String {
    path.split('/')
        .filter(|part| !part.is_empty() && *part != ".")
        .collect::<Vec<_>>()
        .join("/")
}

/// A path in a `use` line, counted from the folder of `from`; `None` where it
/// leaves the root or is absolute.
pub(crate) fn resolve(from: &str, path: &str) -> Option<String> {
    if path.starts_with('/') || path.contains('\\') || path.contains(':') || path.contains('\0') {
        return None;
    }
    let mut parts: Vec<&str> = from.split('/').collect();
    parts.pop();
    for part in path.split('/') {
        match part {
            "" | "." => {}
            ".." => {
                parts.pop()?;
            }
            other => parts.push(other),
        }
    }
    Some(parts.join("/"))
}
