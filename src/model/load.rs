//! From paths to protocols: reads a file with all that it uses, parses and lowers
//! all of it.
//!
//! Takes a [`Library`] and the paths of the files that are asked for, gives every
//! text that was read, the protocols that are whole, and all findings of the
//! notation family. It can fail only where a file that was asked for cannot be
//! read at all.

use super::lower::{self, Fragment, Input};
use super::uses::{Reader, normal};
use super::*;
use crate::diag::{Diagnostic, Level};
use crate::source::{FileId, Library, ReadError, Sources};
use crate::syntax::{self, Node, Rule as R, Tree, TreeBlock};
use std::collections::{BTreeMap, BTreeSet};

/// Everything that a run has read.
#[derive(Debug, Clone, Default)]
pub struct Loaded {
    pub sources: Sources,
    /// Those without errors, in the order in which they were asked for.
    pub protocols: Vec<(FileId, Protocol)>,
    pub diagnostics: Vec<Diagnostic>,
    /// The files that were asked for.
    pub roots: Vec<FileId>,
    /// Paths of libraries that are used and could not be read.
    pub missing: Vec<String>,
}

impl Loaded {
    pub fn has_errors(&self) -> bool {
        self.diagnostics
            .iter()
            .any(|found| found.level == Level::Error)
    }
}

/// A file that was asked for and cannot be read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LoadError {
    pub path: String,
    pub error: ReadError,
}

impl std::fmt::Display for LoadError {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let path = &self.path;
        match &self.error {
            ReadError::Missing => write!(out, "there is no file `{path}`"),
            ReadError::OutsideRoot => {
                write!(out, "`{path}` lies outside the folder of the project")
            }
            ReadError::TooLarge => write!(
                out,
                "`{path}` is larger than 16 MiB; no protocol is, so it was not read"
            ),
            ReadError::NotUtf8(at) => write!(
                out,
                "`{path}` is not plain UTF-8 text (byte {at}); save it as UTF-8"
            ),
            ReadError::Other(why) => write!(out, "`{path}` cannot be read: {why}"),
        }
    }
}

impl std::error::Error for LoadError {}

/// Never to be seen; but a protocol that is left out without a word would look clean.
fn left_out(block: &TreeBlock<'_>) -> Diagnostic {
    let span = block.head.first().map_or(block.span, |head| head.span());
    Diagnostic::error("syntax", span, "this protocol was read and not understood")
        .why("nothing of it is checked, and no sheet is printed")
        .help("this is a fault of tempwright; take out what was written last, and report it")
        .source("structural")
}

/// Reads and lowers the files at `paths`, which are relative to the project's root.
pub fn load(library: &dyn Library, paths: &[&str]) -> Result<Loaded, LoadError> {
    let mut loaded = Loaded::default();
    let mut reader = Reader {
        library,
        files: BTreeMap::new(),
    };
    let mut graphs = Vec::new();
    for path in paths {
        let path = normal(path);
        let root = reader
            .file(&path, &mut loaded.sources)
            .map_err(|error| LoadError {
                path: path.clone(),
                error,
            })?;
        loaded.roots.push(root);
        let uses = reader.uses(root, &path, &mut loaded);
        graphs.push((root, uses));
    }
    let mut loose = BTreeSet::new();
    let (protocols, mut found) = loop {
        match lowered(&loaded, &graphs, &loose) {
            Ok(all) => break all,
            Err(more) => loose.extend(more),
        }
    };
    loaded.protocols = protocols;
    loaded.diagnostics.append(&mut found);
    // One fault in a shared library is told once, however many use it.
    let mut seen = BTreeSet::new();
    loaded
        .diagnostics
        .retain(|found| seen.insert((found.name, found.place.span, found.title.clone())));
    Ok(loaded)
}

/// A file that was asked for, and the libraries that it uses, each with where that is said.
type Graph = (FileId, Vec<(FileId, Span)>);

type Lowered = (Vec<(FileId, Protocol)>, Vec<Diagnostic>);

