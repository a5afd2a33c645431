//! Dependencies point one way along the pipeline: a module uses only those before it.

#![allow(clippy::expect_used)] // a test says so by panicking

use std::path::{Path, PathBuf};

/// From the text to the terminal. `src/lib.rs` draws the same.
const ORDER: &[&str] = &[
    "parallel", "source", "diag", "quantity", "syntax", "format", "model", "plan", "forecast",
    "words", "eval", "rehearse", "audit", "solve", "suggest", "rules", "approval", "checks",
    "document", "sheet", "report", "starter", "compare", "kit", "lsp", "cli",
];

fn files(folder: &Path, into: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).expect("a folder") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            files(&path, into);
        } else if path.extension().is_some_and(|ending| ending == "rs") {
            into.push(path);
        }
    }
}

/// The program's own lines: a file of tests, and what follows `#[cfg(test)]`, may
/// use everything.
fn code(path: &Path) -> String {
    let name = path.file_stem().expect("a name").to_string_lossy();
    if name.contains("test") || name == "sample" {
        return String::new();
    }
    let text = std::fs::read_to_string(path).expect("text");
    let own = match text.find("#[cfg(test)]\nmod tests {") {
        Some(at) => &text[..at],
        None => &text,
    };
    own.lines()
        .filter(|line| !line.trim_start().starts_with("//"))
        .collect::<Vec<_>>()
        .join("\n")
}

#[test]
fn every_arrow_points_back() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut all = Vec::new();
    files(&root, &mut all);
    assert!(all.len() > 50, "the sources were found");
    let place = |module: &str| ORDER.iter().position(|known| *known == module);
    let mut wrong = Vec::new();
    for path in all {
        let inside = path.strip_prefix(&root).expect("inside");
        let first = inside.components().next().expect("a part");
        let module = first.as_os_str().to_string_lossy().replace(".rs", "");
        if matches!(module.as_str(), "lib" | "main") {
            continue;
        }
        let Some(here) = place(&module) else {
            wrong.push(format!("`{module}` has no place in the order"));
            continue;
        };
        let text = code(&path);
        for used in text.split("crate::").skip(1) {
            let used: String = used
                .chars()
                .take_while(|character| character.is_ascii_lowercase() || *character == '_')
                .collect();
            if place(&used).is_some_and(|there| there > here) {
                wrong.push(format!("{} uses `{used}`", inside.display()));
            }
        }
        // Only the outermost modules touch files, clock, terminal and environment.
        if !matches!(module.as_str(), "cli" | "lsp") {
            for outside in [
                "std::fs",
                "std::env",
                "SystemTime",
                "Instant::now",
                "println!",
                "std::process",
            ] {
                if text.contains(outside) {
                    wrong.push(format!("{} touches `{outside}`", inside.display()));
                }
            }
        }
    }
    wrong.sort();
    wrong.dedup();
    assert!(wrong.is_empty(), "{wrong:#?}");
}
