//! The engine as the page calls it: plain functions over the memory that both see.
//!
//! ```text
//! room = need(length)   the page writes that many bytes there
//! open(length)          reads them as the texts of the protocols; 1, or 0 and a reason in the answer
//! ask(length)           reads them as a question; the length of the answer
//! answer()              where the answer is
//! typeface(n), typeface_length(n)   the regular (0) and the bold (1) typeface
//! ```
//!
//! There is one page and one thread, so one place for what is passed is enough.

use super::answer::{Engine, Texts};
use crate::document::typeface::{BOLD, REGULAR};
use std::cell::RefCell;

#[derive(Default)]
struct Held {
    room: Vec<u8>,
    answer: String,
    engine: Option<Engine>,
}

thread_local! {
    static HELD: RefCell<Held> = RefCell::default();
}

impl Held {
    fn text(&self, length: usize) -> &str {
        self.room
            .get(..length)
            .and_then(|bytes| std::str::from_utf8(bytes).ok())
            .unwrap_or("")
    }
}

#[unsafe(no_mangle)]
extern "C" fn need(length: usize) -> *mut u8 {
    HELD.with_borrow_mut(|held| {
        held.room = vec![0; length];
        held.room.as_mut_ptr()
    })
}

#[unsafe(no_mangle)]
extern "C" fn open(length: usize) -> u32 {
    HELD.with_borrow_mut(
        |held| match serde_json::from_str::<Texts>(held.text(length)) {
            Ok(texts) => {
                held.engine = Some(Engine::new(texts));
                1
            }
            Err(error) => {
                held.answer = error.to_string();
                0
            }
        },
    )
}

#[unsafe(no_mangle)]
extern "C" fn ask(length: usize) -> usize {
    HELD.with_borrow_mut(|held| {
        let question = held.text(length).to_owned();
        held.answer = match &mut held.engine {
            Some(engine) => engine.answer(&question),
            None => "{\"fault\":\"no protocols were opened\"}".to_owned(),
        };
        held.answer.len()
    })
}

#[unsafe(no_mangle)]
extern "C" fn answer() -> *const u8 {
    HELD.with_borrow(|held| held.answer.as_ptr())
}

#[unsafe(no_mangle)]
extern "C" fn answer_length() -> usize {
    HELD.with_borrow(|held| held.answer.len())
}

#[unsafe(no_mangle)]
extern "C" fn typeface(bold: u32) -> *const u8 {
    if bold == 0 { REGULAR } else { BOLD }.as_ptr()
}

#[unsafe(no_mangle)]
extern "C" fn typeface_length(bold: u32) -> usize {
    if bold == 0 { REGULAR } else { BOLD }.len()
}