/// The protocols, and what was found while they were parsed and lowered; or the files that turn
/// out to hold scenarios only, though they do not begin so.
fn lowered(
    loaded: &Loaded,
    graphs: &[Graph],
    loose_files: &BTreeSet<FileId>,
) -> Result<Lowered, BTreeSet<FileId>> {
    let sources = &loaded.sources;
    // A tree takes many times the room of its text. Kept are those that several protocols look
    // into; that of a protocol's own file is made when it is its turn.
    let used: BTreeSet<FileId> = graphs
        .iter()
        .flat_map(|(_, uses)| uses.iter().map(|(id, _)| *id))
        .collect();
    let trees: BTreeMap<FileId, Tree<'_>> = sources
        .iter()
        .filter(|(id, file)| {
            used.contains(id) || loose_files.contains(id) || !opens_protocol(&file.text)
        })
        .map(|(id, file)| (id, syntax::parse(id, file)))
        .filter(|(id, tree)| used.contains(id) || main_block(tree).is_none())
        .collect();
    // Scenarios may stand in files of their own.
    let loose: Vec<&TreeBlock<'_>> = loaded
        .roots
        .iter()
        .filter_map(|root| trees.get(root))
        .filter(|tree| main_block(tree).is_none())
        .flat_map(|tree| scenarios(tree))
        .collect();
    let mut claimed: BTreeSet<Span> = BTreeSet::new();
    let mut told: BTreeSet<FileId> = BTreeSet::new();
    let mut protocols = Vec::new();
    let mut found = Vec::new();
    let mut loose_too = BTreeSet::new();
    for (root, uses) in graphs {
        let Some(file) = sources.get(*root) else {
            continue;
        };
        let own;
        let tree = match trees.get(root) {
            Some(tree) => tree,
            None => {
                own = syntax::parse(*root, file);
                if main_block(&own).is_none() && !scenarios(&own).is_empty() {
                    loose_too.insert(*root);
                }
                &own
            }
        };
        let tree_of = |id: &FileId| {
            if id == root {
                Some(tree)
            } else {
                trees.get(id)
            }
        };
        for id in std::iter::once(root).chain(uses.iter().map(|(id, _)| id)) {
            if let Some(tree) = tree_of(id)
                && told.insert(*id)
            {
                found.extend(tree.diagnostics.iter().cloned());
            }
        }
        found.extend(shape(tree, *root, sources));
        let Some(block) = main_block(tree) else {
            continue;
        };
        if head_rule(block) != Some(R::protocol_head) {
            continue;
        }
        let (protocol, mut findings) = protocol_of(
            (*root, tree, block),
            uses,
            &trees,
            &loose,
            &mut claimed,
            sources,
        );
        let is_error = |found: &Diagnostic| found.level == Level::Error;
        let is_whole = !std::iter::once(root)
            .chain(uses.iter().map(|(id, _)| id))
            .filter_map(tree_of)
            .any(|tree| tree.diagnostics.iter().any(is_error));
        found.append(&mut findings);
        if protocol.is_none() && !loaded.diagnostics.iter().chain(&found).any(is_error) {
            found.push(left_out(block));
        }
        if let Some(protocol) = protocol.filter(|_| is_whole) {
            protocols.push((*root, protocol));
        }
    }
    if !loose_too.is_empty() {
        return Err(loose_too);
    }
    for block in loose {
        if !claimed.contains(&block.span)
            && let Some(head) = block.head.first()
        {
            found.push(
                Diagnostic::error(
                    "unknown-name",
                    head.span(),
                    "this scenario is for a protocol that was not read",
                )
                .why("it tries nothing")
                .help("name the protocol's file too, or correct the name after `for`")
                .source("structural"),
            );
        }
    }
    Ok((protocols, found))
}

/// Whether a file begins as one with a protocol or a library does, comments left aside: nearly
/// every other file holds scenarios only.
fn opens_protocol(text: &str) -> bool {
    let lines = text.lines().map(str::trim_start);
    let mut stated = lines.filter(|line| !line.is_empty() && !line.starts_with('#'));
    stated
        .next()
        .and_then(|line| line.split_whitespace().next())
        .is_some_and(|word| matches!(word, "protocol" | "library"))
}

fn protocol_of<'a>(
    (root, tree, block): (FileId, &'a Tree<'a>, &'a TreeBlock<'a>),
    uses: &[(FileId, Span)],
    trees: &'a BTreeMap<FileId, Tree<'a>>,
    loose: &[&'a TreeBlock<'a>],
    claimed: &mut BTreeSet<Span>,
    sources: &Sources,
) -> (Option<Protocol>, Vec<Diagnostic>) {
    let mut fragments = vec![Fragment {
        block,
        is_library: false,
    }];
    let mut used = Vec::new();
    let mut lost = lost_names(root, sources, Some(tree));
    for (id, span) in uses {
        lost.extend(lost_names(*id, sources, trees.get(id)));
        let Some(block) = trees.get(id).and_then(main_block) else {
            continue;
        };
        fragments.push(Fragment {
            block,
            is_library: true,
        });
        used.push(used_library(block, *id, *span, sources));
    }
    let name = block
        .head
        .first()
        .and_then(|head| head.find(R::name))
        .map_or("", |name| name.text());
    let mut all: Vec<&TreeBlock<'_>> = scenarios(tree);
    for scenario in loose {
        let of = scenario
            .head
            .first()
            .and_then(|head| head.find(R::name))
            .map_or("", |name| name.text());
        if of == name {
            claimed.insert(scenario.span);
            all.push(scenario);
        }
    }
    let span = sources
        .get(root)
        .map_or(block.span, |file| Span::new(root, 0, file.text.len()));
    lower::lower(&Input {
        fragments,
        scenarios: all,
        uses: used,
        lost,
        span,
    })
}

