#![no_std]
#![forbid(unsafe_code)]
//! Reports and frames as bytes: what a laptop and a board exchange, and how the two are compared.
//!
//! The firmware and the host run the same core over the same frames and must report the same bits.
//! "The bits" of a report are its postcard bytes. They are written, summed up and compared here and
//! nowhere else, so that a difference can only come from the core.
//!
//! ```text
//!  host   trace -> Block::encode -> frames.bin        Settings -> postcard -> settings.bin
//!                       |                                            |
//!  board          Block::decode -> Monitor -> drain -> kind, bytes -> reports.bin
//!                                                          |
//!                                                        Digest  (CRC-32 over reports.bin)
//! ```
//!
//! | file | holds | module |
//! |---|---|---|
//! | `settings.bin` | a header with a check sum, then `shaftwork_core::settings::Settings` | [`settings`] |
//! | `frames.bin` | a [`Header`], then [`Block`]s | [`frames`] |
//! | `capture.bin` | frames around a decision, what the monitor remembered | [`capture`] |
//! | `injected.bin` | what goes wrong with an emulated board | [`injected`] |
//! | `sheet.bin` | what commissioning by injection came to | [`sheet`] |
//! | `reports.bin` | kind, length, bytes of every report | [`stream`] |
//!
//! Whoever feeds a monitor from blocks keeps to this order for each: mass; speed; `ingest` of eight
//! frames or `finish` of fewer (of none when they divide by eight); [`drain`]; `gap` where one
//! follows, and [`drain`] again. At the very end comes one [`Report::Totals`].

pub mod capture;
pub mod digest;
pub mod frames;
pub mod injected;
pub mod report;
pub mod settings;
pub mod sheet;
pub mod stream;

pub use digest::Digest;
pub use frames::{Block, Header, Speed};
pub use injected::Injected;
pub use report::{Kind, Report, drain, each, record};
pub use stream::{Stream, prefix};
