//! Source texts, positions in them, and where texts come from.
//!
//! Everything that is read has a [`FileId`]; every place in it is a [`Span`] of
//! byte offsets. Lines and columns are worked out only when something is shown.

use std::collections::BTreeMap;

/// One file among the [`Sources`] of a run.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct FileId(pub u32);

/// A stretch of bytes in one file: `start` is in it, `end` is not.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Span {
    pub file: FileId,
    pub start: u32,
    pub end: u32,
}

impl Span {
    pub fn new(file: FileId, start: usize, end: usize) -> Self {
        // Files are refused above 16 MiB, so offsets always fit.
        let clip = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
        Span {
            file,
            start: clip(start),
            end: clip(end),
        }
    }

    pub fn range(&self) -> std::ops::Range<usize> {
        self.start as usize..self.end as usize
    }

    /// The smallest span that covers both; they must be of the same file.
    pub fn to(self, other: Span) -> Span {
        Span {
            file: self.file,
            start: self.start.min(other.start),
            end: self.end.max(other.end),
        }
    }
}

/// A file that has been read.
#[derive(Debug, Clone)]
pub struct SourceFile {
    /// The path as it is shown: relative to the project's root, `/` between parts.
    pub path: String,
    pub text: String,
    line_starts: Vec<usize>,
}

/// A place as a person counts it: both from 1, the column in characters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct LineColumn {
    pub line: usize,
    pub column: usize,
}

impl SourceFile {
    pub fn new(path: impl Into<String>, text: impl Into<String>) -> Self {
        let text = text.into();
        let mut line_starts = vec![0];
        line_starts.extend(text.match_indices('\n').map(|(at, _)| at + 1));
        SourceFile {
            path: path.into(),
            text,
            line_starts,
        }
    }

    /// The text of a span; empty where the span lies outside the file.
    pub fn slice(&self, span: Span) -> &str {
        self.text.get(span.range()).unwrap_or("")
    }

    pub fn line_column(&self, offset: usize) -> LineColumn {
        let line = self.line_starts.partition_point(|start| *start <= offset);
        let start = line
            .checked_sub(1)
            .and_then(|index| self.line_starts.get(index))
            .copied()
            .unwrap_or(0);
        let column = self
            .text
            .get(start..offset.min(self.text.len()))
            .map_or(0, |before| before.chars().count());
        LineColumn {
            line: line.max(1),
            column: column + 1,
        }
    }
}

/// All files of one run, in the order in which they were read.
#[derive(Debug, Clone, Default)]
pub struct Sources {
    files: Vec<SourceFile>,
}

impl Sources {
    pub fn add(&mut self, file: SourceFile) -> FileId {
        self.files.push(file);
        FileId(u32::try_from(self.files.len() - 1).unwrap_or(u32::MAX))
    }

    pub fn get(&self, id: FileId) -> Option<&SourceFile> {
        self.files.get(id.0 as usize)
    }

    pub fn text(&self, span: Span) -> &str {
        self.get(span.file).map_or("", |file| file.slice(span))
    }

    pub fn iter(&self) -> impl Iterator<Item = (FileId, &SourceFile)> {
        self.files
            .iter()
            .enumerate()
            .map(|(index, file)| (FileId(u32::try_from(index).unwrap_or(u32::MAX)), file))
    }
}

/// Why a file could not be had.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum ReadError {
    /// There is no such file.
    Missing,
    /// The path leads out of the project's root.
    OutsideRoot,
    /// The file is larger than [`MAX_FILE_BYTES`].
    TooLarge,
    /// The bytes are not UTF-8; the offset of the first bad one.
    NotUtf8(usize),
    /// The system's own words.
    Other(String),
}

/// A protocol file above this size is refused unread: no protocol needs it.
pub const MAX_FILE_BYTES: u64 = 16 * 1024 * 1024;

/// Where files come from. The command line reads the disk or a git revision;
/// tests read from memory.
pub trait Library {
    /// The text at `path`, which is relative to the project's root with `/`
    /// between its parts and has no `.` or `..` part.
    fn read(&self, path: &str) -> Result<String, ReadError>;
}

/// Files held in memory.
#[derive(Debug, Clone, Default)]
pub struct MemoryLibrary {
    pub files: BTreeMap<String, String>,
}

impl MemoryLibrary {
    pub fn with(mut self, path: &str, text: &str) -> Self {
        self.files.insert(path.to_owned(), text.to_owned());
        self
    }
}

impl Library for MemoryLibrary {
    fn read(&self, path: &str) -> Result<String, ReadError> {
        self.files.get(path).cloned().ok_or(ReadError::Missing)
    }
}
