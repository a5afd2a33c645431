//! Why a file is not taken as a rule file, in words for whoever holds it.

use std::fmt;

/// What sort of refusal it is, for programs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum RefusedFor {
    /// It is not JSON, or is cut off.
    NotJson,
    /// It is JSON, but not of this kind.
    NotARuleFile,
    /// Of a major version that this reader does not know.
    OtherMajor,
    /// It holds something that its version of the format does not have.
    UnknownField,
    /// The meaning is not the one that its fingerprint stands for.
    BrokenFingerprint,
    /// Something beside the meaning was changed after it was written.
    Changed,
    /// A name that is nowhere declared, a number that does not agree with its
    /// text, a word in the wrong place.
    Inconsistent,
}

/// A file that is not taken, why that matters, and what to do.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refusal {
    pub reason: RefusedFor,
    pub title: String,
    pub why: &'static str,
    pub help: &'static str,
}

impl Refusal {
    pub fn new(reason: RefusedFor, title: impl Into<String>) -> Self {
        let (why, help) = match reason {
            RefusedFor::NotJson | RefusedFor::NotARuleFile => (
                "nothing that it says could be relied upon",
                "give the file that `export` has written, whole and unchanged",
            ),
            RefusedFor::OtherMajor => (
                "in another major version the same words can mean something else",
                "read it with the program that has written it, or write it again from the protocol with this one",
            ),
            RefusedFor::UnknownField => (
                "what this program does not know it would silently leave out",
                "write the file again from the protocol; a rule file is never edited by hand",
            ),
            RefusedFor::BrokenFingerprint => (
                "it is not the protocol that the committee has approved under this fingerprint",
                "write the file again from the protocol; a rule file is never edited by hand",
            ),
            RefusedFor::Changed => (
                "a change that nobody approved would be passed on",
                "write the file again from the protocol; a rule file is never edited by hand",
            ),
            RefusedFor::Inconsistent => (
                "two programs could read two different orders from it",
                "write the file again from the protocol",
            ),
        };
        Refusal {
            reason,
            title: title.into(),
            why,
            help,
        }
    }

    pub(super) fn inconsistent(title: impl Into<String>) -> Self {
        Refusal::new(RefusedFor::Inconsistent, title)
    }
}

impl fmt::Display for Refusal {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(out, "{}", self.title)?;
        writeln!(out, "  why:  {}", self.why)?;
        write!(out, "  help: {}", self.help)
    }
}

impl std::error::Error for Refusal {}
