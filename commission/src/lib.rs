//! Commissioning by injection: a test source takes the converter's place, and each element that is on is shown a state just short of
//! its pick-up, which it must bear, and one just beyond, at which it must operate in time (secondary injection, as a relay tester does
//! it; the words are those of IEC 60255-1 and IEC 60255-121, from memory). What comes out is the as-left [`Sheet`].
//!
//! ```text
//! Settings ─► plan: a test an element ─► source: phasors -> codes ─► a fresh Monitor ─► event, frames since the step ─► Row
//!              motor: load -> current                                                                       Sheet ◄─┘
//! ```
//!
//! Time is the count of frames, so it runs as fast as the processor can. Integers only: a board and a laptop fill in the same sheet, bit
//! for bit.
//!
//! **While it runs nothing is protected and nothing monitored**: the monitors tried here see no converter and no pin. Outputs must stay in
//! their safe state meanwhile; that is the board's part. It proves settings and firmware; not the sensors, the wiring, the contactor.
#![no_std]
#![forbid(unsafe_code)]

mod bench;
mod motor;
mod plan;
mod sheet;
mod source;
#[cfg(test)]
mod tests;
mod vector;

pub use bench::{prove, run};
pub use sheet::{Figure, OUTPUTS, Output, Row, Sheet, Verdict, Way, Why};
pub use source::{Reach, Source, State};
pub use vector::{Vector, phases};
