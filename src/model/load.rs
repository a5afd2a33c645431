//! From paths to protocols: reads a file with all that it uses, parses and lowers
//! all of it.
//!
//! Takes a [`Library`] and the paths of the files that are asked for, gives every
//! text that was read, the protocols that are whole, and all findings of the
//! notation family. It can fail only where a file that was asked for cannot be
//! read at all. [`load`] keeps all protocols; [`Opened::each`] lets each go once
//! something was made of it, so that a library of thousands needs little memory.

use super::lower::{self, Fragment, Input};
use super::uses::{Asked, Opened, open};
use super::*;
use crate::diag::{self, Diagnostic, Level};
use crate::parallel;
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
        self.diagnostics.iter().any(is_error)
    }
}

/// What a file that was asked for holds.
#[derive(Debug)]
pub struct Lowered {
    pub root: FileId,
    /// `None` where there is none, or one with errors.
    pub protocol: Option<Protocol>,
    /// What is wrong with its uses, and what was found while it was parsed and put together. What
    /// is wrong in a library itself is told with the first file that uses it.
    pub found: Vec<Diagnostic>,
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

fn is_error(found: &Diagnostic) -> bool {
    found.level == Level::Error
}

/// Reads and lowers the files at `paths`, which are relative to the project's root.
pub fn load(library: &dyn Library, paths: &[&str]) -> Result<Loaded, LoadError> {
    let opened = open(library, paths)?;
    let (all, mut rest) = opened.each(|lowered| lowered);
    let mut loaded = Loaded {
        sources: opened.sources,
        missing: opened.missing,
        ..Loaded::default()
    };
    for mut lowered in all {
        let root = lowered.root;
        loaded.roots.push(root);
        loaded.diagnostics.append(&mut lowered.found);
        let protocol = lowered.protocol.map(|protocol| (root, protocol));
        loaded.protocols.extend(protocol);
    }
    loaded.diagnostics.append(&mut rest);
    // One fault in a shared library is told once, however many use it.
    diag::tell_once(&mut loaded.diagnostics);
    Ok(loaded)
}

impl Opened {
    /// How many files were asked for.
    pub fn asked_for(&self) -> usize {
        self.asked.len()
    }

    /// What `work` makes of each file that was asked for, in that order, on as many threads as
    /// there are cores; and the findings that belong to none of them.
    pub fn each<R: Send>(&self, work: impl Fn(Lowered) -> R + Sync) -> (Vec<R>, Vec<Diagnostic>) {
        let mut used: BTreeMap<FileId, FileId> = BTreeMap::new();
        for asked in &self.asked {
            for (id, _) in &asked.uses {
                used.entry(*id).or_insert(asked.root);
            }
        }
        // Scenarios may stand in files of their own.
        let is_loose = |root: &FileId| {
            let file = self.sources.get(*root);
            file.is_some_and(|file| !syntax::holds_main(*root, file))
        };
        let roots = self.asked.iter().map(|asked| asked.root);
        let loose: BTreeSet<FileId> = roots.filter(is_loose).collect();
        let made = parallel::map_with(
            self.asked.iter().collect(),
            || Shared::of(self, &used, &loose),
            |shared, asked| {
                let (lowered, scenarios) = shared.lowered(asked);
                (work(lowered), scenarios)
            },
        );
        let mut scenarios = Scenarios::default();
        let mut all = Vec::new();
        for (one, mut of_one) in made {
            scenarios.claimed.append(&mut of_one.claimed);
            scenarios.loose.append(&mut of_one.loose);
            all.push(one);
        }
        (all, scenarios.unclaimed())
    }
}

/// Scenarios in files of their own.
#[derive(Default)]
struct Scenarios {
    /// Those of protocols that were read.
    claimed: BTreeSet<Span>,
    /// All of them, each with its head.
    loose: Vec<(Span, Span)>,
}

impl Scenarios {
    fn unclaimed(self) -> Vec<Diagnostic> {
        let Scenarios { claimed, loose } = self;
        let unclaimed = loose
            .into_iter()
            .filter(|(span, _)| !claimed.contains(span));
        unclaimed
            .map(|(_, head)| {
                Diagnostic::error(
                    "unknown-name",
                    head,
                    "this scenario is for a protocol that was not read",
                )
                .why("it tries nothing")
                .help("name the protocol's file too, or correct the name after `for`")
                .source("structural")
            })
            .collect()
    }
}

/// What the files of a run have in common. A tree takes many times the room of its text, so that
/// of a protocol's own file is made when it is its turn.
struct Shared<'a> {
    opened: &'a Opened,
    /// Libraries that are used, each with the first file that uses it.
    used: &'a BTreeMap<FileId, FileId>,
    /// Of those, and of files that hold scenarios only.
    trees: BTreeMap<FileId, Tree<'a>>,
    loose: &'a BTreeSet<FileId>,
}

