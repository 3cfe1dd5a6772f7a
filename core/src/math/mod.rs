//! Pure, total fixed-point arithmetic: every function takes any input and states its error bound.

pub mod divide;
pub mod lag;
pub mod log;
pub mod phase;
pub mod root;
pub mod scale;
