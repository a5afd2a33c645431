//! The whole check, beside the typing.
//!
//! Whether conditions can hold together takes longer than a keystroke may. What is
//! quick is answered at once by the server itself; this thread checks everything
//! once the typing pauses, and publishes what it finds unless the text has gone on.

use super::findings::Shown;
use crate::checks::run::check_all;
use crate::model::Loaded;
use lsp_server::{Message, Notification};
use lsp_types::PublishDiagnosticsParams;
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::JoinHandle;
use std::time::Duration;

/// So long nobody types before everything is checked.
const PAUSE: Duration = Duration::from_millis(150);

/// The files to check, as they were read, and which state of the texts that was.
struct Job {
    state: u64,
    files: Vec<(String, Loaded)>,
}

pub struct Thorough {
    jobs: Option<Sender<Job>>,
    /// Counts the states of the texts. Held while something is published, so that
    /// what belongs to an older text never comes after what belongs to a newer one.
    state: Arc<Mutex<u64>>,
    thread: Option<JoinHandle<()>>,
}

impl Thorough {
    /// `tell` sends a message to the editor.
    pub fn start(
        shown: Shown,
        today: Option<jiff::civil::Date>,
        tell: impl Fn(Message) + Send + 'static,
    ) -> Thorough {
        let (jobs, waiting) = channel();
        let state = Arc::new(Mutex::new(0));
        let known = Arc::clone(&state);
        let thread = std::thread::Builder::new()
            // A deep protocol must not meet a small stack.
            .stack_size(crate::parallel::STACK)
            .spawn(move || work(&waiting, &shown, today, &known, &tell))
            .ok();
        Thorough {
            jobs: Some(jobs),
            state,
            thread,
        }
    }

    /// The texts are others from now on: nothing older is published any more.
    pub fn changed(&self) {
        let mut state = self.state.lock().unwrap_or_else(PoisonError::into_inner);
        *state += 1;
    }

    /// Everything is to be checked, as it stands now.
    pub fn check(&self, files: Vec<(String, Loaded)>) {
        let state = *self.state.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(jobs) = &self.jobs {
            // Without its thread the quick findings remain.
            let _ = jobs.send(Job { state, files });
        }
    }
}

impl Drop for Thorough {
    fn drop(&mut self) {
        self.changed();
        self.jobs = None;
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

fn work(
    jobs: &Receiver<Job>,
    shown: &Shown,
    today: Option<jiff::civil::Date>,
    known: &Mutex<u64>,
    tell: &dyn Fn(Message),
) {
    while let Ok(mut job) = jobs.recv() {
        loop {
            match jobs.recv_timeout(PAUSE) {
                Ok(newer) => job = newer,
                Err(RecvTimeoutError::Timeout) => break,
                Err(RecvTimeoutError::Disconnected) => return,
            }
        }
        for (path, loaded) in job.files {
            let checked = check_all(loaded, today);
            let state = known.lock().unwrap_or_else(PoisonError::into_inner);
            if *state != job.state {
                break;
            }
            if let Some(message) = shown.published(&path, &checked).and_then(message) {
                tell(message);
            }
        }
    }
}

/// The editor's message with these findings.
pub fn message(published: PublishDiagnosticsParams) -> Option<Message> {
    Some(Message::Notification(Notification {
        method: "textDocument/publishDiagnostics".to_owned(),
        params: serde_json::to_value(published).ok()?,
    }))
}
