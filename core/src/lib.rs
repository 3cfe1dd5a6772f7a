//! Shaft power, energy per tonne, overload trips and a feed decision for a mill's motor, from current
//! and voltage samples. Fixed point: no float, no allocation, no unsafe, no clock, no pins, no panic.
//!
//! ```text
//! Frame ──► meter ──► HalfCycle, Window ──► judge ──► Moment, Interval, Event, Totals, Decision
//!           sums, phase   (record)          losses, states, trips, feed
//!           └──────────────── monitor: both, for a board ────────────────┘
//!                             recorder, beside it: what led to an event
//! ```
//!
//! Settings are integers ([`Settings`]), checked once by [`Settings::build`]; after that nothing can
//! fail: what is out of range saturates and is counted. Time is the count of frames.
//!
//! It is a monitor and a process control, no protective device and no safety function.
#![no_std]
#![forbid(unsafe_code)]

pub mod error;
mod frame;
pub mod judge;
pub mod math;
pub mod meter;
mod monitor;
pub mod record;
pub mod recorder;
pub mod settings;
mod snapshot;
pub mod time;
pub mod unit;
pub mod wiring;

pub use error::SettingsError;
pub use frame::{BLOCK, Frame};
pub use judge::event::{Cause, Event, EventKind, FeedCause, Figures, State, Warning};
pub use judge::feed::{FeedInputs, FeedMode};
pub use judge::notice::Notice;
pub use judge::report::{Decision, Feed, Feeder, Interval, Limit, Moment, Register, Totals};
pub use monitor::Monitor;
pub use record::{HalfCycle, Window};
pub use settings::Settings;
pub use snapshot::Snapshot;
