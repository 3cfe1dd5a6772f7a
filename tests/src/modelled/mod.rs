//! Scenarios of the plant model, made and replayed by the command, against what the model knows.
//!
//! ```text
//! story -+- shaftwork synth -> trace, settings -> shaftwork replay --json --+- compare -> rows
//!        +- plant::run, the same frames -> known (figures, trips due) ------+
//! ```

pub mod command;
pub mod compare;
pub mod cycle;
pub mod due;
pub mod exceptions;
pub mod known;
pub mod row;
