//! Every protocol that the project holds, loaded as a program would load it.

#![allow(clippy::expect_used, clippy::panic, dead_code)] // shared by several tests

use std::path::Path;
use tempwright::model::{Loaded, Protocol, load};
use tempwright::source::MemoryLibrary;

/// All files below these folders, by their path from the project's root.
pub fn library() -> MemoryLibrary {
    let mut library = MemoryLibrary::default();
    for folder in ["protocols", "protocols/shared", "tests/trials"] {
        let at = Path::new(env!("CARGO_MANIFEST_DIR")).join(folder);
        for entry in std::fs::read_dir(at).expect("the folder is there") {
            let path = entry.expect("an entry").path();
            if path.extension().is_some_and(|kind| kind == "protocol") {
                let name = path.file_name().and_then(|name| name.to_str());
                library.files.insert(
                    format!("{folder}/{}", name.expect("a plain name")),
                    std::fs::read_to_string(&path).expect("UTF-8 text"),
                );
            }
        }
    }
    library
}

/// The paths of the files that hold a protocol.
pub fn paths(library: &MemoryLibrary) -> Vec<String> {
    let paths: Vec<String> = library
        .files
        .keys()
        .filter(|path| !path.starts_with("protocols/shared/"))
        .cloned()
        .collect();
    assert!(paths.len() >= 26, "six demo protocols and twenty trials");
    paths
}

pub fn protocol(library: &MemoryLibrary, path: &str) -> Protocol {
    let mut loaded = try_load(library, path);
    assert!(
        !loaded.has_errors(),
        "{path}: {:?}",
        loaded.diagnostics.first()
    );
    loaded.protocols.remove(0).1
}

pub fn try_load(library: &MemoryLibrary, path: &str) -> Loaded {
    load(library, &[path]).expect("the file is there")
}

/// What a protocol says, without the positions in its text.
pub fn without_positions(protocol: &Protocol) -> String {
    let text = format!("{protocol:?}");
    let mut out = String::with_capacity(text.len());
    let mut rest = text.as_str();
    while let Some((before, after)) = rest.split_once("Span {") {
        out.push_str(before);
        // `file: FileId(0), start: 1, end: 2 }`
        rest = after.split_once('}').expect("a position ends").1;
    }
    out.push_str(rest);
    out
}
