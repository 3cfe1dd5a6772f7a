//! RECORDER: what led to an event. Beside the monitor, fed with what it takes and what it gives; all memory is lent.
//!
//! ```text
//! blocks ──── Capture: waveforms before and after, with a snapshot of what the monitor remembered
//! Moment ──┬─ Trend: load, current, speed, thermal level, half cycle by half cycle
//! Interval ┘     └─ Account: what came before the decision ─┐
//! Event ───── Log: numbered ────────────────────────────────┘
//! ```

mod capture;
mod ring;
#[cfg(test)]
mod tests;

pub use capture::{Capture, Note, Record, Shape};
pub use ring::Ring;
