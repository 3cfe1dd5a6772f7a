//! How long a piece of work takes.

use std::fs;
use std::time::Instant;

/// A clock that was started.
#[derive(Debug)]
pub struct Clock {
    begun: Instant,
    from: Option<f64>,
}

impl Clock {
    /// Starts one.
    #[must_use]
    pub fn start() -> Self {
        Self { begun: Instant::now(), from: on_processor() }
    }

    /// Seconds of this thread on a processor since then, where the system tells them (Linux): others who want it too
    /// do not count. Else seconds of the wall clock.
    #[must_use]
    pub fn seconds(&self) -> f64 {
        match (self.from, on_processor()) {
            (Some(from), Some(now)) => now - from,
            _ => self.begun.elapsed().as_secs_f64(),
        }
    }
}

fn on_processor() -> Option<f64> {
    let told = fs::read_to_string("/proc/thread-self/schedstat").ok()?;
    told.split_whitespace().next()?.parse::<f64>().ok().map(|ns| ns / 1e9)
}
