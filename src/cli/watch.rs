//! Doing something again whenever a file that it read has changed.

use super::format::{self, Format};
use super::output;
use super::project::CannotRun;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::time::{Duration, SystemTime};

/// Short enough that nobody waits, long enough that nothing is kept busy.
const PAUSE: Duration = Duration::from_millis(300);

/// Runs `once` now and after each change, and never ends by itself. What cannot be
/// run is told and tried again: a file is often gone for a moment while it is saved.
pub fn again_and_again(
    once: impl Fn() -> Result<(ExitCode, Vec<PathBuf>), CannotRun>,
    format: Format,
) -> Result<ExitCode, CannotRun> {
    let mut read = Vec::new();
    loop {
        let began = SystemTime::now();
        let earlier = state(&read);
        match once() {
            Ok((_, files)) => read = files,
            // Wrong from the very beginning: there is nothing to wait for.
            Err(error) if read.is_empty() => return Err(error),
            Err(error) => format::report_failure(&error, format),
        }
        let before = state(&read);
        // Saved while it was being read: what was told may be of the older text.
        if saved_meanwhile(&earlier, &before, began) {
            std::thread::sleep(PAUSE / 3);
            continue;
        }
        if matches!(format, Format::Human | Format::Concise) {
            output::print("waiting for changes; Ctrl-C ends\n\n")?;
        }
        while state(&read) == before {
            std::thread::sleep(PAUSE);
        }
        // An editor may write in several strokes.
        std::thread::sleep(PAUSE / 3);
    }
}

/// Of a file that was not known before there is only its time to go by; one that lies
/// in the future says nothing and would never end.
fn saved_meanwhile(earlier: &[Stamp], after: &[Stamp], began: SystemTime) -> bool {
    let now = SystemTime::now();
    after.iter().any(|stamp| {
        let known = earlier.iter().find(|known| known.0 == stamp.0);
        known.map_or_else(
            || {
                stamp
                    .1
                    .is_some_and(|(saved, _)| began < saved && saved < now)
            },
            |known| known != stamp,
        )
    })
}

type Stamp = (PathBuf, Option<(SystemTime, u64)>);

/// The files and, so that a new one is seen, their folders.
fn state(files: &[PathBuf]) -> Vec<Stamp> {
    let mut paths: Vec<PathBuf> = files.to_vec();
    paths.extend(
        files
            .iter()
            .filter_map(|file| file.parent())
            .map(Path::to_path_buf),
    );
    paths.sort();
    paths.dedup();
    paths
        .into_iter()
        .map(|path| {
            let stamp = std::fs::metadata(&path).ok().and_then(|meta| {
                // The length of a folder says nothing that its time does not.
                let length = if meta.is_dir() { 0 } else { meta.len() };
                Some((meta.modified().ok()?, length))
            });
            (path, stamp)
        })
        .collect()
}
