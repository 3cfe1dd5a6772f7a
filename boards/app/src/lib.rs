#![cfg_attr(not(test), no_std)]
#![forbid(unsafe_code)]
//! The firmware of a board, apart from what differs between boards.
//!
//! ```text
//!  converter interrupt            main loop                                    pins
//!  frame -> Filler -> [queue of blocks] -> Taker -> App::poll -> Decision -> Outputs
//!                                                      |
//!                                                   reports -> Reports (log, link, digest)
//! ```
//!
//! A board brings a [`FrameSource`] (usually [`blocks::Taker`], filled by its converter's interrupt),
//! its pins in [`Outputs`] and, where a feeder is governed, in [`Drive`], what a person tells through [`Panel`], what outlasts a power cut in a store ([`App::kept`]), and calls [`App::poll`] for ever. Until the first half cycle has been
//! measured, after frames were lost, when the converter falls silent, when a pin fails and in a panic
//! the board is in its safe state: trip relay without current, feed lamp on stop.
//!
//! This is a monitor and a process control: no protective device and no safety function. It can stop
//! the motor and the feed; it never starts either.

pub mod alarm;
pub mod app;
pub mod blocks;
mod clock;
pub mod commission;
pub mod drive;
pub mod follow;
pub mod keeper;
pub mod outputs;
pub mod panel;
pub mod panicking;
pub mod recorded;
pub mod reports;
pub mod source;
mod watch;

pub use alarm::Alarm;
pub use app::{App, Fault, Poll, Probe};
pub use drive::Drive;
pub use follow::{Answers, Delays};
pub use keeper::Keeper;
pub use outputs::{Actuators, Outputs, Pins};
pub use panel::Panel;
pub use recorded::Recorded;
pub use reports::Reports;
pub use source::{Beside, FrameSource, Source};
