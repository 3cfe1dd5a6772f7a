//! The feed study: the best fixed speed of a feeder against the governor, on hours that were drawn before the governor was tuned.

pub mod choice;
pub mod draw;
pub mod hour;
pub mod page;
pub mod stability;
pub mod study;
