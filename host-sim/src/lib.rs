//! The host tool: replays logged traces through the firmware core.

pub mod error;
pub mod settings;
pub mod trace;
