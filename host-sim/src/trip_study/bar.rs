//! The bar of a study, fed by all threads: half of a trace is its metering, half its judging under every setting.

use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};

use crate::progress::Progress;

/// Parts of a trace's work that the bar counts: many beside the chunks of the settings, so that each moves it.
const PARTS: u64 = 1_000_000;

/// The bar.
pub(super) struct Bar {
    progress: Mutex<Progress>,
    done: AtomicU64,
    total: u64,
}

impl Bar {
    pub(super) fn new(traces: usize) -> Self {
        Self {
            progress: Mutex::new(Progress::new("traces x settings")),
            done: AtomicU64::new(0),
            total: traces as u64 * PARTS,
        }
    }

    /// A trace is metered.
    pub(super) fn metered(&self) {
        self.done(PARTS / 2);
    }

    /// It is judged under some of so many settings.
    pub(super) fn judged(&self, some: usize, of: usize) {
        self.done(second_half(some, of));
    }

    fn done(&self, parts: u64) {
        let done = self.done.fetch_add(parts, Ordering::Relaxed) + parts;
        if let Ok(mut progress) = self.progress.try_lock() {
            progress.at((done, Some(self.total)));
        }
    }
}

/// Parts of the second half for some of so many settings.
const fn second_half(some: usize, of: usize) -> u64 {
    (PARTS - PARTS / 2) * some as u64 / if of == 0 { 1 } else { of as u64 }
}

#[cfg(test)]
mod tests {
    use super::super::study::CHUNK;
    use super::super::vary::MOST;
    use super::*;

    /// As many settings as there may be, a chunk at a time, bring the bar to its end.
    #[test]
    fn the_bar_moves_with_any_number_of_settings() {
        for settings in [1, 8, 100, MOST + 1] {
            let chunks = (0..settings).step_by(CHUNK).map(|at| CHUNK.min(settings - at));
            let parts: u64 = chunks.map(|some| second_half(some, settings)).sum();
            let wanted = PARTS / 2;
            assert!((wanted - wanted / 100..=wanted).contains(&parts), "{settings} settings: {parts} of {wanted}");
        }
    }
}
