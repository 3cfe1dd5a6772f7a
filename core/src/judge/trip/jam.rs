//! Jam: too much current for too long while the motor runs.
//!
//! The largest phase's one-cycle true rms, direct component kept, against a share of rated current.
//! Armed once the motor runs: a start is no jam. What the timer does is in [`super::timer`].

use super::View;
use super::timer::Level;
use crate::settings::ElementCoefficients;
use crate::unit::SquareAmps;

pub(crate) fn level(c: &ElementCoefficients<SquareAmps>, view: &View) -> Level {
    if view.state.running() { Level::above(&view.largest, &c.pickup, &c.dropout) } else { Level::Short }
}
