//! Open texts over the files on disk, and what was last made of them.

use crate::model::{Loaded, load};
use crate::source::{Library, ReadError, SourceFile};
use crate::syntax::{self, Index};
use lsp_types::Uri;
use std::collections::BTreeMap;
use std::str::FromStr as _;

/// Texts that are open in the editor hide the files beneath.
pub struct Overlay<'a> {
    pub open: &'a BTreeMap<String, String>,
    pub disk: &'a dyn Library,
}

impl Library for Overlay<'_> {
    fn read(&self, path: &str) -> Result<String, ReadError> {
        match self.open.get(path) {
            Some(text) => Ok(text.clone()),
            None => self.disk.read(path),
        }
    }
}

/// Texts by path below the root, and the last good reading of each protocol.
pub struct Documents {
    /// Absolute path of the root, without a slash at its end.
    root: String,
    disk: Box<dyn Library + Send>,
    pub open: BTreeMap<String, String>,
    /// Kept while the file is broken.
    last_good: BTreeMap<String, Loaded>,
}

impl Documents {
    pub fn new(root: String, disk: Box<dyn Library + Send>) -> Self {
        Documents {
            root: root.trim_end_matches('/').to_owned(),
            disk,
            open: BTreeMap::new(),
            last_good: BTreeMap::new(),
        }
    }

    /// The path below the root; `None` for what lies elsewhere.
    pub fn path(&self, uri: &Uri) -> Option<String> {
        let text = uri.as_str().strip_prefix("file://")?;
        let decoded = decode(text);
        let inside = decoded.strip_prefix(&self.root)?.strip_prefix('/')?;
        (!inside.is_empty()).then(|| inside.to_owned())
    }

    pub fn uri(&self, path: &str) -> Option<Uri> {
        uri_of(&self.root, path)
    }

    pub fn overlay(&self) -> Overlay<'_> {
        Overlay {
            open: &self.open,
            disk: self.disk.as_ref(),
        }
    }

    pub fn text(&self, path: &str) -> Option<String> {
        self.overlay().read(path).ok()
    }

    /// Reads a file with all that it uses; a whole protocol is remembered.
    pub fn load(&mut self, path: &str) -> Option<Loaded> {
        let loaded = load(&self.overlay(), &[path]).ok()?;
        if !loaded.protocols.is_empty() {
            self.last_good.insert(path.to_owned(), loaded.clone());
        }
        Some(loaded)
    }

    /// Of a library, that of a protocol that uses it.
    pub fn last_good(&self, path: &str) -> Option<&Loaded> {
        let uses_it = |loaded: &&Loaded| loaded.sources.iter().any(|(_, file)| file.path == path);
        self.last_good
            .get(path)
            .or_else(|| self.last_good.values().find(uses_it))
    }

    /// Names of this file and of all that it uses: path, text and index of each.
    pub fn indexes(&self, path: &str) -> Vec<(String, String, Index)> {
        let mut found = Vec::new();
        let Ok(loaded) = load(&self.overlay(), &[path]) else {
            return found;
        };
        for (id, file) in loaded.sources.iter() {
            found.push((file.path.clone(), file.text.clone(), index(id, file)));
        }
        found
    }

    /// The open files that use this one, and itself.
    pub fn family(&self, path: &str) -> Vec<String> {
        let mut found = vec![path.to_owned()];
        for other in self.open.keys().filter(|other| *other != path) {
            let uses_it = load(&self.overlay(), &[other])
                .is_ok_and(|loaded| loaded.sources.iter().any(|(_, file)| file.path == path));
            if uses_it {
                found.push(other.clone());
            }
        }
        found
    }
}

/// The address of a path below a root.
pub fn uri_of(root: &str, path: &str) -> Option<Uri> {
    let full = format!("{root}/{path}");
    let mut text = String::from("file://");
    for byte in full.bytes() {
        match byte {
            b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'-' | b'.' | b'_' | b'~' | b'/' => {
                text.push(char::from(byte));
            }
            other => text.push_str(&format!("%{other:02X}")),
        }
    }
    Uri::from_str(&text).ok()
}

fn index(id: crate::source::FileId, file: &SourceFile) -> Index {
    Index::of(&syntax::parse(id, file))
}

pub fn decode(text: &str) -> String {
    let mut bytes = Vec::new();
    let mut rest = text.bytes();
    while let Some(byte) = rest.next() {
        if byte != b'%' {
            bytes.push(byte);
            continue;
        }
        let hex: Option<u8> = rest.next().zip(rest.next()).and_then(|(high, low)| {
            let digit = |byte: u8| char::from(byte).to_digit(16);
            u8::try_from(digit(high)? * 16 + digit(low)?).ok()
        });
        bytes.push(hex.unwrap_or(b'?'));
    }
    String::from_utf8_lossy(&bytes).into_owned()
}
