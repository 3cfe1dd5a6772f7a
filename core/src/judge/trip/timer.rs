//! Pick-up, delay, drop-out, latch: what every element with a delay has in common.
//!
//! | from | to | when |
//! |---|---|---|
//! | `Quiet` | `Picked` | the pick-up is passed |
//! | `Picked` | `Quiet` | the drop-out is passed: the time starts from zero |
//! | `Picked` | `Latched` | the delay is over |
//! | `Latched` | `Quiet` | a person resets |

use crate::time::{Instant, Span};

/// An element's memory.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(crate) enum Timer {
    /// Nothing.
    #[default]
    Quiet,
    /// Picked up at this moment.
    Picked(Instant),
    /// Has given its trip.
    Latched,
}

/// Where the measured figure lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Level {
    /// Past the pick-up.
    Beyond,
    /// Between pick-up and drop-out: what was picked up stays so.
    Between,
    /// Short of the drop-out.
    Short,
}

impl Timer {
    /// Forgets what was picked up but not latched: the time until now was not seen, or counts no more.
    pub(crate) fn forget(&mut self) {
        if matches!(self, Self::Picked(_)) {
            *self = Self::Quiet;
        }
    }

    /// Takes the level that holds at `now`; true when the trip is given, once.
    pub(crate) fn update(&mut self, now: Instant, level: Level, delay: Span) -> bool {
        match (*self, level) {
            (Self::Latched, _) => return false,
            (Self::Quiet, Level::Beyond) => *self = Self::Picked(now),
            (Self::Picked(_), Level::Short) => *self = Self::Quiet,
            _ => {}
        }
        if let Self::Picked(since) = *self
            && now.since(since) >= delay
        {
            *self = Self::Latched;
            return true;
        }
        false
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn waits_forgets_and_latches() {
        let mut t = Timer::default();
        let at = |n: u64| Instant(n << 16);
        let delay = Span(5 << 16);
        assert!(!t.update(at(0), Level::Beyond, delay));
        assert!(!t.update(at(4), Level::Between, delay), "held between pick-up and drop-out");
        assert!(!t.update(at(4), Level::Short, delay), "dropped out");
        assert!(!t.update(at(6), Level::Between, delay), "between does not pick up");
        assert!(!t.update(at(7), Level::Beyond, delay), "starts from zero");
        assert!(!t.update(at(11), Level::Beyond, delay));
        assert!(t.update(at(12), Level::Beyond, delay));
        assert!(!t.update(at(99), Level::Beyond, delay), "once");
        assert!(!t.update(at(100), Level::Short, delay) && t == Timer::Latched, "never clears itself");
        let mut at_once = Timer::default();
        assert!(at_once.update(at(3), Level::Beyond, Span::ZERO));
    }
}
