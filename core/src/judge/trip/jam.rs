//! Jam: too much current for too long while the motor runs.
//!
//! The largest phase's one-cycle true rms, direct component kept, against a share of rated current.
//! Armed once the motor runs: a start is no jam. What the timer does is in [`super::timer`].

use super::View;
use super::timer::{Level, Timer};
use crate::settings::JamCoefficients;

pub(crate) fn update(c: &JamCoefficients, timer: &mut Timer, view: &View) -> bool {
    let level = if !view.state.running() {
        Level::Short
    } else if view.largest > c.pickup {
        Level::Beyond
    } else if view.largest >= c.dropout {
        Level::Between
    } else {
        Level::Short
    };
    timer.update(view.now, level, c.delay)
}
