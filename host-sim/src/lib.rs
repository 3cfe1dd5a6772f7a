//! The host tool: replays logged traces through the firmware core.

pub mod check;
pub mod cli;
pub mod error;
pub mod plant;
pub mod settings;
pub mod trace;
