//! The program on a terminal of its own.

use std::path::Path;
use std::process::Output;

#[path = "python.rs"]
mod python;

/// Runs it there; each answer is typed once it has asked. `None` where there is no Python to
/// make a terminal.
pub fn on_a_terminal(folder: &Path, arguments: &[&str], answers: &[&str]) -> Option<Output> {
    let child = python::start("outside/terminal.py", |python| {
        python
            .arg(env!("CARGO_BIN_EXE_tempwright"))
            .args(arguments)
            .current_dir(folder);
    })?;
    Some(python::tell(child, answers.join("\n")))
}
