//! The wedge study: honest pieces and wedges through the reduced plant, before whatever has to tell them apart.
//!
//! What falls into which mill is fixed in [`draw`] and [`mills`], and was so before the element was written that judges it.

pub mod draw;
pub mod grid;
pub mod mills;
pub mod page;
pub mod pass;
pub mod study;
