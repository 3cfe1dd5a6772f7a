//! The host tool: replays logged traces through the firmware core.

pub mod audit;
pub mod calibrate;
pub mod capture;
pub mod check;
mod clash;
pub mod cli;
pub mod closed;
pub mod commission;
pub mod convert;
pub mod error;
pub mod fit;
mod interrupt;
mod listen;
pub mod noload;
pub mod plant;
mod progress;
mod regression;
pub mod replay;
pub mod report;
pub mod settings;
pub mod step_test;
pub mod svg;
pub mod synth;
pub mod terminal;
pub mod trace;
pub mod whole;
pub mod wiring;
