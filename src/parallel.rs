//! Work on many things side by side, as many as there are cores.
//!
//! The answers come in the order of the things, whoever was ready first, so that the same
//! input gives the same output on any machine. Where there is one core, or threads cannot
//! be had, everything is done by the caller's own thread.

use std::cell::Cell;
use std::sync::{Mutex, PoisonError};

/// Bytes of stack for a thread that checks: a deep protocol must not meet a small one.
pub const STACK: usize = 64 * 1024 * 1024;

thread_local! {
    /// Whether this thread has its part of a work that is shared already.
    static SHARES: Cell<bool> = const { Cell::new(false) };
}

/// How many threads may work side by side: one where every core has its work already.
pub fn threads() -> usize {
    if SHARES.get() {
        return 1;
    }
    std::thread::available_parallelism().map_or(1, std::num::NonZero::get)
}

/// Does a work on this thread alone, as a part of a shared one or to see what it takes.
pub fn alone<R>(work: impl FnOnce() -> R) -> R {
    let before = SHARES.replace(true);
    let made = work();
    SHARES.set(before);
    made
}

/// What both give: `own` on the caller's thread, `other` on another one. A panic is passed on.
pub fn both<A, B: Send>(own: impl FnOnce() -> A, other: impl Fn() -> B + Sync) -> (A, B) {
    if threads() < 2 {
        return (own(), other());
    }
    std::thread::scope(|scope| {
        let thread = std::thread::Builder::new()
            .stack_size(STACK)
            .spawn_scoped(scope, || alone(&other));
        let own = alone(own);
        match thread.map(std::thread::ScopedJoinHandle::join) {
            Ok(Ok(made)) => (own, made),
            Ok(Err(panic)) => std::panic::resume_unwind(panic),
            Err(_) => (own, other()),
        }
    })
}

/// What `work` makes of each item, in the order of the items. A panic in `work` is passed on.
pub fn map<T: Send, R: Send>(items: Vec<T>, work: impl Fn(T) -> R + Sync) -> Vec<R> {
    map_with(items, || (), |(), item| work(item))
}

/// The same, where `work` needs something that no two threads can share: each makes its own.
pub fn map_with<T: Send, S, R: Send>(
    items: Vec<T>,
    own: impl Fn() -> S + Sync,
    work: impl Fn(&S, T) -> R + Sync,
) -> Vec<R> {
    let threads = threads().min(items.len());
    if threads < 2 {
        let own = own();
        return items.into_iter().map(|item| work(&own, item)).collect();
    }
    let queue = Mutex::new(items.into_iter().enumerate());
    let next = || queue.lock().unwrap_or_else(PoisonError::into_inner).next();
    let some = || {
        let own = own();
        let mut done = Vec::new();
        while let Some((at, item)) = next() {
            done.push((at, work(&own, item)));
        }
        done
    };
    let mut done = std::thread::scope(|scope| {
        let others: Vec<_> = (1..threads)
            .filter_map(|_| {
                let thread = std::thread::Builder::new().stack_size(STACK);
                thread.spawn_scoped(scope, || alone(some)).ok()
            })
            .collect();
        let mut done = alone(some);
        for other in others {
            match other.join() {
                Ok(part) => done.extend(part),
                Err(panic) => std::panic::resume_unwind(panic),
            }
        }
        done
    });
    done.sort_unstable_by_key(|(at, _)| *at);
    done.into_iter().map(|(_, made)| made).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_order_is_that_of_the_items_whoever_is_ready_first() {
        let items: Vec<u64> = (0..200).collect();
        let made = map(items, |item| {
            // The first ones take longest.
            std::thread::sleep(std::time::Duration::from_micros(200 - item));
            item * 2
        });
        assert_eq!(made, (0..200).map(|item| item * 2).collect::<Vec<_>>());
        assert_eq!(map(Vec::<u64>::new(), |item| item), Vec::<u64>::new());
    }

    #[test]
    fn two_works_are_done_side_by_side_and_theirs_one_after_the_other() {
        let (own, other) = both(threads, threads);
        assert_eq!(
            (own, other),
            if threads() < 2 {
                (threads(), threads())
            } else {
                (1, 1)
            }
        );
        assert_eq!(
            map(vec![1, 2, 3], |item| (item, threads())),
            [(1, 1), (2, 1), (3, 1)]
        );
        let inner = map(vec![1, 2], |item| both(|| item, || item * 10));
        assert_eq!(inner, [(1, 10), (2, 20)]);
    }

    #[test]
    #[should_panic(expected = "said by the other")]
    fn a_panic_of_the_other_is_not_lost() {
        both(|| 1, || panic!("said by the other"));
    }

    #[test]
    #[should_panic(expected = "said by the work")]
    fn a_panic_is_not_lost() {
        map(vec![1, 2, 3, 4], |item| {
            assert!(item != 3, "said by the work");
        });
    }
}
