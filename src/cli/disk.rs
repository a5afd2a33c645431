//! The disk as a [`Library`]: the only place that opens protocol files.

use crate::source::{Library, MAX_FILE_BYTES, ReadError};
use std::fs::File;
use std::io::{ErrorKind, Read as _};
use std::path::{Path, PathBuf};

/// Files below one folder. Links that lead out of it are refused.
#[derive(Debug, Clone)]
pub struct Disk {
    root: PathBuf,
}

impl Disk {
    pub fn new(root: impl Into<PathBuf>) -> Self {
        Disk { root: root.into() }
    }

    pub fn root(&self) -> &Path {
        &self.root
    }
}

impl Library for Disk {
    fn read(&self, path: &str) -> Result<String, ReadError> {
        let full = self.root.join(path);
        let real = full.canonicalize().map_err(|error| told(&error))?;
        let root = self.root.canonicalize().map_err(|error| told(&error))?;
        if !real.starts_with(&root) {
            return Err(ReadError::OutsideRoot);
        }
        let kind = std::fs::metadata(&real).map_err(|error| told(&error))?;
        if waits(&kind) {
            return Err(ReadError::Other("it is a pipe, not a file".to_owned()));
        }
        let file = File::open(&real).map_err(|error| told(&error))?;
        let meta = file.metadata().map_err(|error| told(&error))?;
        if meta.is_dir() {
            return Err(ReadError::Other("it is a folder".to_owned()));
        }
        if meta.len() > MAX_FILE_BYTES {
            return Err(ReadError::TooLarge);
        }
        let mut bytes = Vec::new();
        // A device or a growing file has no length to go by.
        file.take(MAX_FILE_BYTES + 1)
            .read_to_end(&mut bytes)
            .map_err(|error| told(&error))?;
        if bytes.len() as u64 > MAX_FILE_BYTES {
            return Err(ReadError::TooLarge);
        }
        String::from_utf8(bytes)
            .map_err(|error| ReadError::NotUtf8(error.utf8_error().valid_up_to()))
    }
}

/// Opening it would wait until somebody writes to it, perhaps for ever.
#[cfg(unix)]
fn waits(meta: &std::fs::Metadata) -> bool {
    use std::os::unix::fs::FileTypeExt as _;
    meta.file_type().is_fifo()
}

#[cfg(not(unix))]
fn waits(_: &std::fs::Metadata) -> bool {
    false
}

fn told(error: &std::io::Error) -> ReadError {
    match error.kind() {
        ErrorKind::NotFound => ReadError::Missing,
        ErrorKind::PermissionDenied => {
            ReadError::Other("you have no permission to read it".to_owned())
        }
        _ => ReadError::Other(error.to_string()),
    }
}
