//! How far a long job has come: one line on the terminal, and nothing where standard
//! error is none.

use std::io::{IsTerminal as _, Write as _};

pub struct Line {
    on: bool,
    shown: Option<(String, u64)>,
}

impl Line {
    pub fn new() -> Line {
        Line {
            on: std::io::stderr().is_terminal(),
            shown: None,
        }
    }

    /// Shows it where it has changed by a percent.
    pub fn show(&mut self, label: &str, done: u64, of: u64) {
        if !self.on {
            return;
        }
        let percent = (done * 100).checked_div(of.max(1)).unwrap_or(0).min(100);
        if self
            .shown
            .as_ref()
            .is_some_and(|(known, shown)| known == label && *shown == percent)
        {
            return;
        }
        let filled = usize::try_from(percent / 5).unwrap_or(20);
        let bar = format!("{}{}", "#".repeat(filled), ".".repeat(20 - filled));
        let label: String = label.chars().take(40).collect();
        // A terminal that cannot be written to is no reason to stop.
        let _ = write!(std::io::stderr(), "\r[{bar}] {percent:>3} %  {label}\x1b[K");
        let _ = std::io::stderr().flush();
        self.shown = Some((label, percent));
    }

    /// Takes the line away.
    pub fn clear(&mut self) {
        if self.on && self.shown.take().is_some() {
            let _ = write!(std::io::stderr(), "\r\x1b[K");
        }
    }
}

impl Drop for Line {
    fn drop(&mut self) {
        self.clear();
    }
}