fn used_library(block: &TreeBlock<'_>, id: FileId, span: Span, sources: &Sources) -> Used {
    let text_of = |node: &Node<'_>| {
        let inner = node.find(R::text)?.first()?;
        Some(Text {
            markdown: inner.text().to_owned(),
            span: inner.span(),
        })
    };
    let line = |rule: R| {
        block
            .statements
            .iter()
            .filter_map(Node::first)
            .find(|statement| statement.rule() == rule)
    };
    let version = line(R::version).and_then(|node| {
        let node = node.find(R::three_numbers)?;
        let mut parts = node.text().split('.').map(str::parse);
        let mut next = || parts.next()?.ok();
        let version = Version {
            major: next()?,
            minor: next()?,
            patch: next()?,
        };
        Some(At::new(version, node.span()))
    });
    Used {
        path: sources
            .get(id)
            .map_or(String::new(), |file| file.path.clone()),
        name: block
            .head
            .first()
            .and_then(|head| head.find(R::name))
            .map_or(String::new(), |name| name.text().to_owned()),
        title: line(R::title).as_ref().and_then(text_of),
        version,
        review: line(R::review).and_then(|node| {
            let node = node.find(R::date)?;
            Some(At::new(node.text().parse().ok()?, node.span()))
        }),
        span,
    }
}

fn head_rule(block: &TreeBlock<'_>) -> Option<R> {
    block.head.first().map(|head| head.rule())
}

fn main_block<'a, 't>(tree: &'a Tree<'t>) -> Option<&'a TreeBlock<'t>> {
    tree.blocks
        .iter()
        .find(|block| matches!(head_rule(block), Some(R::protocol_head | R::library_head)))
}

fn scenarios<'a, 't>(tree: &'a Tree<'t>) -> Vec<&'a TreeBlock<'t>> {
    tree.blocks
        .iter()
        .filter(|block| head_rule(block) == Some(R::scenario_head))
        .collect()
}

/// A file holds one protocol or one library, or scenarios only.
fn shape(tree: &Tree<'_>, root: FileId, sources: &Sources) -> Vec<Diagnostic> {
    let mut found = Vec::new();
    if tree.blocks.is_empty() && tree.diagnostics.is_empty() {
        let first = sources.get(root).and_then(|file| file.text.chars().next());
        let end = first.map_or(0, char::len_utf8);
        found.push(
            Diagnostic::error(
                "empty-file",
                Span::new(root, 0, end),
                "the file holds no protocol, library or scenario",
            )
            .why("there is nothing to check or to print")
            .help("begin with `protocol NAME {`, or let `tempwright new` write a first one")
            .source("structural"),
        );
    }
    let mains: Vec<&TreeBlock<'_>> = tree
        .blocks
        .iter()
        .filter(|block| matches!(head_rule(block), Some(R::protocol_head | R::library_head)))
        .collect();
    if let [first, second, ..] = mains.as_slice() {
        found.push(
            Diagnostic::error(
                "stated-twice",
                second.head.span(),
                "one file holds one protocol or one library",
            )
            .also(first.head.span(), "the first one")
            .why("a version, an approval and a sheet each belong to one file")
            .help("move the second one into a file of its own")
            .source("structural"),
        );
    }
    found
}

/// What a broken statement would have declared, and which statements are broken
/// (with a space in front), so that nothing is said twice.
fn lost_names(id: FileId, sources: &Sources, tree: Option<&Tree<'_>>) -> BTreeSet<String> {
    let mut lost = BTreeSet::new();
    let (Some(tree), Some(file)) = (tree, sources.get(id)) else {
        return lost;
    };
    for found in &tree.diagnostics {
        let start = file
            .text
            .get(..found.place.span.start as usize)
            .and_then(|before| before.rfind('\n'))
            .map_or(0, |newline| newline + 1);
        let line = file.text.get(start..).unwrap_or("");
        let line = line.lines().next().unwrap_or("").trim_start();
        let mut words = line.split_whitespace();
        let first = words.next().unwrap_or("");
        lost.insert(format!(" {first}"));
        let second = words.next().unwrap_or("");
        let is_name = |word: &str| {
            !word.is_empty()
                && word
                    .chars()
                    .all(|character| character.is_ascii_alphanumeric() || character == '-')
        };
        for word in [first, second] {
            if is_name(word) {
                lost.insert(word.to_owned());
            }
        }
    }
    lost
}
