#![cfg_attr(not(test), no_std)]
#![forbid(unsafe_code)]
//! What is particular to the board with an STM32G474 but needs no processor: ranges, times, codes, pulses, settings,
//! the store's flash, causes of the safe state.
//!
//! It is tested on a laptop, against the pages that say how to build the board (`docs/board-stm32g474.md`). What speaks to the hardware
//! is the binary beside it. **Compiled, not run on hardware.**

pub mod bank;
pub mod front;
pub mod inputs;
pub mod kept;
pub mod lasting;
pub mod line;
pub mod reference;
pub mod settings;
pub mod tacho;
pub mod timing;
pub mod told;

#[cfg(test)]
mod chain;
#[cfg(test)]
mod pins;
