//! All that a monitor remembers, copied: what it does from there on can be done again.

use crate::judge::Memory;
use crate::meter::Meter;
use crate::time::Instant;

/// The memory of meter and judge at a moment, some 5 kB; settings and events that wait to be taken are no part of it.
///
/// A monitor of the same settings that is set back to it ([`crate::Monitor::restore`]) and given the same frames does the same
/// to the last bit. With other settings it shows what those would have done from there on: what they have that was not kept then, as a
/// thermal image, begins afresh.
///
/// ```
/// use shaftwork_core::{Frame, Monitor, Settings};
/// let mut monitor = Monitor::new(&Settings::example()).unwrap();
/// monitor.ingest(&[Frame([0; 6]); 8]);
/// let snapshot = monitor.snapshot();
/// monitor.ingest(&[Frame([9; 6]); 8]);
/// let after = monitor.snapshot();
/// monitor.restore(&snapshot);
/// monitor.ingest(&[Frame([9; 6]); 8]);
/// assert_eq!(monitor.snapshot(), after);
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
#[cfg_attr(feature = "serde", derive(serde::Serialize, serde::Deserialize))]
pub struct Snapshot {
    pub(crate) meter: Meter,
    pub(crate) memory: Memory,
}

impl Snapshot {
    /// When it was taken: after this many frames.
    #[must_use]
    pub const fn at(&self) -> Instant {
        Instant(self.meter.frames() << 16)
    }

    /// The meter as it was.
    #[must_use]
    pub const fn meter(&self) -> Meter {
        self.meter
    }

    /// Begins its sums anew, so that they count from here on; idle power stays as it was learnt.
    pub fn forget_totals(&mut self) {
        self.memory.forget_totals();
    }
}