impl<'a> Shared<'a> {
    fn of(
        opened: &'a Opened,
        used: &'a BTreeMap<FileId, FileId>,
        loose: &'a BTreeSet<FileId>,
    ) -> Self {
        let sources = opened.sources.iter();
        Shared {
            opened,
            used,
            trees: sources
                .filter(|(id, _)| used.contains_key(id) || loose.contains(id))
                .map(|(id, file)| (id, syntax::parse(id, file)))
                .collect(),
            loose,
        }
    }

    /// The scenarios that stand in files of their own.
    fn scenarios(&self) -> impl Iterator<Item = &TreeBlock<'a>> {
        self.loose
            .iter()
            .filter_map(|root| self.trees.get(root))
            .flat_map(|tree| scenarios(tree))
    }

    /// What a file holds, which scenarios of other files it has claimed, and its own that have to be.
    fn lowered(&self, asked: &Asked) -> (Lowered, Scenarios) {
        let Asked { root, uses, found } = asked;
        let sources = &self.opened.sources;
        let mut lowered = Lowered {
            root: *root,
            protocol: None,
            found: found.clone(),
        };
        let mut of_it = Scenarios::default();
        let Some(file) = sources.get(*root) else {
            return (lowered, of_it);
        };
        let own;
        let tree = match self.trees.get(root) {
            Some(tree) => tree,
            None => {
                own = syntax::parse(*root, file);
                &own
            }
        };
        if self.loose.contains(root) {
            let heads = scenarios(tree).into_iter();
            let heads = heads.filter_map(|one| Some((one.span, one.head.first()?.span())));
            of_it.loose = heads.collect();
        }
        let found = &mut lowered.found;
        found.extend(tree.diagnostics.iter().cloned());
        let mut is_whole = !tree.diagnostics.iter().any(is_error);
        for (id, _) in uses {
            let Some(tree) = self.trees.get(id) else {
                continue;
            };
            is_whole &= !tree.diagnostics.iter().any(is_error);
            if self.used.get(id) == Some(root) {
                found.extend(tree.diagnostics.iter().cloned());
            }
        }
        found.extend(shape(tree, *root, sources));
        if let Some(block) = main_block(tree)
            && head_rule(block) == Some(R::protocol_head)
        {
            let (protocol, mut findings) =
                self.protocol_of((*root, tree, block), uses, &mut of_it.claimed);
            found.append(&mut findings);
            if protocol.is_none() && is_whole && !found.iter().any(is_error) {
                found.push(left_out(block));
            }
            lowered.protocol = protocol.filter(|_| is_whole);
        }
        diag::tell_once(found);
        (lowered, of_it)
    }

    fn protocol_of(
        &self,
        (root, tree, block): (FileId, &Tree<'_>, &TreeBlock<'_>),
        uses: &[(FileId, Span)],
        claimed: &mut BTreeSet<Span>,
    ) -> (Option<Protocol>, Vec<Diagnostic>) {
        let sources = &self.opened.sources;
        let trees = &self.trees;
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
        for scenario in self.scenarios() {
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
