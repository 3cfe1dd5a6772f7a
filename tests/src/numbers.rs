//! Work for many numbers, on all processors.

use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc;

/// Does `work` for numbers below a count, on every processor, and takes what it gives in the order of the numbers, so that the
/// number of threads changes nothing.
///
/// # Panics
///
/// When `work` does.
pub fn all<T: Send>(count: u64, work: impl Fn(u64) -> T + Sync, mut take: impl FnMut(T)) {
    let threads = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
    let next = AtomicU64::new(0);
    let (send, receive) = mpsc::channel();
    std::thread::scope(|scope| {
        for _ in 0..threads {
            let (send, next, work) = (send.clone(), &next, &work);
            scope.spawn(move || {
                loop {
                    let number = next.fetch_add(1, Ordering::Relaxed);
                    if number >= count || send.send((number, work(number))).is_err() {
                        break;
                    }
                }
            });
        }
        drop(send);
        let mut waiting = std::collections::BTreeMap::new();
        let mut due = 0;
        for (number, done) in receive {
            waiting.insert(number, done);
            while let Some(done) = waiting.remove(&due) {
                take(done);
                due += 1;
            }
        }
        assert_eq!(due, count, "every number was done");
    });
}
